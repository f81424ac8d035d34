"""The six intraclass correlations by Shrout and Fleiss's names, with F-based intervals. Pure.

Shrout & Fleiss 1979, Psychol. Bull. 86:420. The first number says who rated: (1) any raters,
others for each object; (2) the same raters, drawn from many; (3) these raters and no others.
The second says of what: of one rater's level, or of the mean of all k.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc, fdtri

from standlight.ratings.agreement_figure import (
    ALL_SAME,
    FEW_OBJECTS,
    TINY,
    AgreementFigure,
    ChanceTest,
    Grid,
    evenly_rated,
    fully_rated,
    levels_of,
    n_raters_in,
    no_figure,
    why_no_pairs,
)

NO_COMMON = "No object was rated by all raters."
SAME_MEANS = "The objects' means do not differ, so this figure has no bottom."
NO_INTERVAL = "No interval: the mean squares leave its F ratio without a number."
F_INTERVAL = "F distribution, Shrout and Fleiss 1979"

_UPPER = 0.975


@dataclass(frozen=True, slots=True)
class MeanSquares:
    """Mean squares of n objects x k raters: between objects, within objects, raters, rest."""

    n: int
    k: int
    objects: float
    within: float
    raters: float
    rest: float


def mean_squares(levels: np.ndarray) -> MeanSquares:
    """The two-way table of ``levels`` (objects x raters, both 2 or more, nothing missing).

    What rounding leaves of a zero is zero.

    >>> mean_squares(np.array([[1.0, 2.0], [3.0, 4.0]]))
    MeanSquares(n=2, k=2, objects=4.0, within=0.5, raters=1.0, rest=0.0)
    """
    n, k = levels.shape
    centred = levels - levels.mean()
    rows, columns = centred.mean(axis=1), centred.mean(axis=0)
    rest = centred - rows[:, None] - columns
    found = (
        k * (rows**2).sum() / (n - 1),
        ((centred - rows[:, None]) ** 2).sum() / (n * (k - 1)),
        n * (columns**2).sum() / (k - 1),
        (rest**2).sum() / ((n - 1) * (k - 1)),
    )
    floor = TINY * max(*found, float((levels**2).mean()) * TINY)
    return MeanSquares(n, k, *(float(square) if square > floor else 0.0 for square in found))


def _share(top: float, bottom: float) -> float:
    """A ratio; nan where there is none."""
    return top / bottom if abs(bottom) > TINY * abs(top) and bottom != 0 else math.nan


def _any_one(m: MeanSquares) -> float:
    return _share(m.objects - m.within, m.objects + (m.k - 1) * m.within)


def _drawn_one(m: MeanSquares) -> float:
    bottom = m.objects + (m.k - 1) * m.rest + m.k * (m.raters - m.rest) / m.n
    return _share(m.objects - m.rest, bottom)


def _these_one(m: MeanSquares) -> float:
    return _share(m.objects - m.rest, m.objects + (m.k - 1) * m.rest)


def _any_mean(m: MeanSquares) -> float:
    return _share(m.objects - m.within, m.objects)


def _drawn_mean(m: MeanSquares) -> float:
    bottom = m.objects + (m.raters - m.rest) / m.n
    return _share(m.objects - m.rest, bottom) if bottom > 0 else math.nan


def _these_mean(m: MeanSquares) -> float:
    return _share(m.objects - m.rest, m.objects)


def _of_one(m: MeanSquares, low_f: float, high_f: float) -> tuple[float, float]:
    """Bounds for one rater's level from bounds of the F ratio."""
    return tuple(_share(f - 1.0, f + m.k - 1.0) for f in (low_f, high_f))


def _of_mean(m: MeanSquares, low_f: float, high_f: float) -> tuple[float, float]:
    """Bounds for the mean of k levels from bounds of the F ratio."""
    return tuple(1.0 - 1.0 / f for f in (low_f, high_f))


def _f_bounds(m: MeanSquares, error: float, df: float) -> tuple[float, float]:
    """Bounds of the F ratio of the objects to ``error`` with ``df`` degrees of freedom."""
    ratio = m.objects / error
    return ratio / fdtri(m.n - 1, df, _UPPER), ratio * fdtri(df, m.n - 1, _UPPER)


def _any_bounds(m: MeanSquares) -> tuple[float, float]:
    return _f_bounds(m, m.within, m.n * (m.k - 1))


def _these_bounds(m: MeanSquares) -> tuple[float, float]:
    return _f_bounds(m, m.rest, (m.n - 1) * (m.k - 1))


def _drawn_interval(m: MeanSquares) -> tuple[float, float]:
    """The interval of ICC(2,1): Satterthwaite's degrees of freedom, as printed in the paper."""
    n, k, ratio = m.n, m.k, m.raters / m.rest
    one = _drawn_one(m)
    freely = n * (1 + (k - 1) * one) - k * one
    top = (k - 1) * (n - 1) * (k * one * ratio + freely) ** 2
    df = _share(top, (n - 1) * (k * one * ratio) ** 2 + freely**2)
    upper, lower = fdtri(n - 1, df, _UPPER), fdtri(df, n - 1, _UPPER)
    spread = k * m.raters + (k * n - k - n) * m.rest
    return (
        _share(n * (m.objects - upper * m.rest), upper * spread + n * m.objects),
        _share(n * (lower * m.objects - m.rest), spread + n * lower * m.objects),
    )


