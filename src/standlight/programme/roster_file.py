"""A roster file: bytes a school's office or a spreadsheet wrote, to rows and remarks.

One row is one musician in one ensemble; somebody in band and choir has two rows
with the same ``roster_id``. Reading is forgiving about order, case, separators
and encoding, and says what it guessed; only what is no table at all raises.
Nothing here knows the database.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from standlight.errors import UnreadableRoster
from standlight.programme.phrases import listed

LARGEST_ROSTER_BYTES = 2_000_000
"""A row has some 120 bytes, a large programme 400 rows: forty times that is no roster."""

MOST_ROWS = 5_000
"""More rows than any one school's ensembles have."""

GRADES = range(1, 13)
"""School grades; the tool is written for 6 to 12, an elementary group may visit."""

REQUIRED = ("roster_id", "given_name", "family_name", "grade", "ensemble", "section")
"""Columns every roster has."""

OPTIONAL = ("instrument", "way", "accommodation", "changed_goal")
"""Columns a roster may have; an empty cell leaves what is already known."""

COLUMNS = (*REQUIRED, *OPTIONAL)
"""All columns, in the order of the empty file to fill in."""

LONGEST = {
    "roster_id": 40,
    "given_name": 60,
    "family_name": 60,
    "ensemble": 80,
    "section": 60,
    "instrument": 60,
    "accommodation": 240,
    "changed_goal": 240,
}
"""Characters a cell may hold."""

RECORD, LIVE_ONLY, NEITHER = "record", "live_only", "neither"
WAYS = {
    "": "",
    "record": RECORD,
    "records": RECORD,
    "live only": LIVE_ONLY,
    "live": LIVE_ONLY,
    "neither": NEITHER,
}
"""What may stand in the column ``way``, and the value it means."""

ALSO_CALLED = {
    "id": "roster_id",
    "student_id": "roster_id",
    "student_number": "roster_id",
    "musician_id": "roster_id",
    "number": "roster_id",
    "first_name": "given_name",
    "first": "given_name",
    "forename": "given_name",
    "last_name": "family_name",
    "last": "family_name",
    "surname": "family_name",
    "year": "grade",
    "grade_level": "grade",
    "group": "ensemble",
    "voice": "section",
    "voice_part": "section",
}
"""Other names that school lists give these columns; common practice, no source."""

_GUARDED_STARTS = "=+-@\t\r\n\uff1d\uff0b\uff0d\uff20"
"""First characters that make a spreadsheet run a cell, their full-width forms too."""

