"""The live form: who is still to be heard, and a row of criteria for up to eight at once."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from django.db.models import Count, Max
from django.utils import timezone

from standlight.criteria import CRITERIA
from standlight.programme.drawing import MOST_AT_ONCE
from standlight.programme.models import (
    Account,
    CommentLine,
    Draw,
    HeardAgain,
    Musician,
    PlayingCheck,
    Turn,
)
from standlight.programme.queries.desk import LEVEL_KEYS
from standlight.programme.queries.hearing import passage_of
from standlight.programme.queries.own_start import printed_starts
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
    start_at: str
    accommodation: str
    changed_goal: str
    cells: tuple[LiveCell, ...]
    next_step: str


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """Somebody drawn for today: ``state`` is empty while they are still to be heard."""

    pk: int
    musician_pk: int
    name: str
    section: str
    state: str

    @property
    def is_open(self) -> bool:
        """True while they are still to be heard today."""
        return not self.state

    @property
    def is_absent(self) -> bool:
        """True when it was said that they are not here."""
        return self.state == ABSENT


@dataclass(frozen=True, slots=True)
class HeardLine:
    """Somebody heard live in this check: the turn, and how often."""

    turn_pk: int
    name: str
    section: str
    times: str


@dataclass(frozen=True, slots=True)
class AgainLine:
    """A live turn that is to be heard once more: which hearing the form is made for."""

    turn_pk: int
    name: str
    section: str
    passage: str
    hearing: int
    cells: tuple[LiveCell, ...]


@dataclass(frozen=True, slots=True)
class LiveSection:
    """A section and how many of it are still to be heard."""

    pk: int
    name: str
    to_hear: int


@dataclass(frozen=True, slots=True)
class LiveNext:
    """Somebody who comes after those at the stand."""

    pk: int
    name: str


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
    following: tuple[LiveNext, ...]
    drawn: tuple[DrawnLine, ...]
    heard: tuple[HeardLine, ...]
    most: int = MOST_AT_ONCE

    @property
    def drawn_open(self) -> int:
        """How many of those drawn for today are still to be heard."""
        return sum(line.is_open for line in self.drawn)


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


def group_of(
    check: PlayingCheck,
    *,
    section: int | None,
    size: int,
    after: Sequence[int] = (),
    drawn: bool = False,
) -> list[int]:
    """The next musicians still to be heard: in section order, or those ``drawn`` for today.

    ``after`` are at the stand now: who follows the last of them comes first, and none of them
    is given again unless nobody else is left.
    """
    wanted = [
        row.seat.musician_pk
        for row in _asked(check)
        if row.state in OPEN and section in (None, row.seat.section_pk)
    ]
    if drawn:
        still_open = set(wanted)
        wanted = [
            line.musician_pk
            for line in drawn_today(check, timezone.localdate())
            if line.is_open and line.musician_pk in still_open
        ]
    return _after(wanted, after)[: _fitting(size)]


def _after(order: Sequence[int], now: Sequence[int]) -> list[int]:
    """The order going round from behind ``now``, those of ``now`` left out.

    >>> _after([1, 2, 3, 4], [2]), _after([1, 2], [])
    ([3, 4, 1], [1, 2])
    """
    places = [order.index(who) for who in now if who in order]
    turn = max(places) + 1 if places else 0
    return [who for who in (*order[turn:], *order[:turn]) if who not in now]


def pot_of(check: PlayingCheck) -> list[int]:
    """Everyone who can be drawn: asked, here today, and still to be heard."""
    return [row.seat.musician_pk for row in _asked(check) if row.state in OPEN]


HEARD, ABSENT = "heard", "not here"
"""What today's list says of somebody drawn."""


def drawn_today(check: PlayingCheck, day: datetime.date) -> tuple[DrawnLine, ...]:
    """Those drawn on ``day`` for this check, in the order drawn. Two queries."""
    rows = list(Draw.objects.filter(check_row=check, day=day).select_related("musician"))
    seats = {
        seat.musician_pk: seat.section for seat in one_seat_each(seats_of(check.ensemble), day)
    }
    return tuple(
        DrawnLine(
            row.pk,
            row.musician_id,
            row.musician.name,
            seats.get(row.musician_id, ""),
            HEARD if row.heard_at else ABSENT if row.absent else "",
        )
        for row in rows
    )


def heard_live(account: Account, check: PlayingCheck) -> tuple[HeardLine, ...]:
    """Everyone whose newest try in the check was heard live, in the order of names."""
    turns = (
        Turn.objects.visible_to(account)
        .filter(check_row=check, way=Turn.LIVE, sent_at__isnull=False)
        .select_related("musician", "section")
        .annotate(hearings=Count("heard_again"))
        .order_by("musician__family_name", "musician__given_name", "attempt")
    )
    newest = {turn.musician_id: turn for turn in turns}
    return tuple(
        HeardLine(
            turn.pk,
            turn.musician.name,
            turn.section.name if turn.section else "",
            f"heard {turn.hearings + 1} times" if turn.hearings else "",
        )
        for turn in newest.values()
    )


def again_line(turn: Turn, tapped: Mapping[str, str] = MappingProxyType({})) -> AgainLine:
    """The form for one more hearing of a live turn; no earlier level is on it."""
    passage = passage_of(turn)
    return AgainLine(
        turn.pk,
        turn.musician.name,
        turn.section.name if turn.section else "",
        where_printed(passage),
        HeardAgain.objects.filter(turn=turn).count() + 2,
        _cells(turn.check_row, turn.musician_id, tapped),
    )


def _fitting(size: int) -> int:
    return min(max(size, 1), MOST_AT_ONCE)


def live_page(
    account: Account,
    check: PlayingCheck,
    who: Sequence[int],
    tapped: Mapping[str, str] = MappingProxyType({}),
    *,
    section: int | None = None,
    drawn: bool = False,
) -> LivePage:
    """The form for the musicians ``who`` (keys), in that order; strangers are left out.

    ``tapped`` are the form's fields as posted, shown again after a slip; ``section`` and
    ``drawn`` say where the next ones come from.
    """
    asked = _asked(check)
    by_key = {row.seat.musician_pk: row.seat for row in asked}
    coming = group_of(check, section=section, size=len(who) or 1, after=who, drawn=drawn)
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
        following=tuple(LiveNext(pk, by_key[pk].name) for pk in coming if pk in by_key),
        drawn=drawn_today(check, timezone.localdate()),
        heard=heard_live(account, check),
    )


def _criterion(key: str) -> LiveCriterion:
    criterion = CRITERIA[key]
    descriptors = tuple((LEVEL_NAMES[n], criterion.descriptors[n]) for n in LEVEL_NAMES)
    return LiveCriterion(key, criterion.name, criterion.question, descriptors)


def _rows(
    check: PlayingCheck, seats: Sequence[SeatRow], tapped: Mapping[str, str]
) -> tuple[LiveRow, ...]:
    """The chosen musicians with the number of the next try and their measures. Five queries."""
    keys = [seat.musician_pk for seat in seats]
    last = dict(
        Turn.objects.filter(check_row=check, musician__in=keys)
        .order_by()
        .values_list("musician")
        .annotate(Max("attempt"))
    )
    people = Musician.objects.in_bulk(keys)
    passages = {
        pk: passage for (_, pk), passage in passages_by_musician([check], seats).items()
    }
    starts = printed_starts(passages)
    return tuple(
        LiveRow(
            seat.musician_pk,
            seat.name,
            seat.section,
            last.get(seat.musician_pk, 0) + 1,
            where_printed(passages.get(seat.musician_pk)),
            starts.get(seat.musician_pk, ""),
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
