"""The lines of one criterion, fitted: levels -> places -> lines, round and round. Pure.

Warm's estimate of each take starts it. It alone does not do: from the three levels of one take
it leans to the middle (simulated, 150 x 12 x 3: own slopes .75 of the true ones where students
sit in the middle, .63 near the top; from one level .65 and .56) and tells too large an error,
so pooled intervals covered .66. Therefore each take is then placed anew by one scoring step from
where its line foretells it, which is right in expectation even for one level, and the lines
are drawn again: own slopes .95 of the true (one level .95, near the top .89), own intervals
cover .94 to .96, pooled .92 to .95. That is penalised quasi-likelihood (Breslow & Clayton 1993);
slopes, the group's too, come out about a twentieth too flat.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from standlight.ratings.growth_fit import (
    LineFit,
    Points,
    Spread,
    fit_lines,
    fit_spread,
    likely_slope_spread,
)
from standlight.ratings.growth_gather import Gathered
from standlight.ratings.growth_places import Levels, moved, places_near, warm_places

ROUNDS = 4
"""Times the takes are placed anew: by simulation the fourth moves slopes by less than .01."""

LEAST_START = Spread(level=0.3, slope=0.3, occasion=0.2, correlation=0.0)
"""Floors of the spreads in the first rounds, so that a start from Warm's narrow places does not
settle where all lines are the same."""


@dataclass(frozen=True, slots=True, eq=False)
class CriterionLines:
    """One criterion (all together when empty): a unit a take that has a level of it.

    ``rows`` are the rows of the table, ``unit`` each row's unit; ``line``, ``sitting`` (of the
    table), ``day`` by unit; ``warm`` and ``warm_error`` (variance) by unit; ``points`` and
    ``fit`` number the sittings that occur, ``sitting_of`` gives their number in the table.
    """

    criterion: str
    rows: np.ndarray
    unit: np.ndarray
    line: np.ndarray
    sitting: np.ndarray
    day: np.ndarray
    take: np.ndarray
    levels: Levels
    warm: np.ndarray
    warm_error: np.ndarray
    points: Points
    fit: LineFit
    sitting_of: np.ndarray
    around: float | None


def lines_of(table: Gathered, criterion: str, like: Spread | None = None) -> CriterionLines:
    """The lines of ``criterion``; ``like`` is the spread of all criteria together.

    One criterion's levels alone tell little of how much an occasion moves a player (the day
    is the same for all criteria), so with ``like`` that is taken from there, and the spread
    of slopes leans on it.
    """
    rows = (
        np.flatnonzero(table.criterion == table.criteria.index(criterion))
        if criterion
        else np.arange(len(table.line))
    )
    takes, first, unit = np.unique(table.take[rows], return_index=True, return_inverse=True)
    levels = moved(table.levels, rows, unit, len(takes))
    line, sitting = table.line[rows][first], table.sitting[rows][first]
    day = table.day[rows][first]
    sitting_of, number = np.unique(sitting, return_inverse=True)
    warm, warm_error = warm_places(table.scale, levels)
    points = Points(
        line=line,
        sitting=number,
        time=table.years(day),
        place=warm,
        error=warm_error,
        n_lines=len(table.keys),
        n_sittings=len(sitting_of),
    )
    points, fit = _settled(table, levels, points, like)
    return CriterionLines(
        criterion=criterion,
        rows=rows,
        unit=unit,
        line=line,
        sitting=sitting,
        day=day,
        take=takes,
        levels=levels,
        warm=warm,
        warm_error=warm_error,
        points=points,
        fit=fit,
        sitting_of=sitting_of,
        around=None if like is None else like.slope,
    )


def _settled(
    table: Gathered, levels: Levels, points: Points, like: Spread | None
) -> tuple[Points, LineFit]:
    """Places and lines that agree with each other."""
    occasion = None if like is None else like.occasion
    around = None if like is None else like.slope
    spread = None
    for number in range(ROUNDS + 1):
        spread = fit_spread(points, spread, occasion=occasion)
        if number < ROUNDS - 1:
            spread = _at_least(spread, LEAST_START)
        spread = replace(spread, slope=likely_slope_spread(points, spread, around))
        fit = fit_lines(points, spread)
        if number == ROUNDS:
            break
        # The occasion itself is foretold too, as far as its own levels tell it.
        line = (
            fit.sittings[points.sitting]
            + fit.pooled[points.line, 0]
            + fit.pooled[points.line, 1] * points.time
        )
        share = spread.occasion**2 / (spread.occasion**2 + points.error)
        place, error = places_near(table.scale, levels, line + share * (points.place - line))
        points = replace(points, place=place, error=error)
    return points, fit


def _at_least(spread: Spread, floor: Spread) -> Spread:
    """``spread`` with every deviation at least that of ``floor``."""
    return replace(
        spread,
        level=max(spread.level, floor.level),
        slope=max(spread.slope, floor.slope),
        occasion=max(spread.occasion, floor.occasion),
    )
