"""Joint maximum likelihood of the many-facet model, for comparison with published tables. Pure.

Students are parameters too, so with few ratings a student the scale is too wide: the
marginal estimate is the one to show. Exact Newton steps, the students eliminated.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standlight.errors import StandlightError
from standlight.ratings.facet_design import EXTREME_SHIFT, FacetDesign, facet_design
from standlight.ratings.marginal import (
    cell_chances,
    chances_at,
    complete_information,
    score_slopes,
)
from standlight.ratings.ratings_table import FACETS, Ratings, only_students
from standlight.ratings.students import extreme_students

MOST_CELL_STUDENTS = 4_000_000
"""Cells times students up to which the comparison is made: its tables are dense."""

_MOST_STEPS, _SETTLED, _LONGEST_STEP = 100, 1e-9, 1.0


@dataclass(frozen=True, slots=True, eq=False)
class JointEstimate:
    """Where the joint likelihood is highest, students of extreme scores left out of it.

    ``parameters`` as `facet_design` lays them out (the population's stay zero);
    ``errors`` of the elements, each as if all else were known, as published tables do;
    ``students``, ``places`` and ``place_errors`` (logits) hold every student, the extreme
    with a score moved inside; ``extreme`` (students,) says who; ``steepest`` slope left.
    """

    design: FacetDesign
    parameters: np.ndarray
    errors: np.ndarray
    students: tuple[str, ...]
    places: np.ndarray
    place_errors: np.ndarray
    extreme: np.ndarray
    steepest: float

    def facet(self, name: str) -> dict[str, tuple[float, float]]:
        """Measure and standard error of one facet of ``FACETS``, by element."""
        place = FACETS.index(name)
        names = self.design.ratings.names
        start = sum(len(facet) for facet in names[:place])
        return {
            element: (float(self.parameters[start + n]), float(self.errors[start + n]))
            for n, element in enumerate(names[place])
        }


def estimate_joint(ratings: Ratings, model: str) -> JointEstimate:
    """Fit ``model`` to ``ratings`` by joint likelihood.

    ``StandlightError`` when the table is too large for it, or every student is extreme.
    """
    whole = facet_design(ratings, model)
    if np.prod(whole.counts.shape) > MOST_CELL_STUDENTS:
        raise StandlightError("the table is too large for the joint likelihood")
    extreme = extreme_students(whole)
    if extreme.all():
        raise StandlightError("every student has the lowest or the highest level only")
    design = facet_design(only_students(ratings, np.flatnonzero(~extreme)), model)
    if design.ratings.names != ratings.names or design.ratings.levels != ratings.levels:
        raise StandlightError("some tasks, raters or levels belong to extreme students only")
    parameters, steepest = _climb(design)
    places, place_errors = _students(whole, parameters, extreme)
    kept = places[~extreme]
    weight = _information(design, parameters, kept).diagonal()[: design.n_elements]
    return JointEstimate(
        design=design,
        parameters=parameters,
        errors=1 / np.sqrt(np.maximum(weight, 1e-12)),
        students=ratings.students,
        places=places,
        place_errors=place_errors,
        extreme=extreme,
        steepest=steepest,
    )


def _climb(design: FacetDesign) -> tuple[np.ndarray, float]:
    """The parameters at the top, and the largest slope left."""
    parameters = np.zeros(design.basis.shape[0])
    n_population = len(design.ratings.ensembles) + 1
    basis = design.basis[:, :-n_population]
    places = np.zeros(design.counts.shape[0])
    steepest = np.inf
    for _ in range(_MOST_STEPS):
        slope, student_slope, student_information = _slopes(design, parameters, places)
        steepest = max(np.abs(basis.T @ slope).max(initial=0.0), np.abs(student_slope).max())
        if steepest < _SETTLED:
            break
        lean = np.zeros((len(places), len(parameters)))
        lean[:, :-1] = score_slopes(design, parameters, places)
        lean = lean @ basis
        shared = lean / student_information[:, None]
        information = basis.T @ _information(design, parameters, places) @ basis
        step = np.linalg.lstsq(
            information - lean.T @ shared, basis.T @ slope + shared.T @ student_slope, rcond=1e-10
        )[0]
        student_step = (student_slope + lean @ step) / student_information
        longest = max(np.abs(step).max(initial=0.0), np.abs(student_step).max())
        length = min(1.0, _LONGEST_STEP / longest)
        parameters = parameters + length * (basis @ step)
        places = places + length * student_step
    return parameters, float(steepest)


def _slopes(
    design: FacetDesign, parameters: np.ndarray, places: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Slopes by parameters and by students, and the students' information."""
    ratings = design.ratings
    chances = chances_at(design, parameters, places[ratings.student], design.cell)
    category = np.arange(chances.shape[1])
    mean = chances @ category
    spread = chances @ category**2 - mean**2
    n_students, n_cells = design.counts.shape

    slope = np.zeros(len(parameters))
    by_cell = np.bincount(design.cell, weights=mean, minlength=n_cells)
    slope[: design.n_elements] = design.dummies.T @ by_cell - design.shifted_scores
    by_group = np.zeros(design.used.shape)
    np.add.at(by_group, design.group[design.cell], chances)
    slope[design.n_elements : design.n_structural] = (
        by_group[design.free[:, 0], design.free[:, 1]] - design.threshold_counts
    )
    expected = np.bincount(ratings.student, weights=mean, minlength=n_students)
    information = np.bincount(ratings.student, weights=spread, minlength=n_students)
    return slope, design.student_scores - expected, np.maximum(information, 1e-12)


def _information(
    design: FacetDesign, parameters: np.ndarray, places: np.ndarray
) -> np.ndarray:
    """Information of the parameters when students stand at ``places``: each is a node."""
    chances, _ = cell_chances(design, parameters, places)
    return complete_information(design, len(parameters), chances, design.counts.T.toarray())


def _students(
    design: FacetDesign, parameters: np.ndarray, extreme: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Every student's place and error given the elements; extreme scores moved inside."""
    middle = (design.counts @ np.ones(design.counts.shape[1])) * (design.used.shape[1] - 1) / 2
    shift = np.where(design.student_scores < middle, EXTREME_SHIFT, -EXTREME_SHIFT)
    scores = design.student_scores + np.where(extreme, shift, 0.0)
    places = np.zeros(len(scores))
    for _ in range(_MOST_STEPS):
        _, slope, information = _slopes(design, parameters, places)
        step = (slope + scores - design.student_scores) / information
        if np.abs(step).max() < _SETTLED:
            break
        places = places + np.clip(step, -_LONGEST_STEP, _LONGEST_STEP)
    return places, 1 / np.sqrt(information)
