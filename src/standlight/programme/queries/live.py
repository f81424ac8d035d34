"""The live form: who is still to be heard, and a row of criteria for up to eight at once."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from django.db.models import Max
from django.utils import timezone

from standlight.criteria import CRITERIA
from standlight.programme.actions.live import MOST_AT_ONCE
from standlight.programme.models import (
    CommentLine,
    Musician,
    PlayingCheck,
    Turn,
)
from standlight.programme.queries.desk import LEVEL_KEYS
from standlight.programme.queries.passages import passages_by_musician, where_printed
from standlight.programme.queries.standing import (
    NOT_ASKED,
    OPEN,
    SeatRow,
    one_seat_each,
    seats_of,
    standing,
    turns_of,
)
from standlight.ratings import LEVEL_NAMES, NO_LEVEL_NAMES


@dataclass(frozen=True, slots=True)
class LiveChoice:
    """One level to tap: stored value, what the button says, the whole word."""

    value: str
    key: str
    word: str


@dataclass(frozen=True, slots=True)
class LiveCriterion:
    """A criterion as a column, its four descriptors beside it."""

    key: str
    name: str
    question: str
    descriptors: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class LiveCell:
    """A musician's criterion: its name, the form's field, and what is tapped already."""

    name: str
    field: str
    given: str


@dataclass(frozen=True, slots=True)
class LiveRow:
    """A musician at the stand and the try this would be."""

    pk: int
    name: str
    section: str
    attempt: int
    passage: str
    accommodation: str
    changed_goal: str
    cells: tuple[LiveCell, ...]
    next_step: str


@dataclass(frozen=True, slots=True)
class LiveSection:
    """A section and how many of it are still to be heard."""

    pk: int
    name: str
    to_hear: int


@dataclass(frozen=True, slots=True)
class LivePage:
    """The form for one group of musicians, and the choice of the next group."""

    check_pk: int
    title: str
    ensemble: str
    to_hear: int
    asked: int
    sections: tuple[LiveSection, ...]
    rows: tuple[LiveRow, ...]
    criteria: tuple[LiveCriterion, ...]
    choices: tuple[LiveChoice, ...]
    lines: tuple[str, ...]
    most: int = MOST_AT_ONCE


@dataclass(frozen=True, slots=True)
class _Asked:
    """A seat whose musician is asked for the check, and their state."""

    seat: SeatRow
    state: str


def _asked(check: PlayingCheck) -> list[_Asked]:
    """Everyone the check asks, in section order; those not asked are not listed."""
    today = timezone.localdate()
    turns = turns_of([check])
    rows = []
    for seat in one_seat_each(seats_of(check.ensemble), today):
        state = standing(
            seat, check.due_on, today, turns.get((check.pk, seat.musician_pk), ())
        ).state
        if state != NOT_ASKED and seat.here_on(today):
            rows.append(_Asked(seat, state))
    return rows


def group_of(check: PlayingCheck, *, section: int | None, size: int) -> list[int]:
    """The next musicians still to be heard, in section order; of one section if it is given."""
    return [
        row.seat.musician_pk
        for row in _asked(check)
        if row.state in OPEN and section in (None, row.seat.section_pk)
    ][: _fitting(size)]


def draw_of(check: PlayingCheck, *, size: int, chance: random.Random) -> list[int]:
    """Musicians drawn by lot from all still to be heard, so that nobody knows who is next."""
    open_rows = [row.seat.musician_pk for row in _asked(check) if row.state in OPEN]
    return chance.sample(open_rows, min(_fitting(size), len(open_rows)))


def _fitting(size: int) -> int:
    return min(max(size, 1), MOST_AT_ONCE)


def live_page(
    check: PlayingCheck, who: Sequence[int], tapped: Mapping[str, str] = MappingProxyType({})
) -> LivePage:
    """The form for the musicians ``who`` (keys), in that order; strangers are left out.

    ``tapped`` are the form's fields as posted, shown again after a slip.
    """
    asked = _asked(check)
    by_key = {row.seat.musician_pk: row.seat for row in asked}
    seats = [by_key[pk] for pk in dict.fromkeys(who) if pk in by_key][:MOST_AT_ONCE]
    sections: dict[int, LiveSection] = {}
    for row in asked:
        held = sections.get(row.seat.section_pk)
        sections[row.seat.section_pk] = LiveSection(
            row.seat.section_pk,
            row.seat.section,
            (held.to_hear if held else 0) + (row.state in OPEN),
        )
    words = {**{str(level): name for level, name in LEVEL_NAMES.items()}, **NO_LEVEL_NAMES}
    return LivePage(
        check_pk=check.pk,
        title=check.title,
        ensemble=check.ensemble.name,
        to_hear=sum(row.state in OPEN for row in asked),
        asked=len(asked),
        sections=tuple(sections.values()),
        rows=_rows(check, seats, tapped),
        criteria=tuple(_criterion(key) for key in check.criteria),
        choices=tuple(LiveChoice(value, LEVEL_KEYS[value], word) for value, word in words.items()),
        lines=_lines(check),
    )


def _criterion(key: str) -> LiveCriterion:
    criterion = CRITERIA[key]
    descriptors = tuple((LEVEL_NAMES[n], criterion.descriptors[n]) for n in LEVEL_NAMES)
    return LiveCriterion(key, criterion.name, criterion.question, descriptors)


def _rows(
    check: PlayingCheck, seats: Sequence[SeatRow], tapped: Mapping[str, str]
) -> tuple[LiveRow, ...]:
    """The chosen musicians with the number of the next try and their measures. Four queries."""
    keys = [seat.musician_pk for seat in seats]
    last = dict(
        Turn.objects.filter(check_row=check, musician__in=keys)
        .order_by()
        .values_list("musician")
        .annotate(Max("attempt"))
    )
    people = Musician.objects.in_bulk(keys)
    passages = passages_by_musician([check], seats)
    return tuple(
        LiveRow(
            seat.musician_pk,
            seat.name,
            seat.section,
            last.get(seat.musician_pk, 0) + 1,
            where_printed(passages.get((check.pk, seat.musician_pk))),
            people[seat.musician_pk].agreed_labels,
            people[seat.musician_pk].changed_goal,
            _cells(check, seat.musician_pk, tapped),
            tapped.get(next_field(seat.musician_pk), ""),
        )
        for seat in seats
    )


def level_field(musician_pk: int, criterion: str) -> str:
    """Name of the form's field for one musician's level.

    >>> level_field(7, "tone")
    'level-7-tone'
    """
    return f"level-{musician_pk}-{criterion}"


def next_field(musician_pk: int) -> str:
    """Name of the form's field for one musician's next step."""
    return f"next-{musician_pk}"


def _cells(
    check: PlayingCheck, musician_pk: int, tapped: Mapping[str, str]
) -> tuple[LiveCell, ...]:
    """One cell a criterion, in the check's order."""
    fields = [(key, level_field(musician_pk, key)) for key in check.criteria]
    return tuple(
        LiveCell(CRITERIA[key].name, field, tapped.get(field, "")) for key, field in fields
    )


def _lines(check: PlayingCheck) -> tuple[str, ...]:
    """Next steps of the bank for the check's criteria, offered while typing."""
    rows = CommentLine.objects.filter(
        programme=check.ensemble.programme_id,
        criterion__in=check.criteria,
        place=CommentLine.NEXT_STEP,
    )
    return tuple(dict.fromkeys(rows.values_list("text", flat=True)))
