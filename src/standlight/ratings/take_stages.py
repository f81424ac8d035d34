"""The likelihood of takes that share a day and an impression, stage by stage. Pure.

Hearings are blurred by impressions, multiplied within takes, blurred by days, and moved along
each musician's trend; then the musicians' places are integrated out. What did not change since
the last question is not worked out again: a climb moves one variance after the other.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.special import logsumexp

from standlight.ratings.facets import FacetEstimate

TREND_NODES = 3
"""Gauss-Hermite nodes of a musician's own trend; exact to the fifth power."""

STUDENT, TREND, DAY, OWN, OTHERS = range(5)
"""Places in a vector of variances (square logits): students, their trends (a year), days,
impressions of the rater looked at, impressions of the other raters."""

_TINY, _KEPT = 1e-290, 2


@dataclass(frozen=True, slots=True, eq=False)
class Hearings:
    """Each take as each rater heard it, as a likelihood over ``nodes`` (places, logits).

    ``log_likelihood`` (hearings, nodes), ``rater``, ``take``, ``n_criteria`` (hearings,);
    ``student`` and ``years`` (takes,): years from the middle of the musician's own takes;
    ``centre`` (students,) mean of the musician's ensemble.
    """

    nodes: np.ndarray
    log_likelihood: np.ndarray
    rater: np.ndarray
    take: np.ndarray
    n_criteria: np.ndarray
    student: np.ndarray
    years: np.ndarray
    centre: np.ndarray
    raters: tuple[str, ...]
    students: tuple[str, ...]
    estimate: FacetEstimate

    @property
    def n_heard_twice(self) -> int:
        """Takes that more than one rater heard."""
        return int((np.bincount(self.take) > 1).sum())

    @property
    def n_telling(self) -> int:
        """Takes with two criteria or more of musicians with two takes or more."""
        own = self.n_criteria > 1
        takes = np.unique(self.take[own])
        n_of_student = np.bincount(self.student[np.unique(self.take)],
                                   minlength=len(self.students))  # fmt: skip
        return int((n_of_student[self.student[takes]] > 1).sum())

    def by(self, rater: str) -> Hearings:
        """The hearings of one rater."""
        own = self.rater == self.raters.index(rater)
        takes, take = np.unique(self.take[own], return_inverse=True)
        return Hearings(
            self.nodes, self.log_likelihood[own], self.rater[own], take, self.n_criteria[own],
            self.student[takes], centred(self.years[takes], self.student[takes]), self.centre,
            self.raters, self.students, self.estimate,
        )  # fmt: skip


class Stages:
    """The log-likelihood of variances for one set of hearings.

    ``rater`` numbers the one whose impressions spread by ``OWN``; the others' by ``OTHERS``,
    and without a rater all by ``OWN``.
    """

    __slots__ = ("_heard", "_kept", "_of_student", "_of_take", "_own")

    def __init__(self, heard: Hearings, rater: int | None = None) -> None:
        """Nothing is worked out before it is asked."""
        self._heard = heard
        self._kept: dict[str, dict[tuple[float, ...], np.ndarray]] = {}
        self._own = (
            np.ones(len(heard.rater), dtype=bool) if rater is None else heard.rater == rater
        )
        self._of_take = _summing(heard.take, len(heard.student))
        self._of_student = _summing(heard.student, len(heard.students))

    def of_takes(self, variances: np.ndarray) -> np.ndarray:
        """Log-likelihood (takes, nodes) of the musician's own place at the time of each take."""
        nodes = self._heard.nodes
        summed = self._keep("heard", variances[[OWN, OTHERS]], lambda: self._summed(variances))
        return self._keep(
            "take", variances[[DAY, OWN, OTHERS]],
            lambda: _blurred(summed, nodes, variances[DAY]),
        )  # fmt: skip

    def log_likelihood(self, variances: np.ndarray) -> float:
        """Of ``variances``, laid out as ``STUDENT`` to ``OTHERS`` (square logits)."""
        heard = self._heard
        z = (heard.nodes[None, :] - heard.centre[:, None]) / max(variances[STUDENT], 1e-3) ** 0.5
        prior = -0.5 * z * z
        prior -= logsumexp(prior, axis=1, keepdims=True)
        slopes, weights = np.polynomial.hermite_e.hermegauss(TREND_NODES)
        if variances[TREND] <= 0 or not heard.years.any():
            slopes, weights = np.zeros(1), np.ones(1)
        of_trend = self._keep(
            "trend", variances[[TREND, DAY, OWN, OTHERS]],
            lambda: self._moved(variances, slopes),
        )  # fmt: skip
        each = logsumexp(of_trend + prior, axis=2)
        log_weights = np.log(weights / weights.sum())[:, None]
        return float(logsumexp(each + log_weights, axis=0).sum())

    def _summed(self, variances: np.ndarray) -> np.ndarray:
        """Log-likelihood (takes, nodes) of where the musician was on that day."""
        heard = self._heard
        blurred = np.empty_like(heard.log_likelihood)
        for rows, variance in ((self._own, variances[OWN]), (~self._own, variances[OTHERS])):
            blurred[rows] = _blurred(heard.log_likelihood[rows], heard.nodes, variance)
        return self._of_take @ blurred

    def _moved(self, variances: np.ndarray, slopes: np.ndarray) -> np.ndarray:
        """Log-likelihood (slopes, students, nodes) of places in the middle of own takes."""
        of_takes, years = self.of_takes(variances), self._heard.years
        return np.array([
            summed_moved(self._of_student, of_takes, self._heard.nodes, slope * years)
            for slope in slopes * variances[TREND] ** 0.5
        ])

    def _keep(
        self, stage: str, key: np.ndarray, work: Callable[[], np.ndarray]
    ) -> np.ndarray:
        """What ``work`` makes, or made of the same ``key`` one of the last few times."""
        kept = self._kept.setdefault(stage, {})
        at = tuple(key.tolist())
        found = kept.pop(at, None)
        if found is None:
            found = work()
        kept[at] = found
        while len(kept) > _KEPT:
            del kept[next(iter(kept))]
        return found


