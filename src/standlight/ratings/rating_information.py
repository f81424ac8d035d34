"""What each rating tells: expected level, information, and how much a take shares. Pure.

The many-facet model is fitted once to the directors' levels. A rating's information (per
square logit) is its model variance; all levels of one take share its day, so a take's levels
tell less together than they would apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from standlight.errors import StandlightError
from standlight.ratings.facet_design import RATING_SCALE
from standlight.ratings.facets import FacetEstimate, estimate_facets
from standlight.ratings.given import DIRECTOR, GivenRating
from standlight.ratings.ratings_table import FACETS, Ratings, gather_ratings

MOST_DAY_VARIANCE = 4.0
"""Square logits: a take never shares more, whatever a small table says (our choice)."""

LEAST_INFORMATION = 1e-3
"""Floor of a rating's information (per square logit), so that no sum of it is zero."""


@dataclass(frozen=True, slots=True, eq=False)
class TakeRow:
    """One take as the directors rated it: ``raters`` in the order in which they did.

    ``level`` is the mean level, ``information`` (per square logit) what one rater's levels of
    it tell, ``n_criteria`` how many are rated.
    """

    take: str
    student: str
    ensemble: str
    section: str
    instrument: str
    task: str
    day: float
    raters: tuple[str, ...]
    level: float
    information: float
    n_criteria: int


@dataclass(frozen=True, slots=True, eq=False)
class RatingInformation:
    """The directors' ratings with what each tells; arrays are (ratings,) unless said.

    ``elements`` (ratings, 3) number the estimate's names; ``take`` and ``student`` number
    ``takes`` and the estimate's students; ``expected`` is in categories from 0;
    ``information`` is per square logit; ``day_variance`` (square logits) is what all levels
    of a take share; ``points_per_logit`` turns a small difference into rating points.
    """

    rows: tuple[GivenRating, ...]
    estimate: FacetEstimate
    takes: tuple[TakeRow, ...]
    elements: np.ndarray
    take: np.ndarray
    student: np.ndarray
    level: np.ndarray
    places: np.ndarray
    expected: np.ndarray
    information: np.ndarray
    day_variance: float
    points_per_logit: float


def directors_rows(given: Sequence[GivenRating]) -> tuple[GivenRating, ...]:
    """Ratings by directors only, the last level for a take, criterion and rater, sorted."""
    last: dict[tuple[str, str, str], GivenRating] = {}
    for row in given:
        key = (row.take, row.criterion, row.rater)
        if row.rater_class == DIRECTOR and (key not in last or _when(last[key]) < _when(row)):
            last[key] = row
    return tuple(last[key] for key in sorted(last))


def _when(row: GivenRating) -> tuple[float, int]:
    """Which of two levels is the last; at one time the higher, whatever the order of rows."""
    return row.given_day, row.level


def table_of_given(rows: Sequence[GivenRating]) -> Ratings:
    """The table that the many-facet model takes; ``StandlightError`` as `gather_ratings`."""
    return gather_ratings(
        [row.student for row in rows],
        [row.task for row in rows],
        [row.criterion for row in rows],
        [row.rater for row in rows],
        [row.level for row in rows],
        [row.ensemble for row in rows],
        [row.take for row in rows],
    )


def rating_information(
    given: Sequence[GivenRating], *, errors: bool = False
) -> RatingInformation | None:
    """Fit the directors' ratings and say what each tells; ``None`` when nothing can be told.

    That is without ratings, and when only one level was ever given. The estimate has its
    covariance only with ``errors``.
    """
    rows = directors_rows(given)
    try:
        estimate = estimate_facets(table_of_given(rows), RATING_SCALE, errors=errors)
    except StandlightError:
        return None
    ratings = estimate.design.ratings
    columns = [[row.task, row.criterion, row.rater] for row in rows]
    numbers = [{name: place for place, name in enumerate(names)} for names in ratings.names]
    elements = np.array(
        [[numbers[n][name] for n, name in enumerate(row)] for row in columns], dtype=np.int64
    )
    places = elements_places(estimate, elements)
    student = _numbered([row.student for row in rows], ratings.students)
    centre = estimate.posterior @ estimate.nodes
    spread = estimate.posterior @ estimate.nodes**2 - centre**2
    expected, information = level_moments(estimate, centre[student] - places)
    level = np.array([row.level for row in rows], dtype=float)
    category = np.searchsorted(np.array(ratings.levels), level).astype(float)
    names = tuple(sorted({row.take for row in rows}))
    take = _numbered([row.take for row in rows], names)
    day = _day_variance(take, category - expected, information, spread[student])
    steps = np.ptp(ratings.levels) / (len(ratings.levels) - 1)
    return RatingInformation(
        rows=rows,
        estimate=estimate,
        takes=_take_rows(rows, take, len(names), information),
        elements=elements,
        take=take,
        student=student,
        level=level,
        places=places,
        expected=expected,
        information=information,
        day_variance=day,
        points_per_logit=float(information.mean() * steps),
    )


