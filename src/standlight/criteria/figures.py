"""Small statistics and words that several criteria share."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

NORMAL_95 = 1.96
"""Half-width of a 95 percent interval in standard errors of a normal estimate."""

ROBUST = 1.4826
"""Median absolute deviation to standard deviation of a normal spread."""



def robust_spread(values: Iterable[float]) -> float:
    """Robust standard deviation (1.4826 median absolute deviation) of one or more values.

    >>> round(robust_spread([1.0, 2.0, 3.0, 4.0, 100.0]), 3)
    1.483
    """
    array = np.fromiter(values, dtype=float)
    return ROBUST * float(np.median(np.abs(array - np.median(array))))


def spread_interval(spread: float, count: int) -> tuple[float, float]:
    """95 percent interval of a robust spread of ``count`` values (at least 2).

    The standard error of the median absolute deviation is about 1.17 s / sqrt(n) for a
    normal spread (efficiency 37 percent: Rousseeuw & Croux, JASA 1993), on the log scale.
    """
    reach = np.exp(NORMAL_95 * 1.17 / np.sqrt(count))
    return float(spread / reach), float(spread * reach)


def median_interval(values: Sequence[float]) -> tuple[float, float, float]:
    """Median of one or more values and its 95 percent interval by order statistics.

    The ranks are the normal approximation of the binomial (a textbook's sign-test interval).

    >>> median_interval([1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0])
    (5.0, 2.0, 8.0)
    """
    ordered = np.sort(np.asarray(values, dtype=float))
    count = len(ordered)
    reach = NORMAL_95 * np.sqrt(count) / 2.0
    low = int(np.clip(np.floor(count / 2.0 - reach), 0, count - 1))
    high = int(np.clip(np.ceil(count / 2.0 + reach) - 1, 0, count - 1))
    return float(np.median(ordered)), float(ordered[low]), float(ordered[high])
