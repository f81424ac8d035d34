"""Agreement of many raters on categories and levels: Fleiss' kappa, Krippendorff's alpha. Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from scipy.special import ndtr

from standlight.ratings.agreement_figure import (
    ALL_SAME,
    RESAMPLES,
    TINY,
    AgreementFigure,
    ChanceTest,
    Grid,
    bootstrap_interval,
    bootstrap_words,
    counts_of,
    distinct_rows,
    evenly_rated,
    levels_of,
    n_raters_in,
    no_figure,
    resample_weights,
    why_no_pairs,
)

FLEISS = "Fleiss' kappa"


def fleiss_kappa(grid: Grid, *, resamples: int = RESAMPLES, seed: int = 0) -> AgreementFigure:
    """Fleiss' kappa of many raters; not every object needs the same raters, only as many.

    ``grid``: objects x raters, None = not rated. Objects with another number of levels than
    the most common one are left out and counted. Fleiss 1971, Psychol. Bull. 76:378; z against
    chance by Fleiss, Nee & Landis 1979, Psychol. Bull. 86:974. Interval: bootstrap over the
    objects with ``seed``. Raises ValueError for rows of different lengths.

    >>> round(fleiss_kappa([[1, 1, 1], [2, 2, 1], [2, 2, 2], [1, 2, None]]).estimate, 3)
    0.55
    """
    rated = levels_of(grid)
    because = why_no_pairs(rated)
    if because:
        return no_figure(FLEISS, rated, because)
    even = evenly_rated(rated)
    return fleiss_of_counts(
        counts_of(even)[1], resamples=resamples, seed=seed, n_raters=n_raters_in(even),
        n_left_out=len(rated) - len(even),
    )  # fmt: skip


def fleiss_of_counts(
    counts: Sequence[Sequence[int]] | np.ndarray,
    *,
    resamples: int = RESAMPLES,
    seed: int = 0,
    n_raters: int | None = None,
    n_left_out: int = 0,
) -> AgreementFigure:
    """Fleiss' kappa of objects x categories: how many raters chose each.

    ``n_raters`` is what the figure tells of raters; None takes the levels an object has. Raises
    ValueError when objects have different numbers of levels, or fewer than two.

    >>> round(fleiss_of_counts([[3, 0], [1, 2], [0, 3]]).estimate, 3)
    0.55
    """
    table = np.asarray(counts, dtype=float)
    if table.ndim != 2 or not table.size or (table.sum(axis=1) != table[0].sum()).any():
        raise ValueError("a table of objects x categories with as many levels in every row")
    n, per_object = len(table), float(table[0].sum())
    if per_object < 2:
        raise ValueError("every object needs two levels or more")
    n_raters = int(per_object) if n_raters is None else n_raters
    estimate = float(_fleiss(np.ones((1, n)), table)[0])
    if np.isnan(estimate):
        return AgreementFigure(FLEISS, None, None, None, n, n_raters, n_left_out, because=ALL_SAME)
    rows, how_often = distinct_rows(table)
    again = _fleiss(resample_weights(how_often, resamples, seed), rows)
    low, high, because = bootstrap_interval(n, estimate, again)
    how = bootstrap_words(resamples, seed) if low is not None else ""
    test = _fleiss_test(estimate, table)
    return AgreementFigure(
        FLEISS, estimate, low, high, n, n_raters, n_left_out, how, because, test
    )


def _fleiss(drawn: np.ndarray, table: np.ndarray) -> np.ndarray:
    """Kappa of each row of ``drawn`` (how often each object counts); nan with one category."""
    per_object = table[0].sum()
    agreeing = (table * (table - 1)).sum(axis=1) / (per_object * (per_object - 1))
    n = drawn.sum(axis=1)
    expected = (((drawn @ table) / (n * per_object)[:, None]) ** 2).sum(axis=1)
    room = np.where(1.0 - expected > TINY, 1.0 - expected, np.nan)
    return ((drawn @ agreeing) / n - expected) / room


def _fleiss_test(estimate: float, table: np.ndarray) -> ChanceTest:
    """The z against chance; two categories at least are used."""
    n, per_object = len(table), table[0].sum()
    share = table.sum(axis=0) / table.sum()
    rest = share * (1 - share)
    inner = rest.sum() ** 2 - (rest * (1 - 2 * share)).sum()
    error = np.sqrt(2 * inner / (n * per_object * (per_object - 1))) / rest.sum()
    z = float(estimate / error)
    return ChanceTest("z", z, (), float(2 * ndtr(-abs(z))))


def fleiss_by_category(counts: Sequence[Sequence[int]] | np.ndarray) -> tuple[float | None, ...]:
    """Fleiss' kappa of each category against all others; None for one never or always used.

    ``counts``: objects x categories with as many levels in every row (Fleiss 1971).

    >>> fleiss_by_category([[2, 0, 0], [0, 2, 0]])
    (1.0, 1.0, None)
    """
    table = np.asarray(counts, dtype=float)
    per_object = table[0].sum()
    share = table.sum(axis=0) / table.sum()
    split = (table * (per_object - table)).sum(axis=0)
    room = len(table) * per_object * (per_object - 1) * share * (1 - share)
    return tuple(
        float(1 - apart / whole) if whole > TINY else None
        for apart, whole in zip(split, room, strict=True)
    )


def _nominal(values: np.ndarray, totals: np.ndarray) -> np.ndarray:
    """1 for any two different values."""
    return 1.0 - np.eye(len(values))


def _ordinal(values: np.ndarray, totals: np.ndarray) -> np.ndarray:
    """Squared number of levels given from one value to the other, half of each end's own."""
    reached = np.cumsum(totals) - totals / 2
    return np.subtract.outer(reached, reached) ** 2