def centred(years: np.ndarray, student: np.ndarray) -> np.ndarray:
    """``years`` from the mean of each student's own."""
    n = np.maximum(np.bincount(student), 1)
    return years - (np.bincount(student, weights=years) / n)[student]


def _summing(number: np.ndarray, n: int) -> sparse.csr_matrix:
    """(n, rows): sums rows of one ``number``."""
    return sparse.csr_matrix(
        (np.ones(len(number)), (number, np.arange(len(number)))), shape=(n, len(number))
    )


def _blurred(log_values: np.ndarray, nodes: np.ndarray, variance: float) -> np.ndarray:
    """Log of rows of likelihood after a normal effect of ``variance`` is integrated out.

    The heat kernel of the grid: its variance is exact, however small, and smooth at zero.
    """
    if variance <= 0 or not len(log_values):
        return log_values
    n, step = len(nodes), nodes[1] - nodes[0]
    waves = np.pi * np.arange(n) / n
    shapes = np.cos(waves[:, None] * (np.arange(n) + 0.5)) * (2 / n) ** 0.5
    shapes[0] *= 0.5**0.5
    fade = np.exp(-variance * (1 - np.cos(waves)) / step**2)
    kernel = np.maximum((shapes.T * fade) @ shapes, 0.0)
    peak = log_values.max(axis=1, keepdims=True)
    return np.log(np.exp(log_values - peak) @ kernel + _TINY) + peak


def summed_moved(
    summing: sparse.csr_matrix, log_values: np.ndarray, nodes: np.ndarray, shift: np.ndarray
) -> np.ndarray:
    """Sums of rows of log-likelihood, each read at ``nodes`` plus its own ``shift``.

    By Catmull and Rom's cubics through the two nodes beside, with the slopes of their
    neighbours. On an even grid a row's four weights are the same at every node.
    """
    if not shift.any():
        return summing @ log_values
    n = len(nodes)
    move = shift / (nodes[1] - nodes[0])
    below = np.floor(move)
    part = move - below
    columns = np.arange(n + 3) - 1 + below.astype(np.int64)[:, None]
    there = np.take_along_axis(log_values, np.clip(columns, 0, n - 1), axis=1)
    weights = 0.5 * np.array([
        -part + 2 * part**2 - part**3,
        2 - 5 * part**2 + 3 * part**3,
        part + 4 * part**2 - 3 * part**3,
        -(part**2) + part**3,
    ])
    return sum(
        summing.multiply(weight).tocsr() @ there[:, step : step + n]
        for step, weight in enumerate(weights)
    )
