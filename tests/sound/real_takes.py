"""The real recordings under tests/recordings as tests need them: sound, passage, truth."""

from __future__ import annotations

import csv
from fractions import Fraction
from functools import cache
from pathlib import Path

import numpy as np

from standlight.music import Note
from standlight.score.values import Passage
from standlight.sound import Recording
from standlight.workshop import decode

RECORDINGS = Path(__file__).parents[1] / "recordings"
ODE_VALUES = (*[Fraction(1)] * 12, Fraction(3, 2), Fraction(1, 2), Fraction(2))
"""All spliced takes are one tune: twelve quarters, a dotted quarter, an eighth, a half."""

PLANTED = {"trumpet_ode_sd15c_sd30ms_1wrong": 6}
"""The seventh note of the trumpet take was written a semitone above its ``score_midi``."""

SPLICED = sorted(path.stem for path in (RECORDINGS / "spliced").glob("*.flac"))


@cache
def sound(name: str) -> Recording:
    """A recording by its path under tests/recordings, decoded once."""
    return decode((RECORDINGS / name).read_bytes())


def rows(name: str) -> list[dict[str, str]]:
    """The rows of a note list."""
    with (RECORDINGS / name).open(encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def passage(midis, values) -> Passage:
    """A line of pitches and note values in quarters, four quarters a measure."""
    onset, notes = Fraction(0), []
    for midi, value in zip(midis, values, strict=True):
        value = Fraction(value)
        notes.append(
            Note(
                onset_quarters=onset, duration_quarters=value, midi=midi, measure=int(onset // 4)
            )
        )
        onset += value
    return Passage("", "", "", (), tuple(notes), onset)


def spliced(name: str) -> tuple[Recording, Passage, list[dict[str, str]]]:
    """Sound, written line and exact truth of one spliced take."""
    truth = rows(f"spliced/{name}.csv")
    midis = [int(row["score_midi"]) for row in truth]
    if name in PLANTED:
        midis[PLANTED[name]] += 1
    return sound(f"spliced/{name}.flac"), passage(midis, ODE_VALUES), truth


def line_from_truth(name: str, tempo_qpm: float) -> tuple[Passage, np.ndarray]:
    """A written line made from a note list, and the true onsets in seconds.

    The rhythm is the truth's own, rounded to sixteenths: kinder than a real score would be.
    """
    truth = rows(name)
    onset_s = np.array([float(row["onset_s"]) for row in truth])
    offset_s = np.array([float(row["offset_s"]) for row in truth])
    sixteenth_s = 15.0 / tempo_qpm
    grid = np.round((onset_s - onset_s[0]) / sixteenth_s).astype(int)
    for place in range(1, len(grid)):
        grid[place] = max(grid[place], grid[place - 1] + 1)
    notes = []
    for place, row in enumerate(truth):
        length = max(1, round((offset_s[place] - onset_s[place]) / sixteenth_s))
        if place + 1 < len(grid):
            length = max(1, min(length, grid[place + 1] - grid[place]))
        notes.append(
            Note(
                onset_quarters=Fraction(int(grid[place]), 4),
                duration_quarters=Fraction(int(length), 4),
                midi=round(float(row["midi"])),
                measure=int(grid[place] // 16),
            )
        )
    end = notes[-1].onset_quarters + notes[-1].duration_quarters
    return Passage("", "", "", (), tuple(notes), end), onset_s
