"""The Desk's stacks of writing: what was sent, what nobody has opened yet, and for how long.

Every page of the reading side starts from `sent_sheets`: a draft is its author's alone, whatever
the rule of sight grants a director.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Count, Max, Min, Q, QuerySet
from django.utils import timezone

from standlight.kinds import Kind, RubricRow
from standlight.programme.models import Account, Assignment, Ensemble, Sheet
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.standing import one_seat_each, seats_of

UNREAD, OPENED, ANSWERED = "unread", "opened", "answered"
STATE_WORDS = {UNREAD: "not opened", OPENED: "opened", ANSWERED: "answered"}
"""What a page says of a sheet that was sent."""


@dataclass(frozen=True, slots=True)
class Unread:
    """How much writing nobody has opened; ``oldest`` says how long the oldest waits."""

    count: int
    oldest: str


@dataclass(frozen=True, slots=True)
class Stack:
    """One assignment with what was sent: none, all or some of it opened.

    ``sections`` names whose turn it was, empty for everyone's.
    """

    pk: int
    title: str
    ensemble: str
    ensemble_pk: int
    sent: int
    unread: int
    opened: int
    answered: int
    oldest: str
    sections: str = ""


@dataclass(frozen=True, slots=True)
class StacksPage:
    """The stacks with something unread, oldest first; then the rest, the latest first."""

    unread: Unread
    waiting: tuple[Stack, ...]
    done: tuple[Stack, ...]
    walls: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True)
class ListedSheet:
    """One sheet of a list: where it opens, what it is, how it stands."""

    key: UUID
    what: str
    state: str
    words: str


@dataclass(frozen=True, slots=True)
class Ordered:
    """A sheet in the order of the stack: by when it was sent."""

    key: UUID
    unread: bool


def sent_sheets(account: Account) -> QuerySet[Sheet]:
    """What musicians have sent and ``account`` may read, oldest first; never a draft."""
    return (
        Sheet.objects.visible_to(account)
        .filter(sent_at__isnull=False, author__role=Account.MUSICIAN)
        .order_by("sent_at", "key")
    )


def days_since(moment: datetime.datetime) -> int:
    """Whole days of the calendar from ``moment`` to today."""
    return max(0, (timezone.localdate() - timezone.localdate(moment)).days)


def waits_words(days: int | None) -> str:
    """How long the oldest unread sheet waits; "" for nothing unread.

    >>> [waits_words(days) for days in (None, 0, 1, 6)]
    ['', 'all from today', 'oldest waits 1 day', 'oldest waits 6 days']
    """
    if days is None:
        return ""
    return f"oldest waits {days} day{'s' if days > 1 else ''}" if days else "all from today"


def unread_writing(account: Account, ensemble: Ensemble | None = None) -> Unread:
    """Unread writing of all that ``account`` reads, or of one ensemble. One query."""
    rows = sent_sheets(account).filter(opened_at__isnull=True).order_by()
    if ensemble is not None:
        rows = rows.filter(assignment__ensemble=ensemble)
    found = rows.aggregate(count=Count("pk"), oldest=Min("sent_at"))
    return Unread(found["count"], _oldest(found["oldest"]))


def stacks_page(account: Account) -> StacksPage:
    """Every stack in which something was sent. Four queries."""
    unread = Q(opened_at__isnull=True)
    answered = Q(reply__isnull=False)
    rows = list(
        sent_sheets(account)
        .order_by()
        .values(
            "assignment_id",
            "assignment__title",
            "assignment__ensemble__name",
            "assignment__ensemble_id",
        )
        .annotate(
            sent=Count("pk"),
            unread=Count("pk", filter=unread),
            answered=Count("pk", filter=answered),
            oldest=Min("sent_at", filter=unread),
            newest=Max("sent_at"),
        )
    )
    waiting = sorted((row for row in rows if row["unread"]), key=lambda row: row["oldest"])
    done = sorted(
        (row for row in rows if not row["unread"]), key=lambda row: row["newest"], reverse=True
    )
    walls = tuple(Ensemble.objects.visible_to(account).values_list("pk", "name"))
    turns = _whose_turn([row["assignment_id"] for row in rows])
    return StacksPage(
        unread_writing(account),
        tuple(_stack(row, turns) for row in waiting),
        tuple(_stack(row, turns) for row in done),
        walls,
    )


def _whose_turn(assignments: Sequence[int]) -> dict[int, str]:
    """Names of the sections that an assignment was for; none for everyone's. One query."""
    found: dict[int, list[str]] = {}
    links = Assignment.sections.through.objects.filter(assignment__in=assignments)
    rows = links.order_by("section__order", "section_id")
    for assignment, name in rows.values_list("assignment_id", "section__name"):
        found.setdefault(assignment, []).append(name)
    return {assignment: ", ".join(names) for assignment, names in found.items()}


