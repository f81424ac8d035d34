"""How far a section came by itself since the middle of its group's takes. Pure.

A section that stops in winter has still grown over the year, so its growth over the whole year
cannot say that it stopped. Each musician's takes of the later half are compared with each
other only, the sittings' places taken out: so what a musician had reached before is in nothing.
The group's own growth, known by passages asked again, is added; it is taken to be as fast in the
later half as over the year.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from standlight.ratings.growth_anchors import GroupLine
from standlight.ratings.growth_fit import LineFit, Points
from standlight.ratings.growth_sections import LEAST_SECTION

LEAST_LATE_TAKES = 2
"""Takes in the later half below which a musician says nothing of it."""


@dataclass(frozen=True, slots=True)
class LateSlope:
    """A section's own slope (logits a year) from ``since`` (years from the middle) on, with half
    the width of its 95 percent interval.
    """

    since: float
    slope: float
    reach: float


def late_slope(
    points: Points, fit: LineFit, group: GroupLine, lines: np.ndarray
) -> LateSlope | None:
    """The own slope of ``lines`` (their numbers) in the later half of their anchored ``group``.

    ``None`` where fewer than ``LEAST_SECTION`` musicians have two takes there, at two times.
    Weighted least squares within musicians, with errors that are robust to what one musician's
    takes have in common (Liang & Zeger 1986, Biometrika 73:13), and Student's t.
    """
    since = float(np.median(points.time[group.own[points.sitting]]))
    late = (points.time >= since) & np.isin(points.line, lines)
    late &= (np.bincount(points.line[late], minlength=points.n_lines) >= LEAST_LATE_TAKES)[
        points.line
    ]
    _, own = np.unique(points.line[late], return_inverse=True)
    n = int(own.max(initial=-1)) + 1
    if n < LEAST_SECTION:
        return None
    weight = 1 / (points.error[late] + fit.spread.occasion**2)
    time = _within(points.time[late], weight, own)
    beside = _within((points.place - fit.sittings[points.sitting])[late], weight, own)
    square = float(weight @ time**2)
    if square < _AT_ONE_TIME:
        return None
    slope = float(weight @ (time * beside)) / square
    scores = np.bincount(own, weights=weight * time * (beside - slope * time))
    variance = float(scores @ scores) / square**2 * n / (n - 1)
    reach = float(stats.t.ppf(0.975, n - 1)) * (variance + group.variance) ** 0.5
    return LateSlope(since, group.slope + slope, reach)


_AT_ONE_TIME = 1e-6


def _within(values: np.ndarray, weight: np.ndarray, own: np.ndarray) -> np.ndarray:
    """``values`` minus the weighted mean of their musician."""
    means = np.bincount(own, weights=weight * values) / np.bincount(own, weights=weight)
    return values - means[own]
