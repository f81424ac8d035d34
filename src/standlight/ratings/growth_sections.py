"""A section beside the rest of its ensemble: which of them stopped growing. Pure.

All play the same tasks, so the difference needs no anchor. Each musician's own slope is one
number; a section's mean of them against the rest's is Student's t with one spread, so that what
musicians differ by is told by the musicians themselves. One-sided, with Holm's correction (1979)
over every section of the table; a criterion's row is sure only where all together are (a closed
test, so asking three criteria more costs no false claim).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

LEAST_SECTION = 5
"""Musicians with a line of their own below which a section (or its rest) is not tested: our
choice; what one musician does on a bad day is not a section's growth."""

CHANCE = 0.05
"""Chance of a false claim over all sections of a table."""


@dataclass(frozen=True, slots=True)
class Difference:
    """Mean slope of a section minus the rest's (logits a year): 95 percent interval, and
    ``chance`` of so much less, or lesser still, were there no difference.
    """

    section: str
    ensemble: str
    value: float
    low: float
    high: float
    chance: float
    mean: float
    mean_variance: float
    n: int
    n_rest: int


def section_differences(
    ensembles: np.ndarray, sections: np.ndarray, slopes: np.ndarray, variances: np.ndarray
) -> tuple[Difference, ...]:
    """Every section that is large enough, against the rest; arrays (lines,).

    ``variances`` are each slope's whole variance up to a common factor; with equal ones this
    is the plain two-sample t test.
    """
    found = []
    for ensemble in sorted(set(ensembles.tolist())):
        here = ensembles == ensemble
        for section in sorted(set(sections[here].tolist())):
            inside = here & (sections == section)
            outside = here & (sections != section)
            if min(inside.sum(), outside.sum()) >= LEAST_SECTION:
                found.append(_difference(section, ensemble, inside, outside, slopes, variances))
    return tuple(found)


def sure_by_holm(chances: list[float]) -> list[bool]:
    """Which of several claims stand at ``CHANCE`` for all together (Holm 1979).

    >>> sure_by_holm([0.02, 0.001, 0.03])
    [True, True, True]
    >>> sure_by_holm([0.03, 0.001, 0.04])
    [False, True, False]
    """
    order = np.argsort(chances, kind="stable")
    sure = [False] * len(chances)
    for rank, number in enumerate(order.tolist()):
        if chances[number] > CHANCE / (len(chances) - rank):
            break
        sure[number] = True
    return sure


def _difference(
    section: str,
    ensemble: str,
    inside: np.ndarray,
    outside: np.ndarray,
    slopes: np.ndarray,
    variances: np.ndarray,
) -> Difference:
    """One section against the rest, musicians weighted by how well their slope is known."""
    weight = 1 / variances
    means, weights, squares = [], [], 0.0
    for rows in (inside, outside):
        total = weight[rows].sum()
        mean = float(weight[rows] @ slopes[rows] / total)
        squares += float(weight[rows] @ (slopes[rows] - mean) ** 2)
        means.append(mean)
        weights.append(float(total))
    n, n_rest = int(inside.sum()), int(outside.sum())
    freedom = n + n_rest - 2
    spread = max(squares / freedom, 1e-12)
    error = (spread * (1 / weights[0] + 1 / weights[1])) ** 0.5
    value = means[0] - means[1]
    reach = float(stats.t.ppf(0.975, freedom)) * error
    return Difference(
        section=section,
        ensemble=ensemble,
        value=value,
        low=value - reach,
        high=value + reach,
        chance=float(stats.t.cdf(value / error, freedom)),
        mean=means[0],
        mean_variance=spread / weights[0],
        n=n,
        n_rest=n_rest,
    )
