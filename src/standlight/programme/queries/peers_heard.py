"""How a group heard takes: counts of levels, and how near they are to a director's, in words.

Takes stay apart and nobody is ranked: no page says who of the musicians hears like the director.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from standlight.criteria import CRITERIA
from standlight.programme.models import Account, GivenLevel, PeerLevel, PeerRound
from standlight.programme.queries.calibration import why_of
from standlight.programme.queries.standing import seats_of
from standlight.ratings.agreement_pairs import percent_agreement
from standlight.ratings.levels import LEVEL_NAMES, level_name
from standlight.ratings.nearness import FEWEST_TO_LEAN, Nearness, nearness

Levels = Mapping[str, Sequence[str]]
"""Criterion to the values that the group gave one take."""


@dataclass(frozen=True, slots=True)
class LevelCount:
    """One level: how often the group gave it, how often the director did."""

    word: str
    by_group: int
    by_director: int


@dataclass(frozen=True, slots=True)
class CriterionHeard:
    """One criterion over all takes that may be shown."""

    name: str
    counts: tuple[LevelCount, ...]


@dataclass(frozen=True, slots=True)
class TakeHeard:
    """One take: per criterion its name, the group's levels in words, the director's."""

    turn_pk: int
    musician: str
    rows: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class GroupHeard:
    """What a director may read: only takes that they have rated themself; how many wait."""

    n_shown: int
    n_hidden: int
    criteria: tuple[CriterionHeard, ...]
    takes: tuple[TakeHeard, ...]
    sentences: tuple[str, ...]
    why: tuple[str, ...]


def peer_levels(row: PeerRound) -> dict[int, dict[str, list[str]]]:
    """Turn to criterion to the standing values that musicians sent. One query."""
    found: dict[int, dict[str, list[str]]] = {}
    rows = PeerLevel.objects.filter(hearing__round=row, retired_at__isnull=True)
    for turn, criterion, value in rows.order_by("pk").values_list(
        "hearing__turn_id", "criterion", "value"
    ):
        found.setdefault(turn, {}).setdefault(criterion, []).append(value)
    return found


def group_heard(account: Account, row: PeerRound) -> GroupHeard:
    """How the group heard the takes that ``account`` has rated, beside their own levels."""
    given = peer_levels(row)
    own: dict[int, dict[str, str]] = {}
    for turn, criterion, value in GivenLevel.objects.filter(
        turn__in=given, rater=account, retired_at__isnull=True, criterion__in=row.criteria
    ).values_list("turn_id", "criterion", "value"):
        own.setdefault(turn, {})[criterion] = value
    shown = [turn for turn in given if set(row.criteria) <= set(own.get(turn, {}))]
    pairs = [_pairs(row.criteria, given[turn], own[turn]) for turn in shown]
    found = nearness(pairs)
    return GroupHeard(
        len(shown),
        len(given) - len(shown),
        tuple(_criterion(key, [given[t] for t in shown], [own[t] for t in shown])
              for key in row.criteria),
        _by_take(row, {turn: (given[turn], own[turn]) for turn in shown}),
        (*near_sentences(found), *among_sentences([given[turn] for turn in shown])),
        (*why_of(found), *_why_among([given[turn] for turn in shown])) if found.n else (),
    )  # fmt: skip


def counted(values: Iterable[str]) -> str:
    """Levels with how often each was given, the lowest first, then the answers that are none.

    >>> counted(["3", "2", "3", "not_heard"])
    'Developing 1, Secure 2, Could not be heard 1'
    """
    counts = Counter(values)
    return ", ".join(f"{level_name(value)} {counts[value]}" for value in sorted(counts))


def near_sentences(found: Nearness) -> tuple[str, ...]:
    """How near the group's levels come to the director's, in words.

    >>> near_sentences(nearness([[(3, 3), (2, 3)]]))[0]
    '1 of 2 levels that they gave is the same as yours, 2 are at most one apart.'
    """
    if not found.n:
        return ()
    same = "is" if found.n_same == 1 else "are"
    near = "is" if found.n_within_one == 1 else "are"
    return (
        f"{found.n_same} of {found.n} levels that they gave {same} the same as yours, "
        f"{found.n_within_one} {near} at most one apart.",
        LEAN_SENTENCES[found.leans] if found.can_lean else TOO_FEW,
    )


LEAN_SENTENCES: Mapping[int, str] = {
    -1: "Take by take the group is stricter than you, more than chance would make it.",
    0: "Take by take the group leans neither way beyond chance.",
    1: "Take by take the group is milder than you, more than chance would make it.",
}
"""Which way a group's ear leans, by ``Nearness.leans``."""

