"""Who is stricter than whom, in rating points, and whether the ratings can say so. Pure.

Each take is an object of its own, so that what its criteria share (a day, an impression)
does not pass for news; every rater has a place in every criterion, and over all criteria the
mean of them. Errors are the larger of the model's and of those with the scores summed by
musician. Where two raters share no take the figure rests on who heard whom; then it is never
sure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.special import ndtri

from standlight.errors import StandlightError
from standlight.ratings.comparable import comparable_classes
from standlight.ratings.facet_design import RATING_SCALE, extreme_elements
from standlight.ratings.facets import FAR_LOGITS, FacetEstimate, estimate_facets
from standlight.ratings.given import DIRECTOR, GivenRating
from standlight.ratings.ratings_table import gather_ratings
from standlight.ratings.robust_errors import clustered_covariance
from standlight.ratings.take_effects import points_of

MOST_WRONG = 0.05
"""Share of tables in which any interval may miss; split evenly over all contrasts told
(Bonferroni)."""

FEWEST_COMMON = 3
"""Takes both heard below which nothing is sure: our choice."""

RECENT_DAYS = 30.0
"""Days before the newest level that are "this month"."""

NOT_COMPARABLE, FEW_COMMON, ALL_EXTREME, NO_MEASURE = (
    "not_comparable", "few_common_takes", "all_extreme", "no_measure",
)  # fmt: skip
BECAUSE = {
    NOT_COMPARABLE: "no musician or task joins these two raters",
    FEW_COMMON: "they share hardly a take, so the figure rests on who heard whom",
    ALL_EXTREME: "one of them gave only the lowest or only the highest level",
    NO_MEASURE: "these levels tell nothing apart",
}
"""Why there is no figure, or (few common takes) why it is not sure."""


@dataclass(frozen=True, slots=True)
class RaterContrast:
    """``rater`` against ``other`` on ``criterion`` ("" = the mean over all they share).

    ``stricter_by`` rating points (+ = ``rater`` is stricter) with an interval that holds for
    all contrasts together; ``sure`` when it stays off zero. Without a figure, ``because``.
    """

    rater: str
    other: str
    criterion: str
    n_common_takes: int
    stricter_by: float | None = None
    low: float | None = None
    high: float | None = None
    comparable: bool = True
    sure: bool = False
    because: str = ""


def rater_contrasts(
    given: Sequence[GivenRating], since_day: float | None = None
) -> tuple[RaterContrast, ...]:
    """Every pair of directors, over all and by criterion; levels given from ``since_day`` on.

    None without two raters.
    """
    since = float("-inf") if since_day is None else since_day
    given = [
        each for each in given if each.rater_class == DIRECTOR and each.given_day >= since
    ]
    asked = _asked(given)
    if not asked:
        return ()
    try:
        places = _Places(given)
    except StandlightError:
        return tuple(
            RaterContrast(*pair, criterion, n, because=NO_MEASURE)
            for *pair, criterion, _, n in asked
        )
    quantile = -float(ndtri(MOST_WRONG / len(asked) / 2))
    return tuple(
        places.contrast(rater, other, criterion, criteria, n, quantile)
        for rater, other, criterion, criteria, n in asked
    )


def recent_contrasts(given: Sequence[GivenRating]) -> tuple[RaterContrast, ...]:
    """Contrasts of the levels given in the last ``RECENT_DAYS``, where enough takes are common.

    None while all levels are that young: they are in ``rater_contrasts`` already.
    """
    days = [each.given_day for each in given if each.rater_class == DIRECTOR]
    since = max(days, default=0.0) - RECENT_DAYS
    if not days or min(days) >= since:
        return ()
    found = rater_contrasts(given, since)
    return tuple(each for each in found if each.n_common_takes >= FEWEST_COMMON)


def _asked(
    given: Sequence[GivenRating],
) -> list[tuple[str, str, str, tuple[str, ...], int]]:
    """(rater, other, criterion or "", criteria averaged, common takes) of every contrast."""
    takes: dict[str, dict[str, set[tuple[str, str]]]] = {}
    for each in given:
        own = takes.setdefault(each.rater, {}).setdefault(each.criterion, set())
        own.add((each.student, each.take))
    asked = []
    for rater, other in combinations(sorted(takes), 2):
        shared = tuple(sorted(set(takes[rater]) & set(takes[other])))
        if not shared:
            continue
        common = {name: takes[rater][name] & takes[other][name] for name in shared}
        asked.append((rater, other, "", shared, len(set().union(*common.values()))))
        if len(shared) > 1:
            asked += [(rater, other, name, (name,), len(common[name])) for name in shared]
    return asked


class _Places:
    """Every rater's place in every criterion, with errors, from one fit."""

    __slots__ = ("_class_of", "_covariance", "_estimate", "_extreme", "_number", "_start")

    def __init__(self, given: Sequence[GivenRating]) -> None:
        """Fit the levels; ``StandlightError`` when nothing can be told apart."""
        students = [each.student for each in given]
        takes = [f"{each.student}\n{each.take}" for each in given]
        rest = (
            [each.task for each in given], [""] * len(given),
            [_key(each.rater, each.criterion) for each in given],
            [each.level for each in given], [each.ensemble for each in given],
        )  # fmt: skip
        joined = comparable_classes(gather_ratings(students, *rest, takes)).facets["rater"]
        self._class_of = {name: place for place, names in enumerate(joined) for name in names}
        self._estimate: FacetEstimate = estimate_facets(
            gather_ratings(takes, *rest, takes), RATING_SCALE
        )
        ratings = self._estimate.design.ratings
        student_of = dict(zip(takes, students, strict=True))
        _, cluster = np.unique([student_of[take] for take in ratings.students],
                               return_inverse=True)  # fmt: skip
        self._number = {name: place for place, name in enumerate(ratings.names[2])}
        self._start = len(ratings.names[0]) + len(ratings.names[1])
        own = slice(self._start, self._start + len(self._number))
        self._covariance = (
            self._estimate.covariance[own, own],
            clustered_covariance(self._estimate, cluster)[own, own],
        )
        self._extreme = {
            ratings.names[2][number]
            for facet, number in extreme_elements(self._estimate.design)
            if facet == 2
        }

    def contrast(
        self, rater: str, other: str, criterion: str, criteria: Sequence[str],
        n_common: int, quantile: float,
    ) -> RaterContrast:  # fmt: skip
        """One contrast, the mean over ``criteria``."""
        pairs = [(_key(rater, name), _key(other, name)) for name in criteria]
        if not all(self._joined(*pair) for pair in pairs):
            return RaterContrast(
                rater, other, criterion, n_common, comparable=False, because=NOT_COMPARABLE
            )
        pairs = [pair for pair in pairs if not self._extreme & set(pair)]
        if not pairs:
            return RaterContrast(rater, other, criterion, n_common, because=ALL_EXTREME)
        weights = np.zeros(len(self._number))
        for one, two in pairs:
            weights[self._number[one]] += 1 / len(pairs)
            weights[self._number[two]] -= 1 / len(pairs)
        places = self._estimate.parameters[self._start : self._start + len(weights)]
        found = float(weights @ places)
        error = max(float(weights @ each @ weights) for each in self._covariance) ** 0.5
        if abs(found) + quantile * error > FAR_LOGITS:
            return RaterContrast(rater, other, criterion, n_common, because=NO_MEASURE)
        at, low, high = (
            points_of(self._estimate, logits)
            for logits in (found, found - quantile * error, found + quantile * error)
        )
        few = n_common < FEWEST_COMMON
        return RaterContrast(
            rater, other, criterion, n_common, at, low, high,
            sure=not few and (low > 0 or high < 0), because=FEW_COMMON if few else "",
        )  # fmt: skip

    def _joined(self, one: str, two: str) -> bool:
        """Whether the ratings put both on one scale."""
        return (
            one in self._class_of and two in self._class_of
            and self._class_of[one] == self._class_of[two]
        )  # fmt: skip


def _key(rater: str, criterion: str) -> str:
    """A rater in one criterion, as one element of the fit."""
    return f"{rater}\n{criterion}"
