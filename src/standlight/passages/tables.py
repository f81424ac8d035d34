"""The tables behind demand and flags, as they ship; a director's edits make another `Tables`."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from importlib.resources import files
from types import MappingProxyType

from standlight.score import INSTRUMENTS


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
