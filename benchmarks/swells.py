"""Added sounds at the pitch of the note beside them: truly begun again, or that note swelling.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/swells.py --seeds 4501,4801 [--takes 144]``.
Hears the takes without the rule (``ANEW_ODDS`` in `standlight.sound.noting`) and prints, of the
sounds told as added at the pitch of a note that touches them, how many were played and how many
were none, over and under several log odds that the pitch begins again between the two. Seeds that
it is run on are seen.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from unittest.mock import patch

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np

from benchmarks.hearing import lines, tones
from benchmarks.hearing.accuracy import on_both_cores, told_of
from benchmarks.hearing.judging import added_pairs
from benchmarks.hearing.takes import KINDS, take
from standlight.sound import noting, performing
from standlight.sound.noting import RUN_ON_S, TAIL_SEMITONES

LIMITS = (-3.0, -2.0, -1.5, -1.0, 0.0)
"""Log odds that are tried; one of them stands as ``ANEW_ODDS``."""


def beside(settled: Sequence, frames, onset_s: float) -> list[float]:
    """Log odds of a new start between the added sound at ``onset_s`` and each note of its pitch."""
    place = next(i for i, one in enumerate(settled) if one.onset_s == onset_s)
    pairs = zip(settled[max(place - 1, 0) : place + 1], settled[max(place, 1) : place + 2],
                strict=False)  # fmt: skip
    return [
        frames.begins_again(after.onset_s)
        for before, after in pairs
        if None not in (before.midi, after.midi)
        and abs(before.midi - after.midi) < TAIL_SEMITONES
        and after.onset_s <= before.until_s + RUN_ON_S
    ]


def told_beside(kind: str, job: tuple[int, int]) -> list[tuple[float, bool]]:
    """Of one take (seed, number): odds of each such sound, and whether it was played."""
    made, seen = take(job[0], kind, job[1]), []
    added_of = performing.added_of

    def look(settled, frames, a4_offset):
        seen.append((settled, frames))
        return added_of(settled, frames, a4_offset)

    with (
        patch.object(noting, "ANEW_ODDS", -np.inf),
        patch.object(performing, "added_of", look),
    ):
        report = told_of(made.recording(), made.passage, made.line.tempo_qpm)
    pairs, none = added_pairs(made.truth, report.added)
    told = [(one, True) for _, one in pairs if one is not None] + [(one, False) for one in none]
    found = [(beside(*seen[-1], one.onset_s), played) for one, played in told]
    return [(min(odds), played) for odds, played in found if odds]


def main() -> None:
    """Hear, count, print."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--seeds", required=True, help="development seeds, by commas")
    words.add_argument("--takes", type=int, default=144)
    words.add_argument("--kind", choices=KINDS, default="main")
    asked = words.parse_args()
    tones.fonts()
    lines.scores()
    jobs = [(seed, number) for seed in map(int, asked.seeds.split(","))
            for number in range(asked.takes)]  # fmt: skip
    told = sum(on_both_cores(partial(told_beside, asked.kind), jobs), [])
    played, none = ([odds for odds, was in told if was is so] for so in (True, False))
    print(f"told as added beside their own pitch: {len(played)} played, {len(none)} none")
    for limit in LIMITS:
        gone = [sum(odds < limit for odds in those) for those in (played, none)]
        print(f"under {limit:g}: {gone[0]} played, {gone[1]} none")


if __name__ == "__main__":
    main()
