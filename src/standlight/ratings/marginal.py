"""The marginal likelihood of the many-facet Rasch model on a fixed grid. Pure.

Students are normal within their ensemble. By Rasch sufficiency a step needs one table of
log-partitions (cells by nodes) and two sparse products, so time is linear in ratings.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.special import logsumexp

from standlight.ratings.facet_design import FacetDesign


@dataclass(frozen=True, slots=True, eq=False)
class MarginalPoint:
    """The likelihood at one vector of parameters.

    ``log_likelihood`` (with the shifted scores, what is climbed), ``deviance`` (of the
    ratings as they are), ``gradient`` (parameters,), ``posterior`` (students, nodes),
    ``chances`` (cells, nodes, categories), ``weights`` (cells, nodes): expected ratings.
    """

    log_likelihood: float
    deviance: float
    gradient: np.ndarray
    posterior: np.ndarray
    chances: np.ndarray
    weights: np.ndarray


def cell_chances(
    design: FacetDesign, parameters: np.ndarray, nodes: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Chances (cells, nodes, categories) and log-partitions (cells, nodes) at ``nodes``."""
    places = design.dummies @ parameters[: design.n_elements]
    category = np.arange(design.used.shape[1])
    cumulated = design.thresholds(parameters)[design.group]
    exponents = category * (nodes[None, :] - places[:, None])[:, :, None]
    exponents = exponents - cumulated[:, None, :]
    log_partition = logsumexp(exponents, axis=2)
    return np.exp(exponents - log_partition[:, :, None]), log_partition


def marginal_point(
    design: FacetDesign, parameters: np.ndarray, nodes: np.ndarray
) -> MarginalPoint:
    """Value and exact gradient of the log-likelihood at ``parameters`` on ``nodes`` (logits)."""
    n_elements, n_structural = design.n_elements, design.n_structural
    chances, log_partition = cell_chances(design, parameters, nodes)
    log_prior, prior_slopes = _population(design, parameters, nodes)
    log_joint = (
        design.student_scores[:, None] * nodes
        - design.counts @ log_partition
        + log_prior[design.ratings.ensemble]
    )
    log_student = logsumexp(log_joint, axis=1)
    posterior = np.exp(log_joint - log_student[:, None])
    weights = design.counts.T @ posterior
    elements = parameters[:n_elements]
    inner = parameters[n_elements:n_structural]
    common = log_student.sum() - inner @ design.threshold_counts
    expected = np.einsum("cq,cqk->ck", weights, chances)
    gradient = np.empty(len(parameters))
    category = np.arange(chances.shape[2])
    gradient[:n_elements] = design.dummies.T @ (expected @ category) - design.shifted_scores
    by_group = np.zeros(design.used.shape)
    np.add.at(by_group, design.group, expected)
    gradient[n_elements:n_structural] = (
        by_group[design.free[:, 0], design.free[:, 1]] - design.threshold_counts
    )
    mass = _members(design) @ posterior
    gradient[n_structural:-1] = (mass * prior_slopes[0]).sum(axis=1)
    gradient[-1] = (mass * prior_slopes[1]).sum()
    return MarginalPoint(
        log_likelihood=float(common - elements @ design.shifted_scores),
        deviance=float(-2 * (common - elements @ design.element_scores)),
        gradient=gradient,
        posterior=posterior,
        chances=chances,
        weights=weights,
    )


def _members(design: FacetDesign) -> sparse.csr_matrix:
    """(ensembles, students): who is in which."""
    ensemble = design.ratings.ensemble
    return sparse.csr_matrix(
        (np.ones(len(ensemble)), (ensemble, np.arange(len(ensemble)))),
        shape=(len(design.ratings.ensembles), len(ensemble)),
    )


def _population(
    design: FacetDesign, parameters: np.ndarray, nodes: np.ndarray
) -> tuple[np.ndarray, tuple[np.ndarray, np.ndarray]]:
    """Log-prior (ensembles, nodes), and its slopes by mean and by log standard deviation."""
    means = parameters[design.n_structural : -1]
    deviation = np.exp(parameters[-1])
    z = (nodes[None, :] - means[:, None]) / deviation
    log_prior = -0.5 * z * z
    log_prior = log_prior - logsumexp(log_prior, axis=1, keepdims=True)
    prior = np.exp(log_prior)
    by_mean = (z - (prior * z).sum(axis=1, keepdims=True)) / deviation
    by_spread = z * z - (prior * z * z).sum(axis=1, keepdims=True)
    return log_prior, (by_mean, by_spread)


