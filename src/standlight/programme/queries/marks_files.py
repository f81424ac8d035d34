"""A period's marks as files: for people in roster order, and for a school's system.

The second is ``results.csv`` of 1EdTech OneRoster 1.2 (CSV binding 1.2.1). Its columns and their
order are those of the public specification as two open implementations write them down
(tests/programme/test_marks_files.py quotes them); that ``status`` and ``dateLastModified`` are
left empty in a file of everything ("bulk") and filled in one of changes ("delta") is as one of
them has it; that a date is year-month-day and a moment is in UTC is from memory. A cell that a
spreadsheet would take for a formula carries a leading apostrophe.
"""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from django.utils import timezone

from standlight.programme.marking_terms import Terms
from standlight.programme.models import PeriodMarks
from standlight.programme.queries.marks_values import (
    FileState,
    MarkedColumn,
    MarkRow,
    PeriodPage,
)
from standlight.programme.roster_file import guarded
from standlight.ratings.marking_values import count_of

PLAIN, SYSTEM = "plain", "oneroster"

ONEROSTER_COLUMNS = (
    "sourcedId",
    "status",
    "dateLastModified",
    "lineItemSourcedId",
    "studentSourcedId",
    "scoreStatus",
    "score",
    "scoreDate",
    "comment",
    "textScore",
    "classSourcedId",
    "inProgress",
    "incomplete",
    "late",
    "missing",
)
"""Columns of results.csv, OneRoster 1.2, in the specification's order."""

GRADED, PARTLY, EXEMPT, NOT_SENT = (
    "fully graded",
    "partially graded",
    "exempt",
    "not submitted",
)
"""Words of the specification's scoreStatus that a closed mark can have."""


@dataclass(frozen=True, slots=True)
class FileForm:
    """One form of file: what the page calls it, and what makes its text of rows."""

    name: str
    hint: str
    file_name: str
    encoding: str
    text: Callable[[PeriodPage, Sequence[MarkRow], Terms, bool], str]


def told_of(row: MarkRow) -> str:
    """What a file tells of a row's mark, as it is remembered."""
    return "|".join((row.printed, row.word, "" if row.percent is None else f"{row.percent:g}"))


def changed_rows(rows: Sequence[MarkRow], told: Mapping[str, str]) -> list[MarkRow]:
    """Rows whose mark is another than was told last, by the musician's number as text."""
    return [row for row in rows if told.get(str(row.musician_pk)) != told_of(row)]


def last_told(marks: PeriodMarks, form: str) -> dict[str, str]:
    """What the last file of a form had told of each musician; {} before the first."""
    last = marks.exports.filter(form=form).first()
    return dict(last.told) if last else {}


def files_of(marks: PeriodMarks, rows: Sequence[MarkRow]) -> tuple[FileState, ...]:
    """Every form of file with its last export. One query."""
    latest: dict[str, object] = {}
    for export in marks.exports.select_related("exported_by"):
        latest.setdefault(export.form, export)
    found = []
    for key, form in FORMS.items():
        last = latest.get(key)
        found.append(
            FileState(
                key,
                form.name,
                form.hint,
                last.exported_at if last else None,
                str(last.exported_by) if last else "",
                len(changed_rows(rows, last.told if last else {})),
            )
        )
    return tuple(found)


def marks_csv(page: PeriodPage, rows: Sequence[MarkRow] | None = None) -> bytes:
    """The period in roster order: UTF-8 with a mark, lines ended by CR LF (RFC 4180)."""
    text = _plain(page, page.rows if rows is None else rows, Terms(), False)
    return text.encode("utf-8-sig")


def _plain(page: PeriodPage, rows: Sequence[MarkRow], terms: Terms, only_new: bool) -> str:
    """A column for each work and criterion, one for its state, then the mark and its reason."""
    header = ["roster_id", "family_name", "given_name", "section"]
    for column in page.columns:
        header += [f"{column.title}: {name}" for name in column.criteria]
        header.append(f"{column.title}: state")
    header += ["mark", "mark_word", "mark_percent", "likely", "because", "left_out", "note"]
    return _table(header, [_plain_row(page.columns, row) for row in rows])


def _plain_row(columns: Sequence[MarkedColumn], row: MarkRow) -> list[str]:
    cells = [row.roster_id, row.family_name, row.given_name, row.section]
    of = {cell.key: cell for cell in row.cells}
    for column in columns:
        cell = of.get(column.key)
        levels = [level.figure or level.word for level in cell.levels] if cell else []
        cells += levels or [""] * len(column.criteria)
        cells.append(cell.state if cell else "")
    percent = "" if row.percent is None else f"{row.percent:g}"
    notes = (row.note, "changed after closing" if row.changed else "")
    note = "; ".join(one for one in notes if one)
    return [
        *cells,
        row.printed,
        row.word,
        percent,
        row.likely,
        " ".join(row.because),
        " ".join(row.left_out),
        note,
    ]


def _system(page: PeriodPage, rows: Sequence[MarkRow], terms: Terms, only_new: bool) -> str:
    """results.csv: a percent is a score, words are a text score; levels alone are never a score."""
    now = timezone.now().astimezone(datetime.UTC)
    moment = now.strftime("%Y-%m-%dT%H:%M:%S.000Z")
    own = f"standlight-{page.ensemble_pk}-{page.period_pk}"
    found = []
    for row in rows:
        status = _score_status(row)
        found.append(
            [
                f"{own}-{row.musician_pk}",
                "active" if only_new else "",
                moment if only_new else "",
                terms.line_key or own,
                row.roster_id,
                status,
                "" if row.percent is None else f"{row.percent:g}",
                timezone.localtime(page.closed_at or now).date().isoformat(),
                _comment(row),
                "" if row.value is None or row.percent is not None else row.word,
                terms.class_key,
                "false",
                "true" if row.value is None and status != EXEMPT else "false",
                "",
                "true" if status == NOT_SENT else "false",
            ]
        )
    return _table(ONEROSTER_COLUMNS, found)


def _score_status(row: MarkRow) -> str:
    """The specification's word for how far the work behind a mark is graded."""
    if row.value is not None:
        return GRADED
    if row.n_levels:
        return PARTLY
    excused = bool(row.cells) and all(
        cell.is_excused or cell.state in ("not asked", "excused", "not assessed")
        for cell in row.cells
    )
    return EXEMPT if excused else NOT_SENT


def _comment(row: MarkRow) -> str:
    """One line for whoever reads the school's system."""
    if row.value is None:
        return row.because[0] if row.because else "No mark."
    changed = " Changed after closing." if row.changed else ""
    rests = f"{count_of(row.n_levels, 'level')} in {count_of(row.n_works, 'check')}"
    return f"{row.printed} on levels 1 to 4, from {rests}.{changed}"


def _table(header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """CSV text with every cell guarded."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow([guarded(cell) for cell in header])
    writer.writerows([[guarded(cell) for cell in row] for row in rows])
    return out.getvalue()


FORMS: dict[str, FileForm] = {
    PLAIN: FileForm(
        "A table for people",
        "CSV in roster order, with every level, the mark and its reason.",
        "marks",
        "utf-8-sig",
        _plain,
    ),
    SYSTEM: FileForm(
        "A file for the school's system",
        "OneRoster 1.2, results.csv. Words go in as text; a number only where your table has "
        "percents.",
        "results",
        "utf-8",
        _system,
    ),
}
"""The forms of file, in the order the page offers them."""
