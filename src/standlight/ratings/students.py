"""Where each student stands: Warm's estimate, the shrunken one, and rating points. Pure.

The expected-a-posteriori estimate is for display; Warm's weighted likelihood estimate, which
does not lean on the population, is for growth. Students with only highest or only lowest
levels have both.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standlight.ratings.facet_design import FacetDesign
from standlight.ratings.facets import FacetEstimate
from standlight.ratings.marginal import chances_at

WIDEST_LOGITS = 30.0
"""No estimate leaves this range."""

_MOST_STEPS, _SETTLED = 60, 1e-8


@dataclass(frozen=True, slots=True)
class StudentMeasure:
    """One student: ``eap`` and ``wle`` with standard errors (logits), ``fair`` in levels.

    ``fair`` is the mean level over the criteria that the ``eap`` place would earn on a task
    and with a rater of middle severity, on the scale of the levels that were given.
    """

    student: str
    ensemble: str
    eap: float
    se: float
    wle: float
    wle_se: float
    fair: float
    n_ratings: int
    extreme: bool


def student_measures(estimate: FacetEstimate) -> tuple[StudentMeasure, ...]:
    """Every student of ``estimate``, in the order of its table."""
    design, nodes = estimate.design, estimate.nodes
    ratings = design.ratings
    eap = estimate.posterior @ nodes
    deviations = (nodes[None, :] - eap[:, None]) ** 2
    errors = np.sqrt((estimate.posterior * deviations).sum(axis=1))
    wle, wle_errors = warm_estimates(design, estimate.parameters, eap)
    fair = fair_levels(estimate, eap)
    n_ratings = np.asarray(design.counts.sum(axis=1)).ravel()
    extreme = extreme_students(design)
    return tuple(
        StudentMeasure(
            student=name,
            ensemble=ratings.ensembles[ratings.ensemble[number]],
            eap=float(eap[number]),
            se=float(errors[number]),
            wle=float(wle[number]),
            wle_se=float(wle_errors[number]),
            fair=float(fair[number]),
            n_ratings=int(n_ratings[number]),
            extreme=bool(extreme[number]),
        )
        for number, name in enumerate(ratings.students)
    )


def extreme_students(design: FacetDesign) -> np.ndarray:
    """(students,) whether all levels are the lowest, or all the highest, of their cells."""
    lowest = design.used.argmax(axis=1)[design.group]
    highest = design.used.shape[1] - 1 - design.used[:, ::-1].argmax(axis=1)[design.group]
    scores = design.student_scores
    return (scores <= design.counts @ lowest) | (scores >= design.counts @ highest)


def warm_estimates(
    design: FacetDesign, parameters: np.ndarray, start: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Warm's weighted likelihood estimates and their standard errors (logits), each (students,).

    The root of score residual + third moment / (2 information), bracketed and halved
    wherever Newton, from ``start``, would leave the bracket. The error
    is one over the root of information.
    """
    n_students = design.counts.shape[0]
    low = np.full(n_students, -WIDEST_LOGITS)
    high = np.full(n_students, WIDEST_LOGITS)
    places = start
    for _ in range(_MOST_STEPS):
        balance, information = _balance(design, parameters, places)
        low = np.where(balance > 0, places, low)
        high = np.where(balance > 0, high, places)
        moved = places + balance / np.maximum(information, 1e-12)
        inside = (moved > low) & (moved < high)
        moved = np.where(inside, moved, (low + high) / 2)
        settled = np.abs(moved - places).max() < _SETTLED
        places = moved
        if settled:
            break
    _, information = _balance(design, parameters, places)
    return places, 1 / np.sqrt(np.maximum(information, 1e-12))


def _balance(
    design: FacetDesign, parameters: np.ndarray, places: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Warm's estimating function at ``places``, and the information, each (students,)."""
    counts = design.counts
    student = np.repeat(np.arange(counts.shape[0]), np.diff(counts.indptr))
    chances = chances_at(design, parameters, places[student], counts.indices)
    category = np.arange(chances.shape[1])
    mean = chances @ category
    spread = chances @ category**2 - mean**2
    third = (chances * (category[None, :] - mean[:, None]) ** 3).sum(axis=1)

    def summed(values: np.ndarray) -> np.ndarray:
        return np.bincount(student, weights=counts.data * values, minlength=counts.shape[0])

    information = summed(spread)
    lean = summed(third) / (2 * np.maximum(information, 1e-12))
    return design.student_scores - summed(mean) + lean, information


def fair_levels(estimate: FacetEstimate, places: np.ndarray) -> np.ndarray:
    """(n,) mean level over criteria at ``places`` (logits), task and rater in the middle."""
    design = estimate.design
    levels = np.array(design.ratings.levels, dtype=float)
    tasks, criteria = len(design.ratings.names[0]), len(design.ratings.names[1])
    measures = estimate.parameters[tasks : tasks + criteria]
    cumulated = design.thresholds(estimate.parameters)
    if len(cumulated) == 1:
        cumulated = np.repeat(cumulated, criteria, axis=0)
    category = np.arange(len(levels))
    total = np.zeros(len(places))
    for measure, threshold in zip(measures, cumulated, strict=True):
        exponents = category * (places - measure)[:, None] - threshold
        chances = np.exp(exponents - exponents.max(axis=1, keepdims=True))
        total += (chances @ levels) / chances.sum(axis=1)
    return total / criteria
