"""A straight line over a marking period, drawn toward the line of the whole group. Pure.

Each musician's levels are taken as a line over the period with scatter around it; the lines of a
group are taken as scattered, normally, around the group's own line. The four numbers of that
scatter are found by restricted maximum likelihood, the group's line by least squares under them.
A musician's line is then the most likely one given both: many steady levels stand for themselves,
few or scattered ones are drawn toward the group. What counts is the line's height on the last day,
with its 95 percent interval. The interval counts in that the group's line is itself only estimated,
and that the scatter is: it is taken over all scatters that the levels leave likely, not at the
likeliest alone, which a small group often puts at no scatter at all.
This is the random-intercept, random-slope model of Laird and Ware, Biometrics 38, 1982. Levels
are whole steps and the model takes them as even measures, which is an approximation.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

import numpy as np
from scipy.optimize import minimize

from standlight.ratings.marking_trend_fit import (
    Sums,
    cost_of,
    drawn_off,
    line_of,
    off_line,
    solved_of,
    sums_of,
    unpacked,
)
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


LIKELY_ENDS, LIKELY_LEVELS = (0.55, 0.85, 1.3, 2.0), (0.7, 1.0, 1.4)
"""Times the likeliest deviation of lines at the end, and variance of levels, that are tried."""

LIKELY_CHANGES = (0.06, 0.15, 0.35, 0.7, 1.4)
"""Standard deviations of how far lines rise over the period (levels) that are tried."""

LIKELY_TWISTS, TWIST = (-0.5, 0.0, 0.5), 0.5
"""Correlations of end and rise that are tried; those far from none are held less likely, by a
normal prior of that deviation on the inverse hyperbolic tangent (our choice)."""

LEAST_END = 0.1
"""Levels by which lines at the end are taken to differ at least when others are tried."""

LEAST_SHARE = 1e-3
"""Share below which a scatter is left out."""


@dataclass(frozen=True, slots=True)
class LikelyTrend:
    """Another scatter that the levels leave likely, with its ``share`` and the line under it."""

    share: float
    end_level: float
    change: float
    var_end: float
    covariance: float
    var_change: float
    var_level: float
    line_errors: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class GroupTrend:
    """The line of a group over a period of ``span_days``, and how its musicians scatter around it.

    ``end_level`` is its height on the last day and ``change`` how far it rises over the period;
    ``var_end``, ``covariance`` and ``var_change`` are those of the musicians' own lines, and
    ``var_level`` the variance of single levels around a musician's line. ``line_errors`` are
    variance, covariance, variance of ``end_level`` and ``change`` themselves. ``likely`` are the
    scatters over which intervals are taken; none means this one alone.
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
    likely: tuple[LikelyTrend, ...] = ()

    @property
    def spread(self) -> np.ndarray:
        """Covariance of the musicians' lines, shape (2, 2): height at the end, rise."""
        return np.array([[self.var_end, self.covariance], [self.covariance, self.var_change]])

    @property
    def alone(self) -> LikelyTrend:
        """The scatter of this line as the only one."""
        return LikelyTrend(
            1.0,
            self.end_level,
            self.change,
            self.var_end,
            self.covariance,
            self.var_change,
            self.var_level,
            self.line_errors,
        )


@dataclass(frozen=True, slots=True)
class OwnTrend:
    """A musician's line at the last day: its height, 95 percent bounds, and its rise."""

    end_level: float
    low: float
    high: float
    change: float


def group_trend(series: Sequence[Sequence[Dated]], span_days: float) -> GroupTrend | None:
    """The group's line through ``series``, one a musician; ``None`` with too few to tell.

    Days count from the first day of the period; ``span_days`` is its last.
    """
    told = [one for one in series if one]
    lines = sum(len({level.day for level in one}) > 1 for one in told)
    if lines < FEWEST_MUSICIANS or span_days <= 0:
        return None
    sums = sums_of(told, span_days)
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
        cost_of, start, args=(sums,), method="SLSQP", bounds=bounds, options={"ftol": CLOSE_ENOUGH}
    )
    best = _likely(found.x, sums, 1.0)
    return GroupTrend(
        best.end_level,
        best.change,
        best.var_end,
        best.covariance,
        best.var_change,
        best.var_level,
        float(span_days),
        len(told),
        best.line_errors,
        _all_likely(best, sums),
    )