_SPOILED_NUMBER = re.compile(r"^\d+([.,]\d+)?[eE]\+?\d+$")
_GRADE = re.compile(r"^(?:grade\s*)?0*(\d{1,2})(?:st|nd|rd|th)?(?:\s*grade)?$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class RosterRow:
    """One good row: a musician in an ensemble; ``number`` is its line in the file, from 1.

    ``way`` is ``"record"``, ``"live_only"``, ``"neither"`` or empty for "as it was".
    """

    number: int
    roster_id: str
    given_name: str
    family_name: str
    grade: int
    ensemble: str
    section: str
    instrument: str = ""
    way: str = ""
    accommodation: str = ""
    changed_goal: str = ""

    @property
    def name(self) -> str:
        """Given name, then family name."""
        return f"{self.given_name} {self.family_name}"


@dataclass(frozen=True, slots=True)
class RowRemark:
    """What was noticed; ``row`` is the line in the file (``None``: the whole file).

    ``leaves_out`` is true when the row does not come in because of it.
    """

    sentence: str
    row: int | None = None
    leaves_out: bool = False


@dataclass(frozen=True, slots=True)
class RosterFile:
    """A read roster: its good rows in file order, and remarks on the others."""

    rows: tuple[RosterRow, ...]
    remarks: tuple[RowRemark, ...]


@dataclass(slots=True)
class _Reading:
    """What has been gathered while the rows go by."""

    rows: list[RosterRow] = field(default_factory=list)
    remarks: list[RowRemark] = field(default_factory=list)
    places: dict[tuple[str, str, str], int] = field(default_factory=dict)
    names: dict[str, tuple[str, int]] = field(default_factory=dict)


def guarded(text: str) -> str:
    """``text`` for a cell that a spreadsheet will not take for a formula.

    A leading apostrophe is the guard (OWASP, CSV injection); reading takes it off again.

    >>> guarded("=1+1"), guarded("Okafor")
    ("'=1+1", 'Okafor')
    """
    return f"'{text}" if text.lstrip(" ")[:1] and text.lstrip(" ")[0] in _GUARDED_STARTS else text


def roster_csv(rows: Iterable[RosterRow] = ()) -> bytes:
    """A roster file with ``rows``; with none, the empty file to fill in. UTF-8 with a mark.

    >>> roster_csv().decode("utf-8-sig").strip().split(",")[:3]
    ['roster_id', 'given_name', 'family_name']
    """
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for row in rows:
        cells = {name: str(getattr(row, name)) for name in COLUMNS}
        cells["way"] = cells["way"].replace("_", " ")
        writer.writerow([guarded(cells[name]) for name in COLUMNS])
    return out.getvalue().encode("utf-8-sig")


def read_roster(data: bytes) -> RosterFile:
    """The rows and remarks of a roster file.

    Raises `UnreadableRoster` when it is empty, too large, no text, or lacks a column.

    >>> read = read_roster(
    ...     b"roster_id;Given Name;family_name;grade;ensemble;section\\n"
    ...     b"1001;Mina;Okafor;7th;Concert Band;Clarinet\\n")
    >>> read.rows[0].name, read.rows[0].grade, read.remarks
    ('Mina Okafor', 7, ())
    """
    reading = _Reading()
    text = _decoded(data, reading.remarks)
    table = _table(text)
    header_number, header = _header(table)
    columns = _columns(header, reading.remarks)
    for number, cells in table:
        if number <= header_number or not any(cell.strip() for cell in cells):
            continue
        if len(cells) > len(header) and any(cell.strip() for cell in cells[len(header) :]):
            _leave_out(
                reading,
                number,
                f"{len(cells)} cells under {len(header)} columns (a comma inside a name?)",
            )
            continue
        _take_row(
            reading,
            number,
            {
                name: _cell(cells[place]) if place < len(cells) else ""
                for name, place in columns.items()
            },
        )
    if not reading.rows and not reading.remarks:
        reading.remarks.append(RowRemark("The file has its columns but no musician under them."))
    return RosterFile(tuple(reading.rows), tuple(reading.remarks))


def _decoded(data: bytes, remarks: list[RowRemark]) -> str:
    """The file as text; a guess is a remark."""
    if not data.strip():
        raise UnreadableRoster("the roster is empty", slip="an upload that broke off?")
    if len(data) > LARGEST_ROSTER_BYTES:
        raise UnreadableRoster(
            f"the roster has {len(data):,} bytes, more than {LARGEST_ROSTER_BYTES:,}",
            slip="a different file?",
        )
    if data[:4] in (b"PK\x03\x04", b"\xd0\xcf\x11\xe0"):
        raise UnreadableRoster("this is a spreadsheet, not a CSV file", slip="save it as CSV first")
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", "replace")
    if b"\x00" in data:
        raise UnreadableRoster("this is not a text file", slip="a different file?")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        remarks.append(
            RowRemark(
                "The file is not in UTF-8; it was read as Windows-1252. Look at names with accents."
            )
        )
        return data.decode("cp1252", "replace")


def _table(text: str) -> list[tuple[int, list[str]]]:
    """Lines of cells with their line number in the file; separator: comma, semicolon or tab."""
    lines = text.splitlines()
    skipped = 1 if lines and lines[0].lower().startswith("sep=") else 0
    first = next((line for line in lines[skipped:] if line.strip()), "")
    separator = max(",;\t", key=first.count)
    reader = csv.reader(
        io.StringIO("\n".join(lines[skipped:])), delimiter=separator, skipinitialspace=True
    )
    table: list[tuple[int, list[str]]] = []
    try:
        before = 0
        for cells in reader:
            table.append((before + 1 + skipped, cells))
            before = reader.line_num
    except csv.Error as fault:
        raise UnreadableRoster(
            "the roster cannot be read as a table",
            where=f"row {len(table) + 1}",
            slip="a quotation mark left open?",
        ) from fault
    if len(table) > MOST_ROWS:
        raise UnreadableRoster(
            f"the roster has more than {MOST_ROWS:,} rows", slip="a different file?"
        )
    return table


def _header(table: list[tuple[int, list[str]]]) -> tuple[int, list[str]]:
    """The first line that holds anything, with its number."""
    for number, cells in table:
        if any(cell.strip() for cell in cells):
            return number, cells
    raise UnreadableRoster("the roster is empty", slip="an upload that broke off?")


def _columns(header: list[str], remarks: list[RowRemark]) -> dict[str, int]:
    """Column name to place; raises `UnreadableRoster` naming every column that is missing."""
    found: dict[str, int] = {}
    unused: list[str] = []
    plain = [re.sub(r"[^a-z0-9]+", "_", cell.strip().lower()).strip("_") for cell in header]
    for place, name in enumerate(plain):
        if name in COLUMNS and name not in found:
            found[name] = place
    for place, name in enumerate(plain):
        meant = ALSO_CALLED.get(name)
        if meant and meant not in found:
            found[meant] = place
            remarks.append(RowRemark(f"The column “{header[place].strip()}” is read as {meant}."))
        elif name and found.get(name) != place:
            unused.append(header[place].strip())
    missing = [name for name in REQUIRED if name not in found]
    if missing:
        read = ", ".join(cell.strip() for cell in header if cell.strip())[:200]
        raise UnreadableRoster(
            f"the roster has no column {listed(missing)}",
            where=f"its first row, which reads: {read}",
            slip="is the row of column names missing?"
            if not found
            else "rename the column, or start from the empty roster",
        )
    if unused:
        remarks.append(RowRemark(f"Not used: {listed(unused)}."))
    return found


def _cell(text: str) -> str:
    """A cell without its guard, outer blanks or runs of blanks."""
    text = " ".join(text.split())
    if text[:1] == "'" and text[1:2] and text[1] in _GUARDED_STARTS:
        text = text[1:]
    return text


def _leave_out(reading: _Reading, number: int, sentence: str) -> None:
    """Note why row ``number`` does not come in."""
    reading.remarks.append(RowRemark(f"{sentence}.", number, True))


def _take_row(reading: _Reading, number: int, cells: Mapping[str, str]) -> None:
    """Add one row to ``reading``, or the reasons why not."""
    faults = _faults(cells)
    if faults:
        whose = f"{cells['given_name']} {cells['family_name']}".strip()[:80]
        _leave_out(reading, number, f"{whose}: {'; '.join(faults)}" if whose else "; ".join(faults))
        return
    row = RosterRow(
        number=number,
        grade=int(_GRADE.match(cells["grade"])[1]),
        way=WAYS[_way(cells)],
        **{name: cells.get(name, "") for name in COLUMNS if name not in ("grade", "way")},
    )
    name, first_row = reading.names.setdefault(row.roster_id, (row.name.casefold(), number))
    if name != row.name.casefold():
        _leave_out(
            reading,
            number,
            f"{row.name} has the roster_id {row.roster_id} of row {first_row}, "
            "where another name stands (two musicians with one id?)",
        )
        return
    place = (row.roster_id, row.ensemble.casefold(), row.section.casefold())
    if place in reading.places:
        _leave_out(
            reading, number, f"{row.name} stands here already, in row {reading.places[place]}"
        )
        return
    reading.places[place] = number
    reading.rows.append(row)


def _way(cells: Mapping[str, str]) -> str:
    """The cell ``way`` as the table of ways writes it."""
    return cells.get("way", "").lower().replace("_", " ").replace("-", " ")


def _faults(cells: Mapping[str, str]) -> list[str]:
    """What is wrong with the cells of a row, in words."""
    faults = [f"{name} is empty" for name in REQUIRED if not cells[name]]
    faults += [
        f"{name} has more than {longest} characters"
        for name, longest in LONGEST.items()
        if len(cells.get(name, "")) > longest
    ]
    if _SPOILED_NUMBER.match(cells["roster_id"]):
        faults.append(
            f"roster_id {cells['roster_id']} was shortened by a spreadsheet (format it as text)"
        )
    grade = _GRADE.match(cells["grade"])
    if cells["grade"] and not (grade and int(grade[1]) in GRADES):
        faults.append(f"grade “{cells['grade']}” is not a whole number from 1 to 12")
    if _way(cells) not in WAYS:
        faults.append(f"way “{cells['way']}” is not record, live only or neither")
    return faults