def elements_places(estimate: FacetEstimate, elements: np.ndarray) -> np.ndarray:
    """(n,) how hard each rating was made (logits): task, criterion and rater together."""
    sizes = [len(names) for names in estimate.design.ratings.names]
    offsets = np.concatenate([[0], np.cumsum(sizes)])[: len(FACETS)]
    return estimate.parameters[elements + offsets].sum(axis=1)


def level_moments(estimate: FacetEstimate, above: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Expected category and information at ``above`` (logits), student minus what was asked."""
    cumulated = estimate.design.thresholds(estimate.parameters)[0]
    category = np.arange(len(cumulated))
    exponents = category * above[..., None] - cumulated
    chances = np.exp(exponents - exponents.max(axis=-1, keepdims=True))
    chances /= chances.sum(axis=-1, keepdims=True)
    mean = chances @ category
    return mean, np.maximum(chances @ category**2 - mean**2, LEAST_INFORMATION)


def _day_variance(
    take: np.ndarray, residual: np.ndarray, information: np.ndarray, spread: np.ndarray
) -> float:
    """Variance (square logits) that the levels of one take share, from pairs of them.

    Two residuals of a take have the covariance information x information x (day variance
    minus the student's own error), to first order; summed over all pairs.
    """

    def pairs(values: np.ndarray) -> np.ndarray:
        return np.bincount(take, values) ** 2 - np.bincount(take, values**2)

    weights = pairs(information)
    if weights.sum() <= 0:
        return 0.0
    own_error = np.bincount(take, spread) / np.bincount(take)
    found = (pairs(residual) + own_error * weights).sum() / weights.sum()
    return float(np.clip(found, 0.0, MOST_DAY_VARIANCE))


def _numbered(column: Sequence[str], names: Sequence[str]) -> np.ndarray:
    """The place of each of ``column`` in ``names``."""
    number = {name: place for place, name in enumerate(names)}
    return np.fromiter((number[name] for name in column), np.int64, len(column))


def _take_rows(
    rows: Sequence[GivenRating], take: np.ndarray, n_takes: int, information: np.ndarray
) -> tuple[TakeRow, ...]:
    """One row a take, in the order of the takes' numbers."""
    first: list[GivenRating | None] = [None] * n_takes
    raters: list[list[str]] = [[] for _ in range(n_takes)]
    criteria: list[set[str]] = [set() for _ in range(n_takes)]
    for place in sorted(range(len(rows)), key=lambda n: (rows[n].given_day, rows[n].rater)):
        row, number = rows[place], int(take[place])
        first[number] = first[number] or row
        criteria[number].add(row.criterion)
        if row.rater not in raters[number]:
            raters[number].append(row.rater)
    total = np.bincount(take, information)
    level = np.bincount(take, [row.level for row in rows]) / np.bincount(take)
    return tuple(
        TakeRow(
            take=row.take,
            student=row.student,
            ensemble=row.ensemble,
            section=row.section,
            instrument=row.instrument,
            task=row.task,
            day=row.day,
            raters=tuple(raters[number]),
            level=float(level[number]),
            information=float(total[number] / len(raters[number])),
            n_criteria=len(criteria[number]),
        )
        for number, row in enumerate(first)
        if row is not None
    )
