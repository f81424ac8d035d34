"""The wall of a group: what its members share and a director has put up, in their own words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Q, QuerySet
from django.utils import timezone

from standlight.kinds import Step
from standlight.programme.models import Account, Assignment, Ensemble, Seat, Sheet
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.reading import consents, may_hang
from standlight.programme.queries.reading_answers import words_of
from standlight.programme.queries.reading_sheet import step_in, what_words

WAITING_SHOWN = 60
"""Sheets that wait for the wall on one page."""

TICK_LENGTH = 40
"""Characters of an answer beside a tick."""

NAMELESS = "name is not shown"
"""A permission that promises this in its own words is kept: no name stands beside the answer."""


@dataclass(frozen=True, slots=True)
class WallLine:
    """One answer of a shared sheet: the question in small words, and what was said."""

    prompt: str
    words: str


@dataclass(frozen=True, slots=True)
class WallSheet:
    """One shared sheet; ``who`` is "" where the permission promises that no name is shown."""

    key: UUID
    assignment_pk: int
    title: str
    who: str
    on_wall: bool
    lines: tuple[WallLine, ...]


@dataclass(frozen=True, slots=True)
class WallPage:
    """A director's page: what waits to be put up, and what is on the wall.

    ``older`` is where the page with older ones begins, None when there are none.
    """

    ensemble_pk: int
    ensemble: str
    waiting: tuple[WallSheet, ...]
    n_waiting: int
    older: int | None
    up: tuple[WallSheet, ...]


@dataclass(frozen=True, slots=True)
class PrintChoice:
    """A sheet or a question that can be ticked for the print."""

    key: str
    words: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class PrintPage:
    """One step of an assignment as a list to print; ``unshared`` sheets are left out."""

    assignment_pk: int
    title: str
    ensemble: str
    steps: tuple[tuple[str, str, bool], ...]
    step: str
    fields: tuple[PrintChoice, ...]
    sheets: tuple[PrintChoice, ...]
    names: bool
    printed: tuple[WallSheet, ...]
    unshared: int


def wall_of(ensemble: Ensemble, assignment: Assignment | None = None) -> tuple[WallSheet, ...]:
    """What is on the wall, of one assignment or of all, the latest first.

    An owner who says no is off it at once; who was promised that no name is shown has none.
    """
    rows = _shared_rows(ensemble).filter(on_wall=True)
    if assignment is not None:
        rows = rows.filter(assignment=assignment)
    return tuple(wall_sheet(row, named=None) for row in rows if may_hang(row))


def wall_page(account: Account, ensemble: Ensemble, start: int = 0) -> WallPage:
    """What the group's members would share, ``start`` left out, and what hangs. Two queries."""
    rows = _shared_rows(ensemble).filter(
        pk__in=Sheet.objects.visible_to(account).values("pk")
    )
    shared = [wall_sheet(row) for row in rows if may_hang(row)]
    waiting = [row for row in shared if not row.on_wall]
    end = start + WAITING_SHOWN
    return WallPage(
        ensemble.pk,
        ensemble.name,
        tuple(waiting[start:end]),
        len(waiting),
        end if len(waiting) > end else None,
        tuple(row for row in shared if row.on_wall),
    )


def may_see_wall(account: Account, ensemble: Ensemble) -> bool:
    """True for a musician who sits in the ensemble today."""
    today = timezone.localdate()
    return (
        Seat.objects.filter(section__ensemble=ensemble, musician__account=account)
        .filter(Q(left_on__isnull=True) | Q(left_on__gt=today))
        .exists()
    )


def _shared_rows(ensemble: Ensemble) -> QuerySet[Sheet]:
    """Sent sheets of the ensemble's musicians of kinds that a group may see, the latest first."""
    given = Assignment.objects.filter(ensemble=ensemble).select_related("kind")
    return (
        Sheet.objects.filter(
            assignment__in=[row.pk for row in given if "group" in kind_in(row.kind).seen_by],
            sent_at__isnull=False,
            author__role=Account.MUSICIAN,
        )
        .select_related("assignment__kind", "author")
        .order_by("-sent_at", "key")
    )


def is_named(step: Step) -> bool:
    """False where a permission of the step promises that the owner's name is not shown."""
    return not any(
        field.type == "consent" and NAMELESS in f"{field.prompt} {field.help}".casefold()
        for field in step.fields
    )


def wall_sheet(
    row: Sheet, keys: set[str] | None = None, *, named: bool | None = True
) -> WallSheet:
    """A sheet's words, question by question; of ``keys`` only where given. No sound, no yes.

    ``named`` as None keeps the name out where its owner was promised so.
    """
    step = step_in(kind_in(row.assignment.kind), row.step)
    lines = tuple(
        WallLine(field.prompt, words)
        for field in step.fields
        if field.type != "consent" and (keys is None or field.key in keys)
        if (words := words_of(field, row.answers.get(field.key)))
    )
    return WallSheet(
        row.key,
        row.assignment_id,
        row.assignment.title,
        row.author.shown_name if (is_named(step) if named is None else named) else "",
        row.on_wall,
        lines,
    )


def print_page(
    assignment: Assignment,
    step: Step,
    sheets: Iterable[Sheet],
    *,
    ticked: set[str] | None = None,
    fields: set[str] | None = None,
    names: bool = True,
) -> PrintPage:
    """A step's sheets to print: all of them, or those ``ticked``; all questions or ``fields``.

    Where the step asks for a permission to share, only sheets that give it can be printed.
    """
    rows = list(sheets)
    asks = any(field.type == "consent" for field in step.fields)
    offered = [row for row in rows if not asks or consents(row)]
    kind = kind_in(assignment.kind)
    worded = [field for field in step.fields if field.type not in ("consent", "recording")]
    chosen = {field.key for field in worded} if fields is None else fields
    picked = [row for row in offered if ticked is None or str(row.key) in ticked]
    return PrintPage(
        assignment.pk,
        assignment.title,
        assignment.ensemble.name,
        tuple((one.key, one.name, one.key == step.key) for one in kind.steps),
        step.key,
        tuple(PrintChoice(field.key, field.prompt, field.key in chosen) for field in worded),
        tuple(
            PrintChoice(str(row.key), _tick_words(step, row), row in picked) for row in offered
        ),
        names and is_named(step),
        tuple(
            found
            for row in picked
            if (found := wall_sheet(row, chosen, named=None if names else False)).lines
        ),
        len(rows) - len(offered),
    )


def _tick_words(step: Step, row: Sheet) -> str:
    """A sheet in the list of ticks: whose, and where there are several, its first words."""
    name = row.author.shown_name
    if step.most_times == 1:
        return name
    lines = wall_sheet(row).lines
    first = " ".join(lines[0].words.split()) if lines else what_words(step, row.number)
    return f"{name}: {first[:TICK_LENGTH]}{'…' if len(first) > TICK_LENGTH else ''}"
