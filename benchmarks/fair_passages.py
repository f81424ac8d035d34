"""How fair the found passages are: spread of demand over parts, beside one place for all.

For every real edition of the tests and three choices of criteria: the standard deviation of
demand over the parts of one line (found, and if all played the best common window: the
peer), and of plain notes a second for both, which needs no model. Asked: at most half of
the common window's, unless already below 0.02.

Usage: python benchmarks/fair_passages.py [FILE.mxl ...]
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import numpy as np

from benchmarks.machine import machine
from standlight.criteria import CRITERIA
from standlight.passages import Findings, Survey, find_passages, look, survey_piece
from standlight.score import read_score

FOLDER = Path(__file__).resolve().parents[1] / "tests" / "scores" / "real"
CHOICES = ("rhythm,dynamics,articulation", "tone,intonation,rhythm", "notes,pulse,expression")
SMALL, LEAST_GAIN = 0.02, 2.0


def common_rate_sd(survey: Survey, found: Findings) -> float:
    """Spread of notes a second if the parts that have a passage all played the common window."""
    first = found.common_first
    if first is None:
        return float("nan")
    rates = [
        look(survey, profile.index, first, first + survey.length - 1).note_rate_hz
        for profile, windows in zip(survey.profiles, survey.windows, strict=True)
        if profile.group == "lines" and first in windows.firsts
    ]
    return float(np.std(rates))


def main() -> int:
    """Find, measure, print; 1 when a figure is missed."""
    files = [Path(word) for word in sys.argv[1:]] or sorted(FOLDER.glob("*.mxl"))
    print(f"machine: {machine()}")
    print(f"{'piece':30} {'criteria':30} parts none  demand SD common   rate SD common  verdict")
    missed = 0
    for file in files:
        score = read_score(file.read_bytes(), name=file.name)
        began = time.perf_counter()
        survey = survey_piece(score)
        seconds = time.perf_counter() - began
        for keys in CHOICES:
            found = find_passages(survey, [CRITERIA[key] for key in keys.split(",")])
            have = [part for part in found.parts if part.passage is not None]
            mine, common = found.demand_sd, found.common_window_sd
            good = mine is None or mine < SMALL or mine <= (common or 0.0) / LEAST_GAIN
            missed += not good
            print(
                f"{file.stem[:30]:30} {keys:30} {len(have):5} {len(found.parts) - len(have):4}"
                f"  {mine or 0:9.4f} {common or 0:6.4f} {found.note_rate_sd or 0:9.3f}"
                f" {common_rate_sd(survey, found):6.3f}  {'met' if good else 'MISSED'}"
            )
        print(f"{'':30} surveyed in {seconds:.2f} s")
    print(f"missed: {missed}")
    return int(missed > 0)


if __name__ == "__main__":
    raise SystemExit(main())
