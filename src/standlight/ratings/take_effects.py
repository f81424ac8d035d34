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

from standlight.ratings.facet_design import RATING_SCALE
from standlight.ratings.facets import FacetEstimate, estimate_facets
from standlight.ratings.given import DIRECTOR, GivenRating
from standlight.ratings.growth_gather import SITTING_GAP_DAYS
from standlight.ratings.marginal import cell_chances
from standlight.ratings.ratings_table import gather_ratings
from standlight.ratings.students import fair_levels
from standlight.ratings.take_stages import (
    OTHERS,
    STUDENT,
    Hearings,
    Stages,
    centred,
)

DAYS_A_YEAR = 365.25

GRID_REACH_LOGITS, GRID_STEP_LOGITS = 3.0, 0.3
"""Reach of the grid beyond the outermost population deviation, and its spacing: half of the
smallest spread worth telling (about half a logit). Our choice; halving changed nothing."""

MOST_VARIANCE = 16.0
"""Bound of every variance (square logits)."""

_START = 0.1


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
        years=centred(years, student),
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
    return Stages(heard, rater).of_takes(variances)


def log_likelihood(heard: Hearings, variances: np.ndarray, rater: int | None = None) -> float:
    """Log-likelihood of ``variances``, laid out as ``STUDENT`` to ``OTHERS`` (square logits)."""
    return Stages(heard, rater).log_likelihood(variances)


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
    variances, stages = start.copy(), Stages(heard, rater)

    def cost(values: np.ndarray) -> float:
        variances[free] = values
        return -stages.log_likelihood(variances)

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
