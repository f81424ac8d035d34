"""The tables behind demand and flags, as they ship; a director's edits make another `Tables`.

Edits are plain values, so that they can be kept anywhere: table name to row key to the cells
that differ. `cells_of` shows every cell a table has, `edited` applies edits and refuses what
cannot be meant, `differing` finds the fewest edits that lead from one `Tables` to another.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from importlib.resources import files
from types import MappingProxyType

from standlight.errors import StandlightError
from standlight.music import pitch_name
from standlight.score import INSTRUMENTS

Cell = str | int | float | bool | None
Rows = Mapping[str, Mapping[str, Cell]]
Changes = Mapping[str, Rows]

LEAST_WEIGHT, MOST_WEIGHT = 0.0, 3.0
"""Weight 0 does not count; beyond 3 one feature would drown the others (our choice)."""

MOST_FIFTHS = 7
"""Sharps or flats that a key signature has at most."""

LONGEST_WORDS = 160
"""Characters that the words of a grade may have (our choice)."""

SHORTEST_VALUES: Mapping[Fraction, str] = MappingProxyType(
    {
        Fraction(2): "half notes",
        Fraction(1): "quarter notes",
        Fraction(1, 2): "eighth notes",
        Fraction(1, 4): "sixteenth notes",
        Fraction(1, 8): "thirty-second notes",
    }
)
"""What a grade may name as its shortest value, in quarters, by name."""

RANGE_NAMES: Mapping[str, str] = MappingProxyType(
    {"school": "school range", "grade1": "grade 1 range", "grade2": "grade 2 range"}
)
"""The ranges of an instrument by key, in words."""


@dataclass(frozen=True, slots=True)
class Range:
    """A range in sounding MIDI numbers, both ends included."""

    low_midi: int
    high_midi: int

    def __post_init__(self) -> None:
        """Refuse a range that is upside down or no MIDI range."""
        if not 0 <= self.low_midi <= self.high_midi <= 127:
            raise ValueError(
                f"a range from {self.low_midi} to {self.high_midi} is not low to high in 0..127"
            )


@dataclass(frozen=True, slots=True)
class InstrumentRanges:
    """An instrument's school range and, where known, its ranges in music of grades 1 and 2."""

    school: Range
    grade1: Range | None = None
    grade2: Range | None = None

    def named(self, name: str) -> Range:
        """The range called "school", "grade1" or "grade2"; the school's where that is unknown."""
        return {"grade1": self.grade1, "grade2": self.grade2}.get(name) or self.school


@dataclass(frozen=True, slots=True)
class Grade:
    """What music of one grade asks at most, as this programme sees it."""

    number: int
    words: str
    most_fifths: int
    shortest_value_quarters: Fraction
    tuplets: bool
    range_name: str


@dataclass(frozen=True, slots=True)
class Tables:
    """Ranges by instrument, descriptors by grade, weights by feature of demand."""

    ranges: Mapping[str, InstrumentRanges]
    grades: Mapping[int, Grade]
    weights: Mapping[str, float]
    weight_words: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class VoiceStage:
    """A stage of a changing voice or a common voice part: sounding pitch names and a source flag.

    A guide for a person who hears the singer; no figure of the house is made of it.
    """

    name: str
    range_names: tuple[str, str]
    tessitura_names: tuple[str, str]
    source: str


def _rows(name: str) -> list[dict[str, str]]:
    """The rows of a table beside this module."""
    text = files("standlight.passages").joinpath("data", name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines(), delimiter="\t"))


def _ranges() -> Mapping[str, InstrumentRanges]:
    """Every pitched instrument and voice of the instruments table."""
    return MappingProxyType(
        {
            row.name: InstrumentRanges(
                Range(row.sounding_low_midi, row.sounding_high_midi),
                *(Range(*pair) if pair else None for pair in row.grade_ranges_midi),
            )
            for row in INSTRUMENTS.values()
            if row.sounding_low_midi is not None and row.sounding_high_midi is not None
        }
    )


def _grades() -> Mapping[int, Grade]:
    """The grades by number."""
    return MappingProxyType(
        {
            int(row["grade"]): Grade(
                int(row["grade"]),
                row["words"],
                int(row["most_fifths"]),
                Fraction(row["shortest_value_quarters"]),
                row["tuplets"] == "yes",
                row["range"],
            )
            for row in _rows("grades.tsv")
        }
    )


def _shipped() -> Tables:
    """The tables as they ship."""
    weights = _rows("weights.tsv")
    return Tables(
        ranges=_ranges(),
        grades=_grades(),
        weights=MappingProxyType({row["feature"]: float(row["weight"]) for row in weights}),
        weight_words=MappingProxyType({row["feature"]: row["words"] for row in weights}),
    )


