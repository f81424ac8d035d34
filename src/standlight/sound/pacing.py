"""What a note's length is judged by: tempo hypotheses at first, the take's own course later.

A first pass through a take knows only the marked tempo and tries several side by side. Its path
tells how the player really moved; a second pass that expects this course, and less scatter
around it, no longer mistakes a long note for two or a slip for a late entry.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standlight.sound.values import HOP_S
from standlight.sound.written import WrittenLine

LANES = (0.35, 0.50, 0.70, 0.90, 1.12, 1.40)
"""Tempo hypotheses as a multiple of the marked one (60 to 140 percent; beginners a third)."""

LANE_COST = (4.0, 2.0, 0.0, 0.0, 0.0, 1.0)

DURATION_SPREAD = 0.20
"""Spread (log) of a note's length around the local tempo, in the first pass."""

COURSE_SPREAD = 0.08
"""The same around the course that the first pass found (players of the made takes scatter by 8
to 35 ms; at 0.15 every figure was a little worse, at 0.07 no different)."""

COURSE_NOTES = 8.0
"""The course at a note is read from so many notes to both sides (spread of a bell curve)."""

FAR_LOG = 0.7
"""A length off the usual tempo by more than this (log) tells nothing: a stop or a slip."""


@dataclass(frozen=True, slots=True, eq=False)
class Pace:
    """Log frames a quarter at the start of each lane, what a lane costs, the spread of lengths.

    ``usual`` is the log frames a quarter that written lengths are turned into time by;
    ``course`` is the log frames a quarter at each written note and after the last, ``(notes +
    1,)``; None where the path itself carries the tempo.
    """

    starts: np.ndarray
    costs: np.ndarray
    spread: float
    usual: float
    course: np.ndarray | None = None

    @property
    def slowest(self) -> float:
        """The most log frames a quarter that are expected anywhere."""
        return float(self.starts.max() if self.course is None else self.course.max())


def marked_pace(qpm: float) -> Pace:
    """The hypotheses around ``qpm`` quarters a minute.

    >>> [round(float(s), 2) for s in np.exp(marked_pace(60.0).starts) * HOP_S]  # s a quarter
    [2.86, 2.0, 1.43, 1.11, 0.89, 0.71]
    """
    quarter = 60.0 / qpm / HOP_S
    starts = np.log(quarter / np.array(LANES)).astype(np.float32)
    costs = np.array(LANE_COST, dtype=np.float32)
    return Pace(starts, costs, DURATION_SPREAD, float(np.log(quarter)))


def own_pace(line: WrittenLine, index: np.ndarray, frames: np.ndarray) -> Pace | None:
    """The course of a take whose written note ``index`` took so many ``frames``, both ``(n,)``.

    None where nothing can be told: no note but the last, or only fermatas.
    """
    weight = np.sqrt(line.step_quarters[index]) * ~line.free[index] * (index < len(line) - 1)
    if not np.any(weight > 0.0):
        return None
    tempo = np.log(np.maximum(frames, 1.0)) - np.log(line.step_quarters[index])
    usual = _weighted_median(tempo, weight)
    weight = weight * (np.abs(tempo - usual) < FAR_LOG)
    course = np.empty(len(line) + 1, dtype=np.float32)
    for note in range(len(course)):
        near = weight * np.exp(-0.5 * ((index - note) / COURSE_NOTES) ** 2)
        course[note] = _weighted_median(tempo, near) if near.sum() > 1e-6 else usual
    starts = np.array([usual], dtype=np.float32)
    return Pace(starts, np.zeros(1, dtype=np.float32), COURSE_SPREAD, usual, course)


def _weighted_median(values: np.ndarray, weights: np.ndarray) -> float:
    """The value at half of all weight."""
    order = np.argsort(values)
    passed = np.cumsum(weights[order])
    return float(values[order[int(np.searchsorted(passed, 0.5 * passed[-1]))]])
