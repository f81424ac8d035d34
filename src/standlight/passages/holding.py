"""What any windows of a part hold: differences of its running sums, presence, extremes."""

from __future__ import annotations

import numpy as np

from standlight.passages.profile import Clock, PartProfile
from standlight.passages.values import Held


def held_of(profile: PartProfile, clock: Clock, firsts: np.ndarray, lasts: np.ndarray) -> Held:
    """What the windows ``firsts``..``lasts`` (0-based, inclusive, shape (n,)) of a part hold."""
    after = lasts + 1
    summed = {name: run[after] - run[firsts] for name, run in profile.sums.items()}
    seconds = clock.starts_s[after] - clock.starts_s[firsts]
    measures = (after - firsts).astype(float)
    rate = np.diff(profile.sums["onsets"]) / np.diff(clock.starts_s)
    keys = np.concatenate([[0.0], np.cumsum(profile.fifths)])
    levels = _levels(profile.dynamics, firsts, after)
    return Held(
        seconds=seconds,
        measures=measures,
        quickest_rate=_extreme(rate, firsts, after, np.max),
        distinct_intervals=_distinct(profile.intervals, firsts, after),
        distinct_pitches=_distinct(profile.pitches, firsts, after),
        fifths=(keys[after] - keys[firsts]) / measures,
        lowest=_extreme(profile.lowest, firsts, after, np.min),
        highest=_extreme(profile.highest, firsts, after, np.max),
        distinct_dynamics=levels.sum(axis=1).astype(float),
        softest=_first_true(levels),
        loudest=_last_true(levels),
        stretch_s=_longest_stretch(profile.phrases_s, clock.starts_s[firsts],
                                   clock.starts_s[after]),
        **summed,
    )  # fmt: skip


def _levels(presence: np.ndarray, firsts: np.ndarray, after: np.ndarray) -> np.ndarray:
    """Which classes occur in each window, bool of shape (n_windows, n_classes)."""
    run = np.zeros((len(presence) + 1, presence.shape[1]), dtype=np.int32)
    np.cumsum(presence, axis=0, out=run[1:])
    return run[after] > run[firsts]


def _distinct(presence: np.ndarray, firsts: np.ndarray, after: np.ndarray) -> np.ndarray:
    """How many classes occur in each window, shape (n_windows,)."""
    return _levels(presence, firsts, after).sum(axis=1).astype(float)


def _extreme(
    values: np.ndarray, firsts: np.ndarray, after: np.ndarray, of: np.ufunc
) -> np.ndarray:
    """The largest or smallest of ``values`` over each window; nan where none is finite."""
    pick = np.maximum if of is np.max else np.minimum
    found = values[firsts].astype(float)
    for reach in range(1, int((after - firsts).max(initial=1))):
        inside = firsts + reach < after
        found[inside] = pick(found[inside], values[firsts[inside] + reach])
    return np.where(np.isfinite(found), found, np.nan)


def _first_true(levels: np.ndarray) -> np.ndarray:
    """The first true column of each row, -1 for none."""
    return np.where(levels.any(axis=1), levels.argmax(axis=1), -1)


def _last_true(levels: np.ndarray) -> np.ndarray:
    """The last true column of each row, -1 for none."""
    last = levels.shape[1] - 1 - levels[:, ::-1].argmax(axis=1)
    return np.where(levels.any(axis=1), last, -1)


def _longest_stretch(
    phrases_s: np.ndarray, starts_s: np.ndarray, ends_s: np.ndarray
) -> np.ndarray:
    """The longest part of a phrase inside each window, seconds, shape (n_windows,)."""
    longest = np.zeros(len(starts_s))
    if not len(phrases_s):
        return longest
    first = np.searchsorted(phrases_s[:, 1], starts_s, side="right")
    for place, (start, end) in enumerate(zip(starts_s, ends_s, strict=True)):
        at = first[place]
        while at < len(phrases_s) and phrases_s[at, 0] < end:
            inside = min(phrases_s[at, 1], end) - max(phrases_s[at, 0], start)
            longest[place] = max(longest[place], inside)
            at += 1
    return longest
