"""The odds that a note sounds on beyond its written time: fitted on made takes.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/prolonged_odds.py --seeds
3701,3901,4001,4201,4501 [--takes 144]``. The generator plays some notes twice, and makes stops, in
which nothing sounds; it holds no note too long, so whether one was held or played twice is not
fitted. Prints the weights, which stand as ``ODDS`` in `standlight.sound.prolonged`; how many of
the notes played twice that the follower did not find would be told and how many others, each
seed by the others; and at how many of them, and of notes held as long, the pitch seems to begin
again at a place that the time foretells. Seeds that it is run on are seen.
"""

from __future__ import annotations

import argparse
import sys
from functools import partial
from pathlib import Path
from unittest.mock import patch

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np

from benchmarks.hearing import lines, tones
from benchmarks.hearing.accuracy import on_both_cores, told_of
from benchmarks.hearing.intervals import proportion
from benchmarks.hearing.odds import by_the_others, fitted
from benchmarks.hearing.takes import MadeTake, generator, take
from standlight.sound import performing, prolonged
from standlight.sound.following import WRITTEN
from standlight.sound.values import HOP_S

NEAR_S = 0.15
"""An onset that is told so near to a true one is that one."""

HELD_SHARES, LONGEST_EXCESS_S, SHORTEST_HELD_S = (0.5, 0.8), 0.6, 0.3
"""A note held at least so long is looked at as if so much of it had been written, the rest at most
so long."""

FORETOLD_S, FIRST_AFTER_S, LAST_BEFORE_S = 0.08, 0.10, 0.08
"""A second start lies so near to where it is foretold, so long after the first and before the next
note."""

BEGINS_ODDS = -1.0
"""From these log odds on the pitch seems to begin again."""

Place = tuple[tuple[float, ...], bool]
"""Signs of a place that was asked about, and whether a note was played twice there."""


def places(seed: int, number: int) -> tuple[list[Place], list[tuple[float, bool]]]:
    """Of one take every `Place`, and the odds of a second start at notes held and played twice."""
    made, asked, starts = take(seed, "main", number), [], []
    rng = generator(seed, "held", number)

    def look(soundings, line, frames):
        for one in prolonged.asked_of(soundings, line):
            sounding = soundings[one.place]
            twice = is_twice(made, sounding)
            asked.append((prolonged.signs_of(one, sounding, frames), twice))
            if twice:
                starts.append((second_start(sounding, one.excess_s, frames), True))
        for sounding in soundings:
            if is_held(made, sounding):
                excess_s = (1.0 - rng.uniform(*HELD_SHARES)) * (sounding.until_s - sounding.onset_s)
                excess_s = min(excess_s, LONGEST_EXCESS_S)
                starts.append((second_start(sounding, excess_s, frames), False))
        return frozenset()

    with patch.object(performing, "prolonged_of", look):
        told_of(made.recording(), made.passage, made.line.tempo_qpm)
    return asked, starts


def is_twice(made: MadeTake, sounding) -> bool:
    """True when both soundings of a note played twice lie in this one."""
    return any(
        abs(one.onset_s - sounding.onset_s) < NEAR_S
        and sounding.onset_s < one.twin_s < sounding.until_s
        for one in made.truth.added
        if one.twin_s is not None
    )


def is_held(made: MadeTake, sounding) -> bool:
    """True when this is one long sounding of a written note, and nothing else begins in it."""
    truth = made.truth
    begun = [one.onset_s for one in (*truth.notes, *truth.attempts, *truth.added)
             if one.onset_s is not None]  # fmt: skip
    alone = not any(sounding.onset_s + 0.05 < at_s < sounding.until_s - 0.05 for at_s in begun)
    return sounding.kind == WRITTEN and alone and any(
        one.index == sounding.index
        and one.onset_s is not None
        and abs(one.onset_s - sounding.onset_s) < 0.04
        and one.offset_s - sounding.onset_s > SHORTEST_HELD_S
        for one in truth.notes
    )  # fmt: skip


def second_start(sounding, excess_s: float, frames) -> float:
    """The highest log odds that the pitch begins again where either of two tones would."""
    first_s, last_s = sounding.onset_s + FIRST_AFTER_S, sounding.until_s - LAST_BEFORE_S
    found = [-np.inf]
    for near_s in (sounding.onset_s + excess_s, sounding.until_s - excess_s):
        between_s = max(near_s - FORETOLD_S, first_s), min(near_s + FORETOLD_S, last_s)
        first, last = (int(round(at_s / HOP_S)) for at_s in between_s)
        found.append(float(frames.again[first : last + 1].max(initial=-np.inf)))
    return max(found)


def main() -> None:
    """Hear, fit, print."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--seeds", required=True, help="development seeds, by commas")
    words.add_argument("--takes", type=int, default=144)
    chosen = words.parse_args()
    tones.fonts()
    lines.scores()
    rows, starts = [], []
    for seed in map(int, chosen.seeds.split(",")):
        for asked, odds in on_both_cores(partial(places, seed), range(chosen.takes)):
            rows += [(seed, *row) for row in asked]
            starts += odds
    seeds, signs, twice = (np.array(column) for column in zip(*rows, strict=True))
    told = by_the_others(signs, twice, seeds) > 0.0
    stands = signs @ np.array(prolonged.ODDS) > 0.0
    for name, these in (("each seed by the others", told), ("the weights that stand", stands)):
        right = int((these & twice).sum())
        print(f"{name}: of those played twice told {proportion(right, int(twice.sum()))}; "
              f"of the told played twice {proportion(right, int(these.sum()))}")  # fmt: skip
    print("weights:", ", ".join(f"{weight:.3g}" for weight in fitted(signs, twice)))
    odds, again = (np.array(column) for column in zip(*starts, strict=True))
    for name, these in (("played twice", again), ("held", ~again)):
        begins = int((odds[these] >= BEGINS_ODDS).sum())
        print(f"{name}, begins again: {proportion(begins, int(these.sum()))}")


if __name__ == "__main__":
    main()
