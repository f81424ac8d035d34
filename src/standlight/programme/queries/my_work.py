"""A musician's work of every kind: lines for My part, and one piece of work with its steps."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Prefetch

from standlight.kinds import MOMENTS, Kind, Step
from standlight.programme.models import Account, Assignment, Musician, Sheet
from standlight.programme.queries.assignments import (
    ABSENT,
    ANSWERED,
    BEGUN,
    EXCUSED,
    HANDED_IN,
    MISSING,
    NOT_ASSESSED,
    OPEN,
    READ,
    SENT,
    Stand,
    work_standings,
)
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.laid_before import LaidLine, group_lines
from standlight.programme.queries.musician_words import due_words
from standlight.programme.queries.reading_answers import words_of
from standlight.programme.queries.reading_wall import wall_of
from standlight.programme.queries.sheets import ANY_TIME, readers_of
from standlight.programme.queries.work_steps import steps_of

STATE_WORDS = {
    SENT: "Sent, not read yet",
    READ: "Sent and read",
    ANSWERED: "Answered",
    ABSENT: "You were absent. You do not have to do this one",
    EXCUSED: "You do not have to do this one",
    NOT_ASSESSED: "This one does not count for you",
}
"""States in a musician's words; the others are told by the due day."""

OPEN_STATES = frozenset({OPEN, BEGUN, MISSING})


@dataclass(frozen=True, slots=True)
class WorkLine:
    """One piece of work as a line of My part.

    ``step`` is the key of the step to go to at once, "" when the musician has to choose, and
    ``again`` of one that may be written once more though enough is sent; ``unread`` when a reply
    came that was not looked at.
    """

    pk: int
    kind: str
    title: str
    ensemble: str
    ensemble_pk: int
    piece: str
    due_on: datetime.date | None
    due: str
    overdue: bool
    state: str
    words: str
    is_open: bool
    unread: bool
    step: str
    again: str
    begun: bool
    is_work: bool = True


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One sheet as a line: ``first_words`` remind of what it says."""

    key: str
    number: int
    when: datetime.datetime
    sent: bool
    read: bool
    answered: bool
    unread: bool
    first_words: str


@dataclass(frozen=True, slots=True)
class StepLine:
    """One step: when it falls, the sheets made at it, whether one may be written now."""

    key: str
    name: str
    when: str
    asked: str
    sheets: tuple[SheetLine, ...]
    may_write: bool
    begun: bool
    times_left: int


@dataclass(frozen=True, slots=True)
class Shared:
    """What hangs on the group's wall; ``name`` is "" where no name is to be shown."""

    name: str
    words: str


@dataclass(frozen=True, slots=True)
class WorkPage:
    """One piece of work as its musician sees it."""

    line: WorkLine
    aim: str
    note: str
    accommodation: str
    readers: tuple[str, ...]
    steps: tuple[StepLine, ...]
    laid_open: bool
    group: tuple[LaidLine, ...]
    wall: tuple[Shared, ...]


def work_lines(
    account: Account, musician: Musician, today: datetime.date
) -> tuple[WorkLine, ...]:
    """Everything given out to a musician, a line each. A handful of queries."""
    rows = list(
        Assignment.objects.visible_to(account)
        .filter(starts_on__lte=today)
        .select_related("kind", "ensemble", "piece")
        .prefetch_related(
            Prefetch(
                "sheets",
                queryset=Sheet.objects.filter(author=account, reply__seen_at__isnull=True,
                                              reply__isnull=False),
                to_attr="unread_sheets",
            )
        )
    )  # fmt: skip
    standings = work_standings(rows, today, musician)
    return tuple(
        _line(row, stand, today) for row in rows for stand in standings[row.pk][:1]
    )


def work_page(account: Account, assignment: Assignment, today: datetime.date) -> WorkPage:
    """The page of one piece of work for the musician ``account``."""
    musician = Musician.objects.get(account=account)
    stand = next(iter(work_standings([assignment], today, musician)[assignment.pk]), None)
    sheets = list(
        Sheet.objects.filter(assignment=assignment, author=account)
        .select_related("reply")
        .order_by("number")
    )
    assignment.unread_sheets = [
        one for one in sheets if hasattr(one, "reply") and one.reply.seen_at is None
    ]
    kind = kind_in(assignment.kind)
    line = _line(assignment, stand, today) if stand is not None else _gone(assignment, kind)
    laid_open = assignment.laid_open_at is not None
    return WorkPage(
        line=line,
        aim=kind.aim,
        note=assignment.note,
        accommodation=musician.agreed_words,
        readers=readers_of(assignment, kind),
        steps=tuple(
            _step_line(step, [one for one in sheets if one.step == step.key])
            for step in steps_of(assignment)
        ),
        laid_open=laid_open,
        group=tuple(group_lines(assignment, account)) if laid_open else (),
        wall=tuple(_wall(assignment)),
    )


