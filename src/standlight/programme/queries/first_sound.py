"""What a musician hears before playing: the count-in, and for some a starting pitch or chord."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from standlight.music import BEAT_NAMES, beat_of_meter, hz_of_midi, pitch_name
from standlight.score import INSTRUMENTS, Measure, Passage

MOST_FLASHES_A_SECOND = 3.0
"""W3C, WCAG 2.2, success criterion 2.3.1: not more than three flashes in any one second."""

LONGEST_COUNT = 8
"""A count-in longer than this many beats is not counted along (common practice, no source)."""

GIVEN_A_PITCH = ("voice", "strings")
"""Families that find their first pitch by ear; the others have fingers or keys for it."""

MIDDLE_C_MIDI = 60
_MODES = {"major": (0, 4, 7), "minor": (0, 3, 7)}
_FIFTHS = re.compile(rb"<fifths>\s*(-?\d)\s*</fifths>\s*(?:<mode>\s*(\w+)\s*</mode>)?")


@dataclass(frozen=True, slots=True)
class CountIn:
    """Beats before the first note: how many, how long each, and how to say the tempo.

    The last beat is silent, so that no click is in the recording; a pickup shorter than a
    beat begins within it. Counting starts again at one after ``beats_a_measure``.
    ``flash_every`` counts beats from one flash to the next, so that there are never more
    than three a second.
    """

    beats: int
    beats_a_measure: int
    beat_s: float
    flash_every: int
    tempo_words: str


@dataclass(frozen=True, slots=True)
class StartingSound:
    """Tones in Hz played one after another, then the words that name the first note."""

    tones_hz: tuple[float, ...]
    words: str


def count_in(measures: tuple[Measure, ...], tempo_qpm: float) -> CountIn:
    """The count-in for a passage that begins with ``measures`` (none: four quarters).

    The beat is the note value that the tempo over the music is printed in, where it fills the
    measure, else the meter's: in 6/8, 9/8 and 12/8 a dotted quarter. A pickup is counted into.
    """
    beats, unit, length, printed = 4, 4, Fraction(4), None
    if measures:
        beats, unit, length, printed = (
            measures[0].beats,
            measures[0].beat_unit,
            measures[0].length_quarters,
            measures[0].tempo_beat_quarters,
        )
    full = Fraction(beats * 4, unit)
    fills = printed in BEAT_NAMES and full % printed == 0
    beat_quarters = printed if fills else beat_of_meter(beats, unit)
    rest_before_pickup = full - length if length < full else Fraction(0)
    counted = ceil((full + rest_before_pickup) / beat_quarters)
    a_measure = ceil(full / beat_quarters)
    if counted > LONGEST_COUNT and rest_before_pickup:
        counted -= a_measure
    beat_s = float(beat_quarters) * 60.0 / tempo_qpm
    every = 1
    while beat_s * every <= 1 / MOST_FLASHES_A_SECOND:
        every += 1
    note = BEAT_NAMES.get(beat_quarters, "quarter")
    a_minute = tempo_qpm / float(beat_quarters)
    return CountIn(
        max(counted, 2), a_measure, beat_s, every, f"{a_minute:.0f} {note} notes a minute"
    )


def starting_sound(
    passage: Passage, notation: bytes, instrument: str, a4_hz: float
) -> StartingSound | None:
    """A starting pitch for strings, with the key's chord before it for singers; else ``None``.

    The chord is left out when the notation does not say whether the key is major or minor.
    """
    row = INSTRUMENTS.get(instrument)
    first = next((note.midi for note in passage.notes if note.midi is not None), None)
    if row is None or row.family not in GIVEN_A_PITCH or first is None:
        return None
    chord = _tonic_chord(notation) if row.voice else ()
    tones = tuple(float(hz_of_midi(midi, a4_hz)) for midi in (*chord, first))
    words = f"Your first note sounds as {pitch_name(first)}."
    if chord:
        words = f"First the home chord, then your first note, {pitch_name(first)}."
    return StartingSound(tones, words)


def _tonic_chord(notation: bytes) -> tuple[int, ...]:
    """MIDI numbers of the tonic chord about middle C, empty when the mode is not written."""
    found = _FIFTHS.search(notation)
    if found is None or found[2] is None or found[2].decode() not in _MODES:
        return ()
    mode = found[2].decode()
    tonic = 7 * int(found[1]) + (9 if mode == "minor" else 0)
    # From the G below middle C upwards, where every voice can find it.
    root = MIDDLE_C_MIDI - 5 + (tonic + 5) % 12
    return tuple(root + step for step in _MODES[mode])
