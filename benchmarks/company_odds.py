"""The odds that somebody else sounds beside the part: fitted on made takes, and how well they hold.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/company_odds.py --seeds 3701,3901``. Of each
seed so many takes with a second player, clean ones and faulty ones are heard as `TAKES` says. It
prints how many of each the weights that stand as ``COMPANY_ODDS`` in `standlight.sound.company`
tell, the same where each seed is told by the others at 1 in 100 false, and the weights. Seeds that
it is run on are seen.
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
from benchmarks.hearing.odds import by_the_others, fitted
from benchmarks.hearing.phones import decoded
from benchmarks.hearing.spoiled import spoiled
from benchmarks.hearing.takes import KINDS, take
from standlight.sound import FATAL, Recording, company, quality

TAKES = {"two players": 208, "clean": 208, "main": 144}
"""Kind of take to how many of a seed."""

FALSE = 0.01


def signs(seed: int, job: tuple[str, int]) -> tuple[float, ...] | None:
    """The signs of one take; None of one that is not read, whoever sounds."""
    kind, number = job
    if kind in KINDS:
        made = take(seed, kind, number)
        recording, passage, tempo_qpm = made.recording(), made.passage, made.line.tempo_qpm
    else:
        bad = spoiled(seed, kind, number)
        recording, passage = Recording(*decoded(bad.file)), bad.passage
        tempo_qpm = bad.tempo_qpm
    found = []

    def look(*asked):
        found.append(company.signs_of_company(*asked))
        return float(np.dot(company.COMPANY_ODDS, found[-1]))

    with patch.object(quality, "company", look):
        report = told_of(recording, passage, tempo_qpm)
    refused = FATAL & {verdict.code for verdict in report.verdicts}
    return found[0] if found and not refused else None


def main() -> None:
    """Hear, fit, print."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--seeds", default="3701,3901", help="seeds of the takes, by commas")
    seeds = [int(seed) for seed in asked.parse_args().seeds.split(",")]
    tones.fonts()
    lines.scores()
    jobs = [(kind, number) for kind, count in TAKES.items() for number in range(count)]
    heard = [
        (seed, kind, found)
        for seed in seeds
        for (kind, _), found in zip(jobs, on_both_cores(partial(signs, seed), jobs), strict=True)
        if found is not None
    ]
    of = np.array([seed for seed, _, _ in heard])
    kinds = np.array([kind for _, kind, _ in heard])
    rows = np.array([found for _, _, found in heard])
    two = kinds == "two players"
    odds = rows @ np.array(company.COMPANY_ODDS)
    for kind in TAKES:
        here = kinds == kind
        told = int((odds[here] >= company.COMPANY_FROM).sum())
        print(f"{kind}: {told} of {int(here.sum())} told")
    if len(seeds) > 1:
        odds = by_the_others(rows, two, of)
        limit = np.quantile(odds[~two], 1.0 - FALSE)
        print(f"each seed by the others, {FALSE} false: {np.mean(odds[two] > limit):.3f} told")
    print("weights:", ", ".join(f"{weight:.3g}" for weight in fitted(rows, two)))


if __name__ == "__main__":
    main()
