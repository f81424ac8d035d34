"""From levels to places on one scale: each take's place with its error, freed of rater and
criterion. Pure.

The take is the object of the facet fit, because the criteria of one take share the day. Each
sitting is a population of its own there, so neither the task's difficulty nor what everyone
learned leans on the scale.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from standlight.ratings.facet_design import RATING_SCALE
from standlight.ratings.facets import estimate_facets
from standlight.ratings.ratings_table import Ratings

WIDEST_PLACE = 12.0
"""No take's place leaves this range (logits)."""

LEAST_INFORMATION = 0.05
"""Floor of a take's information (1 / square logits): where a line foretells only the highest
level, a lower one would else throw the line as far as division by nothing can. Our choice."""

_STEPS = 45


@dataclass(frozen=True, slots=True, eq=False)
class Scale:
    """The thresholds, and each criterion's and rater's place (logits) on the levels given."""

    levels: np.ndarray
    cumulated: np.ndarray
    criteria: dict[str, float]
    raters: dict[str, float]
    remarks: tuple[str, ...]

    def points(self, place: np.ndarray, criterion: str) -> np.ndarray:
        """Expected level at ``place`` of ``criterion``, of all on average when it is empty."""
        names = [criterion] if criterion else sorted(self.criteria)
        place = np.asarray(place, dtype=float)
        total = np.zeros(place.shape)
        for name in names:
            total += self.chances(place.ravel() - self.criteria[name]).reshape(
                (*place.shape, -1)
            ) @ self.levels
        return total / len(names)

    def chances(self, place: np.ndarray) -> np.ndarray:
        """Chances (n, levels) at ``place`` (n,), criterion and rater taken off already."""
        exponents = np.arange(len(self.levels)) * place[:, None] - self.cumulated
        chances = np.exp(exponents - exponents.max(axis=1, keepdims=True))
        return chances / chances.sum(axis=1, keepdims=True)


@dataclass(frozen=True, slots=True, eq=False)
class Levels:
    """Levels by number: ``unit`` (n,) is the point they speak of, ``category`` from 0 along the
    scale, ``offset`` (n,) criterion and rater (logits).
    """

    unit: np.ndarray
    category: np.ndarray
    offset: np.ndarray
    n_units: int


def scale_of(ratings: Ratings) -> Scale:
    """The scale that ``ratings`` (takes as students, sittings as ensembles) share."""
    found = estimate_facets(ratings, RATING_SCALE, errors=False)
    return Scale(
        levels=np.array(found.design.ratings.levels, dtype=float),
        cumulated=found.design.thresholds(found.parameters)[0],
        criteria=found.facet("criterion"),
        raters=found.facet("rater"),
        remarks=found.remarks,
    )


def moments(scale: Scale, levels: Levels, place: np.ndarray) -> tuple[np.ndarray, ...]:
    """Observed minus expected, information and third moment of each unit (units,) at its
    ``place`` (units,).
    """
    chances = scale.chances(place[levels.unit] - levels.offset)
    category = np.arange(chances.shape[1])
    mean = chances @ category
    away = category[None, :] - mean[:, None]

    def summed(values: np.ndarray) -> np.ndarray:
        return np.bincount(levels.unit, weights=values, minlength=levels.n_units)

    return (
        summed(levels.category - mean),
        summed((chances * away**2).sum(axis=1)),
        summed((chances * away**3).sum(axis=1)),
    )


def warm_places(scale: Scale, levels: Levels) -> tuple[np.ndarray, np.ndarray]:
    """Warm's estimate of each unit and its error variance (Warm 1989); extremes are finite."""
    low = np.full(levels.n_units, -WIDEST_PLACE)
    high = np.full(levels.n_units, WIDEST_PLACE)
    for _ in range(_STEPS):
        middle = (low + high) / 2
        rest, information, third = moments(scale, levels, middle)
        up = rest + third / (2 * np.maximum(information, 1e-12)) > 0
        low, high = np.where(up, middle, low), np.where(up, high, middle)
    place = (low + high) / 2
    return place, 1 / np.maximum(moments(scale, levels, place)[1], LEAST_INFORMATION)


def places_near(scale: Scale, levels: Levels, near: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Each unit's place as seen from ``near`` (units,): one step of scoring, and its variance.

    From where a line foretells a take, its few levels are told without the bias that an
    estimate from them alone has; the step's expectation is right even for one level.
    """
    rest, information, _ = moments(scale, levels, near)
    information = np.maximum(information, LEAST_INFORMATION)
    return near + rest / information, 1 / information


def moved(levels: Levels, rows: np.ndarray, unit: np.ndarray, n_units: int) -> Levels:
    """The levels of some ``rows``, speaking of other units."""
    return replace(
        levels, unit=unit, category=levels.category[rows], offset=levels.offset[rows],
        n_units=n_units,
    )  # fmt: skip
