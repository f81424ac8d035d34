"""Small MIDI files for tests: made by symusic, by music21 from a score, or by hand."""

from __future__ import annotations

import tempfile
import warnings
from collections.abc import Iterable
from pathlib import Path

from tests.reference_reader import reference_score

TICKS = 480


def midi_of(
    *tracks: tuple[str, int, bool, Iterable[tuple[int, int, int]]],
    meters: Iterable[tuple[int, int, int]] = ((0, 4, 4),),
    keys: Iterable[tuple[int, int]] = (),
    tempos: Iterable[tuple[int, float]] = ((0, 96.0),),
    ticks: int = TICKS,
) -> bytes:
    """A file of (name, program, drums, notes as (onset, duration, key)) written by symusic."""
    from symusic import KeySignature, Note, Score, Tempo, TimeSignature, Track

    score = Score(ticks)
    for name, program, drums, notes in tracks:
        track = Track(name, program, drums)
        for onset, duration, key in notes:
            track.notes.append(Note(onset, duration, key, 80))
        score.tracks.append(track)
    for tick, beats, unit in meters:
        score.time_signatures.append(TimeSignature(tick, beats, unit))
    for tick, fifths in keys:
        score.key_signatures.append(KeySignature(tick, fifths, 0))
    for tick, qpm in tempos:
        score.tempos.append(Tempo(tick, qpm))
    return score.dumps_midi()


def midi_from_score(data: bytes, suffix: str) -> bytes:
    """The file that music21 writes of a score, sounding pitches, repeats not unfolded."""
    from music21 import midi

    score = reference_score(data, suffix)
    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        file = midi.translate.streamToMidiFile(score)
        place = Path(folder) / "score.mid"
        file.open(str(place), "wb")
        file.write()
        file.close()
        return place.read_bytes()


def raw_midi(*events: bytes, division: bytes = b"\x01\xe0", kind: int = 1) -> bytes:
    """A file of one track from raw events (Standard MIDI Files 1.0), its end added."""
    track = b"".join(events) + b"\x00\xff\x2f\x00"
    head = b"MThd" + (6).to_bytes(4, "big") + kind.to_bytes(2, "big") + b"\x00\x01" + division
    return head + b"MTrk" + len(track).to_bytes(4, "big") + track


NOTE = b"\x00\x90\x3c\x40\x83\x60\x80\x3c\x00"
"""Middle C for a quarter of 480 ticks."""
