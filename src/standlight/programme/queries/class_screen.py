"""One screen for everybody in the last two minutes of class: spots that the group calls out."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from django.utils import timezone

from standlight.kinds import Field, Kind
from standlight.kinds.field_types import columns_of
from standlight.programme.models import Assignment, Piece, Remark
from standlight.programme.queries.kinds import kind_in


@dataclass(frozen=True, slots=True)
class Said:
    """A spot that was called out today, and how often."""

    piece: str
    measures: str
    words: str
    times: int


@dataclass(frozen=True, slots=True)
class ClassScreen:
    """What the screen offers: pieces (key, title), what may have happened, what was said today."""

    pk: int
    title: str
    ensemble: str
    pieces: tuple[tuple[int, str], ...]
    piece: int
    choices: tuple[str, ...]
    said: tuple[Said, ...]


def spot_asked(kind: Kind) -> Field | None:
    """The first question about a spot, in any step; None for a kind that asks for none."""
    fields = (field for step in kind.steps for field in step.fields)
    return next((field for field in fields if field.type == "spot"), None)


def what_happens(field: Field) -> tuple[str, ...]:
    """The answers to choose from inside a question about a spot, as labels."""
    choices = (column for column in columns_of(field) if column.type == "choice")
    first = next(choices, None)
    return tuple(option.label for option in first.options) if first is not None else ()


def class_screen(assignment: Assignment, piece_pk: int = 0) -> ClassScreen | None:
    """The screen of an assignment; None where its kind asks for no spot. Three queries."""
    field = spot_asked(kind_in(assignment.kind))
    if field is None:
        return None
    rows = Piece.objects.filter(ensemble=assignment.ensemble_id)
    pieces = tuple(rows.order_by("-cycle__concert_on", "title").values_list("pk", "title"))
    known = [pk for pk, _ in pieces]
    chosen = next((pk for pk in (piece_pk, assignment.piece_id) if pk in known), None)
    return ClassScreen(
        pk=assignment.pk,
        title=assignment.title,
        ensemble=assignment.ensemble.name,
        pieces=pieces,
        piece=chosen or (known[0] if known else 0),
        choices=what_happens(field),
        said=_said(assignment),
    )


def _said(assignment: Assignment) -> tuple[Said, ...]:
    """What was called out today in this ensemble, the most often first."""
    rows = Remark.objects.filter(
        piece__ensemble=assignment.ensemble_id,
        said_in_class=True,
        made_at__date=timezone.localdate(),
    ).select_related("piece")
    counts: Counter[tuple[str, str, str]] = Counter()
    for row in rows:
        counts[row.piece.title, _printed(row), row.words] += 1
    return tuple(Said(*key, times) for key, times in counts.most_common())


def _printed(row: Remark) -> str:
    """Printed numbers of a remark's measures: "33" or "33 to 36"."""
    printed = {cell["index"]: str(cell["printed"]) for cell in row.piece.measures}
    first, last = (
        printed.get(index, str(index + 1)) for index in (row.first_measure, row.last_measure)
    )
    return first if first == last else f"{first} to {last}"
