"""How well the ratings keep to the model, and how finely it tells elements apart. Pure.

Infit and outfit are mean squares about 1: above, less regular than the model expects;
below, more. Separations use the population standard deviation, as published ones do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standlight.ratings.facet_design import FacetDesign
from standlight.ratings.marginal import chances_at

LEAST_VARIANCE = 1e-9
"""Floor of a rating's model variance (square categories), so that no square is divided by 0."""


@dataclass(frozen=True, slots=True, eq=False)
class Residuals:
    """Of each rating: ``square`` (observed minus expected, squared), model ``variance``,
    ``chances`` (ratings, categories) and ``by_category`` squares of every category.
    """

    square: np.ndarray
    variance: np.ndarray
    chances: np.ndarray
    by_category: np.ndarray


@dataclass(frozen=True, slots=True)
class LevelUse:
    """How one level was used in one threshold group (``criterion`` empty: all criteria).

    ``student_mean`` is the mean place (logits) of students given it, ``None`` without any;
    ``outfit`` is the squares seen over the squares expected in it.
    """

    criterion: str
    level: int
    n_ratings: int
    share: float
    student_mean: float | None
    outfit: float | None


@dataclass(frozen=True, slots=True)
class Separation:
    """``separation``: true spread over error; ``reliability``: true over observed variance.

    ``None`` where there are fewer than two elements or their errors are unknown.
    """

    separation: float | None
    reliability: float | None


def residuals(design: FacetDesign, parameters: np.ndarray, places: np.ndarray) -> Residuals:
    """Residuals of every rating when students stand at ``places`` (logits)."""
    ratings = design.ratings
    chances = chances_at(design, parameters, places[ratings.student], design.cell)
    category = np.arange(chances.shape[1])
    mean = chances @ category
    by_category = (category[None, :] - mean[:, None]) ** 2
    variance = np.maximum((chances * by_category).sum(axis=1), LEAST_VARIANCE)
    return Residuals((ratings.category - mean) ** 2, variance, chances, by_category)


def infit_outfit(
    found: Residuals, element: np.ndarray, n_elements: int
) -> tuple[np.ndarray, np.ndarray]:
    """Infit and outfit (n_elements,) of the elements that ``element`` (ratings,) numbers.

    >>> one = np.ones(4)
    >>> both = infit_outfit(Residuals(2 * one, one, one, one), np.array([0, 0, 1, 1]), 2)
    >>> both[0].tolist(), both[1].tolist()
    ([2.0, 2.0], [2.0, 2.0])
    """

    def summed(values: np.ndarray) -> np.ndarray:
        return np.bincount(element, weights=values, minlength=n_elements)

    infit = summed(found.square) / summed(found.variance)
    outfit = summed(found.square / found.variance) / summed(np.ones(len(element)))
    return infit, outfit


def standardised_fit(
    found: Residuals, element: np.ndarray, n_elements: int
) -> tuple[np.ndarray, np.ndarray]:
    """Infit and outfit as z values (n_elements,), about standard normal where the model holds.

    Wilson and Hilferty's cube root with the model's spread of the mean squares (Wright &
    Masters 1982, chapter 5); nan where the model leaves the squares no spread.
    """

    def summed(values: np.ndarray) -> np.ndarray:
        return np.bincount(element, weights=values, minlength=n_elements)

    fourth = (found.chances * found.by_category**2).sum(axis=1)
    excess = np.maximum(fourth - found.variance**2, 0.0)
    spreads = (
        summed(excess) / summed(found.variance) ** 2,
        summed(excess / found.variance**2) / summed(np.ones(len(element))) ** 2,
    )
    squares = infit_outfit(found, element, n_elements)
    return tuple(map(_cube_root_z, squares, spreads))


def _cube_root_z(square: np.ndarray, spread: np.ndarray) -> np.ndarray:
    """The z value of a mean square whose variance is ``spread``; nan without any."""
    root = np.sqrt(np.where(spread > LEAST_VARIANCE, spread, np.nan))
    return (np.cbrt(square) - 1) * 3 / root + root / 3


def level_use(
    design: FacetDesign, found: Residuals, places: np.ndarray
) -> tuple[LevelUse, ...]:
    """Use of every level in every threshold group, in order."""
    ratings = design.ratings
    group = design.group[design.cell]
    names = ("",) if len(design.used) == 1 else ratings.names[1]
    rows = []
    for number, name in enumerate(names):
        own = group == number
        for category, level in enumerate(ratings.levels):
            here = own & (ratings.category == category)
            scaled = found.by_category[:, category] / found.variance
            expected = float((found.chances[own, category] * scaled[own]).sum())
            seen = float(scaled[here].sum())
            rows.append(
                LevelUse(
                    criterion=name,
                    level=level,
                    n_ratings=int(here.sum()),
                    share=float(here.sum() / max(own.sum(), 1)),
                    student_mean=(
                        float(places[ratings.student[here]].mean()) if here.any() else None
                    ),
                    outfit=seen / expected if expected > LEAST_VARIANCE else None,
                )
            )
    return tuple(rows)


def separation_of(measures: np.ndarray, errors: np.ndarray) -> Separation:
    """Separation and reliability of ``measures`` (n,) with standard ``errors`` (n,).

    >>> found = separation_of(np.array([-2.0, 0.0, 2.0]), np.array([1.0, 1.0, 1.0]))
    >>> round(found.separation, 3), round(found.reliability, 3)
    (1.291, 0.625)
    >>> separation_of(np.array([1.0]), np.array([0.2]))
    Separation(separation=None, reliability=None)
    """
    if len(measures) < 2:
        return Separation(None, None)
    observed = float(np.var(measures))
    error = float(np.mean(errors**2))
    if not np.isfinite(error) or error <= 0 or observed <= 0:
        return Separation(None, None)
    true = max(observed - error, 0.0)
    return Separation((true / error) ** 0.5, true / observed)


def shrunken_reliability(eap: np.ndarray, errors: np.ndarray) -> float | None:
    """Reliability of shrunken estimates: their variance over it and the mean error square."""
    spread, error = float(np.var(eap)), float(np.mean(errors**2))
    return spread / (spread + error) if spread + error > 0 else None


def real_errors(errors: np.ndarray, infit: np.ndarray) -> np.ndarray:
    """Standard errors widened where ratings are less regular than the model expects.

    >>> real_errors(np.array([0.2, 0.2]), np.array([4.0, 0.5])).tolist()
    [0.4, 0.2]
    """
    return errors * np.sqrt(np.maximum(infit, 1.0))
