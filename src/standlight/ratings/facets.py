"""Estimating the many-facet Rasch model by marginal maximum likelihood. Pure.

Newton steps with the Laplace information on a fixed grid that is drawn anew until it
covers the population and is fine enough; standard errors from the exact gradient,
differenced, while the table is small.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standlight.errors import StandlightError
from standlight.ratings.facet_design import (
    MODELS,
    PARTIAL_CREDIT,
    FacetDesign,
    extreme_elements,
    facet_design,
)
from standlight.ratings.marginal import (
    MarginalPoint,
    cell_chances,
    laplace_information,
    marginal_point,
)
from standlight.ratings.ratings_table import FACETS, Ratings, without_criteria

GRADIENT_ASKED = 1e-6
"""Largest slope of the log-likelihood by a free parameter at which climbing ends."""

GRID_REACH_SD, GRID_STEP_POSTERIOR_SD, MOST_NODES = 5.0, 1.3, 601
"""The grid: standard deviations to each side, spacing in the smallest posterior standard
deviation (found by simulation), and the most nodes."""

LEAST_SD, MOST_SD = 0.05, 6.0
"""Bounds of the students' standard deviation (logits): outside, nothing would be learned."""

FAR_LOGITS = 10.0
"""A task, criterion, rater or threshold beyond is no measure: the ratings let it run off."""

SMALL_PARAMETERS, SMALL_RATINGS = 300, 100_000
"""Up to here standard errors difference the gradient; Laplace runs low on small data."""

_MOST_STEPS, _MOST_GRIDS, _LONGEST_STEP, _DIFFERENCE, _ROUGHLY = 60, 6, 2.0, 1e-4, 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class FacetEstimate:
    """Where the climb ended: ``parameters`` as `facet_design` lays them out, in logits.

    ``covariance`` (parameters, parameters) of them; ``nodes`` and ``posterior`` (students,
    nodes) on the grid; ``steepest`` is the largest slope left.
    """

    design: FacetDesign
    model: str
    parameters: np.ndarray
    covariance: np.ndarray
    nodes: np.ndarray
    posterior: np.ndarray
    deviance: float
    steepest: float
    remarks: tuple[str, ...]

    @property
    def means(self) -> np.ndarray:
        """Mean of each ensemble (logits)."""
        return self.parameters[self.design.n_structural : -1]

    @property
    def variance(self) -> float:
        """Variance of the students within an ensemble (square logits)."""
        return float(np.exp(2 * self.parameters[-1]))

    def facet(self, name: str) -> dict[str, float]:
        """The measures of one facet of ``FACETS``, by element; they sum to zero."""
        place = FACETS.index(name)
        names = self.design.ratings.names
        start = sum(len(facet) for facet in names[:place])
        return {
            element: float(self.parameters[start + number])
            for number, element in enumerate(names[place])
        }


def estimate_facets(ratings: Ratings, model: str, *, errors: bool = True) -> FacetEstimate:
    """Fit ``model``, one of ``MODELS``, to ``ratings``; odd tables bring remarks.

    Without ``errors`` the covariance stays zero: it is most of the time when takes are many.
    ``StandlightError`` for an unknown model, and when nothing can be told apart.
    """
    if model not in MODELS:
        raise StandlightError(f"{model!r} is no model", slip=f"one of {', '.join(MODELS)}?")
    if model == PARTIAL_CREDIT:
        ratings = _with_two_levels_each(ratings)
    design = facet_design(ratings, model)
    remarks = [*ratings.remarks, *_extreme_remarks(design)]
    parameters = _start(design)
    # The first grid only finds out where the next one must stand.
    parameters, _, _ = _climb(design, parameters, _grid(design, parameters), roughly=True)
    for _ in range(_MOST_GRIDS):
        nodes = _grid(design, parameters)
        parameters, held, point = _climb(design, parameters, nodes)
        if _grid_holds(parameters, nodes, point, design):
            break
    basis = design.basis[:, ~held]
    steepest = float(np.abs(basis.T @ point.gradient).max(initial=0.0))
    if steepest > 1e-4:
        remarks.append("The measures did not settle; read them as rough.")
    if np.abs(parameters[: design.n_structural]).max() > FAR_LOGITS:
        remarks.append("There are too few ratings here to place everything; some places ran off.")
    if held.any():
        remarks.append(
            "The students could not be told apart."
            if np.exp(parameters[-1]) < 1
            else "The students are further apart than this scale can show."
        )
    return FacetEstimate(
        design=design,
        model=model,
        parameters=parameters,
        covariance=(
            _covariance(design, parameters, nodes, point, basis)
            if errors
            else np.zeros((len(parameters), len(parameters)))
        ),
        nodes=nodes,
        posterior=point.posterior,
        deviance=point.deviance,
        steepest=steepest,
        remarks=tuple(remarks),
    )


