"""The tables of passage finding in a director's words: how a cell is said, and how it is read.

Directors think in written pitch, as their charts do; the tables hold what sounds.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from standlight.errors import StandlightError
from standlight.music import pitch_name
from standlight.passages import (
    MOST_FIFTHS,
    RANGE_NAMES,
    SHIPPED_TABLES,
    SHORTEST_VALUES,
    Cell,
    edited,
)
from standlight.score import INSTRUMENTS, midi_named

Texts = Mapping[str, Mapping[str, str]]
"""Row key to cell key to what stands, or was typed, in the field."""

CHOICES: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "most_fifths": {str(count): str(count) for count in range(MOST_FIFTHS + 1)},
        "shortest_value_quarters": {
            str(quarters): words for quarters, words in SHORTEST_VALUES.items()
        },
        "tuplets": {"no": "no", "yes": "yes"},
        "range_name": {key: RANGE_NAMES[key] for key in ("grade1", "grade2", "school")},
        "weight": {text: text for text in ("0", "0.5", "1", "2", "3")},
    }
)
"""Cells that are chosen, not typed: text in the form to words."""

CELL_WORDS: Mapping[str, str] = MappingProxyType(
    {
        **{
            f"{which}_{end}_midi": f"{words}, {'lowest' if end == 'low' else 'highest'} note"
            for which, words in RANGE_NAMES.items()
            for end in ("low", "high")
        },
        "words": "in words",
        "most_fifths": "most sharps or flats",
        "shortest_value_quarters": "shortest value",
        "tuplets": "triplets and other tuplets",
        "range_name": "range",
        "weight": "weight",
    }
)
"""What each cell is called."""


@dataclass(frozen=True, slots=True)
class RowSlip:
    """Why a row as typed cannot be kept: its key and a sentence."""

    row: str
    sentence: str


@dataclass(frozen=True, slots=True)
class ReadRows:
    """What was typed of one table: rows of cells that can stand, and what is wrong elsewhere."""

    rows: Mapping[str, Mapping[str, Cell]]
    slips: tuple[RowSlip, ...]


def said(row: str, cell: str, value: Cell) -> str:
    """A cell as it stands in its field: a written pitch, a number, a word; "" for none.

    >>> said("Clarinet in Bb", "school_low_midi", 50), said("leaps", "weight", 0.5)
    ('E3', '0.5')
    """
    return _TALK.get(cell, _PITCH).said(row, value)


def read(row: str, cell: str, text: str) -> Cell:
    """What a field's text means in the tables; raises `StandlightError` for what means nothing.

    >>> read("Clarinet in Bb", "school_low_midi", "E3"), read("1", "tuplets", "yes")
    (50, True)
    """
    choices = CHOICES.get(cell)
    where = f"{row}, {CELL_WORDS.get(cell, cell)}"
    if choices is not None and text not in choices:
        raise StandlightError(
            f"{text!r} is no choice", where=where, slip=f"one of {', '.join(choices.values())}"
        )
    try:
        return _TALK.get(cell, _PITCH).read(row, text)
    except StandlightError as slip:
        raise StandlightError(slip.what, where=where, slip=slip.slip) from None


def read_rows(name: str, typed: Texts) -> ReadRows:
    """Read the fields of one table, row by row: a row with a slip does not hide another's.

    Cells that the table does not have are slips too; rows that are whole come back as cells.
    """
    rows: dict[str, dict[str, Cell]] = {}
    slips = []
    for key, texts in typed.items():
        try:
            cells = {cell: read(key, cell, text) for cell, text in texts.items()}
            edited(SHIPPED_TABLES, {name: {key: cells}})
        except StandlightError as slip:
            slips.append(RowSlip(key, f"{slip}."))
        else:
            rows[key] = cells
    return ReadRows(rows, tuple(slips))


@dataclass(frozen=True, slots=True)
class _Talk:
    """How the cells of one kind are said and read."""

    said: Callable[[str, Cell], str]
    read: Callable[[str, str], Cell]


def _written_shift(row: str) -> int:
    """Sounding minus written, in semitones; 0 for a row that is no instrument."""
    return INSTRUMENTS[row].transposition if row in INSTRUMENTS else 0


_PITCH = _Talk(
    said=lambda row, midi: "" if midi is None else pitch_name(midi - _written_shift(row)),
    read=lambda row, text: midi_named(text) + _written_shift(row) if text.strip() else None,
)
_TEXT = _Talk(said=lambda row, text: str(text), read=lambda row, text: " ".join(text.split()))

_TALK: Mapping[str, _Talk] = MappingProxyType(
    {
        "words": _TEXT,
        "most_fifths": _Talk(lambda row, count: str(count), lambda row, text: int(text)),
        "shortest_value_quarters": _TEXT,
        "tuplets": _Talk(lambda row, yes: "yes" if yes else "no", lambda row, text: text == "yes"),
        "range_name": _TEXT,
        "weight": _Talk(lambda row, weight: f"{weight:g}", lambda row, text: float(text)),
    }
)
"""Every cell that is no pitch."""
