"""Kinds of work: one definition each, from which form, printed page and data follow.

``KINDS`` maps a key to the `Kind` that the tool ships; a director's own are read by `kind_of`
from the same plain data. Adding a kind is one definition and one line here; shared code never
asks which kind it holds, only which types its questions have (``FIELD_TYPES``, a table too).
`standing_of` says what is open or wrong in a musician's answers, `text_of` reads one as words.
`narrowed` lays an assignment's own rules over a step; `counted`, `spread` and `pinned` lay all
answers to one question together.
"""

from __future__ import annotations

from standlight.kinds import (
    adjudication,
    background_note,
    concert_reflection,
    ensemble_acts,
    finds,
    listening_map,
    music_and_me,
    playing_check,
    rehearsal_remark,
    score_study,
    skill_project,
    year_reflection,
)
from standlight.kinds.definitions import data_of, kind_of, problems_of
from standlight.kinds.field_types import (
    FIELD_TYPES,
    GATHERS,
    FieldType,
    columns_of,
    is_blank,
    problems_with,
    text_of,
)
from standlight.kinds.gathering import (
    Count,
    Pin,
    Spread,
    cells,
    counted,
    gather_of,
    pinned,
    spread,
)
from standlight.kinds.narrowing import Rules, UnreadableRules, narrowed, rule_problems, rules_of
from standlight.kinds.reading_grade import ReadingGrade, reading_grade
from standlight.kinds.standing import Open, Standing, standing_of
from standlight.kinds.values import (
    DIRECTOR_SIDES,
    LAID_BEFORE,
    LEVELS,
    MOMENTS,
    NEEDS,
    OCCASIONS,
    READERS,
    Choice,
    Due,
    Field,
    Kind,
    Option,
    RubricRow,
    Step,
    UnreadableKind,
)
from standlight.kinds.word_counts import words_in

KINDS: dict[str, Kind] = {
    kind.key: kind
    for kind in (
        kind_of(module.DEFINITION)
        for module in (
            score_study,
            background_note,
            skill_project,
            rehearsal_remark,
            ensemble_acts,
            playing_check,
            listening_map,
            adjudication,
            concert_reflection,
            music_and_me,
            finds,
            year_reflection,
        )
    )
}
"""Every kind that the tool ships, by key, in the order of a musician's year."""

__all__ = [
    "DIRECTOR_SIDES",
    "FIELD_TYPES",
    "GATHERS",
    "KINDS",
    "LAID_BEFORE",
    "LEVELS",
    "MOMENTS",
    "NEEDS",
    "OCCASIONS",
    "READERS",
    "Choice",
    "Count",
    "Due",
    "Field",
    "FieldType",
    "Kind",
    "Open",
    "Option",
    "Pin",
    "ReadingGrade",
    "RubricRow",
    "Rules",
    "Spread",
    "Standing",
    "Step",
    "UnreadableKind",
    "UnreadableRules",
    "cells",
    "columns_of",
    "counted",
    "data_of",
    "gather_of",
    "is_blank",
    "kind_of",
    "narrowed",
    "pinned",
    "problems_of",
    "problems_with",
    "reading_grade",
    "rule_problems",
    "rules_of",
    "spread",
    "standing_of",
    "text_of",
    "words_in",
]