SHIPPED_TABLES: Tables = _shipped()
"""The tables as they ship; sources in data/SOURCES.md and score/data/SOURCES.md."""


VOICE_STAGES: tuple[VoiceStage, ...] = tuple(
    VoiceStage(
        row["stage_or_part"],
        (row["range_low"], row["range_high"]),
        (row["tessitura_low"], row["tessitura_high"]),
        row["source_flag"],
    )
    for row in _rows("voices.tsv")
)
"""Stages of changing voices, then common voice parts; sources in data/SOURCES.md."""


def cells_of(tables: Tables, name: str) -> dict[str, dict[str, Cell]]:
    """Every cell of the table ``name`` ("ranges", "grades", "weights"), by row and cell key.

    Pitches are sounding MIDI numbers, ``None`` where an instrument has no range for a grade;
    the shortest value is a fraction of a quarter as text. Raises `StandlightError` for
    another name.

    >>> cells_of(SHIPPED_TABLES, "ranges")["Clarinet in Bb"]["grade1_high_midi"]
    68
    >>> cells_of(SHIPPED_TABLES, "grades")["1"]["shortest_value_quarters"]
    '1/2'
    """
    return _kind(name).plain(tables)


def edited(tables: Tables, changes: Changes) -> Tables:
    """``tables`` with the cells of ``changes`` in the place of their own; the rest as it was.

    Cells are those of `cells_of`. Raises `StandlightError` for a table, row or cell that
    does not exist, and for a value that cannot be meant.

    >>> edited(SHIPPED_TABLES, {"weights": {"leaps": {"weight": 0}}}).weights["leaps"]
    0.0
    >>> edited(SHIPPED_TABLES, {"ranges": {"Flute": {"school_high_midi": 50}}})
    Traceback (most recent call last):
    ...
    standlight.errors.StandlightError: the school range runs from C4 down to D3, at Flute \
    (lowest and highest swapped? An octave too far?)
    """
    made = {name: _edited_rows(tables, name, rows) for name, rows in changes.items()}
    answer = replace(tables, **made)
    if not any(answer.weights.values()):
        raise StandlightError(
            "no feature counts, so every passage would ask the same",
            slip="give at least one feature a weight above 0",
        )
    return answer


def differing(tables: Tables, other: Tables) -> dict[str, dict[str, dict[str, Cell]]]:
    """The fewest changes that `edited` needs to make ``other`` of ``tables``.

    >>> differing(SHIPPED_TABLES, edited(SHIPPED_TABLES, {"grades": {"1": {"most_fifths": 2}}}))
    {'grades': {'1': {'most_fifths': 2}}}
    """
    changes = {}
    for name, kind in _KINDS.items():
        before = kind.plain(tables)
        rows = {
            key: {cell: value for cell, value in cells.items() if value != before[key][cell]}
            for key, cells in kind.plain(other).items()
        }
        changes[name] = {key: cells for key, cells in rows.items() if cells}
    return {name: rows for name, rows in changes.items() if rows}


@dataclass(frozen=True, slots=True)
class _Kind:
    """How one table becomes plain cells, and a row of plain cells a checked value again."""

    plain: Callable[[Tables], dict[str, dict[str, Cell]]]
    made: Callable[[str, Mapping[str, Cell]], object]
    key_of: Callable[[str], object] = str


def _kind(name: str) -> _Kind:
    """The kind of a table; raises `StandlightError` for a name of none."""
    if name not in _KINDS:
        raise StandlightError(
            f"there is no table named {name!r}", slip=f"the tables are {', '.join(_KINDS)}"
        )
    return _KINDS[name]


def _edited_rows(tables: Tables, name: str, changes: Rows) -> Mapping[object, object]:
    """One table with changed rows."""
    kind = _kind(name)
    plain, rows = kind.plain(tables), dict(getattr(tables, name))
    for key, cells in changes.items():
        if key not in plain:
            raise StandlightError(f"the table of {name} has no row {key!r}", slip="misspelt?")
        for strange in sorted(set(cells) - set(plain[key])):
            raise StandlightError(
                f"there is no cell {strange!r}",
                where=f"{name}, {key}",
                slip=f"the cells are {', '.join(plain[key])}",
            )
        rows[kind.key_of(key)] = kind.made(key, {**plain[key], **cells})
    return MappingProxyType(rows)


def _plain_ranges(tables: Tables) -> dict[str, dict[str, Cell]]:
    """The ranges as plain cells."""
    return {
        name: {
            f"{which}_{end}_midi": getattr(limits, f"{end}_midi") if limits else None
            for which in RANGE_NAMES
            for limits in (getattr(row, which),)
            for end in ("low", "high")
        }
        for name, row in tables.ranges.items()
    }


