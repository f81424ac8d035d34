"""A stack as a list: everyone of the assignment by section, with what they sent and its state."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils import timezone

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
    """A step whose answers can be laid side by side."""

    key: str
    name: str
    sent: int


@dataclass(frozen=True, slots=True)
class ListPage:
    """The whole stack of one assignment."""

    pk: int
    title: str
    ensemble: str
    ensemble_pk: int
    kind: str
    side: str
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
        kind.director_side,
        _unread(rows),
        tuple(
            StepLink(key, step.name, sum(row.step == key for row in rows))
            for key, step in steps.items()
        ),
        tuple(ListedSection(name, tuple(people)) for name, people in sections.items()),
    )


def bank_of(account: Account) -> tuple[BankKind, ...]:
    """The programme's lines for replies, by kind of work. Two queries."""
    names = {
        bank_key(kind): kind.name
        for kind in (
            kind_in(row.kind)
            for row in Assignment.objects.visible_to(account).select_related("kind")
        )
    }
    lines: dict[str, list[BankLine]] = {}
    rows = CommentLine.objects.visible_to(account).filter(criterion__startswith="kind:")
    for row in rows.order_by("criterion", "-place", "pk"):
        line = BankLine(row.pk, CommentLine.PLACES[row.place], row.text)
        lines.setdefault(row.criterion, []).append(line)
    return tuple(
        BankKind(names.get(key, key.removeprefix("kind:").replace("_", " ")), tuple(found))
        for key, found in lines.items()
    )


def _state(stand: Stand) -> str:
    """What is said of a musician beside the sheets; nothing where the sheets say it."""
    return "" if stand.state in HANDED_IN else stand.words


def _unread(rows: list[Sheet]) -> Unread:
    """How many of the sheets nobody has opened, and how long the oldest waits."""
    waiting = [row.sent_at for row in rows if state_of(row) == UNREAD]
    return Unread(len(waiting), waits_words(days_since(min(waiting)) if waiting else None))
