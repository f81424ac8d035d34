"""What the criteria of one take share: a likelihood with a day, an impression and a trend. Pure.

Place of one hearing = student + trend x years + day of the take + impression of the rater. The
day is shared by all who heard the take, the impression by the criteria of one hearing only.
Everything is normal and integrated on one grid of places, a matrix product a stage; tasks,
criteria, raters and thresholds are calibrated before, with the take as the object, because
with the student as the object a shared day shrinks the whole scale.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize
from scipy.special import logsumexp

from standlight.ratings.facet_design import RATING_SCALE
from standlight.ratings.facets import FacetEstimate, estimate_facets
from standlight.ratings.given import DIRECTOR, GivenRating
from standlight.ratings.growth_gather import SITTING_GAP_DAYS
from standlight.ratings.marginal import cell_chances
from standlight.ratings.ratings_table import gather_ratings
from standlight.ratings.students import fair_levels

DAYS_A_YEAR = 365.25

GRID_REACH_LOGITS, GRID_STEP_LOGITS = 3.0, 0.3
"""Reach of the grid beyond the outermost population deviation, and its spacing: half of the
smallest spread worth telling (about half a logit). Our choice; halving changed nothing."""

TREND_NODES = 3
"""Gauss-Hermite nodes of a musician's own trend; exact to the fifth power."""

MOST_VARIANCE = 16.0
"""Bound of every variance (square logits)."""

_TINY, _START = 1e-290, 0.1
STUDENT, TREND, DAY, OWN, OTHERS = range(5)
"""Places in a vector of variances (square logits): students, their trends (a year), days,
impressions of the rater looked at, impressions of the other raters."""


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
            self.student[takes], _centred(self.years[takes], self.student[takes]), self.centre,
            self.raters, self.students, self.estimate,
        )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Likeliest:
    """The likeliest variances (square logits), in the order of ``STUDENT`` to ``OTHERS``."""

    variances: np.ndarray
    log_likelihood: float


def hearings_of(given: Sequence[GivenRating]) -> Hearings:
    """Calibrate the directors' levels in ``given`` with the take as the object.

    ``StandlightError`` when nothing is rated or nothing can be told apart.
    """
    given = [each for each in given if each.rater_class == DIRECTOR]
    takes = [f"{each.student}\n{each.take}" for each in given]
    ratings = gather_ratings(
        takes, _sittings(given), [each.criterion for each in given],
        [each.rater for each in given], [each.level for each in given],
        [each.ensemble for each in given],
    )  # fmt: skip
    estimate = estimate_facets(ratings, RATING_SCALE, errors=False)
    student_of = dict(zip(takes, (each.student for each in given), strict=True))
    day_of = dict(zip(takes, (each.day for each in given), strict=True))
    names = tuple(sorted({student_of[take] for take in ratings.students}))
    number = {name: place for place, name in enumerate(names)}
    student = np.array([number[student_of[take]] for take in ratings.students])
    years = np.array([day_of[take] for take in ratings.students]) / DAYS_A_YEAR
    nodes = _nodes(estimate)
    _, log_partition = cell_chances(estimate.design, estimate.parameters, nodes)
    n_raters = len(ratings.names[2])
    codes, hearing = np.unique(
        ratings.student * n_raters + ratings.elements[:, 2], return_inverse=True
    )
    log_likelihood = np.zeros((len(codes), len(nodes)))
    np.add.at(
        log_likelihood, hearing,
        ratings.category[:, None] * nodes - log_partition[estimate.design.cell],
    )  # fmt: skip
    centre = np.zeros(len(names))
    centre[student] = estimate.means[ratings.ensemble]
    return Hearings(
        nodes=nodes,
        log_likelihood=log_likelihood - log_likelihood.max(axis=1, keepdims=True),
        rater=codes % n_raters,
        take=codes // n_raters,
        n_criteria=np.bincount(hearing),
        student=student,
        years=_centred(years, student),
        centre=centre,
        raters=ratings.names[2],
        students=names,
        estimate=estimate,
    )


def _sittings(given: Sequence[GivenRating]) -> list[str]:
    """The task of each row, with a number for each time it was asked.

    A group has grown when a passage comes back: with one place for both, its growth would pass
    for good and bad days.
    """
    days: dict[str, set[float]] = {}
    for each in given:
        days.setdefault(each.task, set()).add(each.day)
    number: dict[tuple[str, float], int] = {}
    for task, every in days.items():
        before, asked = min(every), 0
        for day in sorted(every):
            asked += day - before > SITTING_GAP_DAYS
            number[task, day], before = asked, day
    return [f"{each.task}\n{number[each.task, each.day]}" for each in given]