def _interval(values: np.ndarray, totals: np.ndarray) -> np.ndarray:
    """Squared difference."""
    return np.subtract.outer(values, values) ** 2


def _ratio(values: np.ndarray, totals: np.ndarray) -> np.ndarray:
    """Squared difference as a share of the sum; two zeros do not differ."""
    sums = np.add.outer(values, values)
    return (np.subtract.outer(values, values) / np.where(sums > 0, sums, 1.0)) ** 2


DISTANCES: dict[str, Callable[[np.ndarray, np.ndarray], np.ndarray]] = {
    "nominal": _nominal,
    "ordinal": _ordinal,
    "interval": _interval,
    "ratio": _ratio,
}
"""Squared distances by kind of scale: (values, how often each was given) -> values x values."""


def krippendorff_alpha(
    grid: Grid, *, scale: str = "ordinal", resamples: int = RESAMPLES, seed: int = 0
) -> AgreementFigure:
    """Krippendorff's alpha; ``scale`` "nominal", "ordinal", "interval" or "ratio".

    ``grid``: objects x raters, None = not rated; objects with one level are left out and
    counted. Krippendorff 2011, "Computing Krippendorff's Alpha-Reliability". Interval:
    bootstrap over the objects with ``seed`` (not Krippendorff's own, which draws pairs and
    forgets that those of one object hang together). Raises ValueError for rows of different
    lengths, KeyError for an unknown scale.

    >>> round(krippendorff_alpha([[1, 1], [2, 3], [3, 3], [4, None]], scale="nominal").estimate, 3)
    0.545
    """
    name, distance = f"Krippendorff's alpha, {scale}", DISTANCES[scale]
    rated = levels_of(grid)
    because = why_no_pairs(rated)
    if because:
        return no_figure(name, rated, because)
    levels = rated[(~np.isnan(rated)).sum(axis=1) >= 2]
    values, counts = counts_of(levels)
    n_left_out = len(rated) - len(levels)
    if scale == "ratio" and values[0] < 0:
        return no_figure(name, levels, "A ratio scale has no level under 0.", n_left_out)
    rows, how_often = distinct_rows(counts)
    estimate = _alpha(how_often, values, rows, distance)
    if np.isnan(estimate):
        return no_figure(name, levels, ALL_SAME, n_left_out)
    drawn = resample_weights(how_often, resamples, seed)
    again = np.array([_alpha(weights, values, rows, distance) for weights in drawn])
    low, high, because = bootstrap_interval(len(levels), estimate, again)
    return AgreementFigure(
        name, estimate, low, high, len(levels), n_raters_in(levels), n_left_out,
        bootstrap_words(resamples, seed) if low is not None else "", because,
    )  # fmt: skip


def _alpha(
    weights: np.ndarray,
    values: np.ndarray,
    counts: np.ndarray,
    distance: Callable[[np.ndarray, np.ndarray], np.ndarray],
) -> float:
    """Alpha with each row of counts taken ``weights`` times; nan when all pairable levels agree."""
    totals = weights @ counts
    apart = distance(values, totals)
    within = counts * (weights / (counts.sum(axis=1) - 1))[:, None]
    # The diagonal of the coincidences is not needed: no value is any distance from itself.
    observed = float((apart * (within.T @ counts)).sum())
    expected = float(totals @ apart @ totals)
    if np.count_nonzero(totals) < 2 or expected <= 0:
        return float("nan")
    return 1.0 - (float(totals.sum()) - 1.0) * observed / expected