def _likely(packed: np.ndarray, sums: Sums, share: float) -> LikelyTrend:
    """A scatter with the group's line under it."""
    spread, var_level = unpacked(packed)
    line, errors = line_of(solved_of(spread, var_level, sums), sums)
    return LikelyTrend(
        share,
        *(float(each) for each in (*line, spread[0, 0], spread[0, 1], spread[1, 1], var_level)),
        (float(errors[0, 0]), float(errors[0, 1]), float(errors[1, 1])),
    )


def _all_likely(best: LikelyTrend, sums: Sums) -> tuple[LikelyTrend, ...]:
    """The scatters around the ``best`` that have a share: likelihood times what was held before.

    Before, a rise differs by a gamma distribution of shape 2 and rate 1 (Chung et al. 2013,
    Psychometrika 78:685), which keeps off no difference at all; the steps of the grid are even in
    the logarithm, so one more power belongs to it.
    """
    end = max(best.var_end**0.5, LEAST_END)
    tried, weights = [], []
    for times, change, twist, levels in product(
        LIKELY_ENDS, LIKELY_CHANGES, LIKELY_TWISTS, LIKELY_LEVELS
    ):
        packed = np.array([
            np.log(times * end),
            twist * change,
            np.log(change * (1 - twist**2) ** 0.5),
            0.5 * np.log(max(levels * best.var_level, ROUNDING_VARIANCE)),
        ])
        before = 2 * np.log(change) - change - 0.5 * (np.arctanh(twist) / TWIST) ** 2
        tried.append(packed)
        weights.append(before - 0.5 * cost_of(packed, sums))
    shares = np.exp(np.array(weights) - max(weights))
    shares /= shares.sum()
    kept = np.flatnonzero(shares >= LEAST_SHARE)
    total = float(shares[kept].sum())
    return tuple(_likely(tried[each], sums, float(shares[each]) / total) for each in kept)


def own_trend(levels: Sequence[Dated], group: GroupTrend) -> OwnTrend:
    """One musician's line, drawn toward the group's; with no level it is the group's.

    >>> group = GroupTrend(3.0, 0.5, 0.3, 0.0, 0.1, 0.3, 50.0, 30)
    >>> few = own_trend([Dated(2, 25)], group)
    >>> many = own_trend([Dated(2, day) for day in range(0, 50, 5)], group)
    >>> 2.0 < many.end_level < few.end_level < 3.0
    True
    """
    sums = sums_of([levels], group.span_days)
    end, change, _ = _own(sums, (group.alone,))
    ends, _, unsure = _own(sums, group.likely or (group.alone,))
    shares = np.array([one.share for one in group.likely or (group.alone,)])
    reach = INTERVAL_Z * float(np.sqrt(max(shares @ (unsure + (ends - end[0]) ** 2), 0.0)))
    return OwnTrend(float(end[0]), float(end[0]) - reach, float(end[0]) + reach, float(change[0]))


def _own(
    sums: Sums, likely: tuple[LikelyTrend, ...]
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """One musician's end, rise and variance of the end under each scatter, (k,) each."""
    end_level, line_change, a, c, b, var_level, end_var, both, change_var = _columns(likely)
    spread = np.array([[a, c], [c, b]])
    solved = solved_of(spread, var_level, sums)
    end, change = drawn_off(spread, solved, *off_line(sums, end_level, line_change))
    # The first row of M⁻¹S, of what the musician's own levels leave, and of what they leave of
    # the group's line.
    first = (solved.m11 * a - solved.m01 * c) / solved.det
    second = (solved.m11 * c - solved.m01 * b) / solved.det
    kept = 1.0 - (first * sums.ones + second * sums.x)
    turned = -(first * sums.x + second * sums.xx)
    line = kept**2 * end_var + 2 * kept * turned * both + turned**2 * change_var
    return end_level + end, line_change + change, var_level * first + line


@lru_cache(maxsize=64)
def _columns(likely: tuple[LikelyTrend, ...]) -> tuple[np.ndarray, ...]:
    """The numbers of every scatter, a column each (k,)."""
    rows = [
        (one.end_level, one.change, one.var_end, one.covariance, one.var_change, one.var_level,
         *one.line_errors)
        for one in likely
    ]  # fmt: skip
    return tuple(np.array(rows).T)
