"""A straight line over a marking period, drawn toward the line of the whole group. Pure.

Each musician's levels are taken as a line over the period with scatter around it; the lines of a
group are taken as scattered, normally, around the group's own line. The four numbers of that
scatter are found by restricted maximum likelihood, the group's line by least squares under them.
A musician's line is then the most likely one given both: many steady levels stand for themselves,
few or scattered ones are drawn toward the group. What counts is the line's height on the last day,
with its 95 percent interval, which counts in that the group's line is itself only estimated.
This is the random-intercept, random-slope model of Laird and Ware, Biometrics 38, 1982. Levels
are whole steps and the model takes them as even measures, which is an approximation.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize

from standlight.ratings.marking_values import HIGHEST, LOWEST, Dated

FEWEST_MUSICIANS = 8
"""Fewer musicians with two levels on different days tell no spread of lines (our choice)."""

ROUNDING_VARIANCE = 1.0 / 12.0
"""Variance of rounding to whole steps: the scatter around a line is taken as no smaller."""

LARGEST_VARIANCE = float((HIGHEST - LOWEST) ** 2)
"""No spread of levels between 1 and 4 is wider than their range squared."""

SMALLEST_SPREAD = 1e-4
"""Where a spread counts as none; only keeps the search finite."""

CLOSE_ENOUGH = 1e-9
"""Change of twice the log likelihood at which the search stops: far under what a mark shows."""

INTERVAL_Z = 1.959964
"""Standard errors to either side of a 95 percent interval."""


@dataclass(frozen=True, slots=True)
class GroupTrend:
    """The line of a group over a period of ``span_days``, and how its musicians scatter around it.

    ``end_level`` is its height on the last day and ``change`` how far it rises over the period;
    ``var_end``, ``covariance`` and ``var_change`` are those of the musicians' own lines, and
    ``var_level`` the variance of single levels around a musician's line. ``line_errors`` are
    variance, covariance, variance of ``end_level`` and ``change`` themselves.
    """

    end_level: float
    change: float
    var_end: float
    covariance: float
    var_change: float
    var_level: float
    span_days: float
    n_musicians: int
    line_errors: tuple[float, float, float] = (0.0, 0.0, 0.0)

    @property
    def spread(self) -> np.ndarray:
        """Covariance of the musicians' lines, shape (2, 2): height at the end, rise."""
        return np.array([[self.var_end, self.covariance], [self.covariance, self.var_change]])


@dataclass(frozen=True, slots=True)
class OwnTrend:
    """A musician's line at the last day: its height, 95 percent bounds, and its rise."""

    end_level: float
    low: float
    high: float
    change: float


@dataclass(frozen=True, slots=True)
class _Sums:
    """Sums over each musician's levels, each of shape (n,), by time x from -1 to 0 and level y."""

    ones: np.ndarray
    x: np.ndarray
    xx: np.ndarray
    y: np.ndarray
    xy: np.ndarray
    yy: np.ndarray


@dataclass(frozen=True, slots=True)
class _Solved:
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


def group_trend(series: Sequence[Sequence[Dated]], span_days: float) -> GroupTrend | None:
    """The group's line through ``series``, one a musician; ``None`` with too few to tell.

    Days count from the first day of the period; ``span_days`` is its last.
    """
    told = [one for one in series if one]
    lines = sum(len({level.day for level in one}) > 1 for one in told)
    if lines < FEWEST_MUSICIANS or span_days <= 0:
        return None
    sums = _sums(told, span_days)
    start = np.array([np.log(0.5), 0.0, np.log(0.3), 0.5 * np.log(0.3)])
    top, floor = 0.5 * np.log(LARGEST_VARIANCE), np.log(SMALLEST_SPREAD)
    widest = np.exp(top)
    bounds = [
        (floor, top),
        (-widest, widest),
        (floor, top),
        (0.5 * np.log(ROUNDING_VARIANCE), top),
    ]
    found = minimize(
        _cost, start, args=(sums,), method="SLSQP", bounds=bounds, options={"ftol": CLOSE_ENOUGH}
    )
    spread, var_level = _unpacked(found.x)
    line, errors = _line_of(_solved(spread, var_level, sums), sums)
    return GroupTrend(
        float(line[0]),
        float(line[1]),
        float(spread[0, 0]),
        float(spread[0, 1]),
        float(spread[1, 1]),
        float(var_level),
        float(span_days),
        len(told),
        (float(errors[0, 0]), float(errors[0, 1]), float(errors[1, 1])),
    )


