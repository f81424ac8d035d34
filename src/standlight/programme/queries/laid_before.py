"""What a step lays in front of a musician before it asks: their own year, from rows at hand.

``LAID`` maps a key of ``kinds.LAID_BEFORE`` to the query that answers it. Goals and finds are told
by the key of the step that they were written at, so a director's own kind can take part.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from standlight.kinds import LAID_BEFORE, Field, Step, counted, gather_of
from standlight.programme.models import Account, Assignment, Remark, Reply, Sheet, Take
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.reading_answers import words_of
from standlight.programme.queries.sittings import Sitting, sittings_of, told_apart_by
from standlight.programme.queries.work_steps import steps_of

GOAL_STEP, FIND_STEP = "goal", "find"
"""Keys of the steps at which goals and finds are written."""

MOST_LINES = 24
"""Lines under one heading: a page, not an archive."""

MOST_LINES_OF = {"group": 80}
"""Where every line is about this work: a form's questions, and takes to judge (our choice)."""


@dataclass(frozen=True, slots=True)
class LaidLine:
    """One thing that was: ``when``, ``head`` and ``words``; ``take`` is the key of its sound."""

    words: str
    when: datetime.date | None = None
    head: str = ""
    take: str = ""


@dataclass(frozen=True, slots=True)
class Laid:
    """A heading and its lines; ``none`` is what to say where there are none."""

    key: str
    heading: str
    lines: tuple[LaidLine, ...]
    none: str = ""


Lay = Callable[[Step, Assignment, Account], Iterable[LaidLine]]


def laid_before(step: Step, assignment: Assignment, account: Account) -> tuple[Laid, ...]:
    """Everything that ``step`` lays before ``account``, in the order it names it."""
    return tuple(
        Laid(
            key,
            LAID_BEFORE[key][:1].upper() + LAID_BEFORE[key][1:],
            tuple(LAID[key](step, assignment, account))[: MOST_LINES_OF.get(key, MOST_LINES)],
            NONE.get(key, "Nothing yet."),
        )
        for key in step.laid_before
        if key in LAID
    )


def _takes(step: Step, assignment: Assignment, account: Account) -> Iterable[LaidLine]:
    """The first and the latest take that were sent and still have their sound."""
    takes = [
        take
        for take in Take.objects.filter(turn__musician__account=account, chosen=True)
        .exclude(state=Take.REMOVED)
        .select_related("turn__check_row__piece")
        .order_by("started_at")
        if take.has_sound
    ]
    for head, take in (("First", takes[:1]), ("Latest", takes[1:][-1:])):
        for one in take:
            check = one.turn.check_row
            yield LaidLine(
                f"{check.piece.title}, {check.title}", one.started_at.date(), head, str(one.key)
            )


def _sheets_at(account: Account, step_key: str, moment: str = "") -> Iterable[LaidLine]:
    """What the musician sent at steps of one key (due at ``moment``, "" for any), line by line."""
    rows = (
        Sheet.objects.filter(author=account, step=step_key, sent_at__isnull=False)
        .select_related("assignment__kind")
        .order_by("sent_at")
    )
    for row in rows:
        steps = kind_in(row.assignment.kind).steps
        if not moment or any(one.key == step_key and one.due.moment == moment for one in steps):
            yield _line_of(row)


def _line_of(sheet: Sheet) -> LaidLine:
    """One sheet in a few words: everything said in it, in the order of its form."""
    steps = kind_in(sheet.assignment.kind).steps
    fields = next((step.fields for step in steps if step.key == sheet.step), ())
    said = (words_of(field, sheet.answers.get(field.key)) for field in fields)
    return LaidLine(
        " · ".join(filter(None, said)),
        sheet.sent_at.date() if sheet.sent_at else None,
        sheet.assignment.title,
    )


def _goals(step: Step, assignment: Assignment, account: Account) -> Iterable[LaidLine]:
    """Every goal that was set."""
    return _sheets_at(account, GOAL_STEP)


def _finds(step: Step, assignment: Assignment, account: Account) -> Iterable[LaidLine]:
    """Every find: written at any time, so that another kind's step of this name is none."""
    return _sheets_at(account, FIND_STEP, moment="any")


