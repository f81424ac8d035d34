"""Small statistics and words that several criteria share."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

NORMAL_95 = 1.96
"""Half-width of a 95 percent interval in standard errors of a normal estimate."""

ROBUST = 1.4826
"""Median absolute deviation to standard deviation of a normal spread."""

MEDIAN_SE = 1.2533
"""Standard error of a median in those of a mean, sqrt(pi / 2), for a normal spread."""


def mean_interval(values: Sequence[float]) -> tuple[float, float, float]:
    """Mean of two or more values and its 95 percent interval (Student's t, textbook).

    >>> [round(one, 3) for one in mean_interval([1.0, 2.0, 3.0, 4.0])]
    [2.5, 0.446, 4.554]
    """
    array = np.asarray(values, dtype=float)
    reach = t_95(len(array) - 1) * float(array.std(ddof=1)) / np.sqrt(len(array))
    mean = float(array.mean())
    return mean, mean - float(reach), mean + float(reach)


def t_95(freedom: int) -> float:
    """Student's t for a two-sided 95 percent interval by degrees of freedom, within 0.003.

    The Cornish-Fisher expansion (Abramowitz & Stegun 26.7.5); its first three stand in every table.

    >>> round(t_95(3), 2), round(t_95(10), 2), round(t_95(10_000), 2)
    (3.18, 2.23, 1.96)
    """
    exact = {1: 12.7062, 2: 4.3027, 3: 3.1824}
    if freedom in exact:
        return exact[freedom]
    z, v = 1.959964, float(freedom)
    return (
        z
        + (z**3 + z) / (4 * v)
        + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * v**2)
        + (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / (384 * v**3)
        + (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / (92160 * v**4)
    )


def median_difference(
    these: Sequence[float], those: Sequence[float]
) -> tuple[float, float, float]:
    """Median of ``these`` less median of ``those`` and its 95 percent interval.

    Standard errors of medians from robust spreads (normal approximation); two or more values
    a side.
    """
    apart = float(np.median(these) - np.median(those))
    se = MEDIAN_SE * np.sqrt(
        robust_spread(these) ** 2 / len(these) + robust_spread(those) ** 2 / len(those)
    )
    return apart, apart - NORMAL_95 * float(se), apart + NORMAL_95 * float(se)


def line_through(
    places: Sequence[float], values: Sequence[float]
) -> tuple[float, float, np.ndarray]:
    """Robust straight line: change from first to last place, its standard error, the line there.

    Least squares with bisquare weights (Beaton & Tukey 1974) and Huber's (1973) standard error
    of such an estimate (both from memory); three or more values at two or more places.
    """
    x, y = np.asarray(places, dtype=float), np.asarray(values, dtype=float)
    design = np.stack([np.ones_like(x), x], axis=1)
    weights = np.ones_like(x)
    for _ in range(10):
        root = np.sqrt(weights)[:, None]
        answer, *_ = np.linalg.lstsq(design * root, y * root[:, 0], rcond=None)
        rest = y - design @ answer
        scale = 4.685 * max(ROBUST * float(np.median(np.abs(rest))), 1e-9)
        inside = 1.0 - np.clip(rest / scale, -1.0, 1.0) ** 2
        weights = np.maximum(inside**2, 1e-6)
    slope = np.mean(inside * (5.0 * inside - 4.0))  # how fast the pull of a value grows
    spread = float(np.sum((weights * rest) ** 2)) / max(len(x) - 2.0, 1.0)
    unsure = 1.0 + 2.0 / len(x) * (1.0 - slope) / max(slope, 0.1)
    variance = spread * (unsure / max(slope, 0.1)) ** 2
    covariance = variance * np.linalg.inv(design.T @ design)
    span = float(x.max() - x.min())
    return float(answer[1] * span), float(np.sqrt(covariance[1, 1]) * span), design @ answer


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
