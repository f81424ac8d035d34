"""Where each musician stands with work that was given out: every reason is another word.

All pages ask here, so that "missing" means one thing. Nothing of an answer is read.
"""

from __future__ import annotations

import datetime
import uuid
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from standlight.kinds import Kind
from standlight.programme.models import Assignment, Musician, Seat, Sheet, WorkExcuse
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.standing import SeatRow, one_seat_each

NOT_DUE, OPEN, BEGUN, SENT, READ, ANSWERED = (
    "not_due",
    "open",
    "begun",
    "sent",
    "read",
    "answered",
)
MISSING, ABSENT, EXCUSED, NOT_ASSESSED, LATE_JOINER = (
    "missing",
    "absent",
    "excused",
    "not_assessed",
    "late_joiner",
)
WORDS = {
    NOT_DUE: "not open yet",
    OPEN: "not begun",
    BEGUN: "begun, not sent",
    SENT: "sent, waits for you",
    READ: "read, no reply yet",
    ANSWERED: "answered",
    MISSING: "missing",
    ABSENT: "was absent",
    EXCUSED: "excused",
    NOT_ASSESSED: "not assessed",
    LATE_JOINER: "joined after the due day",
}
"""What a director reads of a musician and an assignment."""

HANDED_IN = frozenset({SENT, READ, ANSWERED})
"""States in which there is something to read."""

STILL_TO_COME = frozenset({OPEN, BEGUN, MISSING})
"""States in which something is asked for and not there."""


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One sheet of a musician without its answers."""

    key: uuid.UUID
    step: str
    number: int
    started_at: datetime.datetime
    sent_at: datetime.datetime | None
    opened_at: datetime.datetime | None
    replied_at: datetime.datetime | None


@dataclass(frozen=True, slots=True)
class Stand:
    """One musician and one assignment: the ``state`` is a key of ``WORDS``.

    ``due_on`` is the musician's own day (None: any time), ``reason`` the key of an excuse that
    stands, "" for none; ``n_sent`` of ``n_asked`` sittings are sent.
    """

    musician_pk: int
    name: str
    section: str
    state: str
    sheets: tuple[SheetRow, ...]
    due_on: datetime.date | None
    reason: str = ""
    own_day: bool = False
    n_sent: int = 0
    n_asked: int = 1

    @property
    def words(self) -> str:
        """The state in words for a director."""
        return WORDS[self.state]


@dataclass(frozen=True, slots=True)
class Excuse:
    """A reason that stands, and the later day if there is one."""

    reason: str
    until: datetime.date | None


def work_standing(assignment: Assignment, today: datetime.date) -> tuple[Stand, ...]:
    """Everyone who is asked, in concert order, then by name. Four queries."""
    return work_standings([assignment], today)[assignment.pk]


def work_standings(
    assignments: Collection[Assignment],
    today: datetime.date,
    musician: Musician | None = None,
) -> dict[int, tuple[Stand, ...]]:
    """The same for many assignments, by their number; only of ``musician`` where one is named.

    The number of queries does not grow with assignments or musicians.
    """
    seats = _seats(assignments, musician)
    sections = _sections(assignments)
    sheets = _sheets(assignments, musician)
    excuses = _excuses(assignments, musician)
    found = {}
    for one in assignments:
        mine, kind = sheets.get(one.pk, {}), kind_in(one.kind)
        asked = _asked(seats.get(one.ensemble_id, []), sections.get(one.pk), mine, one, today)
        found[one.pk] = tuple(
            stand_of(
                seat,
                one,
                kind,
                mine.get(seat.musician_pk, ()),
                excuses.get((one.pk, seat.musician_pk)),
                today,
            )
            for seat in asked
        )
    return found


def stand_of(
    seat: SeatRow,
    assignment: Assignment,
    kind: Kind,
    sheets: Sequence[SheetRow],
    excuse: Excuse | None,
    today: datetime.date,
) -> Stand:
    """Where one musician stands with work of ``kind``.

    Who is excused and sends all the same has sent.
    """
    due_on = own_due_day(assignment, excuse, seat.extra_days)
    n_sent, n_asked = _sittings(kind, sheets)
    state = _state(seat, assignment, sheets, excuse, (due_on, today), n_sent < n_asked)
    return Stand(
        musician_pk=seat.musician_pk,
        name=seat.name,
        section=seat.section,
        state=state,
        sheets=tuple(sheets),
        due_on=due_on,
        reason="" if excuse is None else excuse.reason,
        own_day=due_on != assignment.due_on,
        n_sent=n_sent,
        n_asked=n_asked,
    )


def own_due_day(
    assignment: Assignment, excuse: Excuse | None, extra_days: int = 0
) -> datetime.date | None:
    """The day of one musician: the one that was given, else the assignment's and their own days."""
    if excuse is not None and excuse.until is not None:
        return excuse.until
    if assignment.due_on is None:
        return None
    return assignment.due_on + datetime.timedelta(days=extra_days)


