"""A MIDI file as a score: parsed by a child process, written as MusicXML by `standlight.score`.

For pieces that have no score. The parser (symusic, MIT) is foreign machinery and runs in a
child with limits; what it says is checked again when it becomes a `MidiPiece`.
"""

from __future__ import annotations

import json

from standlight.errors import UnreadableScore, WorkshopFailure
from standlight.score import MOST_NOTES, MidiMeter, MidiNote, MidiPiece, MidiTrack, musicxml_of_midi
from standlight.workshop.child import Limits, run_child

MIDI_START = b"MThd"
"""The first bytes of every Standard MIDI File."""

LARGEST_MIDI_BYTES = 8_000_000
"""A symphony movement of 68,000 notes is about 0.6 MB; the rest is room (our choice)."""

MIDI_LIMITS = Limits(
    memory_bytes=1_500_000_000, cpu_seconds=20, file_bytes=32_000_000, wall_seconds=40
)
"""The child starts in 0.3 s and parses a movement in some milliseconds."""

_SLOWEST_QPM, _FASTEST_QPM = 10.0, 500.0
"""Tempos outside are a computer's, not a musician's, and are left out (our choice)."""

_MOST_SIGNS = 7
_LONGEST_NAME = 120


def is_midi(data: bytes) -> bool:
    """True when ``data`` begins as a MIDI file does.

    >>> is_midi(b"MThd..."), is_midi(b"<score-partwise/>")
    (True, False)
    """
    return data.startswith(MIDI_START)


def score_of_midi(data: bytes, *, name: str = "") -> bytes:
    """The MIDI file ``data`` as a MusicXML score for `read_score`; ``name`` is said in errors.

    Raises `UnreadableScore` with a sentence for a file that is damaged, empty, too large or
    without beats, and `WorkshopFailure` when the child dies.
    """
    where = name or "the MIDI file"
    if not is_midi(data):
        raise UnreadableScore("this is not a MIDI file", where=where, slip="renamed?")
    if len(data) > LARGEST_MIDI_BYTES:
        raise UnreadableScore(
            f"the file has {len(data):,} bytes, more than the {LARGEST_MIDI_BYTES:,} allowed",
            where=where,
            slip="with sounds inside?",
        )
    answer = run_child(
        "midi_reader",
        data,
        arguments=[str(MOST_NOTES)],
        limits=MIDI_LIMITS,
        refusal=UnreadableScore,
    )
    return musicxml_of_midi(piece_of(answer))


def piece_of(answer: bytes) -> MidiPiece:
    """The child's JSON as a checked value; raises `UnreadableScore`, `WorkshopFailure`."""
    try:
        facts = json.loads(answer)
        return MidiPiece(
            ticks_per_quarter=facts["ticks_per_quarter"],
            tracks=tuple(
                MidiTrack(
                    name=_printable(track["name"]),
                    program=track["program"],
                    drums=track["drums"],
                    notes=tuple(MidiNote(*note) for note in track["notes"]),
                )
                for track in facts["tracks"]
            ),
            meters=tuple(MidiMeter(*meter) for meter in facts["meters"]),
            keys=tuple((at, fifths) for at, fifths in facts["keys"] if abs(fifths) <= _MOST_SIGNS),
            tempos=tuple(
                (at, qpm) for at, qpm in facts["tempos"] if _SLOWEST_QPM <= qpm <= _FASTEST_QPM
            ),
        )
    except (KeyError, TypeError, ValueError) as odd:
        raise WorkshopFailure("the midi_reader tool answered nonsense") from odd


def _printable(name: str) -> str:
    """A track's name without what cannot be read or printed, at most 120 characters."""
    kept = "".join(letter if letter.isprintable() else " " for letter in name)
    kept = kept.replace("\ufffd", "")  # the parser's stand-in for letters that are not UTF-8
    return " ".join(kept.split())[:_LONGEST_NAME]
