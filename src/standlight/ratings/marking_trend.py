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
    """Sums over each musician's levels: counts (n,), X'X (n, 2, 2), X'y (n, 2), y'y (n,)."""

    counts: np.ndarray
    crosses: np.ndarray
    products: np.ndarray
    squares: np.ndarray


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
    found = minimize(_cost, start, args=(sums,), method="L-BFGS-B", bounds=bounds)
    spread, var_level = _unpacked(found.x)
    line, errors, _ = _line_of(spread, var_level, sums)
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
    line = np.array([group.end_level, group.change])
    spread, var_level = group.spread, group.var_level
    cross, product = sums.crosses[0], sums.products[0]
    inner = var_level * np.eye(2) + cross @ spread
    drawn = spread @ np.linalg.solve(inner, product - cross @ line)
    left = var_level * np.linalg.solve(var_level * np.eye(2) + spread @ cross, spread)
    kept = np.eye(2) - spread @ np.linalg.solve(inner, cross)
    end_var, both, change_var = group.line_errors
    unsure = kept @ np.array([[end_var, both], [both, change_var]]) @ kept.T
    reach = INTERVAL_Z * float(np.sqrt(max(left[0, 0] + unsure[0, 0], 0.0)))
    end = float(line[0] + drawn[0])
    return OwnTrend(end, end - reach, end + reach, float(line[1] + drawn[1]))


def _sums(series: Sequence[Sequence[Dated]], span_days: float) -> _Sums:
    """The sums that the likelihood needs; days run from -1 (first) to 0 (last)."""
    counts = np.array([len(one) for one in series], dtype=float)
    crosses, products = np.zeros((len(series), 2, 2)), np.zeros((len(series), 2))
    squares = np.zeros(len(series))
    for place, one in enumerate(series):
        rows = np.array([[1.0, (level.day - span_days) / span_days] for level in one])
        rows = rows.reshape(-1, 2)
        values = np.array([level.level for level in one], dtype=float)
        crosses[place] = rows.T @ rows
        products[place] = rows.T @ values
        squares[place] = values @ values
    return _Sums(counts, crosses, products, squares)


def _unpacked(packed: np.ndarray) -> tuple[np.ndarray, float]:
    """The spread of lines (by its Cholesky factor) and the variance of levels."""
    first, second = np.exp(packed[0]), np.exp(packed[2])
    factor = np.array([[first, 0.0], [packed[1], second]])
    return factor @ factor.T, float(np.exp(2.0 * packed[3]))


def _line_of(
    spread: np.ndarray, var_level: float, sums: _Sums
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The group's line by generalised least squares, its errors (2, 2), and the inner (n, 2, 2).

    By Woodbury's identity X'V⁻¹ = (sI + AS)⁻¹X' for A = X'X, spread S and variance s, so that no
    matrix is larger than 2 by 2 and a spread of none is no fault.
    """
    inner = var_level * np.eye(2) + spread @ sums.crosses
    inverse = np.linalg.inv(inner)
    errors = np.linalg.inv((sums.crosses @ inverse).sum(axis=0))
    seen = np.einsum("nji,nj->i", inverse, sums.products)
    return errors @ seen, errors, inner


def _cost(packed: np.ndarray, sums: _Sums) -> float:
    """Minus twice the restricted log likelihood, up to a constant, with the line at its best."""
    spread, var_level = _unpacked(packed)
    line, errors, inner = _line_of(spread, var_level, sums)
    off = sums.products - sums.crosses @ line
    squares = sums.squares - 2.0 * sums.products @ line + (sums.crosses @ line) @ line
    drawn = np.einsum("ni,ni->n", off, np.linalg.solve(inner, (off @ spread)[..., None])[..., 0])
    fit = float(((squares - drawn) / var_level).sum())
    logs = np.linalg.slogdet(inner / var_level)[1]
    size = float((sums.counts * np.log(var_level) + logs).sum())
    return fit + size - float(np.linalg.slogdet(errors)[1])