def _made_ranges(name: str, cells: Mapping[str, Cell]) -> InstrumentRanges:
    """An instrument's ranges of plain cells."""
    found = {which: _made_range(name, which, cells) for which in RANGE_NAMES}
    school = found.pop("school")
    if school is None:
        raise StandlightError(
            "the school range is empty", where=name, slip="only a grade's range may be left out"
        )
    return InstrumentRanges(school, **found)


def _made_range(name: str, which: str, cells: Mapping[str, Cell]) -> Range | None:
    """One range of plain cells, ``None`` where both ends are."""
    low, high = (cells[f"{which}_{end}_midi"] for end in ("low", "high"))
    words = RANGE_NAMES[which]
    if low is None and high is None:
        return None
    if low is None or high is None:
        raise StandlightError(
            f"the {words} has one end only", where=name, slip="fill in both, or neither"
        )
    written_shift = INSTRUMENTS[name].transposition
    for midi in (low, high):
        if not (_is_whole(midi) and 0 <= midi <= 127 and 0 <= midi - written_shift <= 127):
            raise StandlightError(
                f"the {words} reaches {midi!r}, which is no pitch",
                where=name,
                slip="typed in a wrong octave?",
            )
    if low > high:
        ends = [pitch_name(midi - written_shift) for midi in (low, high)]
        raise StandlightError(
            f"the {words} runs from {ends[0]} down to {ends[1]}",
            where=name,
            slip="lowest and highest swapped? An octave too far?",
        )
    return Range(low, high)


def _plain_grades(tables: Tables) -> dict[str, dict[str, Cell]]:
    """The grades as plain cells."""
    return {
        str(number): {
            "words": grade.words,
            "most_fifths": grade.most_fifths,
            "shortest_value_quarters": str(grade.shortest_value_quarters),
            "tuplets": grade.tuplets,
            "range_name": grade.range_name,
        }
        for number, grade in tables.grades.items()
    }


def _made_grade(key: str, cells: Mapping[str, Cell]) -> Grade:
    """A grade of plain cells."""
    where = f"grade {key}"
    words, fifths, shortest = (
        cells[one] for one in ("words", "most_fifths", "shortest_value_quarters")
    )
    values = {str(quarters): quarters for quarters in SHORTEST_VALUES}
    if not (isinstance(words, str) and 0 < len(words.strip()) <= LONGEST_WORDS):
        raise StandlightError(
            f"a grade needs words of 1 to {LONGEST_WORDS} characters", where=where
        )
    if not (_is_whole(fifths) and 0 <= fifths <= MOST_FIFTHS):
        raise StandlightError(
            f"{fifths!r} sharps or flats are not between 0 and {MOST_FIFTHS}", where=where
        )
    if shortest not in values:
        raise StandlightError(
            f"{shortest!r} is no shortest value", where=where, slip=f"one of {', '.join(values)}"
        )
    if not isinstance(cells["tuplets"], bool):
        raise StandlightError(f"tuplets are yes or no, not {cells['tuplets']!r}", where=where)
    if cells["range_name"] not in RANGE_NAMES:
        raise StandlightError(
            f"{cells['range_name']!r} is no range",
            where=where,
            slip=f"one of {', '.join(RANGE_NAMES)}",
        )
    return Grade(
        int(key), words.strip(), fifths, values[shortest], cells["tuplets"], cells["range_name"]
    )


def _plain_weights(tables: Tables) -> dict[str, dict[str, Cell]]:
    """The weights as plain cells."""
    return {feature: {"weight": weight} for feature, weight in tables.weights.items()}


def _made_weight(feature: str, cells: Mapping[str, Cell]) -> float:
    """A weight of plain cells."""
    weight = cells["weight"]
    number = isinstance(weight, int | float) and not isinstance(weight, bool)
    if not (number and math.isfinite(weight) and LEAST_WEIGHT <= weight <= MOST_WEIGHT):
        raise StandlightError(
            f"the weight {weight!r} is not between {LEAST_WEIGHT:g} and {MOST_WEIGHT:g}",
            where=feature,
            slip="0 leaves a feature out",
        )
    return float(weight)


def _is_whole(value: Cell) -> bool:
    """True for a whole number; JSON's true and false are none."""
    return isinstance(value, int) and not isinstance(value, bool)


_KINDS: Mapping[str, _Kind] = MappingProxyType(
    {
        "ranges": _Kind(_plain_ranges, _made_ranges),
        "grades": _Kind(_plain_grades, _made_grade, int),
        "weights": _Kind(_plain_weights, _made_weight),
    }
)
"""The tables that can be edited, by name."""
