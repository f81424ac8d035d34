"""Places that a player takes slower than the rest: several steps in a row, each by as much.

Who slows down for a hard measure takes every note of it longer, and about equally so. A wait comes
alone, or where there are several, each has its own length. So such a place has a pace of its own.
"""

from __future__ import annotations

import numpy as np

FEWEST_STEPS = 3
"""Two waits may come one after the other; so many of one length are a pace (our choice)."""

LEAST_RATIO, ALIKE_RATIO = 1.15, 1.28
"""Each step takes longer by this at least, and no other share than the one before it by more than
that (our choice, looked at on 530 made takes: eleven of 17 with a slower place have one by this,
and two of the others, of which one was misheard there)."""


def slower_of(steps: np.ndarray, gaps_s: np.ndarray, joined: np.ndarray) -> np.ndarray:
    """How many times longer than usual each step's place takes it, ``(steps,)``; 1 where it is not.

    ``steps`` are written quarters, ``gaps_s`` the seconds they took; only where ``joined`` does the
    beat go on from note to note. What is usual is the middle one of these, or, once such places are
    known, of the others.

    >>> gaps_s = np.array([0.5, 0.5, 0.5, 0.5, 0.5, 1.0, 1.0, 1.0, 0.5, 1.0, 0.5])
    >>> slower_of(np.ones(11), gaps_s, np.ones(11, bool)).tolist()
    [1.0, 1.0, 1.0, 1.0, 1.0, 2.0, 2.0, 2.0, 1.0, 1.0, 1.0]
    """
    slower = np.ones(len(steps))
    if not joined.any():
        return slower
    paces = np.full(len(steps), np.nan)
    paces[joined] = gaps_s[joined] / steps[joined]
    rows = _rows(paces / np.nanmedian(paces))
    elsewhere = np.delete(paces, np.concatenate(rows)) if rows else paces
    for row in rows:
        slower[row] = gaps_s[row].sum() / steps[row].sum() / np.nanmedian(elsewhere)
    return slower


def _rows(ratios: np.ndarray) -> list[np.ndarray]:
    """Step numbers of each row long enough of slow steps that take about the same share."""
    slow = np.nan_to_num(ratios) > LEAST_RATIO
    logs = np.log(np.where(slow, ratios, 1.0))
    cut = (np.diff(slow) != 0) | (np.abs(np.diff(logs)) > np.log(ALIKE_RATIO))
    rows = np.split(np.arange(len(ratios)), np.flatnonzero(cut) + 1)
    return [row for row in rows if len(row) >= FEWEST_STEPS and slow[row[0]]]