def _remarks(step: Step, assignment: Assignment, account: Account) -> Iterable[LaidLine]:
    """The musician's own remarks on pieces, the latest first."""
    rows = (
        Remark.objects.filter(author=account).select_related("piece").order_by("-made_at", "-pk")
    )
    for row in rows[:MOST_LINES]:
        printed = {one["index"]: one["printed"] for one in row.piece.measures}
        measure = printed.get(row.first_measure, row.first_measure + 1)
        yield LaidLine(row.words, row.made_at.date(), f"{row.piece.title}, measure {measure}")


def _earlier(step: Step, assignment: Assignment, account: Account) -> Iterable[LaidLine]:
    """What was sent at the other steps of the same work."""
    rows = (
        Sheet.objects.filter(assignment=assignment, author=account, sent_at__isnull=False)
        .select_related("assignment__kind")
        .order_by("sent_at")
    )
    names = {one.key: one.name for one in steps_of(assignment)}
    for row in rows:
        line = _line_of(row)
        yield LaidLine(line.words, line.when, names.get(row.step, ""))


def _group(step: Step, assignment: Assignment, account: Account) -> Iterable[LaidLine]:
    """How the group answered what can be counted, and the director's own answers, laid open."""
    if assignment.laid_open_at is None:
        return
    yield from group_lines(assignment, account)


def group_lines(assignment: Assignment, account: Account | None = None) -> Iterable[LaidLine]:
    """Counts of the group's sent answers and the director's own words, question by question.

    ``account``'s own answer stands between them where a director's does. Takes of one step that
    comes again are told apart, see `sittings_of`.
    """
    sheets = list(
        Sheet.objects.filter(assignment=assignment, sent_at__isnull=False).select_related("author")
    )
    kind = kind_in(assignment.kind)
    for step in steps_of(assignment):
        here = [sheet for sheet in sheets if sheet.step == step.key]
        group = [sheet for sheet in here if sheet.author.is_musician]
        own = [sheet for sheet in here if sheet.author.is_director and not sheet.about_id]
        asked = [field for field in step.fields if field != told_apart_by(step)]
        for sitting in sittings_of(kind, step, group, own):
            for field in asked if sitting.name else step.fields:
                said = _said_of(field, sitting, account)
                if said:
                    head = ": ".join(filter(None, (sitting.name, field.prompt)))
                    yield LaidLine(". ".join(said), None, head)


def _said_of(field: Field, sitting: Sitting, account: Account | None) -> list[str]:
    """Counts of one question, then who said what by name: ``account``, and the directors."""
    answers = [sheet.answers.get(field.key) for sheet in sitting.group]
    said = []
    if gather_of(field) == "counts" and field.type != "rows":
        counts = [one for one in counted(field, answers) if one.n]
        said += [", ".join(f"{one.label}: {one.n}" for one in counts)] if counts else []
        mine = [sheet for sheet in sitting.group if account and sheet.author_id == account.pk]
        said += _by("You", field, mine) if sitting.own else []
    return said + _by("Your director", field, sitting.own)


def _by(who: str, field: Field, sheets: Iterable[Sheet]) -> list[str]:
    """What some sheets answer to one question, each after ``who``."""
    words = (words_of(field, sheet.answers.get(field.key)) for sheet in sheets)
    return [f"{who}: {one}" for one in words if one]


def _answer(step: Step, assignment: Assignment, account: Account) -> Iterable[LaidLine]:
    """What a director answered to earlier sheets of the same work."""
    rows = (
        Reply.objects.filter(sheet__assignment=assignment, sheet__author=account)
        .select_related("written_by")
        .order_by("written_at")
    )
    for row in rows:
        words = " ".join(filter(None, (row.words, row.next_step)))
        yield LaidLine(words, row.written_at.date(), row.written_by.shown_name)


LAID: dict[str, Lay] = {
    "takes": _takes,
    "goals": _goals,
    "remarks": _remarks,
    "finds": _finds,
    "earlier": _earlier,
    "group": _group,
    "answer": _answer,
}
"""Key of ``kinds.LAID_BEFORE`` to the query that answers it."""

NONE = {
    "takes": "No take is kept here. Takes are removed after some time.",
    "group": "Your director has not shown this yet. It comes after everyone has sent theirs.",
    "answer": "Your director has not answered yet.",
}
"""What to say where there is nothing to lay down; for others a plain word."""