def _with_two_levels_each(ratings: Ratings) -> Ratings:
    """Without criteria that got one level only: they have no thresholds of their own."""
    criterion = ratings.elements[:, 1]
    flat = [
        number
        for number in range(len(ratings.names[1]))
        if len(set(ratings.category[criterion == number].tolist())) < 2
    ]
    if not flat:
        return ratings
    words = ", ".join(ratings.names[1][number] for number in flat)
    remark = f"Each rating of {words} is the same level, so it tells nothing and is left out."
    return without_criteria(ratings, flat, remark)


def _extreme_remarks(design: FacetDesign) -> list[str]:
    """One remark for elements whose place can only be guessed."""
    names = [
        f"{FACETS[facet]} {design.ratings.names[facet][number]}"
        for facet, number in extreme_elements(design)
    ]
    if not names:
        return []
    words = ", ".join(names)
    return [f"Only the lowest or the highest level was given: {words}. The measure is a guess."]


def _start(design: FacetDesign) -> np.ndarray:
    """Zero everywhere but the ensembles' means; students one logit apart."""
    parameters = np.zeros(design.basis.shape[0])
    top = design.used.shape[1] - 1
    ensemble = design.ratings.ensemble
    n_ratings = np.asarray(design.counts.sum(axis=1)).ravel()
    share = np.bincount(ensemble, weights=design.student_scores) / (
        top * np.bincount(ensemble, weights=n_ratings)
    )
    share = np.clip(share, 0.02, 0.98)
    parameters[design.n_structural : -1] = np.log(share / (1 - share))
    return parameters


def _grid(design: FacetDesign, parameters: np.ndarray) -> np.ndarray:
    """Evenly spaced nodes (logits) that cover the population and the sharpest student."""
    means, deviation = parameters[design.n_structural : -1], np.exp(parameters[-1])
    chances, _ = cell_chances(design, parameters, means)
    category = np.arange(chances.shape[2])
    spread = chances @ category**2 - (chances @ category) ** 2
    sharpest = (design.counts @ spread).max() + deviation**-2
    step = GRID_STEP_POSTERIOR_SD / np.sqrt(sharpest) * 0.8
    low = means.min() - 1.2 * GRID_REACH_SD * deviation
    high = means.max() + 1.2 * GRID_REACH_SD * deviation
    n_nodes = int(np.clip(np.ceil((high - low) / step) + 1, 31, MOST_NODES))
    return np.linspace(low, high, n_nodes)


def _grid_holds(
    parameters: np.ndarray, nodes: np.ndarray, point: MarginalPoint, design: FacetDesign
) -> bool:
    """Whether the grid still covers the population and is finer than every posterior asks."""
    means, deviation = parameters[design.n_structural : -1], np.exp(parameters[-1])
    centre = point.posterior @ nodes
    variance = point.posterior @ nodes**2 - centre**2
    step = nodes[1] - nodes[0]
    return bool(
        nodes[0] <= means.min() - GRID_REACH_SD * deviation
        and nodes[-1] >= means.max() + GRID_REACH_SD * deviation
        and step <= GRID_STEP_POSTERIOR_SD * np.sqrt(max(variance.min(), 0.0))
    )