def own_trend(levels: Sequence[Dated], group: GroupTrend) -> OwnTrend:
    """One musician's line, drawn toward the group's; with no level it is the group's.

    >>> group = GroupTrend(3.0, 0.5, 0.3, 0.0, 0.1, 0.3, 50.0, 30)
    >>> few = own_trend([Dated(2, 25)], group)
    >>> many = own_trend([Dated(2, day) for day in range(0, 50, 5)], group)
    >>> 2.0 < many.end_level < few.end_level < 3.0
    True
    """
    sums = _sums([levels], group.span_days)
    spread, var_level = group.spread, group.var_level
    solved = _solved(spread, var_level, sums)
    drawn = _drawn(spread, solved, *_off(sums, group.end_level, group.change))
    # What is left unsure of the musician's own line, and what the group's line itself is unsure of.
    left = var_level * _under(solved, spread)
    own = np.array([[sums.ones[0], sums.x[0]], [sums.x[0], sums.xx[0]]])
    kept = np.eye(2) - _under(solved, spread) @ own
    end_var, both, change_var = group.line_errors
    unsure = kept @ np.array([[end_var, both], [both, change_var]]) @ kept.T
    reach = INTERVAL_Z * float(np.sqrt(max(left[0, 0] + unsure[0, 0], 0.0)))
    end = group.end_level + float(drawn[0][0])
    return OwnTrend(end, end - reach, end + reach, group.change + float(drawn[1][0]))


def _sums(series: Sequence[Sequence[Dated]], span_days: float) -> _Sums:
    """The sums that the likelihood needs."""
    whose = np.repeat(np.arange(len(series)), [len(one) for one in series])
    x = np.array([(level.day - span_days) / span_days for one in series for level in one])
    y = np.array([level.level for one in series for level in one], dtype=float)

    def added(values: np.ndarray) -> np.ndarray:
        return np.bincount(whose, values, minlength=len(series))

    return _Sums(
        added(np.ones_like(y)), added(x), added(x * x), added(y), added(x * y), added(y * y)
    )


def _unpacked(packed: np.ndarray) -> tuple[np.ndarray, float]:
    """The spread of lines (by its Cholesky factor) and the variance of levels."""
    first, second = np.exp(packed[0]), np.exp(packed[2])
    factor = np.array([[first, 0.0], [packed[1], second]])
    return factor @ factor.T, float(np.exp(2.0 * packed[3]))


def _solved(spread: np.ndarray, var_level: float, sums: _Sums) -> _Solved:
    """M and its determinant for each musician."""
    (a, c), (_, b) = spread
    m00 = var_level + a * sums.ones + c * sums.x
    m01 = a * sums.x + c * sums.xx
    m10 = c * sums.ones + b * sums.x
    m11 = var_level + c * sums.x + b * sums.xx
    return _Solved(m00, m01, m10, m11, m00 * m11 - m01 * m10)


def _under(solved: _Solved, matrix: np.ndarray) -> np.ndarray:
    """M⁻¹ of the first musician times a matrix (2, 2)."""
    inverse = np.array([[solved.m11[0], -solved.m01[0]], [-solved.m10[0], solved.m00[0]]])
    return inverse @ matrix / solved.det[0]


def _off(sums: _Sums, end_level: float, change: float) -> tuple[np.ndarray, np.ndarray]:
    """X'(y - line) of each musician: its two entries."""
    return (
        sums.y - sums.ones * end_level - sums.x * change,
        sums.xy - sums.x * end_level - sums.xx * change,
    )


def _drawn(
    spread: np.ndarray, solved: _Solved, off_end: np.ndarray, off_change: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """M⁻¹S times what is off: how far each musician's line lies from the group's."""
    (a, c), (_, b) = spread
    first, second = a * off_end + c * off_change, c * off_end + b * off_change
    return (
        (solved.m11 * first - solved.m01 * second) / solved.det,
        (solved.m00 * second - solved.m10 * first) / solved.det,
    )


def _line_of(solved: _Solved, sums: _Sums) -> tuple[np.ndarray, np.ndarray]:
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


def _cost(packed: np.ndarray, sums: _Sums) -> float:
    """Minus twice the restricted log likelihood, up to a constant, with the line at its best."""
    spread, var_level = _unpacked(packed)
    solved = _solved(spread, var_level, sums)
    (end, change), errors = _line_of(solved, sums)
    off_end, off_change = _off(sums, end, change)
    own_end, own_change = _drawn(spread, solved, off_end, off_change)
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
