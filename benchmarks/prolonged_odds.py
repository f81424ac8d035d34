"""The odds that a note sounds on beyond its written time: fitted on made takes.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/prolonged_odds.py --seeds
3701,3901,4001,4201,4501 [--takes 144]``. The generator plays some notes twice, and makes stops, in
which nothing sounds; it holds no note too long, so whether one was held or played twice is not
fitted. Prints the weights, which stand as ``ODDS`` in `standlight.sound.prolonged`; how many of
the notes played twice that the follower did not find would be told and how many others, each
seed by the others. Seeds that it is run on are seen.
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
from benchmarks.hearing.odds import fitted
from benchmarks.hearing.takes import MadeTake, take
from standlight.sound import performing, prolonged

NEAR_S = 0.15
"""An onset that is told so near to a true one is that one."""


def places(seed: int, number: int) -> list[tuple[tuple[float, ...], bool]]:
    """Every place of one take that was asked about: its signs, and whether it was played twice."""
    made, asked = take(seed, "main", number), []

    def look(soundings, line, frames):
        for one, scatters in prolonged.asked_of(soundings, line):
            sounding = soundings[one.place]
            signs = prolonged.signs_of(one, scatters, sounding, frames)
            asked.append((signs, is_twice(made, sounding)))
        return frozenset()

    with patch.object(performing, "prolonged_of", look):
        told_of(made.recording(), made.passage, made.line.tempo_qpm)
    return asked


def is_twice(made: MadeTake, sounding) -> bool:
    """True when both soundings of a note played twice lie in this one."""
    return any(
        abs(one.onset_s - sounding.onset_s) < NEAR_S
        and sounding.onset_s < one.twin_s < sounding.until_s
        for one in made.truth.added
        if one.twin_s is not None
    )


def main() -> None:
    """Hear, fit, print."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--seeds", required=True, help="development seeds, by commas")
    words.add_argument("--takes", type=int, default=144)
    chosen = words.parse_args()
    tones.fonts()
    lines.scores()
    rows = [
        (seed, *row)
        for seed in map(int, chosen.seeds.split(","))
        for asked in on_both_cores(partial(places, seed), range(chosen.takes))
        for row in asked
    ]
    seeds, signs, twice = (np.array(column) for column in zip(*rows, strict=True))
    told = np.zeros(len(twice), dtype=bool)
    for one in set(seeds):
        weights = fitted(signs[seeds != one], twice[seeds != one])
        told[seeds == one] = signs[seeds == one] @ weights > 0.0
    stands = signs @ np.array(prolonged.ODDS) > 0.0
    for name, these in (("each seed by the others", told), ("the weights that stand", stands)):
        right = int((these & twice).sum())
        print(f"{name}: of those played twice told {proportion(right, int(twice.sum()))}; "
              f"of the told played twice {proportion(right, int(these.sum()))}")  # fmt: skip
    print("weights:", ", ".join(f"{weight:.3g}" for weight in fitted(signs, twice)))


if __name__ == "__main__":
    main()
