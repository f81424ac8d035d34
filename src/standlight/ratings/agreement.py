"""The family of agreement figures for one grid of ratings: all raters, and each two. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from itertools import combinations

import numpy as np

from standlight.ratings.agreement_figure import (
    RESAMPLES,
    AgreementFigure,
    Grid,
    levels_of,
    n_raters_in,
)
from standlight.ratings.agreement_many import DISTANCES, fleiss_kappa, krippendorff_alpha
from standlight.ratings.agreement_pairs import WEIGHTS, cohens_kappa, percent_agreement
from standlight.ratings.agreement_ranks import kendalls_w
from standlight.ratings.intraclass import FORMS, intraclass_correlation

RESAMPLED: dict[str, Callable[..., AgreementFigure]] = {
    "percent_exact": percent_agreement,
    "percent_adjacent": partial(percent_agreement, within=1.0),
    "fleiss_kappa": fleiss_kappa,
    **{f"alpha_{scale}": partial(krippendorff_alpha, scale=scale) for scale in DISTANCES},
    "kendalls_w": kendalls_w,
}
"""Figures of all raters that may need a bootstrap: (grid, resamples=, seed=) -> figure."""

BY_FORMULA: dict[str, Callable[[Grid], AgreementFigure]] = {
    form: partial(intraclass_correlation, form=form) for form in FORMS
}
"""Figures of all raters whose interval is a formula."""

OF_TWO: dict[str, Callable[[Grid], AgreementFigure]] = {
    "percent_exact": percent_agreement,
    "percent_adjacent": partial(percent_agreement, within=1.0),
    "kappa": cohens_kappa,
    **{f"kappa_{w}": partial(cohens_kappa, weights=w) for w in WEIGHTS if w != "none"},
}
"""Figures of two raters; all have a formula for the interval."""


@dataclass(frozen=True, slots=True)
class PairAgreement:
    """Two raters by their columns, and the figures of `OF_TWO` in its order."""

    raters: tuple[int, int]
    figures: tuple[tuple[str, AgreementFigure], ...]


@dataclass(frozen=True, slots=True)
class Agreement:
    """All figures of one grid by key, and those of every two raters with a common object."""

    n_objects: int
    n_raters: int
    figures: tuple[tuple[str, AgreementFigure], ...]
    pairs: tuple[PairAgreement, ...]

    def figure(self, key: str) -> AgreementFigure:
        """The figure of all raters under ``key``; KeyError when there is none."""
        return dict(self.figures)[key]


def agree(grid: Grid, *, resamples: int = RESAMPLES, seed: int = 0) -> Agreement:
    """Every figure of agreement for ``grid`` (objects x raters, None = not rated).

    The same grid, ``resamples`` and ``seed`` give the same intervals. Raises ValueError for
    rows of different lengths.

    >>> found = agree([[1, 1], [2, 3], [4, 4], [3, 3], [2, 2]])
    >>> found.figure("percent_exact").estimate, len(found.pairs)
    (0.8, 1)
    >>> {figure.because for _, figure in agree([]).figures}
    {'Nobody gave a level.'}
    """
    levels = levels_of(grid)
    figures = [
        *((key, make(levels, resamples=resamples, seed=seed)) for key, make in RESAMPLED.items()),
        *((key, make(levels)) for key, make in BY_FORMULA.items()),
    ]
    return Agreement(len(levels), n_raters_in(levels), tuple(figures), tuple(_pairs(levels)))


def _pairs(levels: np.ndarray) -> Iterable[PairAgreement]:
    """The figures of every two raters who rated a common object."""
    for one, other in combinations(range(levels.shape[1]), 2):
        columns = levels[:, [one, other]]
        if (~np.isnan(columns)).all(axis=1).any():
            yield PairAgreement(
                (one, other), tuple((key, make(columns)) for key, make in OF_TWO.items())
            )
