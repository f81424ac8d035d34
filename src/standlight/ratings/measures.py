"""Ratings in, fair measures out: the many-facet model's answer as one frozen value. Pure.

``measure_facets`` fits, places students, checks fit and says what may be compared.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standlight.ratings.comparable import Comparable, comparable_classes
from standlight.ratings.facet_design import PARTIAL_CREDIT, RATING_SCALE
from standlight.ratings.facets import FacetEstimate, estimate_facets
from standlight.ratings.fit_statistics import (
    LevelUse,
    Residuals,
    Separation,
    infit_outfit,
    level_use,
    real_errors,
    residuals,
    separation_of,
    shrunken_reliability,
    standardised_fit,
)
from standlight.ratings.ratings_table import FACETS, Ratings
from standlight.ratings.students import StudentMeasure, student_measures


@dataclass(frozen=True, slots=True)
class ElementMeasure:
    """One task, criterion or rater: ``logits`` (more is harder or stricter), ``se``, fit.

    Measures of a facet sum to zero; ``se`` is the model's, ``real_se`` is widened by misfit.
    ``infit_z`` and ``outfit_z`` are about standard normal where the model holds; ``None``
    where it leaves them no spread.
    """

    facet: str
    element: str
    logits: float
    se: float
    infit: float
    outfit: float
    n_ratings: int
    infit_z: float | None = None
    outfit_z: float | None = None
    real_se: float | None = None


@dataclass(frozen=True, slots=True)
class Threshold:
    """Where ``level`` overtakes the level below it (logits), in one group of thresholds.

    ``criterion`` is empty in the rating scale model. ``logits`` and ``se`` are ``None``
    where the group never used one of the two.
    """

    criterion: str
    level: int
    logits: float | None
    se: float | None


@dataclass(frozen=True, slots=True)
class FacetFit:
    """What the ratings say: places in logits with errors, and ``remarks`` in sentences.

    ``means`` are the ensembles' (in the order of ``ensembles``) and ``variance`` is the
    students' within an ensemble; ``reliability`` is of the shrunken estimates;
    ``separations`` maps ``student`` (Warm's) and every facet.
    """

    model: str
    deviance: float
    ensembles: tuple[str, ...]
    means: tuple[float, ...]
    variance: float
    elements: tuple[ElementMeasure, ...]
    thresholds: tuple[Threshold, ...]
    students: tuple[StudentMeasure, ...]
    level_use: tuple[LevelUse, ...]
    reliability: float | None
    separations: dict[str, Separation]
    comparable: Comparable
    remarks: tuple[str, ...]


def measure_facets(
    ratings: Ratings, model: str = RATING_SCALE, linked_by: Ratings | None = None
) -> FacetFit:
    """Fit ``model`` to ``ratings`` and say all that follows; odd tables bring remarks.

    Where recordings are the objects, ``linked_by`` is the same table with students: it is
    they who join tasks and raters.
    ``StandlightError`` for an unknown model, and when nothing can be told apart.
    """
    estimate = estimate_facets(ratings, model)
    design = estimate.design
    students = student_measures(estimate)
    places = np.array([student.wle for student in students])
    found = residuals(design, estimate.parameters, places)
    elements = _elements(estimate, found)
    comparable = comparable_classes(linked_by or design.ratings)
    separations = {"student": _student_separation(students)}
    for name in FACETS:
        own = [element for element in elements if element.facet == name]
        separations[name] = separation_of(
            np.array([element.logits for element in own]),
            np.array([element.se for element in own]),
        )
    return FacetFit(
        model=model,
        deviance=estimate.deviance,
        ensembles=design.ratings.ensembles,
        means=tuple(estimate.means.tolist()),
        variance=estimate.variance,
        elements=elements,
        thresholds=_thresholds(estimate),
        students=students,
        level_use=level_use(design, found, places),
        reliability=shrunken_reliability(
            np.array([student.eap for student in students]),
            np.array([student.se for student in students]),
        ),
        separations=separations,
        comparable=comparable,
        remarks=(*estimate.remarks, *comparable.sentences()),
    )


def _elements(estimate: FacetEstimate, found: Residuals) -> tuple[ElementMeasure, ...]:
    """Every element of the three facets, in the order of the table."""
    ratings = estimate.design.ratings
    errors = np.sqrt(np.maximum(np.diag(estimate.covariance), 0.0))
    rows, start = [], 0
    for place, facet in enumerate(FACETS):
        names, own = ratings.names[place], ratings.elements[:, place]
        infit, outfit = infit_outfit(found, own, len(names))
        infit_z, outfit_z = standardised_fit(found, own, len(names))
        wide = real_errors(errors[start : start + len(names)], infit)
        n_ratings = np.bincount(own, minlength=len(names))
        rows += [
            ElementMeasure(
                facet=facet,
                element=name,
                logits=float(estimate.parameters[start + number]),
                se=float(errors[start + number]),
                infit=float(infit[number]),
                outfit=float(outfit[number]),
                n_ratings=int(n_ratings[number]),
                infit_z=_known(infit_z[number]),
                outfit_z=_known(outfit_z[number]),
                real_se=float(wide[number]),
            )
            for number, name in enumerate(names)
        ]
        start += len(names)
    return tuple(rows)


def _known(value: float) -> float | None:
    """``None`` for what is no number."""
    return float(value) if np.isfinite(value) else None


def _thresholds(estimate: FacetEstimate) -> tuple[Threshold, ...]:
    """Thresholds of every group, level by level."""
    design = estimate.design
    names = design.ratings.names[1] if estimate.model == PARTIAL_CREDIT else ("",)
    columns = {tuple(pair): design.n_elements + n for n, pair in enumerate(design.free.tolist())}
    rows = []
    for group, (name, cumulated) in enumerate(
        zip(names, design.thresholds(estimate.parameters), strict=True)
    ):
        for place, level in enumerate(design.ratings.levels[1:], start=1):
            pair = cumulated[place - 1 : place + 1]
            if not np.isfinite(pair).all():
                rows.append(Threshold(name, level, None, None))
                continue
            contrast = np.zeros(len(estimate.parameters))
            for category, sign in ((place, 1.0), (place - 1, -1.0)):
                if (group, category) in columns:
                    contrast[columns[group, category]] = sign
            variance = max(float(contrast @ estimate.covariance @ contrast), 0.0)
            rows.append(Threshold(name, level, float(pair[1] - pair[0]), variance**0.5))
    return tuple(rows)


def _student_separation(students: tuple[StudentMeasure, ...]) -> Separation:
    """Separation of Warm's estimates, students of extreme scores among them."""
    return separation_of(
        np.array([student.wle for student in students]),
        np.array([student.wle_se for student in students]),
    )
