"""The real takes of the tests: spliced real notes (exact truth) and solos with note lists."""

from __future__ import annotations

import csv
from fractions import Fraction
from pathlib import Path

import numpy as np

from benchmarks.hearing.intervals import middle_and_tail, proportion
from benchmarks.hearing.table import Goal, Row
from standlight.listening import Terms, hear
from standlight.music import Note
from standlight.score.values import Passage
from standlight.workshop import decode

FOLDER = Path(__file__).resolve().parents[2] / "tests" / "recordings"
ODE_VALUES = ("1",) * 12 + ("3/2", "1/2", "2")
ODE_TEMPO_QPM = 100.0
SOLOS = {
    "violin/bwv1002_double_60s": ("Violin", 150.0),
    "voice/ave_maria_opening": ("Soprano", 60.0),
    "voice/solo_voice_a": ("Soprano", 80.0),
    "voice/song_004": ("Tenor", 80.0),
    "voice/song_007": ("Tenor", 80.0),
}
"""File to instrument and the tempo at which its note list is written down as sixteenths."""


def real(seed: int, count: int) -> list[Row]:
    """Notes within 50 ms; ``seed`` and ``count`` change nothing here."""
    rows = [_spliced_row()]
    for name, (instrument, tempo_qpm) in SOLOS.items():
        lists = sorted(FOLDER.glob(f"{name}.notes*.csv"))
        passage, onset_s = _line(_rows(lists[0]), tempo_qpm)
        report = hear(decode((FOLDER / f"{name}.flac").read_bytes()), passage,
                      Terms(tempo_qpm, instrument))  # fmt: skip
        told = [note.onset_s for note in report.notes] or [None] * len(onset_s)
        errors = [1000.0 * (at - true) for at, true in zip(told, onset_s, strict=True)
                  if at is not None]  # fmt: skip
        hits = int(np.sum(np.abs(errors) <= 50.0))
        late = f"; late by {np.median(errors):+.0f}" if errors else ""
        codes = [verdict.code for verdict in report.verdicts]
        rows.append(Row(f"{name}: within 50 ms of its note list",
                        f"{proportion(hits, len(onset_s))}; {middle_and_tail(errors, 'ms')}{late}; "
                        f"verdicts {codes}"))  # fmt: skip
    return rows


def _rows(path: Path) -> list[dict[str, str]]:
    """A note list."""
    with path.open(encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def _spliced_row() -> Row:
    """Every spliced take against its exact truth."""
    errors, count = [], 0
    for path in sorted((FOLDER / "spliced").glob("*.flac")):
        truth = _rows(path.with_suffix(".csv"))
        notes, onset = [], Fraction(0)
        for row, value in zip(truth, ODE_VALUES, strict=True):
            midi = int(row["score_midi"])
            notes.append(Note(onset, Fraction(value), midi, int(onset // 4)))
            onset += Fraction(value)
        passage = Passage("", "", "", (), tuple(notes), onset)
        report = hear(decode(path.read_bytes()), passage, Terms(ODE_TEMPO_QPM))
        count += len(truth)
        errors += [1000.0 * (note.onset_s - float(row["onset_s"]))
                   for note, row in zip(report.notes, truth, strict=False)
                   if note.onset_s is not None]  # fmt: skip
    hits = int(np.sum(np.abs(errors) <= 50.0))
    goals = (Goal(0.97, 1.0), Goal(10, 5, low=True))
    return Row("spliced real notes: within 50 ms; median",
               f"{proportion(hits, count)}; {middle_and_tail(errors, 'ms')}", goals,
               (hits / count, float(np.median(np.abs(errors)))))  # fmt: skip


def _line(rows: list[dict[str, str]], tempo_qpm: float) -> tuple[Passage, np.ndarray]:
    """A line written from a note list in sixteenths, and the listed onsets in seconds.

    Kinder than a real score: the rhythm is what was played, rounded.
    """
    onset_s = np.array([float(row["onset_s"]) for row in rows])
    offset_s = np.array([float(row["offset_s"]) for row in rows])
    sixteenth_s = 15.0 / tempo_qpm
    grid = np.round((onset_s - onset_s[0]) / sixteenth_s).astype(int)
    for place in range(1, len(grid)):
        grid[place] = max(grid[place], grid[place - 1] + 1)
    steps = np.append(np.diff(grid), 10_000)
    lengths = np.clip(np.round((offset_s - onset_s) / sixteenth_s).astype(int), 1, steps)
    notes = tuple(
        Note(Fraction(int(at), 4), Fraction(int(length), 4), round(float(row["midi"])),
             int(at // 16))
        for at, length, row in zip(grid, lengths, rows, strict=True)
    )  # fmt: skip
    end = notes[-1].onset_quarters + notes[-1].duration_quarters
    return Passage("", "", "", (), notes, end), onset_s
