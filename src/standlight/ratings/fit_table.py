"""A typed table of ratings, read for the many-facet model. Pure.

It is read row by row into columns of shared names, so that a million ratings stay small.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from operator import itemgetter

from standlight.errors import UnreadableRatings
from standlight.ratings.levels import NO_LEVEL_NAMES
from standlight.ratings.rating_columns import (
    ASKED,
    column_names,
    criterion_columns,
    is_long,
    typed_level,
)
from standlight.ratings.ratings_table import Ratings, gather_ratings

STUDENT, RECORDING = "student", "recording"
OBJECTS = (STUDENT, RECORDING)
"""What is measured: the student, or each recording on its own (criteria of one take share
its day, so that a halo does not shrink the scale)."""

APART = ("self", "peer", "guest")
"""Classes of raters that are never in the link between directors."""


_NAMES = (*ASKED, "ensemble", "rater_class", "occasion", "take", "criterion")


@dataclass(frozen=True, slots=True)
class FitTable:
    """The ratings to fit; the same with students as objects, for what may be compared; faults."""

    ratings: Ratings
    by_student: Ratings
    faults: tuple[str, ...]


@dataclass(slots=True)
class _Columns:
    """The columns as they grow, one entry a rating."""

    student: list[str] = field(default_factory=list)
    task: list[str] = field(default_factory=list)
    criterion: list[str] = field(default_factory=list)
    rater: list[str] = field(default_factory=list)
    level: list[int | None] = field(default_factory=list)
    ensemble: list[str] = field(default_factory=list)
    recording: list[str] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    n_apart: int = 0
    shared: dict[str, str] = field(default_factory=dict)


def read_fit_table(text: str, name: str = "the table", measured: str = STUDENT) -> FitTable:
    """Ratings from a CSV with ``student,task,rater`` and one column a criterion.

    Or long: ``student,task,rater,criterion,level``. ``ensemble``, ``take``, ``occasion`` and
    ``rater_class`` may stand beside; without ``take``, student x task x occasion is the
    recording. Empty, "not_shown" and "not_heard" are not rated. A cell that is no whole
    number from 0 to 100 is a fault and left out. ``UnreadableRatings`` for no such table.

    >>> text = "student,task,rater,tone\\nA,march,x,3\\nB,march,x,2\\nB,march,y,five\\n"
    >>> table = read_fit_table(text)
    >>> table.ratings.n_ratings, table.faults
    (2, ("line 4: 'five' for tone is no whole level",))
    """
    reader = csv.reader(io.StringIO(text, newline=""))
    head, criteria = _head(reader, name)
    columns = _Columns()
    shape = _Shape(head, criteria)
    try:
        for row in reader:
            if any(row):
                _read_row(columns, shape, row, reader.line_num)
    except csv.Error as problem:
        raise UnreadableRatings(f"the table is no CSV: {problem}", where=name) from problem
    ensembles = columns.ensemble if "ensemble" in head else None
    rest = (columns.task, columns.criterion, columns.rater, columns.level, ensembles)
    by_student = gather_ratings(columns.student, *rest, columns.recording)
    ratings = by_student
    if measured == RECORDING:
        ratings = gather_ratings(columns.recording, *rest)
    if columns.n_apart:
        apart = f"{', '.join(APART[:-1])} or {APART[-1]}"
        sentence = f"{columns.n_apart} rows by {apart} are not in the link; left out."
        ratings = replace(ratings, remarks=(*ratings.remarks, sentence))
    return FitTable(ratings, by_student, tuple(columns.faults))


class _Shape:
    """Where the cells of a row stand; a column that is not there reads as empty."""

    __slots__ = ("criteria", "names", "width")

    def __init__(self, head: dict[str, int], criteria: Sequence[tuple[str, int]]) -> None:
        """Look the columns up once, for all rows."""
        self.width = max(head.values()) + 1
        self.criteria = criteria
        self.names = itemgetter(*(head.get(column, self.width) for column in _NAMES))


def _head(reader: Iterator[list[str]], name: str) -> tuple[dict[str, int], list[tuple[str, int]]]:
    """Where each known column stands, and the columns of criteria."""
    names = column_names(next(reader, []), name)
    head = {column: place for place, column in enumerate(names)}
    if is_long(names):
        return head, [("", head["level"])]
    return head, [(column, head[column]) for column in criterion_columns(names)]


def _read_row(columns: _Columns, shape: _Shape, row: list[str], line: int) -> None:
    """Put one row's ratings at the end of ``columns``."""
    row = [cell.strip() for cell in row[: shape.width]]
    row += [""] * (shape.width + 1 - len(row))
    shared = columns.shared
    names = [shared.setdefault(cell, cell) for cell in shape.names(row)]
    student, task, rater, ensemble, rater_class, occasion, take, named = names
    if not (student and task and rater):
        if any(row):
            columns.faults.append(f"line {line} lacks a student, a task or a rater")
        return
    if rater_class.lower() in APART:
        columns.n_apart += 1
        return
    recording = " / ".join(part for part in (student, task, occasion, take) if part)
    recording = shared.setdefault(recording, recording)
    for criterion, place in shape.criteria:
        text = row[place]
        criterion = criterion or named
        if not criterion:
            columns.faults.append(f"line {line} has no name of a criterion")
            continue
        level = typed_level(text)
        if level is None and text and text not in NO_LEVEL_NAMES:
            columns.faults.append(f"line {line}: {text!r} for {criterion} is no whole level")
        columns.student.append(student)
        columns.task.append(task)
        columns.criterion.append(criterion)
        columns.rater.append(rater)
        columns.level.append(level)
        columns.ensemble.append(ensemble)
        columns.recording.append(recording)
