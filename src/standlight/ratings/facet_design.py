"""The many-facet Rasch model's parameters, laid out: cells, thresholds, constraints. Pure.

log P(k) / P(k - 1) = student - task - criterion - rater - threshold[group, k]. The
parameters are one vector: the elements of the three facets, then for each group the
cumulated thresholds of its inner categories, then the mean of each ensemble, then the
logarithm of the students' standard deviation. Every facet sums to zero.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.linalg import block_diag

from standlight.ratings.ratings_table import Ratings

RATING_SCALE, PARTIAL_CREDIT = "rating-scale", "partial-credit"
MODELS = (RATING_SCALE, PARTIAL_CREDIT)
"""One set of thresholds for all, or one for each criterion."""

EXTREME_SHIFT = 0.3
"""Rating points by which an element's extreme score is moved inside, so that its measure
stays finite: common practice, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class FacetDesign:
    """What the likelihood needs of a table of ratings, counted once.

    A cell is a distinct (task, criterion, rater); ``cell`` (ratings,) says which each rating
    is in. ``counts`` (students, cells), sparse;
    ``dummies`` (cells, elements), sparse; ``group`` (cells,) numbers the threshold
    groups; ``used`` (groups, categories); ``free`` lists the (group, category) whose
    cumulated threshold is estimated; ``basis`` (parameters, free parameters).
    """

    ratings: Ratings
    cell: np.ndarray
    counts: sparse.csr_matrix
    dummies: sparse.csr_matrix
    group: np.ndarray
    used: np.ndarray
    free: np.ndarray
    student_scores: np.ndarray
    element_scores: np.ndarray
    shifted_scores: np.ndarray
    threshold_counts: np.ndarray
    basis: np.ndarray

    @property
    def n_elements(self) -> int:
        """Elements of all three facets together."""
        return self.dummies.shape[1]

    @property
    def n_structural(self) -> int:
        """Parameters without the population's."""
        return self.n_elements + len(self.free)

    def thresholds(self, parameters: np.ndarray) -> np.ndarray:
        """Cumulated thresholds (groups, categories); infinite where a category is unused."""
        table = np.where(self.used, 0.0, np.inf)
        if len(self.free):
            inner = parameters[self.n_elements : self.n_structural]
            table[self.free[:, 0], self.free[:, 1]] = inner
        return table


def facet_design(ratings: Ratings, model: str) -> FacetDesign:
    """Count ``ratings`` for ``model``, one of ``MODELS``."""
    sizes = [len(names) for names in ratings.names]
    offsets = np.concatenate([[0], np.cumsum(sizes)])
    code = np.ravel_multi_index(tuple(ratings.elements.T), sizes)
    codes, cell = np.unique(code, return_inverse=True)
    cells = np.column_stack(np.unravel_index(codes, sizes))
    n_students, n_cells = len(ratings.students), len(cells)
    n_categories = len(ratings.levels)
    ones = np.ones(ratings.n_ratings)
    counts = sparse.csr_matrix((ones, (ratings.student, cell)), shape=(n_students, n_cells))
    columns = (cells + offsets[:3]).ravel()
    dummies = sparse.csr_matrix(
        (np.ones(3 * n_cells), (np.repeat(np.arange(n_cells), 3), columns)),
        shape=(n_cells, offsets[3]),
    )
    n_groups = sizes[1] if model == PARTIAL_CREDIT else 1
    group = cells[:, 1] if model == PARTIAL_CREDIT else np.zeros(n_cells, dtype=np.int64)
    category_counts = np.zeros((n_groups, n_categories))
    np.add.at(category_counts, (group[cell], ratings.category), 1)
    used = category_counts > 0
    free = _free_thresholds(used)
    cell_scores = np.bincount(cell, weights=ratings.category, minlength=n_cells)
    element_scores = dummies.T @ cell_scores
    return FacetDesign(
        ratings=ratings,
        cell=cell,
        counts=counts,
        dummies=dummies,
        group=group,
        used=used,
        free=free,
        student_scores=np.bincount(
            ratings.student, weights=ratings.category, minlength=n_students
        ),
        element_scores=element_scores,
        shifted_scores=_inside(element_scores, used, group, dummies, counts),
        threshold_counts=category_counts[free[:, 0], free[:, 1]],
        basis=_basis(sizes, len(free), len(ratings.ensembles) + 1),
    )


def extreme_elements(design: FacetDesign) -> list[tuple[int, int]]:
    """(facet, element) of every element whose ratings are all lowest or all highest."""
    moved = np.flatnonzero(design.shifted_scores != design.element_scores)
    places = [
        (facet, number)
        for facet, names in enumerate(design.ratings.names)
        for number in range(len(names))
    ]
    return [places[number] for number in moved]


def _free_thresholds(used: np.ndarray) -> np.ndarray:
    """(n, 2): each group's used categories between its lowest and its highest.

    The outer two stand at zero, so that the thresholds of a group sum to zero.
    """
    rows = [
        (group, category)
        for group, row in enumerate(used)
        for category in np.flatnonzero(row)[1:-1]
    ]
    return np.array(rows, dtype=np.int64).reshape(-1, 2)


def _inside(
    scores: np.ndarray,
    used: np.ndarray,
    group: np.ndarray,
    dummies: sparse.csr_matrix,
    counts: sparse.csr_matrix,
) -> np.ndarray:
    """Element scores with the extreme ones moved inside by ``EXTREME_SHIFT``."""
    n_ratings = np.asarray(counts.sum(axis=0)).ravel()
    lowest = used.argmax(axis=1)[group]
    highest = used.shape[1] - 1 - used[:, ::-1].argmax(axis=1)[group]
    floor, ceiling = dummies.T @ (n_ratings * lowest), dummies.T @ (n_ratings * highest)
    shift = EXTREME_SHIFT * ((scores <= floor).astype(float) - (scores >= ceiling))
    return scores + shift


def _basis(sizes: list[int], n_thresholds: int, n_population: int) -> np.ndarray:
    """From free parameters to all: the last of each facet is minus the sum of the others."""
    facets = [np.vstack([np.eye(size - 1), -np.ones((1, size - 1))]) for size in sizes]
    return block_diag(*facets, np.eye(n_thresholds), np.eye(n_population))
