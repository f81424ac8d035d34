"""What one player plays of a part that may show chords, two voices or two staves.

Common practice, no source: in each measure the highest staff's first voice, and of a
chord the top note. A note that would sound over one still held is left to the other
player, so the line is never more than one note at a time.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from standlight.music import Note


def player_line(notes: Iterable[Note], *, voice: str | None = None) -> tuple[Note, ...]:
    """The notes of one player, in time order, one at a time.

    ``notes`` are a part's in time order; ``voice`` picks a voice by its MusicXML number
    instead of the upper one of each measure.
    """
    notes = tuple(notes)
    return tuple(notes[at] for at in player_line_places(notes, voice=voice))


def player_line_places(notes: Sequence[Note], *, voice: str | None = None) -> list[int]:
    """The places in ``notes`` that `player_line` keeps."""
    chosen = _upper_voices(notes)
    kept: list[int] = []
    for place, note in enumerate(notes):
        mine = note.voice == voice if voice else (note.staff, note.voice) == chosen[note.measure]
        if not mine:
            continue
        last = notes[kept[-1]] if kept else None
        if last is not None and note.onset_quarters == last.onset_quarters:
            if _height(note) > _height(last):
                kept[-1] = place
        elif last is None or note.onset_quarters >= last.onset_quarters + last.duration_quarters:
            kept.append(place)
    return kept


def _upper_voices(notes: Iterable[Note]) -> dict[int, tuple[int, str]]:
    """For each measure with notes its highest staff and that staff's first voice."""
    chosen: dict[int, tuple[int, str]] = {}
    for note in notes:
        mine = (note.staff, note.voice)
        if note.measure not in chosen or _order(mine) < _order(chosen[note.measure]):
            chosen[note.measure] = mine
    return chosen


def _order(staff_and_voice: tuple[int, str]) -> tuple[int, int, str]:
    """Sort key: staff, then voice 2 before voice 10."""
    staff, voice = staff_and_voice
    return (staff, int(voice), "") if voice.isdigit() else (staff, 1_000_000, voice)


def _height(note: Note) -> int:
    """Written pitch for comparing the notes of a chord; strokes are all alike."""
    return note.written_midi if note.written_midi is not None else 0
