"""How often raters give the same level, and Cohen's kappa for two of them. Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from scipy.special import ndtr

from standlight.ratings.agreement_figure import (
    RESAMPLES,
    TINY,
    Z_95,
    AgreementFigure,
    ChanceTest,
    Grid,
    bootstrap_interval,
    bootstrap_words,
    distinct_rows,
    levels_of,
    n_raters_in,
    no_figure,
    resample_weights,
    why_no_pairs,
)

_WILSON = "Wilson 1927"
_LARGE_SAMPLE = "large-sample standard error of Fleiss, Cohen and Everitt 1969"

WEIGHTS: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "none": lambda values: np.eye(len(values)),
    "linear": lambda values: _falling(np.abs(np.subtract.outer(values, values))),
    "quadratic": lambda values: _falling(np.subtract.outer(values, values) ** 2),
}
"""Agreement weights by name: values (ascending) -> values x values, 1 on the diagonal.

Distances are between the levels' own numbers, so an unused level in the middle keeps its room.
"""

_NAMES = {
    "none": "Cohen's kappa",
    "linear": "weighted kappa, linear",
    "quadratic": "weighted kappa, quadratic",
}


def _falling(distance: np.ndarray) -> np.ndarray:
    """1 at no distance, 0 at the largest there is."""
    farthest = distance.max(initial=0.0)
    return 1.0 - distance / farthest if farthest > 0 else np.ones_like(distance)


def percent_agreement(
    grid: Grid, *, within: float = 0.0, resamples: int = RESAMPLES, seed: int = 0
) -> AgreementFigure:
    """Share (0 to 1) of pairs of levels on one object that differ by ``within`` or less.

    ``grid``: objects x raters, None = not rated. ``within`` 0 is exact agreement, 1 is exact or
    adjacent. Interval: where each object holds one pair, Wilson's score interval (Wilson 1927,
    J. Am. Stat. Assoc. 22:209); with more raters the pairs lean on each other and the objects
    are bootstrapped with ``seed``. Raises ValueError for rows of different lengths.

    >>> percent_agreement([[1, 1], [2, 3], [4, 4], [1, 3]]).estimate
    0.5
    >>> percent_agreement([[1, 1], [2, 3], [4, 4], [1, 3]], within=1).estimate
    0.75
    >>> percent_agreement([[1], [2]]).because
    'There is one rater only; agreement needs two.'
    """
    name = f"percent agreement, {'exact' if within == 0 else f'within {within:g}'}"
    rated = levels_of(grid)
    because = why_no_pairs(rated)
    if because:
        return no_figure(name, rated, because)
    levels = rated[(~np.isnan(rated)).sum(axis=1) >= 2]
    agreeing, pairs = _pair_counts(levels, within)
    estimate = float(agreeing.sum() / pairs.sum())
    if (pairs == 1).all():
        low, high = wilson_interval(int(agreeing.sum()), len(levels))
        how, because = _WILSON, ""
    else:
        rows, how_often = distinct_rows(np.column_stack([agreeing, pairs]))
        drawn = resample_weights(how_often, resamples, seed) @ rows
        again = drawn[:, 0] / drawn[:, 1]
        low, high, because = bootstrap_interval(len(levels), estimate, again)
        how = bootstrap_words(resamples, seed)
    return AgreementFigure(
        name, estimate, low, high, len(levels), n_raters_in(levels), len(rated) - len(levels),
        how if low is not None else "", because,
    )  # fmt: skip


def _pair_counts(levels: np.ndarray, within: float) -> tuple[np.ndarray, np.ndarray]:
    """For each object, pairs of levels that agree, and all pairs."""
    agreeing, pairs = np.zeros(len(levels)), np.zeros(len(levels))
    for one in range(levels.shape[1] - 1):
        # nan compares false, so a level that is not there makes no pair.
        gaps = np.abs(levels[:, one + 1 :] - levels[:, one : one + 1])
        agreeing += (gaps <= within + TINY).sum(axis=1)
        pairs += (~np.isnan(gaps)).sum(axis=1)
    return agreeing, pairs


def wilson_interval(hits: int, n: int) -> tuple[float, float]:
    """Wilson's 95 percent score interval of a share; ``n`` is 1 or more.

    >>> [round(end, 4) for end in wilson_interval(81, 263)]
    [0.2553, 0.3662]
    """
    share, z2 = hits / n, Z_95**2
    middle = (share + z2 / (2 * n)) / (1 + z2 / n)
    half = Z_95 * np.sqrt(share * (1 - share) / n + z2 / (4 * n * n)) / (1 + z2 / n)
    return max(0.0, float(middle - half)), min(1.0, float(middle + half))


def cohens_kappa(grid: Grid, *, weights: str = "none") -> AgreementFigure:
    """Kappa of two raters; ``weights`` "none", "linear" or "quadratic" by the levels' numbers.

    ``grid``: objects x 2, None = not rated; only objects that both rated enter. Cohen 1960,
    Educ. Psychol. Meas. 20:37; weighted: Cohen 1968, Psychol. Bull. 70:213. Interval and test
    as in `kappa_of_table`. Raises ValueError when the grid does not have two columns, KeyError
    for unknown weights.

    >>> round(cohens_kappa([[1, 1], [2, 2], [3, 2], [1, 1], [3, 3]]).estimate, 4)
    0.7059
    >>> cohens_kappa([[2, 2], [2, 2]]).because
    'Both raters gave one and the same level to everything.'
    """
    rated = levels_of(grid)
    if rated.size and rated.shape[1] != 2:
        raise ValueError(f"kappa compares two raters, not {rated.shape[1]}")
    because = why_no_pairs(rated)
    if because:
        return no_figure(_NAMES[weights], rated, because)
    levels = rated[~np.isnan(rated).any(axis=1)]
    values, places = np.unique(levels, return_inverse=True)
    table = np.zeros((len(values), len(values)))
    np.add.at(table, tuple(places.reshape(levels.shape).T), 1)
    return kappa_of_table(
        table, WEIGHTS[weights](values), name=_NAMES[weights], n_left_out=len(rated) - len(levels)
    )


def kappa_of_table(
    table: Sequence[Sequence[float]] | np.ndarray,
    weights: np.ndarray | None = None,
    *,
    name: str = _NAMES["none"],
    n_left_out: int = 0,
) -> AgreementFigure:
    """Kappa of a table of counts, levels of one rater x levels of the other.

    ``weights`` (same shape) are AGREEMENT weights, 1 on the diagonal; None is unweighted.
    Disagreement weights d become ``1 - d / d.max()``. Interval: estimate and 1.96 large-sample
    standard errors, cut at -1 and 1; z against chance with the standard error under chance
    (both Fleiss, Cohen & Everitt 1969, Psychol. Bull. 72:323; Landis & Koch 1977 print it).
    Raises ValueError for a table that is not square or whose weights do not fit.

    >>> round(kappa_of_table([[20, 5], [10, 15]]).estimate, 3)
    0.4
    """
    counts = np.asarray(table, dtype=float)
    weights = np.eye(len(counts)) if weights is None else np.asarray(weights, dtype=float)
    if counts.ndim != 2 or counts.shape[0] != counts.shape[1] or weights.shape != counts.shape:
        raise ValueError(f"a square table and weights of its shape, not {counts.shape}")
    if (counts < 0).any() or not np.allclose(np.diag(weights), 1.0):
        raise ValueError("no count under 0, and agreement weights of 1 on the diagonal")
    n = counts.sum()
    if n <= 0:
        return AgreementFigure(name, None, None, None, 0, 0, n_left_out, because=NO_TABLE)
    n_objects = int(round(n))
    share = counts / n
    rows, columns = share.sum(axis=1), share.sum(axis=0)
    by_chance = np.outer(rows, columns)
    observed, expected = float((weights * share).sum()), float((weights * by_chance).sum())
    if 1.0 - expected <= TINY:
        return AgreementFigure(name, None, None, None, n_objects, 2, n_left_out, because=ONE_LEVEL)
    estimate = (observed - expected) / (1.0 - expected)
    margins = np.add.outer(weights @ columns, rows @ weights)
    spread = (share * (weights * (1 - expected) - margins * (1 - observed)) ** 2).sum()
    spread -= (observed * expected - 2 * expected + observed) ** 2
    variance = float(spread) / (n * (1 - expected) ** 4)
    under_chance = float((by_chance * (weights - margins) ** 2).sum()) - expected**2
    test = _z_test(estimate, under_chance / (n * (1 - expected) ** 2))
    if variance <= TINY:
        return AgreementFigure(
            name, estimate, None, None, n_objects, 2, n_left_out, because=NO_ERROR, test=test
        )
    half = Z_95 * float(np.sqrt(variance))
    low, high = max(-1.0, estimate - half), min(1.0, estimate + half)
    return AgreementFigure(
        name, estimate, low, high, n_objects, 2, n_left_out, _LARGE_SAMPLE, test=test
    )


NO_TABLE = "No object was rated by both."
ONE_LEVEL = "Both raters gave one and the same level to everything."
NO_ERROR = "No interval: these levels leave nothing to make one from."


def _z_test(estimate: float, variance: float) -> ChanceTest | None:
    """The z of ``estimate`` with a variance under chance; None where that is zero."""
    if variance <= TINY:
        return None
    z = estimate / float(np.sqrt(variance))
    return ChanceTest("z", z, (), float(2 * ndtr(-abs(z))))
