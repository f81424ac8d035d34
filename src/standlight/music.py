"""The units of the house: pitch, cents, tuning and musical time.

Equal temperament with twelve semitones to the octave; A4 is MIDI number 69 and
440 Hz unless an ensemble tunes elsewhere (ISO 16:1975 gives 440). Musical time
is counted in quarters as exact ``Fraction``; clock time in seconds as float.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import ArrayLike

A4_MIDI = 69
"""MIDI number of the A above middle C (General MIDI numbering, C4 = 60)."""

STANDARD_A4_HZ = 440.0
"""ISO 16:1975, standard tuning frequency."""

_PITCH_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


def hz_of_midi(midi: ArrayLike, a4_hz: float = STANDARD_A4_HZ) -> np.ndarray:
    """Frequency in Hz of (fractional) MIDI numbers, same shape as ``midi``.

    >>> round(float(hz_of_midi(60)), 4)
    261.6256
    """
    return a4_hz * 2.0 ** ((np.asarray(midi, dtype=float) - A4_MIDI) / 12.0)


def midi_of_hz(f0_hz: ArrayLike, a4_hz: float = STANDARD_A4_HZ) -> np.ndarray:
    """Fractional MIDI numbers of frequencies in Hz (greater than 0), same shape.

    >>> float(midi_of_hz(880.0))
    81.0
    """
    return A4_MIDI + 12.0 * np.log2(np.asarray(f0_hz, dtype=float) / a4_hz)


def cents_between(f0_hz: ArrayLike, reference_hz: ArrayLike) -> np.ndarray:
    """Signed interval in cents from ``reference_hz`` up to ``f0_hz``; sharp is positive.

    >>> round(float(cents_between(441.0, 440.0)), 3)
    3.93
    """
    return 1200.0 * np.log2(np.asarray(f0_hz, dtype=float) / np.asarray(reference_hz, dtype=float))


def pitch_name(midi: int) -> str:
    """Scientific pitch name of a whole MIDI number, spelled as most school charts do.

    >>> pitch_name(60), pitch_name(58), pitch_name(66)
    ('C4', 'Bb3', 'F#4')
    """
    return f"{_PITCH_NAMES[midi % 12]}{midi // 12 - 1}"


def is_in_threes(beats: int) -> bool:
    """Whether a meter of so many units groups them by three: six, nine, twelve, fifteen.

    >>> [beats for beats in range(2, 13) if is_in_threes(beats)]
    [6, 9, 12]
    """
    return beats % 3 == 0 and beats > 3


def beat_of_meter(beats: int, beat_unit: int) -> Fraction:
    """The length in quarters of the beat that a meter is counted in.

    Groups of three eighths or shorter are one beat; six quarters are counted singly
    (common practice, no source).

    >>> beat_of_meter(6, 8), beat_of_meter(2, 2), beat_of_meter(3, 8), beat_of_meter(6, 4)
    (Fraction(3, 2), Fraction(2, 1), Fraction(1, 2), Fraction(1, 1))
    """
    unit = Fraction(4, beat_unit)
    return 3 * unit if is_in_threes(beats) and beat_unit >= 8 else unit


BEAT_NAMES = {
    Fraction(4): "whole",
    Fraction(3): "dotted half",
    Fraction(2): "half",
    Fraction(3, 2): "dotted quarter",
    Fraction(1): "quarter",
    Fraction(3, 4): "dotted eighth",
    Fraction(1, 2): "eighth",
    Fraction(1, 4): "sixteenth",
}
"""The note values that tempos are counted in, by their length in quarters."""


@dataclass(frozen=True, slots=True)
class Note:
    """One written note: tied notes merged, its place in musical time, what it sounds.

    ``onset_quarters`` counts from the start of whatever holds the note (a score,
    or a passage). ``midi`` is the sounding pitch, ``written_midi`` the printed
    one; both ``None`` for an unpitched stroke, which then has a ``drum`` name.
    ``measure`` is the 0-based index in the holder. ``marks`` holds words from
    ``NOTE_MARKS``; ``dynamic`` the dynamic in force ("mf"), ``None`` before any;
    ``lyric`` the syllable sung from here on ("Glo-" when its word goes on), ``None`` for none.
    """

    onset_quarters: Fraction
    duration_quarters: Fraction
    midi: int | None
    measure: int
    written_midi: int | None = None
    drum: str | None = None
    voice: str = "1"
    staff: int = 1
    marks: frozenset[str] = frozenset()
    dynamic: str | None = None
    lyric: str | None = None

    def __post_init__(self) -> None:
        """Refuse a note that is both a pitch and a drum, or neither, or takes no time."""
        if self.duration_quarters.numerator <= 0:
            raise ValueError(f"a note lasts {self.duration_quarters} quarters (a grace note?)")
        if (self.midi is None) == (self.drum is None):
            raise ValueError("a note has either a sounding pitch or a drum name")


LOUDNESS_ORDER = ("pppp", "ppp", "pp", "p", "mp", "mf", "f", "ff", "fff", "ffff")
"""Dynamic markings from soft to loud, as every primer gives them."""

NOTE_MARKS = frozenset(
    {
        "staccato",
        "tenuto",
        "accent",
        "marcato",
        "fermata",
        "slur_start",
        "slur_stop",
        "slurred",  # joined to the note before it under a slur
        "tremolo",
        "trill",
        "after_grace",  # grace notes stand right before it
        "breath_after",
    }
)
"""Every word ``Note.marks`` may hold, each from a MusicXML notation of that name."""
