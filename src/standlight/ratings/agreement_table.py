"""A typed table of ratings as grids for the agreement figures, one a criterion. Pure."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from standlight.errors import UnreadableRatings
from standlight.ratings.levels import NO_LEVEL_NAMES
from standlight.ratings.rating_columns import (
    column_names,
    criterion_columns,
    is_long,
    typed_level,
)

RECORDING = ("student", "task", "occasion", "take")
"""What tells two recordings apart; a column that is not there tells nothing."""


@dataclass(frozen=True, slots=True)
class RatedGrid:
    """What one class of raters gave for one criterion: ``grid`` is recordings x ``raters``.

    ``None`` in the grid is "not rated"; ``rater_class`` is empty where the table has none.
    """

    criterion: str
    rater_class: str
    raters: tuple[str, ...]
    grid: tuple[tuple[int | None, ...], ...]


@dataclass(frozen=True, slots=True)
class TypedRatings:
    """The grids in the order the criteria appear, what was refused, and what was noticed."""

    grids: tuple[RatedGrid, ...]
    faults: tuple[str, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Cell:
    """One cell that may hold a level, with the line it stands on."""

    line: int
    rater_class: str
    criterion: str
    recording: tuple[str, ...]
    rater: str
    text: str


def read_rating_table(text: str, name: str = "the table") -> TypedRatings:
    """Grids from a table with ``student,task,rater`` and one column a criterion.

    Or long: ``student,task,rater,criterion,level``. ``ensemble``, ``take``, ``occasion`` and
    ``rater_class`` may stand beside. Empty, "not_shown" and "not_heard" are not rated; a cell
    that is no whole number from 0 to 100 is a fault and is left out, and so is a work to
    which one rater gave two levels. Raters of different classes are never laid side by side.
    Raises `UnreadableRatings` when it is no such table at all.

    >>> found = read_rating_table("student,task,rater,tone\\nA,march,x,3\\nA,march,y,4\\n")
    >>> found.grids[0].raters, found.grids[0].grid
    (('x', 'y'), ((3, 4),))
    """
    head, rows = _rows(text, name)
    cells = tuple(_cells(head, rows))
    needed = ("student", "rater", "criterion") if is_long(head) else ("student", "rater")
    faults = [
        f"line {line} has no name of a {column}"
        for line, row in rows
        for column in needed
        if not row[column]
    ]
    levels: dict[_Cell, int] = {}
    n_no_level = 0
    for cell in cells:
        if not (cell.text and cell.rater and cell.criterion and cell.recording[0]):
            continue
        if cell.text in NO_LEVEL_NAMES:
            n_no_level += 1
            continue
        level = typed_level(cell.text)
        if level is None:
            faults.append(
                f"line {cell.line}: {cell.text!r} for {cell.criterion} is no whole level"
            )
        else:
            levels[cell] = level
    remarks = [f"Not rated, not shown or not heard: {n_no_level}."] if n_no_level else []
    given, doubled = _each_once(levels)
    return TypedRatings(tuple(_grids(cells, given)), (*faults, *doubled[0]),
                        (*remarks, *doubled[1]))  # fmt: skip


def _rows(text: str, name: str) -> tuple[list[str], list[tuple[int, dict[str, str]]]]:
    """Column names, and each row with its line number; known columns in small letters."""
    try:
        reader = csv.reader(io.StringIO(text, newline=""), strict=True)
        table = [(reader.line_num, [cell.strip() for cell in row]) for row in reader]
    except csv.Error as problem:
        raise UnreadableRatings(f"the table is no CSV: {problem}", where=name) from problem
    table = [(line, row) for line, row in table if any(row)]
    if not table:
        raise UnreadableRatings("the table is empty", where=name)
    head = column_names(table[0][1], name)
    for line, row in table[1:]:
        if len(row) > len(head) and any(row[len(head) :]):
            raise UnreadableRatings("a row is longer than the head", where=f"line {line} of {name}")
    empty = [""] * len(head)
    return head, [
        (line, dict(zip(head, [*row, *empty], strict=False))) for line, row in table[1:]
    ]


def _cells(head: Sequence[str], rows: Sequence[tuple[int, dict[str, str]]]) -> Iterator[_Cell]:
    """Every cell that may hold a level, also the empty ones: they name their criterion."""
    one_a_row = is_long(head)
    for line, row in rows:
        recording = tuple(row.get(column, "") for column in RECORDING)
        for column in criterion_columns(head):
            criterion = row["criterion"] if one_a_row else column
            rater_class = row.get("rater_class", "")
            yield _Cell(line, rater_class, criterion, recording, row["rater"], row[column])


_Key = tuple[str, str, tuple[str, ...], str]


def _each_once(
    levels: dict[_Cell, int],
) -> tuple[dict[_Key, int], tuple[list[str], list[str]]]:
    """Each rater's one level of a work, with faults and remarks on what stood there twice."""
    seen: dict[_Key, list[tuple[int, int]]] = {}
    for cell, level in levels.items():
        key = (cell.rater_class, cell.criterion, cell.recording, cell.rater)
        seen.setdefault(key, []).append((cell.line, level))
    faults, n_again = [], 0
    kept = {}
    for key, given in seen.items():
        if len({level for _, level in given}) == 1:
            kept[key] = given[0][1]
            n_again += len(given) - 1
            continue
        lines = " and ".join(str(line) for line, _ in given)
        faults.append(
            f"lines {lines}: {key[3]} gave the same work two levels for {key[1]}; left out"
            " (an occasion left out?)"
        )
    return kept, (faults, [f"Stood there again and count once: {n_again}."] * (n_again > 0))


def _grids(cells: Sequence[_Cell], given: dict[_Key, int]) -> Iterator[RatedGrid]:
    """One grid for each criterion and each class that rated it; an empty one where none did."""
    levels: dict[tuple[str, str], dict[tuple[tuple[str, ...], str], int]] = {}
    for (rater_class, criterion, recording, rater), level in given.items():
        levels.setdefault((criterion, rater_class), {})[recording, rater] = level
    classes = tuple(dict.fromkeys(cell.rater_class for cell in cells))
    for criterion in dict.fromkeys(cell.criterion for cell in cells if cell.criterion):
        rated_by = [name for name in classes if (criterion, name) in levels]
        for rater_class in rated_by or [""]:
            found = levels.get((criterion, rater_class), {})
            raters = tuple(sorted({rater for _, rater in found}))
            rows = (
                tuple(found.get((recording, rater)) for rater in raters)
                for recording in sorted({recording for recording, _ in found})
            )
            yield RatedGrid(criterion, rater_class, raters, tuple(rows))
