"""Which fewest double ratings would let raters be compared who now cannot be. Pure.

Raters fall into comparable classes; one fewer pairs than classes joins them all. Each of a
pair rates some takes of one section that only the other has rated: "rate 6 of each other's
trumpets". How many follows from the model, so that the difference has a useful error.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from standlight.ratings.comparable import comparable_classes
from standlight.ratings.given import GivenRating
from standlight.ratings.rating_information import (
    RatingInformation,
    TakeRow,
    directors_rows,
    rating_information,
)

ASKED_HALF_WIDTH_POINTS = 0.35
"""To each side of a joined difference, 95 times of 100: a third of a level is the smallest
difference that the pages speak of (our choice)."""

NORMAL_95 = 1.96
"""Standard errors to each side that hold a normal truth 95 times of 100."""

JOINS_BECAUSE = {
    "": "The joins are what to do.",
    "one_rater": "Only one person has rated, so there is nobody to join.",
    "joined": "All raters can be compared already.",
    "one_level": "Only one level was ever given, so nothing can be told.",
    "no_ratings": "No director has rated yet.",
}


@dataclass(frozen=True, slots=True)
class Join:
    """``rater`` rates ``takes``, which so far ``other`` rated and ``rater`` did not.

    They are of one ``section`` and ``task`` where that has enough of them; ``task`` is empty
    where it takes several, ``section`` and ``instrument`` too where it takes the ``ensemble``.
    """

    rater: str
    other: str
    ensemble: str
    section: str
    instrument: str
    task: str
    n_takes: int
    takes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class JoinPlan:
    """``joins``, the ``classes`` of raters they join, and a code of `JOINS_BECAUSE`.

    ``half_width`` is to each side of a joined difference (rating points), ``None`` without.
    """

    joins: tuple[Join, ...]
    classes: tuple[tuple[str, ...], ...]
    half_width: float | None
    because: str


def joins(given: Sequence[GivenRating]) -> tuple[Join, ...]:
    """The fewest double ratings that join all raters; none where nothing is to be joined."""
    return join_plan(given).joins


def join_plan(
    given: Sequence[GivenRating], told: RatingInformation | None = None
) -> JoinPlan:
    """The same with the classes, and the code why there is none; ``told`` saves a fit."""
    rows = directors_rows(given)
    if not rows:
        return JoinPlan((), (), None, "no_ratings")
    if len({row.rater for row in rows}) == 1:
        return JoinPlan((), ((rows[0].rater,),), None, "one_rater")
    told = told or rating_information(rows)
    if told is None:
        return JoinPlan((), (), None, "one_level")
    classes = comparable_classes(told.estimate.design.ratings).facets["rater"]
    if len(classes) == 1:
        return JoinPlan((), classes, None, "joined")
    pairs = _tree(classes, told.takes, _n_each(told, told.takes))
    found = tuple(join for pair in pairs for join in _both_ways(told, *pair))
    return JoinPlan(found, classes, _half_width(told, found), "")


def with_joins(given: Sequence[GivenRating], joined: Iterable[Join]) -> tuple[GivenRating, ...]:
    """``given`` as it would be with the double ratings of ``joined``, same levels again."""
    rows = directors_rows(given)
    more = {
        (row.take, row.criterion, join.rater): replace(row, rater=join.rater)
        for join in joined
        for row in rows
        if row.take in join.takes
    }
    return (*given, *more.values())


def _n_each(told: RatingInformation, takes: Sequence[TakeRow]) -> int:
    """Takes that each of two raters must rate of the other's.

    A take rated by both tells half of one rater's information of it about their difference.
    """
    return math.ceil(_n_asked(told, takes) / 2)


def _n_asked(told: RatingInformation, takes: Sequence[TakeRow]) -> int:
    """Takes that two raters must both rate for the asked error."""
    error = ASKED_HALF_WIDTH_POINTS / NORMAL_95 / told.points_per_logit
    each = float(np.mean([take.information for take in takes])) / 2
    return math.ceil(1 / (error**2 * each))


def _half_width(told: RatingInformation, found: Sequence[Join]) -> float | None:
    """The widest half interval (rating points) of the pairs that ``found`` joins."""
    information = {take.take: take.information for take in told.takes}
    pairs: dict[frozenset[str], float] = {}
    for join in found:
        key = frozenset((join.rater, join.other))
        gained = sum(information[take] for take in join.takes) / 2
        pairs[key] = pairs.get(key, 0.0) + gained
    if not pairs:
        return None
    return NORMAL_95 * told.points_per_logit / min(pairs.values()) ** 0.5


def _tree(
    classes: Sequence[tuple[str, ...]], takes: Sequence[TakeRow], n_each: int
) -> tuple[tuple[str, str], ...]:
    """One pair of raters fewer than classes, those with the most to hear of each other."""
    label = {rater: number for number, group in enumerate(classes) for rater in group}
    pairs = [pair for pair in combinations(sorted(label), 2) if label[pair[0]] != label[pair[1]]]
    chosen = []
    for pair in sorted(pairs, key=lambda each: (*_worth(takes, *each, n_each), each)):
        one, other = label[pair[0]], label[pair[1]]
        if one != other:
            chosen.append(pair)
            label = {name: one if at == other else at for name, at in label.items()}
    return tuple(chosen)


def _worth(takes: Sequence[TakeRow], rater: str, other: str, n_each: int) -> tuple[int, int]:
    """Less is better: whether no instrument is shared, then how many takes are wanting."""
    there, back = _of(takes, other, rater), _of(takes, rater, other)
    wanting = max(n_each - len(there), 0) + max(n_each - len(back), 0)
    return int(not _shared_instruments(there, back, n_each)), wanting


def _of(takes: Sequence[TakeRow], rated_by: str, not_by: str) -> list[TakeRow]:
    """Takes that the one rated and the other did not."""
    return [each for each in takes if rated_by in each.raters and not_by not in each.raters]


def _shared_instruments(
    there: Sequence[TakeRow], back: Sequence[TakeRow], n_each: int
) -> frozenset[str]:
    """Instruments of which both sides hold enough takes."""
    counts = [
        {name: sum(take.instrument == name for take in side) for name in _instruments(side)}
        for side in (there, back)
    ]
    both = counts[0].keys() & counts[1].keys()
    return frozenset(name for name in both if min(counts[0][name], counts[1][name]) >= n_each)


def _instruments(takes: Iterable[TakeRow]) -> set[str]:
    """The instruments heard in ``takes``."""
    return {take.instrument for take in takes}


def _both_ways(told: RatingInformation, rater: str, other: str) -> Iterator[Join]:
    """A join each way; one way more where the other side has too few takes."""
    there, back = _of(told.takes, other, rater), _of(told.takes, rater, other)
    n_each = _n_each(told, [*there, *back])
    n_there = min(len(there), max(n_each, 2 * n_each - len(back)))
    n_back = min(len(back), 2 * n_each - n_there)
    shared = _shared_instruments(there, back, n_each)
    liked = frozenset(sorted(shared)[:1]) if shared else frozenset(_instruments([*there, *back]))
    for one, two, takes, n in ((rater, other, there, n_there), (other, rater, back, n_back)):
        if n:
            yield _join(one, two, takes, n, liked)


def _join(
    rater: str, other: str, takes: Sequence[TakeRow], n: int, liked: frozenset[str]
) -> Join:
    """``n`` of ``takes`` from the narrowest group that holds so many, spread over levels."""
    ensemble, section, instrument, task = min(
        _groups(takes), key=lambda group: _group_order(group, takes, n, liked)
    )
    group = _members(takes, (ensemble, section, instrument, task))
    chosen = _spread_over_levels(group, n)
    return Join(
        rater, other, ensemble, section, instrument, task, len(chosen),
        tuple(take.take for take in chosen),
    )  # fmt: skip


_Group = tuple[str, str, str, str]
"""Ensemble, section, instrument and task; an empty one holds all."""


def _groups(takes: Sequence[TakeRow]) -> set[_Group]:
    """Every group that a sentence can name, narrow and wide; the widest is all takes."""
    found: set[_Group] = {("", "", "", "")}
    for take in takes:
        own = (take.ensemble, take.section, take.instrument)
        found |= {(*own, take.task), (*own, ""), (take.ensemble, "", "", "")}
    return found


def _members(takes: Sequence[TakeRow], group: _Group) -> list[TakeRow]:
    """The takes of a group."""
    return [
        take
        for take in takes
        if all(
            not asked or asked == own
            for asked, own in zip(
                group, (take.ensemble, take.section, take.instrument, take.task), strict=True
            )
        )
    ]


def _group_order(
    group: _Group, takes: Sequence[TakeRow], n: int, liked: frozenset[str]
) -> tuple[bool, bool, int, float, _Group]:
    """Enough takes first, then the liked instrument, the narrowest, and the latest."""
    own = _members(takes, group)
    latest = max(take.day for take in own)
    return len(own) < n, group[2] not in liked, group.count(""), -latest, group


def _spread_over_levels(takes: Sequence[TakeRow], n: int) -> list[TakeRow]:
    """``n`` takes evenly over the levels given: of many musicians, and such as can tell much."""
    telling = sorted(takes, key=lambda take: (-take.information, take.take))
    heard: Counter[str] = Counter()
    turn = {}
    for take in telling:
        turn[take.take] = heard[take.student]
        heard[take.student] += 1
    # As few takes of one musician as give enough.
    last_turn = sorted(turn.values())[n - 1]
    pool = [take for take in telling if turn[take.take] <= last_turn]
    # A third may be left out: takes at the ends, of which two raters say the same anyway.
    kept = sorted(
        pool[: max(n, round(len(pool) * 2 / 3))], key=lambda take: (take.level, take.take)
    )
    places = np.unique(np.linspace(0, len(kept) - 1, n).round().astype(int))
    return [kept[place] for place in places]