def laplace_information(
    design: FacetDesign, parameters: np.ndarray, nodes: np.ndarray, point: MarginalPoint
) -> np.ndarray:
    """Information (parameters, parameters): complete minus missing, scores linear in a student.

    Louis's identity; the missing part takes each student's score as a straight line at the
    posterior mean, with the posterior variance of the grid.
    """
    information = complete_information(
        design, len(parameters), point.chances, point.weights
    )
    means = parameters[design.n_structural : -1][design.ratings.ensemble]
    deviation = np.exp(parameters[-1])
    centre = point.posterior @ nodes
    variance = np.maximum(point.posterior @ nodes**2 - centre**2, 1e-12)
    slopes = score_slopes(design, parameters, centre)
    z = (nodes[None, :] - means[:, None]) / deviation
    # Products, because powers of an array cost many times as much.
    weighted = point.posterior * z * z
    square = weighted.sum(axis=1)
    with_square = np.einsum("nq,nq->n", weighted, z) - square * (centre - means) / deviation
    square_variance = np.einsum("nq,nq,nq->n", weighted, z, z) - square**2
    information[:-1, :-1] -= (slopes * variance[:, None]).T @ slopes
    cross = slopes.T @ (with_square * deviation)
    # Complete information of mean and spread.
    lean = 2 * (centre - means) / deviation**2
    for group in range(len(design.ratings.ensembles)):
        own = design.ratings.ensemble == group
        place = design.n_structural + group
        information[place, place] += own.sum() / deviation**2
        cross[place] -= lean[own].sum()
    information[-1, :-1] = information[:-1, -1] = -cross
    information[-1, -1] = 2 * square.sum() - square_variance.sum()
    return information


def complete_information(
    design: FacetDesign, n_parameters: int, chances: np.ndarray, weights: np.ndarray
) -> np.ndarray:
    """What ratings would tell of elements and thresholds if the students were known.

    ``chances`` (cells, nodes, categories), ``weights`` (cells, nodes) ratings at each node.
    """
    n_elements = design.n_elements
    information = np.zeros((n_parameters, n_parameters))
    category = np.arange(chances.shape[2])
    mean = chances @ category
    spread = chances @ category**2 - mean**2
    weight = (weights * spread).sum(axis=1)
    dummies = design.dummies
    information[:n_elements, :n_elements] = (
        dummies.T @ sparse.diags(weight) @ dummies
    ).toarray()
    for place, (group, level) in enumerate(design.free):
        row = n_elements + place
        own = design.group == group
        with_mean = weights * chances[:, :, level] * (level - mean) * own[:, None]
        information[row, :n_elements] = dummies.T @ with_mean.sum(axis=1)
        information[:n_elements, row] = information[row, :n_elements]
        for other, (other_group, other_level) in enumerate(design.free):
            if other_group == group:
                both = chances[own][:, :, level] * (
                    (level == other_level) - chances[own][:, :, other_level]
                )
                information[row, n_elements + other] = (weights[own] * both).sum()
    return information


def score_slopes(
    design: FacetDesign, parameters: np.ndarray, centre: np.ndarray
) -> np.ndarray:
    """How each student's score moves with the student (students, parameters but the last)."""
    n_elements, n_structural = design.n_elements, design.n_structural
    counts = design.counts
    student = np.repeat(np.arange(counts.shape[0]), np.diff(counts.indptr))
    chances = chances_at(design, parameters, centre[student], counts.indices)
    category = np.arange(chances.shape[1])
    mean = chances @ category
    slopes = np.zeros((counts.shape[0], len(parameters) - 1))
    spread = counts.data * (chances @ category**2 - mean**2)
    slopes[:, :n_elements] = (_like(counts, spread) @ design.dummies).toarray()
    for place, (group, level) in enumerate(design.free):
        own = design.group[counts.indices] == group
        moved = counts.data * chances[:, level] * (level - mean) * own
        slopes[:, n_elements + place] = np.bincount(
            student, weights=moved, minlength=counts.shape[0]
        )
    rows = np.arange(counts.shape[0])
    slopes[rows, n_structural + design.ratings.ensemble] = np.exp(-2 * parameters[-1])
    return slopes


def _like(counts: sparse.csr_matrix, data: np.ndarray) -> sparse.csr_matrix:
    """A sparse matrix with the places of ``counts`` and other values."""
    return sparse.csr_matrix((data, counts.indices, counts.indptr), shape=counts.shape)


def chances_at(
    design: FacetDesign, parameters: np.ndarray, measures: np.ndarray, cells: np.ndarray
) -> np.ndarray:
    """Chances (n, categories) of students with ``measures`` (n,) in ``cells`` (n,)."""
    places = (design.dummies @ parameters[: design.n_elements])[cells]
    category = np.arange(design.used.shape[1])
    exponents = category * (measures - places)[:, None]
    exponents = exponents - design.thresholds(parameters)[design.group[cells]]
    exponents -= exponents.max(axis=1, keepdims=True)
    chances = np.exp(exponents)
    return chances / chances.sum(axis=1, keepdims=True)
