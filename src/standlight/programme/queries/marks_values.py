"""What the pages of Marks show, as frozen values; a row can be kept as plain data and read back."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class MarkedLevel:
    """One criterion of one work: its name, the level as a figure and in words, empty if none."""

    criterion: str
    figure: str
    word: str


@dataclass(frozen=True, slots=True)
class MarkCell:
    """One musician's work in one column. ``key`` is the column's; ``check_pk`` 0 for writing."""

    key: str
    check_pk: int
    title: str
    state: str
    levels: tuple[MarkedLevel, ...]
    can_excuse: bool = False
    is_excused: bool = False

    @property
    def figures(self) -> str:
        """The levels as figures in the column's order, a dash for none."""
        return " ".join(level.figure or "–" for level in self.levels)

    @property
    def words(self) -> str:
        """The levels in words in the column's order."""
        return ", ".join(level.word for level in self.levels)


@dataclass(frozen=True, slots=True)
class ShownLine:
    """One criterion of a mark: its levels in order of day, which of them count, what they make."""

    name: str
    levels: str
    counting: str
    figure: str


@dataclass(frozen=True, slots=True)
class AskedAbout:
    """A question about a mark before it is final."""

    kind: str
    sentence: str


@dataclass(frozen=True, slots=True)
class MarkRow:
    """One musician: a cell a column, the mark, and its reason.

    ``value`` is on levels 1 to 4 and ``printed`` the same as text; ``likely`` its bounds in
    words; ``note`` says that somebody left or came late. ``n_levels`` is what the mark rests on.
    """

    musician_pk: int
    roster_id: str
    given_name: str
    family_name: str
    section: str
    note: str
    cells: tuple[MarkCell, ...]
    value: float | None
    printed: str
    word: str
    percent: float | None
    likely: str
    because: tuple[str, ...]
    lines: tuple[ShownLine, ...]
    left_out: tuple[str, ...]
    n_levels: int
    n_works: int
    flags: tuple[AskedAbout, ...] = ()
    changed: bool = False
    since: str = ""

    @property
    def name(self) -> str:
        """Given name, then family name."""
        return f"{self.given_name} {self.family_name}"


@dataclass(frozen=True, slots=True)
class MarkedColumn:
    """A column: the work, its due day, its criteria in order."""

    key: str
    title: str
    due_on: datetime.date
    criteria: tuple[str, ...]

    @property
    def is_check(self) -> bool:
        """True for a playing or singing check, false for written work."""
        return self.key[0] == "c"


@dataclass(frozen=True, slots=True)
class LookLine:
    """One sentence, and the musicians (number, name) of whom it is true."""

    sentence: str
    people: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True)
class ToLook:
    """One kind of question: its heading, its sentences, and how many musicians it is about."""

    heading: str
    lines: tuple[LookLine, ...]

    @property
    def n_people(self) -> int:
        """Musicians named, one that is named twice counted once."""
        return len({pk for line in self.lines for pk, _ in line.people})


@dataclass(frozen=True, slots=True)
class ShownChange:
    """A change after closing, in words."""

    musician_pk: int
    name: str
    changed_at: datetime.datetime
    changed_by: str
    from_words: str
    to_words: str
    why: str


@dataclass(frozen=True, slots=True)
class FileState:
    """A form of file for the school: when it was last made, and how many marks are new since."""

    form: str
    name: str
    hint: str
    exported_at: datetime.datetime | None
    exported_by: str
    n_new: int


@dataclass(frozen=True, slots=True)
class PeriodPage:
    """A marking period of one ensemble, open (a preview) or closed (the frozen copy).

    ``state`` is a digest of everything shown: a director closes what they have seen.
    """

    ensemble_pk: int
    ensemble: str
    period_pk: int
    period: str
    starts_on: datetime.date
    ends_on: datetime.date
    columns: tuple[MarkedColumn, ...]
    rows: tuple[MarkRow, ...]
    policy: tuple[str, ...]
    policy_name: str
    caution: str
    to_look: tuple[ToLook, ...]
    state: str
    closed_at: datetime.datetime | None = None
    closed_by: str = ""
    since: tuple[ToLook, ...] = ()
    changes: tuple[ShownChange, ...] = ()
    files: tuple[FileState, ...] = ()

    @property
    def n_marks(self) -> int:
        """Musicians with a mark."""
        return sum(row.value is not None for row in self.rows)

    @property
    def n_without(self) -> int:
        """Musicians without one."""
        return len(self.rows) - self.n_marks

    @property
    def n_asked_about(self) -> int:
        """Musicians with a question."""
        return sum(bool(row.flags) for row in self.rows)


def look_part(heading: str, found: Iterable[tuple[int, str, str]]) -> ToLook:
    """A part of (number, name, sentence): who has the same sentence stands in one line."""
    people: dict[str, list[tuple[int, str]]] = {}
    for pk, name, sentence in found:
        people.setdefault(sentence, []).append((pk, name))
    lines = sorted(people.items(), key=lambda line: -len(line[1]))
    return ToLook(heading, tuple(LookLine(sentence, tuple(who)) for sentence, who in lines))


def row_data(row: MarkRow) -> dict[str, Any]:
    """Plain data of a row, as it is frozen."""
    return asdict(row)


def row_of(data: Mapping[str, Any]) -> MarkRow:
    """The row of frozen data."""
    cells = tuple(
        MarkCell(
            **{**cell, "levels": tuple(MarkedLevel(**level) for level in cell["levels"])}
        )
        for cell in data["cells"]
    )
    lists = ("because", "left_out")
    return MarkRow(
        **{
            **data,
            **{name: tuple(data[name]) for name in lists},
            "cells": cells,
            "lines": tuple(ShownLine(**line) for line in data["lines"]),
            "flags": tuple(AskedAbout(**flag) for flag in data["flags"]),
        }
    )


def column_data(column: MarkedColumn) -> dict[str, Any]:
    """Plain data of a column, as it is frozen."""
    return {**asdict(column), "due_on": column.due_on.isoformat()}


def column_of(data: Mapping[str, Any]) -> MarkedColumn:
    """The column of frozen data."""
    return MarkedColumn(
        data["key"],
        data["title"],
        datetime.date.fromisoformat(data["due_on"]),
        tuple(data["criteria"]),
    )