def _state(
    seat: SeatRow,
    assignment: Assignment,
    sheets: Sequence[SheetRow],
    excuse: Excuse | None,
    days: tuple[datetime.date | None, datetime.date],
    lacks: bool,
) -> str:
    """The one word for everything above, the first that fits."""
    due_on, today = days
    sent = [sheet for sheet in sheets if sheet.sent_at]
    past = due_on is not None and due_on < today
    if sent and not (lacks and past and excuse is None):
        return _read_state(sent)
    if excuse is not None and excuse.until is None:
        return excuse.reason
    if due_on is not None and seat.joined_on is not None and seat.joined_on > due_on:
        return _read_state(sent) if sent else LATE_JOINER
    if assignment.published_at is None or assignment.starts_on > today:
        return NOT_DUE
    if past:
        return MISSING
    return BEGUN if sheets else OPEN


def _read_state(sent: Sequence[SheetRow]) -> str:
    """How far a director has come with what was sent: one that is not opened counts first."""
    if any(sheet.opened_at is None and sheet.replied_at is None for sheet in sent):
        return SENT
    newest = max(sent, key=lambda sheet: sheet.sent_at)
    return ANSWERED if newest.replied_at else READ


def _sittings(kind: Kind, sheets: Sequence[SheetRow]) -> tuple[int, int]:
    """How many of the sittings that a kind asks for are sent, and how many it asks for."""
    sent = [sheet.step for sheet in sheets if sheet.sent_at]
    done = sum(min(sent.count(step.key), step.least_times) for step in kind.steps)
    asked = sum(step.least_times for step in kind.steps)
    return (done, asked) if asked else (min(len(sent), 1), 1)


def _asked(
    seats: list[SeatRow],
    sections: set[int] | None,
    sheets: Mapping[int, Sequence[SheetRow]],
    assignment: Assignment,
    today: datetime.date,
) -> list[SeatRow]:
    """Whose work is asked for: those of the sections who are here, and whoever began anyway."""
    last = today if assignment.due_on is None else min(assignment.due_on, today)
    asked = [
        seat
        for seat in seats
        if seat.musician_pk in sheets
        or (
            (not sections or seat.section_pk in sections)
            and (seat.left_on is None or seat.left_on > last)
        )
    ]
    return one_seat_each(asked, today)


def _seats(
    assignments: Collection[Assignment], musician: Musician | None
) -> dict[int, list[SeatRow]]:
    """Seats by ensemble in concert order. One query."""
    rows = Seat.objects.filter(
        section__ensemble__in={one.ensemble_id for one in assignments}
    ).order_by(
        "section__order",
        "section_id",
        "musician__family_name",
        "musician__given_name",
        "musician__roster_id",
    )
    if musician is not None:
        rows = rows.filter(musician=musician)
    found: dict[int, list[SeatRow]] = {}
    for ensemble_pk, *cells in rows.values_list(
        "section__ensemble_id",
        "pk",
        "musician_id",
        "musician__roster_id",
        "musician__given_name",
        "musician__family_name",
        "section_id",
        "section__name",
        "section__order",
        "musician__way",
        "joined_on",
        "left_on",
        "musician__extra_days",
        "section__instrument",
    ):
        found.setdefault(ensemble_pk, []).append(SeatRow(*cells))
    return found


def _sections(assignments: Collection[Assignment]) -> dict[int, set[int]]:
    """Sections by assignment; none for everyone. One query."""
    found: dict[int, set[int]] = {}
    links = Assignment.sections.through.objects.filter(
        assignment__in=[one.pk for one in assignments]
    )
    for assignment_pk, section_pk in links.values_list("assignment_id", "section_id"):
        found.setdefault(assignment_pk, set()).add(section_pk)
    return found


def _sheets(
    assignments: Collection[Assignment], musician: Musician | None
) -> dict[int, dict[int, list[SheetRow]]]:
    """Musicians' own sheets by assignment and musician. One query."""
    rows: Iterable = Sheet.objects.filter(
        assignment__in=[one.pk for one in assignments], author__musician__isnull=False
    ).order_by("started_at", "key")
    if musician is not None:
        rows = rows.filter(author__musician=musician)
    found: dict[int, dict[int, list[SheetRow]]] = {}
    for assignment_pk, musician_pk, *cells in rows.values_list(
        "assignment_id",
        "author__musician__pk",
        "key",
        "step",
        "number",
        "started_at",
        "sent_at",
        "opened_at",
        "reply__written_at",
    ):
        mine = found.setdefault(assignment_pk, {})
        mine.setdefault(musician_pk, []).append(SheetRow(*cells))
    return found


def _excuses(
    assignments: Collection[Assignment], musician: Musician | None
) -> dict[tuple[int, int], Excuse]:
    """Standing excuses by assignment and musician. One query."""
    rows = WorkExcuse.objects.filter(assignment__in=[one.pk for one in assignments])
    if musician is not None:
        rows = rows.filter(musician=musician)
    return {
        (assignment_pk, musician_pk): Excuse(reason, until)
        for assignment_pk, musician_pk, reason, until in rows.values_list(
            "assignment_id", "musician_id", "reason", "until"
        )
    }
