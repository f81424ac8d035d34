"""Which takes a second person should rate, when there are only so many minutes. Pure.

Greedy: each pick is the take and the second rater that most shrink the mean error of the
differences between raters, spread over sections and levels.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np

from standlight.ratings.comparable import comparable_classes
from standlight.ratings.double_choice import DoubleChoice
from standlight.ratings.given import GivenRating
from standlight.ratings.rating_information import (
    RatingInformation,
    directors_rows,
    rating_information,
    table_of_given,
)
from standlight.ratings.ratings_table import Ratings

BALANCE = 1.5
"""How many times its even share of the picks a section or a level may have (our choice)."""

DOUBLES_BECAUSE = {
    "": "The picks are what to do.",
    "one_rater": "Only one person has rated, so there is no second one to ask.",
    "one_level": "Only one level was ever given, so nothing can be told.",
    "no_ratings": "No director has rated yet.",
    "no_minutes": "The minutes are too few for one take.",
    "all_twice": "Every take was rated by everybody already.",
}


@dataclass(frozen=True, slots=True)
class Pick:
    """``second_rater`` rates ``take``, which ``first_rater`` rated."""

    take: str
    student: str
    task: str
    first_rater: str
    second_rater: str


@dataclass(frozen=True, slots=True)
class DoublePlan:
    """``picks``, the most telling first, and the standard error of a difference between raters.

    In rating points, over all pairs (root of the mean square); ``None`` where the raters
    cannot be compared at all. ``because`` is a code of `DOUBLES_BECAUSE`.
    """

    picks: tuple[Pick, ...]
    error_before: float | None
    error_after: float | None
    because: str


def worth_hearing_twice(
    given: Sequence[GivenRating], minutes: float, minutes_a_take: float
) -> DoublePlan:
    """What to rate twice in ``minutes`` of everybody's time together, by whom."""
    rows = directors_rows(given)
    n_raters = len({row.rater for row in rows})
    if n_raters < 2:
        return DoublePlan((), None, None, "one_rater" if rows else "no_ratings")
    told = rating_information(rows)
    if told is None:
        return DoublePlan((), None, None, "one_level")
    choice = DoubleChoice(told)
    joined = _are_joined(told.estimate.design.ratings)
    before = _error(told, choice) if joined else None
    n_asked = _n_takes(minutes, minutes_a_take, len(choice.takes))
    picks = _greedy(told, choice, n_asked)
    if not picks:
        because = "no_minutes" if len(choice.takes) else "all_twice"
        return DoublePlan((), before, before, because)
    joined = joined or _are_joined(table_of_given([*rows, *_second(rows, picks)]))
    return DoublePlan(picks, before, _error(told, choice) if joined else None, "")


def _n_takes(minutes: float, minutes_a_take: float, most: int) -> int:
    """How many takes fit into ``minutes``."""
    if not (minutes > 0 and minutes_a_take > 0 and math.isfinite(minutes_a_take)):
        return 0
    # A hair more, so that 0.3 minutes hold three takes of 0.1.
    return int(min(minutes / minutes_a_take + 1e-9, most))


def _greedy(told: RatingInformation, choice: DoubleChoice, n: int) -> tuple[Pick, ...]:
    """``n`` picks, each the best that is left where its section and level have their share."""
    sections = [(take.ensemble, take.section) for take in told.takes]
    levels = [round(take.level) for take in told.takes]
    shares = [_Share(keys, choice.takes, n) for keys in (sections, levels)]
    names = told.estimate.design.ratings.names[2]
    open_ = np.ones(len(choice.takes), dtype=bool)
    picks = []
    while len(picks) < n and open_.any():
        gains = np.where(_allowed(open_, shares), choice.gains(), -1.0)
        best = int(gains.argmax())
        take = told.takes[choice.takes[best]]
        choice.choose(best)
        # One second look at a take: a third tells less than the first of another one.
        open_ &= choice.takes != choice.takes[best]
        for share in shares:
            share.count(best)
        second = names[choice.raters[best]]
        picks.append(Pick(take.take, take.student, take.task, take.raters[0], second))
    return tuple(picks)


class _Share:
    """How many picks each section (or level) may still have."""

    __slots__ = ("_left", "_number")

    def __init__(self, keys: Sequence[Hashable], takes: np.ndarray, n: int) -> None:
        """``keys`` (takes,) and the take of each candidate."""
        number = {key: place for place, key in enumerate(Counter(keys))}
        self._number = np.array([number[key] for key in keys], dtype=np.int64)[takes]
        self._left = np.full(len(number), math.ceil(BALANCE * n / len(number)))

    def allowed(self) -> np.ndarray:
        """(candidates,) whether the candidate's section may have one more."""
        return self._left[self._number] > 0

    def count(self, candidate: int) -> None:
        """One pick less for the candidate's section."""
        self._left[self._number[candidate]] -= 1


def _allowed(open_: np.ndarray, shares: Sequence[_Share]) -> np.ndarray:
    """Candidates within all shares; within the sections' only, or any, before none at all."""
    masks = [share.allowed() for share in shares]
    for allowed in (open_ & masks[0] & masks[1], open_ & masks[0]):
        if allowed.any():
            return allowed
    return open_


def _are_joined(ratings: Ratings) -> bool:
    """Whether every rater can be compared with every other."""
    return len(comparable_classes(ratings).facets["rater"]) == 1


def _error(told: RatingInformation, choice: DoubleChoice) -> float:
    """Standard error of a difference between two raters (rating points)."""
    return float(choice.mean_variance() ** 0.5 * told.points_per_logit)


def _second(rows: Sequence[GivenRating], picks: Sequence[Pick]) -> list[GivenRating]:
    """The rows that ``picks`` would add, with the levels given already."""
    second = {pick.take: pick.second_rater for pick in picks}
    more = {
        (row.take, row.criterion): GivenRating(
            row.student, row.ensemble, row.section, row.instrument, row.task, row.take,
            row.day, row.given_day, row.criterion, second[row.take], row.level,
        )
        for row in rows
        if row.take in second
    }  # fmt: skip
    return list(more.values())