def _line(assignment: Assignment, stand: Stand, today: datetime.date) -> WorkLine:
    """A line from where the musician stands."""
    kind = kind_in(assignment.kind)
    unread = bool(assignment.unread_sheets)
    is_open = stand.state in OPEN_STATES or _more_to_come(kind, stand)
    due = due_words(stand.due_on, today) if stand.due_on is not None else ANY_TIME
    begun = any(sheet.sent_at is None for sheet in stand.sheets)
    return WorkLine(
        pk=assignment.pk,
        kind=kind.name,
        title=assignment.title,
        ensemble=assignment.ensemble.name,
        ensemble_pk=assignment.ensemble_id,
        piece=assignment.piece.title if assignment.piece is not None else "",
        due_on=stand.due_on,
        due=due,
        overdue=stand.due_on is not None and stand.due_on < today,
        state=stand.state,
        words=due if is_open else STATE_WORDS.get(stand.state, due),
        is_open=is_open,
        unread=unread,
        step=_next_step(kind, stand) if is_open else "",
        again="" if is_open else _again(kind, stand, today),
        begun=begun,
    )


def _gone(assignment: Assignment, kind: Kind) -> WorkLine:
    """The line of work that is no longer this musician's."""
    return WorkLine(
        assignment.pk, kind.name, assignment.title, assignment.ensemble.name,
        assignment.ensemble_id, "", None, "", False,
        SENT, STATE_WORDS[SENT], False, False, "", "", False,
    )  # fmt: skip


def _more_to_come(kind: Kind, stand: Stand) -> bool:
    """True while sittings that the kind asks for are not sent, and no reason says otherwise."""
    return stand.state in HANDED_IN and stand.n_sent < stand.n_asked


def _next_step(kind: Kind, stand: Stand) -> str:
    """The step to go to at once: the one begun, else the first of which more is asked."""
    begun = [sheet.step for sheet in stand.sheets if sheet.sent_at is None]
    if begun:
        return begun[-1]
    sent = [sheet.step for sheet in stand.sheets if sheet.sent_at is not None]
    for step in kind.steps:
        if sent.count(step.key) < max(step.least_times, 1):
            return step.key
    return ""


def _again(kind: Kind, stand: Stand, today: datetime.date) -> str:
    """The step that may be written once more: of a kind with one, before its due day is over."""
    past = stand.due_on is not None and stand.due_on < today
    if past or stand.state not in HANDED_IN or len(kind.steps) > 1:
        return ""
    return kind.steps[0].key if kind.steps[0].most_times is None else ""


def _step_line(step: Step, sheets: Sequence[Sheet]) -> StepLine:
    """One step and its sheets."""
    sent = [one for one in sheets if one.sent_at is not None]
    begun = len(sent) < len(sheets)
    left = step.most_times is None or len(sheets) < step.most_times
    return StepLine(
        key=step.key,
        name=step.name,
        when=MOMENTS[step.due.moment].format(
            weeks_least=step.due.weeks_least, weeks_most=step.due.weeks_most
        ),
        asked=_asked_words(step, len(sent)),
        sheets=tuple(_sheet_line(step, one) for one in sheets),
        may_write=begun or left,
        begun=begun,
        times_left=max(step.least_times - len(sent), 0),
    )


def _asked_words(step: Step, sent: int) -> str:
    """How many of a step that comes again are sent; "" for one that comes once.

    >>> from standlight.kinds import KINDS
    >>> _asked_words(KINDS["finds"].steps[0], 2)
    '2 sent so far'
    """
    if step.most_times == 1:
        return ""
    if step.least_times > sent:
        return f"{sent} of {step.least_times} sent"
    return f"{sent} sent so far"


def _sheet_line(step: Step, sheet: Sheet) -> SheetLine:
    """One sheet, with the first words that it says."""
    said = (words_of(field, sheet.answers.get(field.key)) for field in step.fields)
    words = next(filter(None, said), "")
    reply = getattr(sheet, "reply", None)
    return SheetLine(
        key=str(sheet.pk),
        number=sheet.number,
        when=sheet.sent_at or sheet.saved_at,
        sent=sheet.sent_at is not None,
        read=sheet.opened_at is not None,
        answered=reply is not None,
        unread=reply is not None and reply.seen_at is None,
        first_words=words if len(words) <= 80 else f"{words[:79].rstrip()}…",
    )


def _wall(assignment: Assignment) -> Iterable[Shared]:
    """What hangs on the group's wall from this work: their owners agreed, a director put it up."""
    for sheet in wall_of(assignment.ensemble, assignment):
        yield Shared(sheet.who, " · ".join(line.words for line in sheet.lines))
