"""A stack as a list: everyone of the assignment by section, with what they sent and its state."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import QuerySet
from django.utils import timezone

from standlight.criteria import CRITERIA
from standlight.programme.models import Account, Assignment, CommentLine, Sheet
from standlight.programme.queries.assignments import HANDED_IN, Stand, work_standing
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.reading import (
    STATE_WORDS,
    UNREAD,
    ListedSheet,
    Unread,
    days_since,
    sent_sheets,
    state_of,
    waits_words,
)
from standlight.programme.queries.reading_sheet import bank_key, step_in, what_words
from standlight.ratings import LEVEL_NAMES

PLACE_WORDS = {CommentLine.STRENGTH: "about what you read", CommentLine.NEXT_STEP: "a next step"}
"""Which line of a reply a line of the bank fills."""


@dataclass(frozen=True, slots=True)
class ListedMusician:
    """A musician with the sheets sent; ``state`` is said where there is nothing to open."""

    name: str
    state: str
    sheets: tuple[ListedSheet, ...]


@dataclass(frozen=True, slots=True)
class ListedSection:
    """A section in concert order."""

    name: str
    musicians: tuple[ListedMusician, ...]


@dataclass(frozen=True, slots=True)
class StepLink:
    """A step whose answers can be laid side by side; ``side`` is a key of ``DIRECTOR_SIDES``."""

    key: str
    name: str
    sent: int
    side: str


@dataclass(frozen=True, slots=True)
class ListPage:
    """The whole stack of one assignment."""

    pk: int
    title: str
    ensemble: str
    ensemble_pk: int
    kind: str
    unread: Unread
    steps: tuple[StepLink, ...]
    sections: tuple[ListedSection, ...]


@dataclass(frozen=True, slots=True)
class BankLine:
    """A line for replies: which line of the reply it fills."""

    pk: int
    place: str
    text: str


@dataclass(frozen=True, slots=True)
class BankKind:
    """The lines that are offered for one kind of work."""

    name: str
    lines: tuple[BankLine, ...]


def list_page(account: Account, assignment: Assignment) -> ListPage:
    """Everyone of the assignment; a handful of queries."""
    kind = kind_in(assignment.kind)
    rows = list(
        sent_sheets(account).filter(assignment=assignment).select_related("reply")
    )
    steps = {step.key: step for step in kind.steps}
    listed: dict[int, list[ListedSheet]] = {}
    for row in rows:
        state = state_of(row)
        what = what_words(step_in(kind, row.step), row.number)
        listed.setdefault(row.about_id or 0, []).append(
            ListedSheet(row.key, what, state, STATE_WORDS[state])
        )
    sections: dict[str, list[ListedMusician]] = {}
    for stand in work_standing(assignment, timezone.localdate()):
        found = tuple(listed.get(stand.musician_pk, ()))
        sections.setdefault(stand.section, []).append(
            ListedMusician(stand.name, _state(stand), found)
        )
    return ListPage(
        assignment.pk,
        assignment.title,
        assignment.ensemble.name,
        assignment.ensemble_id,
        kind.name,
        _unread(rows),
        tuple(
            StepLink(key, step.name, sum(row.step == key for row in rows), kind.side_at(key))
            for key, step in steps.items()
        ),
        tuple(ListedSection(name, tuple(people)) for name, people in sections.items()),
    )


def bank_of(account: Account) -> tuple[BankKind, ...]:
    """The programme's lines for replies, by kind of work. Two queries."""
    kinds = {
        row.kind_id: kind_in(row.kind)
        for row in Assignment.objects.visible_to(account).select_related("kind")
    }.values()
    names = {row.key: row.name for kind in kinds for row in kind.rubric}
    names |= {bank_key(kind): kind.name for kind in kinds}
    lines: dict[str, list[BankLine]] = {}
    for row in reply_lines(account).order_by("criterion", "-place", "level", "pk"):
        level = f", {LEVEL_NAMES[row.level].lower()}" if row.level else ""
        line = BankLine(row.pk, f"{PLACE_WORDS[row.place]}{level}", row.text)
        lines.setdefault(row.criterion, []).append(line)
    return tuple(
        BankKind(names.get(key, key.removeprefix("kind:").replace("_", " ")), tuple(found))
        for key, found in lines.items()
    )


def reply_lines(account: Account) -> QuerySet[CommentLine]:
    """Lines of the bank that belong to replies: those of no criterion of the Desk."""
    rows = CommentLine.objects.visible_to(account).filter(place__in=PLACE_WORDS)
    return rows.exclude(criterion__in=CRITERIA)


def _state(stand: Stand) -> str:
    """What is said of a musician beside the sheets; nothing where the sheets say it."""
    return "" if stand.state in HANDED_IN else stand.words


def _unread(rows: list[Sheet]) -> Unread:
    """How many of the sheets nobody has opened, and how long the oldest waits."""
    waiting = [row.sent_at for row in rows if state_of(row) == UNREAD]
    return Unread(len(waiting), waits_words(days_since(min(waiting)) if waiting else None))
