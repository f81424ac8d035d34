"""A typed list of notes (``--notes NOTES.csv``) as a passage: strict, since a slip would be heard.

A row that is misread becomes a wrong note in the part, and the musician's right one a fault; so
whatever may be a slip is refused with its line.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby, pairwise

from standlight.errors import UnreadableLine
from standlight.music import Note
from standlight.score import Passage

COLUMNS = ("onset_quarters", "duration_quarters", "midi")
"""What the head of a list must name; other columns may stand beside them."""

DRUM = "drum"
"""Name of the column for strokes without a pitch; a fourth column without a name is it too."""

SEPARATORS = (",", ";", "\t")
"""What may stand between the values: spreadsheets write all three."""

QUARTERS_A_MEASURE = 4
"""A list of notes has no barlines; its places are told as measures of four quarters."""

LONGEST_QUARTERS = 100_000
"""Ten minutes at 10,000 quarters a minute, the fastest tempo that is taken: no take is longer."""

SHORTEST_QUARTERS = Fraction(1, 1000)
"""Shorter notes are written by nobody (our choice)."""

HIGHEST_MIDI = 127
"""MIDI 1.0 numbers notes from 0 to 127."""

_NUMBER = re.compile(
    r"[+-]?(?:[0-9]{1,30}(?:\.[0-9]{0,30})?|\.[0-9]{1,30})(?:[eE][+-]?[0-9]{1,3})?"
    r"|[+-]?[0-9]{1,9}/[0-9]{1,9}"
)
"""A number as people and spreadsheets write it, short enough to be worked out at once."""


@dataclass(frozen=True, slots=True)
class _Row:
    """One row as typed, spaces stripped; ``drum`` is ``None`` where the row has no such value."""

    where: str
    onset: str
    duration: str
    midi: str
    drum: str | None


@dataclass(frozen=True, slots=True)
class NotesList:
    """A typed list: the ``passage`` that is followed, and which of its notes tells of each row.

    Of rows that begin together one is followed: the highest pitch, as of a chord in a score, the
    first of strokes. ``note_of_row`` has an index into the passage's notes for every row, and
    ``row_of_note`` the row that is followed for every note.
    """

    passage: Passage
    note_of_row: tuple[int, ...]
    row_of_note: tuple[int, ...]


def notes_list(text: str, name: str = "the list") -> NotesList:
    """The list with rows ``onset_quarters,duration_quarters,midi[,drum]`` in time order.

    A list is either pitched (every row a sounding ``midi``) or unpitched (every row a stroke).
    Raises `UnreadableLine` naming the line.

    >>> listed = notes_list(",".join(COLUMNS) + "\\n0,1,60\\n1,1,60\\n1,1,64\\n2,1,62")
    >>> listed.note_of_row, listed.row_of_note
    ((0, 1, 1, 2), (0, 2, 3))
    """
    rows = _rows(text, name)
    _check_kind(rows)
    every = tuple(_note(row) for row in rows)
    _check_order(rows, every)
    together = groupby(range(len(every)), lambda row: every[row].onset_quarters)
    chords = [list(group) for _, group in together]
    leaders = tuple(max(chord, key=lambda row: (every[row].midi or 0, -row)) for chord in chords)
    notes = tuple(every[row] for row in leaders)
    passage = Passage(
        part_name="",
        instrument="",
        printed="",
        measures=(),
        notes=notes,
        length_quarters=max(note.onset_quarters + note.duration_quarters for note in every),
    )
    of_row = tuple(place for place, group in enumerate(chords) for _ in group)
    return NotesList(passage, of_row, leaders)


def _rows(text: str, name: str) -> list[_Row]:
    """The rows under the head, blank ones left out."""
    lines = text.splitlines()
    head = next((line for line in lines if line.strip()), "")
    heads = {separator: _names(head, separator) for separator in SEPARATORS}
    separator = next((one for one in SEPARATORS if set(COLUMNS) <= set(heads[one])), None)
    rows = [] if separator is None else _read(lines, separator, heads[separator], name)
    if not rows:
        raise UnreadableLine(
            f"the list has no rows under {','.join(COLUMNS)}",
            where=name, slip="is that its first line, letter for letter?",
        )  # fmt: skip
    return rows


def _names(line: str, separator: str) -> list[str]:
    """The names in the first line, without spaces, quotation marks and capitals."""
    return [cell.strip().lower() for cell in line.replace('"', "").split(separator)]


def _read(lines: Sequence[str], separator: str, columns: list[str], name: str) -> list[_Row]:
    """Every row that is not blank; raises `UnreadableLine` for what is no table."""
    reader = csv.reader(lines, delimiter=separator, skipinitialspace=True, strict=True)
    rows, head_is_read = [], False
    try:
        for values in reader:
            cells = [cell.strip() for cell in values]
            if head_is_read and any(cells):
                rows.append(_row(cells, columns, f"line {reader.line_num} of {name}"))
            head_is_read = head_is_read or any(cells)
    except csv.Error as problem:
        raise UnreadableLine(
            f"the list is no table ({problem})",
            where=f"line {reader.line_num} of {name}", slip="a stray quotation mark?",
        ) from problem  # fmt: skip
    return rows


def _row(cells: list[str], columns: list[str], where: str) -> _Row:
    """One row by the names of its ``columns``; a fourth value under three names is the drum."""
    named = len(columns)
    if named == len(COLUMNS):
        columns = [*columns, DRUM]
    if any(cells[len(columns) :]):
        raise UnreadableLine(
            f"{len(cells)} values stand under {named} columns",
            where=where, slip="decimal commas? write 1.5, not 1,5",
        )  # fmt: skip
    typed = dict(zip(columns, cells, strict=False))
    onset, duration, midi = (typed.get(column, "") for column in COLUMNS)
    return _Row(where, onset, duration, midi, typed.get(DRUM))


def _check_kind(rows: Sequence[_Row]) -> None:
    """Refuse a list that is neither pitched throughout nor unpitched throughout."""
    pitched = any(row.midi for row in rows)
    for row in rows:
        if row.midi and row.drum:
            raise UnreadableLine(
                f"this row has a pitch ({row.midi}) and a drum ({row.drum!r})", where=row.where,
                slip="a drum's number in the midi column, or a decimal comma?",
            )  # fmt: skip
        if pitched and row.drum:
            raise UnreadableLine(
                f"a drum ({row.drum!r}) stands among pitches; a list is either pitched or "
                "unpitched", where=row.where, slip="one list for each part?",
            )  # fmt: skip
        if not row.midi and (pitched or row.drum is None):
            raise UnreadableLine(
                "this row has neither a pitch (midi) nor a drum", where=row.where,
                slip="a rest? rests have no row" if pitched else "a row cut short?",
            )  # fmt: skip


def _check_order(rows: Sequence[_Row], notes: Sequence[Note]) -> None:
    """Refuse a list that goes back in time."""
    for row, (before, note) in zip(rows[1:], pairwise(notes), strict=True):
        if note.onset_quarters < before.onset_quarters:
            raise UnreadableLine(
                f"the notes are not in order of onset: {row.onset} comes after "
                f"{before.onset_quarters}",
                where=row.where, slip="sort the list by its first column?",
            )  # fmt: skip


def _note(row: _Row) -> Note:
    """One row as a note."""
    onset = _quarters(row.onset, "onset_quarters", row.where)
    duration = _quarters(row.duration, "duration_quarters", row.where)
    if duration < SHORTEST_QUARTERS:
        raise UnreadableLine(
            f"a note lasts {row.duration} quarters", where=row.where,
            slip="a grace note? grace notes have no row",
        )  # fmt: skip
    return Note(
        onset_quarters=onset,
        duration_quarters=duration,
        midi=_midi(row.midi, row.where) if row.midi else None,
        drum=None if row.midi else (row.drum or DRUM),
        measure=int(onset // QUARTERS_A_MEASURE),
    )


def _quarters(typed: str, column: str, where: str) -> Fraction:
    """A place or a length in quarters, 0 to `LONGEST_QUARTERS`."""
    value = _number(typed, column, where, "write quarters as 1.5 or 3/2")
    if value < 0:
        raise UnreadableLine(
            f"{column} is {typed}, below 0", where=where,
            slip="a pickup? the first note of a list may begin at 0",
        )  # fmt: skip
    if value > LONGEST_QUARTERS:
        raise UnreadableLine(
            f"{column} is {typed}, more than {LONGEST_QUARTERS} quarters", where=where,
            slip="ticks or samples instead of quarters?",
        )  # fmt: skip
    return value


def _midi(typed: str, where: str) -> int:
    """A sounding pitch, also where a spreadsheet wrote it as 69.0."""
    value = _number(typed, "midi", where, "write a whole number: 69 is the A above middle C")
    if value.denominator != 1:
        raise UnreadableLine(
            f"midi is {typed}, no whole number", where=where,
            slip="the pitch that was heard, or a frequency, instead of the written note?",
        )  # fmt: skip
    if not 0 <= value <= HIGHEST_MIDI:
        raise UnreadableLine(
            f"midi is {typed}, not from 0 to {HIGHEST_MIDI}", where=where,
            slip="a frequency in Hz?",
        )  # fmt: skip
    return int(value)


def _number(typed: str, column: str, where: str, slip: str) -> Fraction:
    """What was typed, exactly; ``slip`` says how it is written."""
    if not _NUMBER.fullmatch(typed) or re.search("/0+$", typed):
        what = f"{column} is {typed!r}, which is no number" if typed else f"{column} is empty"
        raise UnreadableLine(what, where=where, slip=slip)
    return Fraction(typed)
