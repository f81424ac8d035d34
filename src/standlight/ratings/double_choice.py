"""Which take to rate once more: the one that most shrinks the errors of severity. Pure.

Information about tasks, criteria and raters, with takes (normal about their student) and
students (no assumption) eliminated by Schur complements. One more rater on a take adds a
matrix of rank one, so the errors after any choice follow without a new elimination.
"""

from __future__ import annotations

import numpy as np
from scipy import sparse

from standlight.ratings.rating_information import RatingInformation

PRIOR_LOGITS = 3.0
"""Standard deviation that every task, criterion and rater is given beforehand, so that what
nothing joins has a large error and no infinite one: wide against any real one (our choice)."""


class DoubleChoice:
    """The state of a greedy choice: what is known, and every (take, rater) that could be next.

    ``takes`` and ``raters`` (candidates,) number each candidate; ``covariance`` is of tasks,
    criteria and raters in the order of the estimate (square logits).
    """

    def __init__(self, told: RatingInformation) -> None:
        """Eliminate takes and students, and lay every candidate out."""
        sizes = [len(names) for names in told.estimate.design.ratings.names]
        offsets = np.concatenate([[0], np.cumsum(sizes)])
        self._n_raters, self._first_rater = sizes[2], int(offsets[2])
        n_ratings, n_takes = len(told.rows), len(told.takes)
        rows = np.repeat(np.arange(n_ratings), 3)
        design = sparse.csr_matrix(
            (np.ones(3 * n_ratings), ((rows, (told.elements + offsets[:3]).ravel()))),
            shape=(n_ratings, offsets[3]),
        )
        weighted = sparse.diags(told.information) @ design
        of_take = sparse.csr_matrix(
            (np.ones(n_ratings), (told.take, np.arange(n_ratings))), shape=(n_takes, n_ratings)
        )
        self._day = told.day_variance
        self._sums = (of_take @ weighted).toarray()
        self._weight = np.bincount(told.take, told.information)
        self._student = np.zeros(n_takes, dtype=np.int64)
        self._student[told.take] = told.student
        self._one_more = np.array([each.information for each in told.takes])
        self._asked = self._sums / self._weight[:, None]
        self._asked[:, self._first_rater :] = 0.0
        shared = 1 + self._day * self._weight
        gram = (design.T @ weighted).toarray()
        gram -= self._sums.T @ (self._sums * (self._day / shared)[:, None])
        centres, weights = self._students(np.arange(n_takes))
        gram -= centres.T @ (centres / weights[:, None])
        self.covariance = np.linalg.inv(gram + np.eye(len(gram)) / PRIOR_LOGITS**2)
        rated = self._sums[:, self._first_rater :] > 0
        self.takes, self.raters = np.nonzero(~rated)
        self._vectors = np.zeros((len(self.takes), len(gram)))
        self._noise = np.zeros(len(self.takes))
        self._moved = np.zeros_like(self._vectors)
        self._lay(np.arange(len(self.takes)))

    def mean_variance(self) -> float:
        """Mean variance of the difference between two raters' severities (square logits)."""
        own = self.covariance[self._first_rater :, self._first_rater :]
        n = self._n_raters
        return float(2 * (np.trace(own) - own.sum() / n) / (n - 1))

    def gains(self) -> np.ndarray:
        """(candidates,) how much each would lessen ``mean_variance``."""
        own = self._moved[:, self._first_rater :]
        centred = own - own.mean(axis=1, keepdims=True)
        lessened = (centred**2).sum(axis=1) / self._denominators()
        return 2 * lessened / (self._n_raters - 1)

    def choose(self, candidate: int) -> None:
        """Count the candidate's take as rated by its rater too."""
        step = self._moved[candidate].copy()
        denominator = self._denominators()[candidate]
        self.covariance -= np.outer(step, step) / denominator
        self._moved -= np.outer(self._vectors @ step / denominator, step)
        take = self.takes[candidate]
        row = self._asked[take].copy()
        row[self._first_rater + self.raters[candidate]] = 1.0
        self._sums[take] += self._one_more[take] * row
        self._weight[take] += self._one_more[take]
        same = np.flatnonzero(self._student[self.takes] == self._student[take])
        self._lay(same)

    def _denominators(self) -> np.ndarray:
        """(candidates,) variance of one more look at a take, given all that is known."""
        return self._noise + np.einsum("np,np->n", self._vectors, self._moved)

    def _students(self, takes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Sums of rows (students, parameters) and weights (students,) after the takes."""
        shared = 1 + self._day * self._weight[takes]
        numbers, place = np.unique(self._student[takes], return_inverse=True)
        gather = sparse.csr_matrix(
            (np.ones(len(takes)), (place, np.arange(len(takes)))),
            shape=(len(numbers), len(takes)),
        )
        return gather @ (self._sums[takes] / shared[:, None]), gather @ (
            self._weight[takes] / shared
        )

    def _lay(self, candidates: np.ndarray) -> None:
        """Draw anew what each of ``candidates`` would tell, and how noisily."""
        takes = self.takes[candidates]
        own = np.flatnonzero(np.isin(self._student, np.unique(self._student[takes])))
        centres, weights = self._students(own)
        numbers = np.unique(self._student[own])
        place = np.searchsorted(numbers, self._student[takes])
        shared = 1 + self._day * self._weight[takes]
        vectors = self._asked[takes].copy()
        vectors[np.arange(len(takes)), self._first_rater + self.raters[candidates]] = 1.0
        vectors -= (centres / weights[:, None])[place] / shared[:, None]
        vectors -= self._sums[takes] * (self._day / shared)[:, None]
        self._vectors[candidates] = vectors
        self._noise[candidates] = (
            1 / self._one_more[takes] + 1 / (shared**2 * weights[place]) + self._day / shared
        )
        self._moved[candidates] = vectors @ self.covariance
