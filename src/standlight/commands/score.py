"""``./run score FILE``: what a score holds, for people or as one JSON object."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from standlight.commands._scores import score_bytes
from standlight.music import Note, pitch_name
from standlight.score import Part, Score, read_score

NAME = "score"
SUMMARY = "read a score: its parts, measures, order of playing and what was odd"

_REMARKS_SHOWN = 12


def arguments(parser: argparse.ArgumentParser) -> None:
    """The file, and whether every note is wanted."""
    parser.add_argument("file", type=Path, help="a .musicxml, .xml, .mxl or .mid file")
    parser.add_argument("--notes", action="store_true", help="list every note of every part")
    parser.add_argument("--json", action="store_true", help="answer with one JSON object")


def run(options: argparse.Namespace) -> int:
    """Print the score; 0, also when the reader had remarks."""
    score = read_score(score_bytes(options.file), name=options.file.name)
    if options.json:
        json.dump(as_json(score, notes=options.notes), sys.stdout, ensure_ascii=False)
        sys.stdout.write("\n")
    else:
        sys.stdout.write("\n".join(_lines(score, notes=options.notes)) + "\n")
    return 0


def as_json(score: Score, *, notes: bool) -> dict[str, object]:
    """The score as JSON values; quarters are strings such as "7/3", pitches sounding."""
    return {
        "title": score.title,
        "movements": list(score.movements),
        "parts": [_part(part, notes=notes) for part in score.parts],
        "measures": [
            {
                "index": measure.index,
                "printed": measure.printed,
                "movement": measure.movement,
                "onset_quarters": str(measure.onset_quarters),
                "length_quarters": str(measure.length_quarters),
            }
            for measure in score.measures
        ],
        "play_order": list(score.play_order),
        "remarks": [
            {
                "code": remark.code,
                "sentence": remark.sentence,
                "part": remark.part,
                "measure": remark.measure,
            }
            for remark in score.remarks
        ],
    }


def _part(part: Part, *, notes: bool) -> dict[str, object]:
    """One part as JSON values."""
    row: dict[str, object] = {
        "index": part.index,
        "name": part.name,
        "instrument": part.instrument or None,
        "transposition_semitones": part.transposition_semitones,
        "lowest_midi": part.lowest_midi,
        "highest_midi": part.highest_midi,
        "n_notes": len(part.notes),
        "unpitched": part.unpitched,
    }
    if notes:
        row["notes"] = [_note(note) for note in part.notes]
    return row


def _note(note: Note) -> dict[str, object]:
    """One note as JSON values."""
    return {
        "onset_quarters": str(note.onset_quarters),
        "duration_quarters": str(note.duration_quarters),
        "midi": note.midi,
        "written_midi": note.written_midi,
        "measure": note.measure,
        "voice": note.voice,
        "staff": note.staff,
        "drum": note.drum,
    }


def _lines(score: Score, *, notes: bool) -> list[str]:
    """The score for people."""
    lines = [score.title or "(no title)"]
    lines += [score.composer] if score.composer else []
    lines.append(
        f"{len(score.parts)} parts, {len(score.measures)} measures,"
        f" {len(score.play_order)} as played"
    )
    for part in score.parts:
        sounding = "no note"
        if part.unpitched:
            sounding = f"{len(part.notes)} strokes"
        elif part.lowest_midi is not None and part.highest_midi is not None:
            low, high = pitch_name(part.lowest_midi), pitch_name(part.highest_midi)
            sounding = f"{len(part.notes)} notes, sounding {low} to {high}"
        lines.append(f"{part.index:3}  {part.name} ({part.instrument or 'unknown'}): {sounding}")
        if notes:
            lines += [_note_line(note) for note in part.notes]
    shown = score.remarks[:_REMARKS_SHOWN]
    lines += [f"Noticed: {remark.sentence}{_place(score, remark.measure)}" for remark in shown]
    if len(score.remarks) > len(shown):
        lines.append(f"... and {len(score.remarks) - len(shown)} more (--json lists them)")
    return lines


def _note_line(note: Note) -> str:
    """One note for people."""
    name = note.drum if note.midi is None else pitch_name(note.midi)
    return f"       {note.onset_quarters!s:>8} {note.duration_quarters!s:>6} {name}"


def _place(score: Score, measure: int | None) -> str:
    """Where a remark belongs, as printed."""
    return "" if measure is None else f" (measure {score.measures[measure].printed})"
