"""The likelihood of straight lines of many musicians, for the pooled trend of marks. Pure.

Restricted maximum likelihood for lines with a random height and rise (Laird and Ware, Biometrics
38, 1982), two by two. Entries of the spread of lines may be numbers, or arrays of shape (k,) for
many spreads at once where one musician is asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from standlight.ratings.marking_values import Dated


@dataclass(frozen=True, slots=True)
class Sums:
    """Sums over each musician's levels, each of shape (n,), by time x from -1 to 0 and level y."""

    ones: np.ndarray
    x: np.ndarray
    xx: np.ndarray
    y: np.ndarray
    xy: np.ndarray
    yy: np.ndarray


@dataclass(frozen=True, slots=True)
class Solved:
    """M = v + SA of each musician, entry by entry (n,), and its determinant.

    A holds the sums of ones, x and xx, S is the spread of lines and v the variance of levels. By
    Woodbury's identity X'V⁻¹ = (v + AS)⁻¹X', so that no matrix is larger than 2 by 2 and a spread
    of none is no fault.
    """

    m00: np.ndarray
    m01: np.ndarray
    m10: np.ndarray
    m11: np.ndarray
    det: np.ndarray


def sums_of(series: Sequence[Sequence[Dated]], span_days: float) -> Sums:
    """The sums that the likelihood needs."""
    whose = np.repeat(np.arange(len(series)), [len(one) for one in series])
    x = np.array([(level.day - span_days) / span_days for one in series for level in one])
    y = np.array([level.level for one in series for level in one], dtype=float)

    def added(values: np.ndarray) -> np.ndarray:
        return np.bincount(whose, values, minlength=len(series))

    return Sums(
        added(np.ones_like(y)), added(x), added(x * x), added(y), added(x * y), added(y * y)
    )


def unpacked(packed: np.ndarray) -> tuple[np.ndarray, float]:
    """The spread of lines (by its Cholesky factor) and the variance of levels."""
    first, second = np.exp(packed[0]), np.exp(packed[2])
    factor = np.array([[first, 0.0], [packed[1], second]])
    return factor @ factor.T, float(np.exp(2.0 * packed[3]))


def solved_of(spread: np.ndarray, var_level: float, sums: Sums) -> Solved:
    """M and its determinant for each musician."""
    (a, c), (_, b) = spread
    m00 = var_level + a * sums.ones + c * sums.x
    m01 = a * sums.x + c * sums.xx
    m10 = c * sums.ones + b * sums.x
    m11 = var_level + c * sums.x + b * sums.xx
    return Solved(m00, m01, m10, m11, m00 * m11 - m01 * m10)


def off_line(sums: Sums, end_level: float, change: float) -> tuple[np.ndarray, np.ndarray]:
    """X'(y - line) of each musician: its two entries."""
    return (
        sums.y - sums.ones * end_level - sums.x * change,
        sums.xy - sums.x * end_level - sums.xx * change,
    )


def drawn_off(
    spread: np.ndarray, solved: Solved, off_end: np.ndarray, off_change: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """M⁻¹S times what is off: how far each musician's line lies from the group's."""
    (a, c), (_, b) = spread
    first, second = a * off_end + c * off_change, c * off_end + b * off_change
    return (
        (solved.m11 * first - solved.m01 * second) / solved.det,
        (solved.m00 * second - solved.m10 * first) / solved.det,
    )


def line_of(solved: Solved, sums: Sums) -> tuple[np.ndarray, np.ndarray]:
    """The group's line by generalised least squares, and its errors (2, 2)."""
    det = solved.det
    w00 = ((sums.ones * solved.m11 - sums.x * solved.m10) / det).sum()
    w01 = ((sums.x * solved.m00 - sums.ones * solved.m01) / det).sum()
    w11 = ((sums.xx * solved.m00 - sums.x * solved.m01) / det).sum()
    seen = np.array(
        [
            ((solved.m11 * sums.y - solved.m10 * sums.xy) / det).sum(),
            ((solved.m00 * sums.xy - solved.m01 * sums.y) / det).sum(),
        ]
    )
    errors = np.array([[w11, -w01], [-w01, w00]]) / (w00 * w11 - w01 * w01)
    return errors @ seen, errors


def cost_of(packed: np.ndarray, sums: Sums) -> float:
    """Minus twice the restricted log likelihood, up to a constant, with the line at its best."""
    spread, var_level = unpacked(packed)
    solved = solved_of(spread, var_level, sums)
    (end, change), errors = line_of(solved, sums)
    off_end, off_change = off_line(sums, end, change)
    own_end, own_change = drawn_off(spread, solved, off_end, off_change)
    squares = (
        sums.yy
        - 2.0 * (end * sums.y + change * sums.xy)
        + end * end * sums.ones
        + 2.0 * end * change * sums.x
        + change * change * sums.xx
    )
    fit = (squares - off_end * own_end - off_change * own_change).sum() / var_level
    size = (np.log(solved.det) + (sums.ones - 2.0) * np.log(var_level)).sum()
    return float(fit + size - np.log(errors[0, 0] * errors[1, 1] - errors[0, 1] ** 2))
