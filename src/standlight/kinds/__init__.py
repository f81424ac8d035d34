"""Kinds of work: one definition each, from which form, printed page and data follow.

``KINDS`` maps a key to the `Kind` that the tool ships; a director's own are read by `kind_of`
from the same plain data. Adding a kind is one definition and one line here; shared code never
asks which kind it holds, only which types its questions have (``FIELD_TYPES``, a table too).
`standing_of` says what is open or wrong in a musician's answers, `text_of` reads one as words.
"""

from __future__ import annotations

from standlight.kinds import finds, skill_project
from standlight.kinds.definitions import data_of, kind_of, problems_of
from standlight.kinds.field_types import FIELD_TYPES, FieldType, is_blank, problems_with, text_of
from standlight.kinds.reading_grade import ReadingGrade, reading_grade
from standlight.kinds.standing import Open, Standing, standing_of
from standlight.kinds.values import (
    MOMENTS,
    READERS,
    Choice,
    Due,
    Field,
    Kind,
    Option,
    Step,
    UnreadableKind,
)

KINDS: dict[str, Kind] = {
    kind.key: kind for kind in (kind_of(module.DEFINITION) for module in (skill_project, finds))
}
"""Every kind that the tool ships, by key."""

__all__ = [
    "FIELD_TYPES",
    "KINDS",
    "MOMENTS",
    "READERS",
    "Choice",
    "Due",
    "Field",
    "FieldType",
    "Kind",
    "Open",
    "Option",
    "ReadingGrade",
    "Standing",
    "Step",
    "UnreadableKind",
    "data_of",
    "is_blank",
    "kind_of",
    "problems_of",
    "problems_with",
    "reading_grade",
    "standing_of",
    "text_of",
]
