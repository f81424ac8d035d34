"""Do raters put the objects in the same order? Kendall's W. Pure."""

from __future__ import annotations

import numpy as np
from scipy.special import chdtrc

from standlight.ratings.agreement_figure import (
    FEW_OBJECTS,
    RESAMPLES,
    AgreementFigure,
    ChanceTest,
    Grid,
    bootstrap_interval,
    bootstrap_words,
    distinct_rows,
    fully_rated,
    levels_of,
    no_figure,
    resample_weights,
    why_no_pairs,
)

NAME = "Kendall's W"
NO_COMMON = "No object was rated by all raters."


def kendalls_w(grid: Grid, *, resamples: int = RESAMPLES, seed: int = 0) -> AgreementFigure:
    """Kendall's W with ties, and its chi-square with n - 1 degrees of freedom.

    ``grid``: objects x raters, None = not rated; objects that not every rater rated are left
    out and counted. Kendall & Babington Smith 1939, Ann. Math. Stat. 10:275; ties: Kendall,
    Rank Correlation Methods. The chi-square is rough for seven objects or fewer. Interval:
    bootstrap over the objects with ``seed``. Raises ValueError for rows of different lengths.

    >>> found = kendalls_w([[1, 2, 1], [2, 1, 2], [3, 3, 3], [4, 4, 4]])
    >>> round(found.estimate, 3), round(found.test.value, 3), found.test.df
    (0.911, 8.2, (3,))
    """
    rated = levels_of(grid)
    because = why_no_pairs(rated)
    if because:
        return no_figure(NAME, rated, because)
    levels = fully_rated(rated)
    n_left_out = len(rated) - len(levels)
    if len(levels) < 2:
        return no_figure(NAME, levels, FEW_OBJECTS if len(levels) else NO_COMMON, n_left_out)
    n, raters = levels.shape
    estimate = concordance(levels)
    if np.isnan(estimate):
        return no_figure(NAME, levels, ALL_SAME_ORDERLESS, n_left_out)
    chi_square = raters * (n - 1) * estimate
    test = ChanceTest("chi-square", chi_square, (n - 1,), float(chdtrc(n - 1, chi_square)))
    rows, how_often = distinct_rows(levels)
    drawn = resample_weights(how_often, resamples, seed)
    again = np.array([concordance(rows, weights) for weights in drawn])
    low, high, because = bootstrap_interval(n, estimate, again)
    how = bootstrap_words(resamples, seed) if low is not None else ""
    return AgreementFigure(NAME, estimate, low, high, n, raters, n_left_out, how, because, test)


ALL_SAME_ORDERLESS = "No rater told any two objects apart, so there is no order."


def concordance(levels: np.ndarray, weights: np.ndarray | None = None) -> float:
    """W of ``levels`` (objects x raters, nothing missing); nan when no rater tells two apart.

    ``weights`` (objects,) says how often each object counts; None is once.

    >>> concordance(np.array([[1.0, 1.0], [2.0, 2.0], [3.0, 3.0]]))
    1.0
    """
    weights = np.ones(len(levels)) if weights is None else weights
    sums, most = np.zeros(len(levels)), 0.0
    for column in levels.T:
        ranks = centred_ranks(column, weights)
        sums += ranks
        # A rater's own spread already knows the ties: (n^3 - n - sum(t^3 - t)) / 12.
        most += float(weights @ ranks**2)
    return float(weights @ sums**2) / (levels.shape[1] * most) if most > 0 else float("nan")


def centred_ranks(levels: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Ranks less their mean, tied levels sharing the middle of their places.

    ``weights`` says how often each object counts; one that does not count has a rank all the same.

    >>> centred_ranks(np.array([3.0, 1.0, 3.0]), np.ones(3)).tolist()
    [0.5, -1.0, 0.5]
    """
    values, places = np.unique(levels, return_inverse=True)
    counts = np.bincount(places, weights=weights, minlength=len(values))
    return (np.cumsum(counts) - counts / 2 - counts.sum() / 2)[places]
