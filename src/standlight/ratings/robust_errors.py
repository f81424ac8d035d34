"""Errors that stay right when ratings of one musician share more than the model knows. Pure.

The model's own errors take every rating as new news. A day, an impression or a musician's own
growth is shared by several; summing the scores of the likelihood by musician before squaring
them (White 1980, by clusters as Liang & Zeger 1986) counts such news once.
"""

from __future__ import annotations

import numpy as np
from scipy import sparse

from standlight.ratings.facets import FacetEstimate
from standlight.ratings.marginal import cell_chances


def object_scores(estimate: FacetEstimate) -> np.ndarray:
    """Each object's slope of the log-likelihood (objects, parameters); they sum to about zero."""
    design, parameters = estimate.design, estimate.parameters
    chances, _ = cell_chances(design, parameters, estimate.nodes)
    category = np.arange(chances.shape[2])
    n_elements, n_structural = design.n_elements, design.n_structural
    scores = np.zeros((design.counts.shape[0], len(parameters)))
    scores[:, :n_elements] = -_seen_less_expected(estimate, chances @ category, category)
    for place, (group, level) in enumerate(design.free):
        own = (design.group == group).astype(float)
        less = _seen_less_expected(
            estimate, chances[:, :, level], (category == level).astype(float), cells=own
        )
        scores[:, n_elements + place] = -less[:, 0]
    means, deviation = parameters[n_structural:-1], np.exp(parameters[-1])
    ensemble = design.ratings.ensemble
    z = (estimate.nodes[None, :] - means[ensemble][:, None]) / deviation
    rows = np.arange(len(ensemble))
    scores[rows, n_structural + ensemble] = (estimate.posterior * z).sum(axis=1) / deviation
    scores[:, -1] = (estimate.posterior * z**2).sum(axis=1) - 1
    return scores


def _seen_less_expected(
    estimate: FacetEstimate,
    curve: np.ndarray,
    value: np.ndarray,
    cells: np.ndarray | None = None,
) -> np.ndarray:
    """Sums over an object's ratings of value seen less ``curve`` (cells, nodes) expected.

    By element (objects, elements), or with ``cells`` as one column of weights.
    """
    design = estimate.design
    columns = design.dummies if cells is None else sparse.csr_matrix(cells[:, None])
    counts = design.counts
    row = np.repeat(np.arange(counts.shape[0]), np.diff(counts.indptr))
    expected = np.einsum("nq,nq->n", estimate.posterior[row], curve[counts.indices])
    by_cell = sparse.csr_matrix(
        (counts.data * expected, counts.indices, counts.indptr), shape=counts.shape
    )
    seen = sparse.csr_matrix(
        (value[design.ratings.category], (design.ratings.student, design.cell)),
        shape=counts.shape,
    )
    return ((seen - by_cell) @ columns).toarray()


def clustered_covariance(estimate: FacetEstimate, cluster: np.ndarray) -> np.ndarray:
    """Covariance (parameters, parameters) with objects of one ``cluster`` (objects,) together.

    Scaled by n / (n - 1) clusters, as common practice is.
    """
    scores = object_scores(estimate)
    n_clusters = int(cluster.max()) + 1
    summed = np.zeros((n_clusters, scores.shape[1]))
    np.add.at(summed, cluster, scores)
    spread = summed @ estimate.covariance
    return spread.T @ spread * (n_clusters / max(n_clusters - 1, 1))
