"""The odds that an entry told early or late was not so: fitted on made takes, and how they hold.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/entry_odds.py --seeds 4001 --on 4201``. Of
each seed 144 faulty takes and 144 with restarts are heard. For the seeds after ``--on`` it prints
how many of the far entries were not where they were heard, before and after the doubted ones are
left out, by family, with the weights that stand as ``ODDS`` in `standlight.sound.entries`; and
the weights fitted on the seeds after ``--seeds``. Seeds that it is run on are seen.
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
from benchmarks.hearing.takes import take
from standlight.sound import entries, performing

TAKES = {"main": 144, "restart": 144}
"""Kind of take to how many of a seed."""

WRONG_MS = 35.0
"""An entry was not where it was heard if it is so far off."""

Far = tuple[str, tuple[float, ...], bool]
"""Family, signs, and whether it was elsewhere."""


def far_entries(seed: int, job: tuple[str, int]) -> list[Far]:
    """Every entry of one take that is told far from the beat."""
    made, found = take(seed, *job), []
    truth = {note.index: note.onset_s for note in made.truth.notes}

    def look(notes, frames):
        for note in notes:
            far = note.asynchrony_ms is not None and abs(note.asynchrony_ms) > entries.FAR_MS
            if far and truth.get(note.index) is not None:
                wrong = abs(note.onset_s - truth[note.index]) > WRONG_MS / 1000.0
                signs = entries.entry_signs(note, frames)
                found.append((made.line.timbre.family, signs, wrong))
        return list(notes)

    with patch.object(performing, "without_guessed_entries", look):
        told_of(made.recording(), made.passage, made.line.tempo_qpm)
    return found


def heard(seeds: str) -> list[Far]:
    """The far entries of all takes of the seeds, given by commas."""
    jobs = [(kind, number) for kind, count in TAKES.items() for number in range(count)]
    works = [partial(far_entries, int(seed)) for seed in seeds.split(",") if seed]
    return [far for work in works for takes in on_both_cores(work, jobs) for far in takes]


def show(name: str, far: list[Far]) -> None:
    """How many of ``far`` are wrong, how many of those that are told, how many true ones are."""
    wrong = np.array([one for *_, one in far])
    told = np.array([entries.doubt_of(signs) <= entries.MOST_DOUBT for _, signs, _ in far])
    print(
        f"{name}: {len(far)} far entries, elsewhere {proportion(int(wrong.sum()), len(far))}; "
        f"told {int(told.sum())}, elsewhere {proportion(int(wrong[told].sum()), int(told.sum()))}; "
        f"of the true ones told {proportion(int(told[~wrong].sum()), int((~wrong).sum()))}"
    )


def main() -> None:
    """Hear, show, fit."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--seeds", default="4001", help="seeds to fit on, by commas")
    words.add_argument("--on", default="", help="seeds to judge, by commas")
    asked = words.parse_args()
    tones.fonts()
    lines.scores()
    if asked.on:
        judged = heard(asked.on)
        show("all", judged)
        for family in sorted({family for family, *_ in judged}):
            show(family, [one for one in judged if one[0] == family])
    if asked.seeds:
        far = heard(asked.seeds)
        rows, wrong = (np.array(column) for column in list(zip(*far, strict=True))[1:])
        show("fitted on", far)
        print("weights:", ", ".join(f"{weight:.3g}" for weight in fitted(rows, wrong)))


if __name__ == "__main__":
    main()