def take_likelihood(heard: Hearings, variances: np.ndarray, rater: int | None = None) -> np.ndarray:
    """Log-likelihood (takes, nodes) of the musician's own place at the time of each take.

    ``rater`` numbers the one whose impressions spread by ``OWN``; the others' by ``OTHERS``.
    """
    own = np.ones(len(heard.rater), dtype=bool) if rater is None else heard.rater == rater
    blurred = np.empty_like(heard.log_likelihood)
    for rows, variance in ((own, variances[OWN]), (~own, variances[OTHERS])):
        blurred[rows] = _blurred(heard.log_likelihood[rows], heard.nodes, variance)
    of_take = np.zeros((len(heard.student), len(heard.nodes)))
    np.add.at(of_take, heard.take, blurred)
    return _blurred(of_take, heard.nodes, variances[DAY])


def log_likelihood(heard: Hearings, variances: np.ndarray, rater: int | None = None) -> float:
    """Log-likelihood of ``variances``, laid out as ``STUDENT`` to ``OTHERS`` (square logits)."""
    of_take = take_likelihood(heard, variances, rater)
    z = (heard.nodes[None, :] - heard.centre[:, None]) / max(variances[STUDENT], 1e-3) ** 0.5
    prior = -0.5 * z**2
    prior -= logsumexp(prior, axis=1, keepdims=True)
    slopes, weights = np.polynomial.hermite_e.hermegauss(TREND_NODES)
    if variances[TREND] <= 0 or not heard.years.any():
        slopes, weights = np.zeros(1), np.ones(1)
    each = []
    for slope in slopes * variances[TREND] ** 0.5:
        total = prior.copy()
        np.add.at(total, heard.student, _moved(of_take, heard.nodes, slope * heard.years))
        each.append(logsumexp(total, axis=1))
    log_weights = np.log(weights / weights.sum())[:, None]
    return float(logsumexp(np.array(each) + log_weights, axis=0).sum())


def likeliest(
    heard: Hearings, free: Sequence[int], rater: int | None = None, start: np.ndarray | None = None
) -> Likeliest:
    """The likeliest variances when only those in ``free`` may move from ``start``.

    Without ``start`` those that are not free are zero.
    """
    free = list(free)
    if start is None:
        start = np.zeros(OTHERS + 1)
        start[free] = _START
        start[STUDENT] = max(heard.estimate.variance, _START)
    variances = start.copy()

    def cost(values: np.ndarray) -> float:
        variances[free] = values
        return -log_likelihood(heard, variances, rater)

    found = minimize(
        cost, start[free], method="L-BFGS-B", bounds=[(0.0, MOST_VARIANCE)] * len(free),
        options={"ftol": 1e-7, "eps": 1e-4, "maxiter": 40},
    )  # fmt: skip
    variances[free] = found.x
    return Likeliest(variances, float(-found.fun))


def points_of(estimate: FacetEstimate, logits: float) -> float:
    """A difference of ``logits`` in rating points: along the level curve, about its middle.

    The middle is the mean musician, with a task, a criterion and a rater of the middle.
    """
    middle = float(estimate.means[estimate.design.ratings.ensemble].mean())
    low, high = fair_levels(estimate, np.array([middle - logits / 2, middle + logits / 2]))
    return float(high - low)


def _nodes(estimate: FacetEstimate) -> np.ndarray:
    """An even grid that holds everybody's place, whatever a day or an impression adds."""
    reach = 3.0 * max(estimate.variance, 0.25) ** 0.5 + GRID_REACH_LOGITS
    low, high = estimate.means.min() - reach, estimate.means.max() + reach
    return np.linspace(low, high, int(np.ceil((high - low) / GRID_STEP_LOGITS)) + 1)


def _centred(years: np.ndarray, student: np.ndarray) -> np.ndarray:
    """``years`` from the mean of each student's own."""
    n = np.maximum(np.bincount(student), 1)
    return years - (np.bincount(student, weights=years) / n)[student]


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


def _moved(log_values: np.ndarray, nodes: np.ndarray, shift: np.ndarray) -> np.ndarray:
    """Rows of log-likelihood read at ``nodes`` plus the row's own ``shift``, by local cubics."""
    if not shift.any():
        return log_values
    last = len(nodes) - 1
    place = np.arange(last + 1) + (shift / (nodes[1] - nodes[0]))[:, None]
    place = np.clip(place, 0, last)
    below = np.minimum(place.astype(np.int64), last - 1)
    part = place - below
    rows = np.arange(len(log_values))[:, None]
    before, here, there, after = (
        log_values[rows, np.clip(below + step, 0, last)] for step in (-1, 0, 1, 2)
    )
    # Catmull and Rom's cubic through the two nodes, with the slopes of their neighbours.
    return here + 0.5 * part * (
        there - before
        + part * (2 * before - 5 * here + 4 * there - after
                  + part * (3 * (here - there) + after - before))
    )  # fmt: skip