def _climb(
    design: FacetDesign, parameters: np.ndarray, nodes: np.ndarray, *, roughly: bool = False
) -> tuple[np.ndarray, np.ndarray, MarginalPoint]:
    """Newton steps to the top on one grid; also which free parameters stand at a bound.

    ``roughly``: only until a slope is small beside the number of ratings.
    """
    enough = _ROUGHLY * design.ratings.n_ratings if roughly else GRADIENT_ASKED
    point = marginal_point(design, parameters, nodes)
    held = np.zeros(design.basis.shape[1], dtype=bool)
    for _ in range(_MOST_STEPS):
        held[-1] = _at_bound(parameters[-1], point.gradient[-1])
        basis = design.basis[:, ~held]
        slope = basis.T @ point.gradient
        if np.abs(slope).max(initial=0.0) < enough:
            break
        information = basis.T @ laplace_information(design, parameters, nodes, point) @ basis
        step = basis @ _uphill(information, slope)
        step *= min(1.0, _LONGEST_STEP / np.abs(step).max())
        climbed = _step(design, parameters, step, nodes, point)
        if climbed is None:
            break
        parameters, point = climbed
    return parameters, held, point


def _step(
    design: FacetDesign,
    parameters: np.ndarray,
    step: np.ndarray,
    nodes: np.ndarray,
    point: MarginalPoint,
) -> tuple[np.ndarray, MarginalPoint] | None:
    """The step, halved until it climbs; ``None`` when no length of it does."""
    steepest = np.abs(design.basis.T @ point.gradient).max()
    for _ in range(12):
        tried = parameters + step
        tried[-1] = np.clip(tried[-1], np.log(LEAST_SD), np.log(MOST_SD))
        found = marginal_point(design, tried, nodes)
        gain = found.log_likelihood - point.log_likelihood
        # Near the top the gain drowns in rounding; there a flatter place is a better one.
        flatter = np.abs(design.basis.T @ found.gradient).max() < steepest
        if gain > 0 or (flatter and gain > -1e-8 * abs(point.log_likelihood)):
            return tried, found
        step = step / 2
    return None


def _at_bound(log_deviation: float, slope: float) -> bool:
    """Whether the spread stands at a bound and would go on through it."""
    return bool(
        (log_deviation <= np.log(LEAST_SD) and slope < 0)
        or (log_deviation >= np.log(MOST_SD) and slope > 0)
    )


def _uphill(information: np.ndarray, slope: np.ndarray) -> np.ndarray:
    """The Newton step, with every curvature made positive and none too flat to divide by."""
    values, vectors = np.linalg.eigh(information)
    values = np.maximum(np.abs(values), 1e-6 * max(values.max(), 1e-12))
    return vectors @ ((vectors.T @ slope) / values)


def _covariance(
    design: FacetDesign,
    parameters: np.ndarray,
    nodes: np.ndarray,
    point: MarginalPoint,
    basis: np.ndarray,
) -> np.ndarray:
    """Covariance of all parameters, from the differenced gradient while the table is small."""
    small = basis.shape[1] <= SMALL_PARAMETERS and design.ratings.n_ratings <= SMALL_RATINGS
    if small:
        information = _differenced(design, parameters, nodes, basis)
    else:
        information = basis.T @ laplace_information(design, parameters, nodes, point) @ basis
    values, vectors = np.linalg.eigh(information)
    # A direction the ratings say nothing about gets a very large error, never an infinite one.
    values = np.maximum(values, 1e-8 * max(values.max(initial=0.0), 1e-12))
    spread = basis @ vectors
    return (spread / values) @ spread.T


def _differenced(
    design: FacetDesign, parameters: np.ndarray, nodes: np.ndarray, basis: np.ndarray
) -> np.ndarray:
    """Information of the free parameters by central differences of the exact gradient."""
    rows = []
    for direction in basis.T:
        ahead = marginal_point(design, parameters + _DIFFERENCE * direction, nodes).gradient
        behind = marginal_point(design, parameters - _DIFFERENCE * direction, nodes).gradient
        rows.append(basis.T @ (behind - ahead) / (2 * _DIFFERENCE))
    information = np.array(rows).reshape(basis.shape[1], basis.shape[1])
    return (information + information.T) / 2
