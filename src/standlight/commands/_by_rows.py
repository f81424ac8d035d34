"""What was heard of a list of notes, told by the list's rows."""

from __future__ import annotations

from typing import Any

from standlight.commands._notes_list import NotesList

CODE = "top_of_chords"
SENTENCE = (
    "Of rows that begin together only the highest was followed: the others have its time, no pitch "
    "and even odds of having sounded."
)
"""Verdict on a list with chords: what is told of their lower notes was not heard."""

EVEN_ODDS = 0.5

PITCHED = ("midi_heard", "deviation_cents", "deviation_se_cents")
"""Keys of a note that only the followed row of a chord has."""

BY_NOTE = ("notes", "attempts")
INDEXES = ("prolonged", "left_out", "seams")


def by_rows(answer: dict[str, Any], listed: NotesList) -> dict[str, Any]:
    """The contract's object for a take, its notes' indexes turned into rows of the list.

    Rows beside a followed one are added, with its time. An object without notes is as it was.
    """
    if len(listed.row_of_note) == len(listed.note_of_row) or not answer["notes"]:
        return answer
    told = {**answer, **{key: _rows(answer[key], listed) for key in BY_NOTE}}
    for key in INDEXES:
        told[key] = sorted(listed.row_of_note[index] for index in answer[key])
    told["restarts"] = [
        {**restart, "to_index": listed.row_of_note[restart["to_index"]]}
        for restart in answer["restarts"]
    ]
    told["verdicts"] = [*answer["verdicts"], {"code": CODE, "sentence": SENTENCE}]
    return told


def _rows(notes: list[dict[str, Any]], listed: NotesList) -> list[dict[str, Any]]:
    """The notes row by row: the followed rows, and those beside them."""
    rows_of: dict[int, list[int]] = {}
    for row, note in enumerate(listed.note_of_row):
        rows_of.setdefault(note, []).append(row)
    return [
        _row(note, row, row == listed.row_of_note[note["index"]])
        for note in notes
        for row in rows_of[note["index"]]
    ]


def _row(note: dict[str, Any], row: int, is_followed: bool) -> dict[str, Any]:
    """One row's object: the followed note itself, or what it says of a row beside it."""
    if is_followed:
        return {**note, "index": row}
    outcome = "missing" if note["onset_s"] is None else "played"
    unheard = {**dict.fromkeys(PITCHED), "probability": EVEN_ODDS, "outcome": outcome}
    return {**note, **unheard, "index": row}