def _drawn_mean_interval(m: MeanSquares) -> tuple[float, float]:
    """The interval of ICC(2,1) stepped up to k raters (Spearman-Brown), as the paper does."""
    ends = _drawn_interval(m)
    if min(1 + (m.k - 1) * end for end in ends) <= TINY:
        return math.nan, math.nan
    return tuple(m.k * end / (1 + (m.k - 1) * end) for end in ends)


@dataclass(frozen=True, slots=True)
class Form:
    """One of the six: its estimate, its interval, and which mean square is its error."""

    estimate: Callable[[MeanSquares], float]
    interval: Callable[[MeanSquares], tuple[float, float]]
    same_raters: bool

    def error(self, m: MeanSquares) -> tuple[float, int]:
        """The mean square the objects are held against, and its degrees of freedom."""
        if self.same_raters:
            return m.rest, (m.n - 1) * (m.k - 1)
        return m.within, m.n * (m.k - 1)


FORMS = {
    "ICC(1,1)": Form(_any_one, lambda m: _of_one(m, *_any_bounds(m)), False),
    "ICC(2,1)": Form(_drawn_one, _drawn_interval, True),
    "ICC(3,1)": Form(_these_one, lambda m: _of_one(m, *_these_bounds(m)), True),
    "ICC(1,k)": Form(_any_mean, lambda m: _of_mean(m, *_any_bounds(m)), False),
    "ICC(2,k)": Form(_drawn_mean, _drawn_mean_interval, True),
    "ICC(3,k)": Form(_these_mean, lambda m: _of_mean(m, *_these_bounds(m)), True),
}
"""The six by name; k is the number of raters, told in the figure."""


def intraclass_correlation(grid: Grid, form: str) -> AgreementFigure:
    """The intraclass correlation ``form``, a key of `FORMS`, with its 95 percent interval.

    ``grid``: objects x raters, None = not rated. Forms (2, .) and (3, .) take the objects that
    every rater rated; forms (1, .) those with the most common number of levels, by whomever.
    The rest is left out and counted. Formulas and intervals: Shrout & Fleiss 1979, Psychol.
    Bull. 86:420; the interval of ICC(2,k) is that of ICC(2,1) stepped up. Raises ValueError
    for rows of different lengths, KeyError for an unknown form.

    >>> ratings = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9],
    ...            [6, 2, 4, 7]]
    >>> found = intraclass_correlation(ratings, "ICC(2,1)")
    >>> [round(number, 2) for number in (found.estimate, found.low, found.high)]
    [0.29, 0.02, 0.76]
    """
    wanted = FORMS[form]
    rated = levels_of(grid)
    because = why_no_pairs(rated)
    if because:
        return no_figure(form, rated, because)
    levels = fully_rated(rated) if wanted.same_raters else evenly_rated(rated)
    n_raters, n_left_out = n_raters_in(levels), len(rated) - len(levels)
    if not len(levels):
        return no_figure(form, levels, NO_COMMON, n_left_out)
    if len(levels) < 2:
        return no_figure(form, levels, FEW_OBJECTS, n_left_out)
    if not wanted.same_raters:
        # Only the levels themselves: who gave them does not enter.
        levels = levels[~np.isnan(levels)].reshape(len(levels), -1)
    if np.ptp(levels) == 0:
        return no_figure(form, levels, ALL_SAME, n_left_out)
    squares = mean_squares(levels)
    estimate = wanted.estimate(squares)
    if not math.isfinite(estimate):
        return AgreementFigure(
            form, None, None, None, len(levels), n_raters, n_left_out, because=SAME_MEANS
        )
    test, low, high, because = _test_and_interval(wanted, squares)
    return AgreementFigure(
        form, estimate, low, high, len(levels), n_raters, n_left_out,
        "" if because else F_INTERVAL, because, test,
    )  # fmt: skip


def _test_and_interval(
    form: Form, m: MeanSquares
) -> tuple[ChanceTest | None, float | None, float | None, str]:
    """The F test, and the interval's ends or the reason why it has none."""
    error, df = form.error(m)
    if error == 0 or m.objects == 0:
        return None, None, None, NO_INTERVAL
    ratio = m.objects / error
    test = ChanceTest("F", ratio, (m.n - 1, df), float(fdtrc(m.n - 1, df, ratio)))
    low, high = (float(end) for end in form.interval(m))
    if not (math.isfinite(low) and math.isfinite(high)):
        return test, None, None, NO_INTERVAL
    return test, low, high, ""


def intraclass_correlations(grid: Grid) -> tuple[AgreementFigure, ...]:
    """All six forms for ``grid`` (objects x raters), in the paper's order."""
    return tuple(intraclass_correlation(grid, form) for form in FORMS)