def _stack(row: dict, turns: Mapping[int, str]) -> Stack:
    """One stack of the gathered counts."""
    return Stack(
        row["assignment_id"],
        row["assignment__title"],
        row["assignment__ensemble__name"],
        row["assignment__ensemble_id"],
        row["sent"],
        row["unread"],
        row["sent"] - row["unread"],
        row["answered"],
        _oldest(row["oldest"]),
        turns.get(row["assignment_id"], ""),
    )


def _oldest(sent_at: datetime.datetime | None) -> str:
    """How long the oldest unread sheet waits, from when it was sent."""
    return waits_words(None if sent_at is None else days_since(sent_at))


def order_of(account: Account, assignment: Assignment) -> list[Ordered]:
    """The sheets of a stack, oldest first. One query."""
    rows = sent_sheets(account).filter(assignment=assignment).values_list("key", "opened_at")
    return [Ordered(key, opened_at is None) for key, opened_at in rows]


def first_unread(order: Sequence[Ordered]) -> UUID | None:
    """The oldest unread sheet; None when all are opened."""
    return next((one.key for one in order if one.unread), None)


def neighbours(order: Sequence[Ordered], current: UUID) -> tuple[UUID | None, UUID | None]:
    """The sheet before ``current`` and the one to read next.

    Next is the nearest unread one after it, going round; where nothing is unread, simply the one
    after it. ``None`` is the end of the stack.

    >>> a, b, c = (UUID(int=n) for n in range(3))
    >>> neighbours([Ordered(a, True), Ordered(b, False), Ordered(c, False)], b) == (a, a)
    True
    >>> neighbours([Ordered(a, False), Ordered(b, False), Ordered(c, False)], b) == (a, c)
    True
    """
    keys = [one.key for one in order]
    if current not in keys:
        return None, first_unread(order)
    place = keys.index(current)
    before = keys[place - 1] if place else None
    after = [*order[place + 1 :], *order[:place]]
    following = first_unread(after)
    if following is None and place + 1 < len(keys):
        following = keys[place + 1]
    return before, following


def state_of(sheet: Sheet) -> str:
    """Unread, opened or answered; ``sheet`` comes with its reply selected."""
    if hasattr(sheet, "reply"):
        return ANSWERED
    return OPENED if sheet.opened_at else UNREAD


def places_of(ensemble: Ensemble) -> dict[int, tuple[int, str]]:
    """Musician to (place in concert order, name of the section). One query."""
    seats = one_seat_each(seats_of(ensemble), timezone.localdate())
    return {seat.musician_pk: (place, seat.section) for place, seat in enumerate(seats)}


def consents(sheet: Sheet) -> bool:
    """True when the sheet's owner says yes to sharing it; ``sheet`` comes with its kind."""
    return any(
        field.type == "consent" and sheet.answers.get(field.key) is True
        for step in kind_in(sheet.assignment.kind).steps
        if step.key == sheet.step
        for field in step.fields
    )


def may_hang(sheet: Sheet) -> bool:
    """True when the owner shares a sheet of a kind that the group may see."""
    return "group" in kind_in(sheet.assignment.kind).seen_by and consents(sheet)


def rubric_of(kind: Kind, step: str) -> tuple[RubricRow, ...]:
    """Rows that a director gives levels for at a step; none where the kind is never marked."""
    return kind.rows_at(step) if kind.marked else ()