TOO_FEW = (
    f"Too few takes to say whether the group is milder or stricter than you: it takes "
    f"{FEWEST_TO_LEAN}."
)


def among_sentences(takes: Sequence[Levels]) -> tuple[str, ...]:
    """How alike two are who heard the same take, in words; nothing where no two did.

    >>> among_sentences([{"rhythm": ["3", "3", "2"]}])
    ('Where two of them heard the same take, they gave the same level 1 of 3 times.',)
    """
    pairs = [pair for grid in _grids(takes) for pair in combinations(grid, 2)]
    if not pairs:
        return ()
    same = sum(one == other for one, other in pairs)
    return (
        f"Where two of them heard the same take, they gave the same level {same} of "
        f"{len(pairs)} times.",
    )


def _why_among(takes: Sequence[Levels]) -> tuple[str, ...]:
    """The figure behind `among_sentences`, with its interval."""
    grids = [grid for grid in _grids(takes) if len(grid) > 1]
    if not grids:
        return ()
    widest = max(map(len, grids))
    same = percent_agreement([[*grid, *[None] * (widest - len(grid))] for grid in grids])
    if same.estimate is None or same.low is None or same.high is None:
        return (f"Among themselves: {same.because}",)
    return (
        f"Among themselves: the same level in {same.estimate:.0%} of pairs, likely between "
        f"{same.low:.0%} and {same.high:.0%}.",
    )


def _grids(takes: Sequence[Levels]) -> list[list[int]]:
    """The levels that one take got for one criterion, each take and criterion a row."""
    return [
        [int(value) for value in values if value.isdigit()]
        for take in takes
        for values in take.values()
    ]


def _pairs(
    criteria: Iterable[str], given: Levels, own: Mapping[str, str]
) -> list[tuple[int, int]]:
    """Each of the group's levels beside the director's; not shown and not heard are none."""
    return [
        (int(value), int(own[key]))
        for key in criteria
        for value in given.get(key, ())
        if value.isdigit() and own[key].isdigit()
    ]


def _criterion(
    key: str, given: Iterable[Levels], own: Iterable[Mapping[str, str]]
) -> CriterionHeard:
    """Counts by level of one criterion."""
    group = Counter(value for take in given for value in take.get(key, ()))
    director = Counter(levels[key] for levels in own)
    return CriterionHeard(
        CRITERIA[key].name,
        tuple(
            LevelCount(name, group[str(level)], director[str(level)])
            for level, name in LEVEL_NAMES.items()
        ),
    )


def _by_take(
    row: PeerRound, shown: Mapping[int, tuple[Levels, Mapping[str, str]]]
) -> tuple[TakeHeard, ...]:
    """Take by take in the order of the roster. Two queries."""
    owners = dict(
        row.check_row.turns.filter(pk__in=list(shown)).values_list("musician_id", "pk")
    )
    names = {seat.musician_pk: seat.name for seat in seats_of(row.check_row.ensemble)}
    return tuple(
        TakeHeard(
            owners[musician],
            name,
            tuple(
                (
                    CRITERIA[key].name,
                    counted(shown[owners[musician]][0].get(key, ())),
                    level_name(shown[owners[musician]][1][key]),
                )
                for key in row.criteria
            ),
        )
        for musician, name in names.items()
        if musician in owners
    )
