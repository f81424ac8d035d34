"""Does a passage lie where a voice is comfortable, and what would bring it there.

A range is two sounding MIDI numbers, both inside it; ``None`` leaves a side open. Ranges
describe a voice on a day, not a singer's worth: what lies outside may be moved, and the
answer here is only what lies outside and which move would bring all of it inside.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

from standlight.errors import StandlightError
from standlight.music import Note, pitch_name
from standlight.score.instruments import INSTRUMENTS, Instrument, instrument_of
from standlight.score.shifting import SEMITONES_OF_STEP, shift_words
from standlight.score.values import Part

FITTING_MOVES = (-12, 12, -1, 1, -2, 2, -3, 3, -4, 4, -5, 5)
"""Moves that are tried, in this order: an octave keeps key and notation, a near key is next."""

MOST_TIME_ABOVE = 0.25
"""Share of its sung time that a part rightly written spends above its voice's range, at most.

Our choice. In the choral files tried (six pieces, 23 voice parts) it is 0.02 or less, and
0.62 in the one part that is written an octave too high.
"""

_TYPED_PITCH = re.compile(r"([A-Ga-g])([#b]?)([0-8])")
_NAMES_APART = re.compile(r"[^\w\s.]+|\bor\b|\band\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class RangeFit:
    """How a passage lies in a range; all pitches are sounding MIDI numbers.

    ``seconds_outside`` is sounding time. ``fitting_semitones`` is the move that brings every
    note inside: an octave if one does, else the smallest to another key up to a fourth;
    ``None`` when none does, 0 when nothing lies outside.
    """

    n_above: int
    n_below: int
    seconds_outside: float
    lowest_midi: int | None
    highest_midi: int | None
    low_midi: int | None
    high_midi: int | None
    fitting_semitones: int | None

    @property
    def fits(self) -> bool:
        """True when no note lies outside."""
        return not (self.n_above or self.n_below)


def fit(
    notes: Iterable[Note], low_midi: int | None, high_midi: int | None, *, tempo_qpm: float
) -> RangeFit:
    """How ``notes`` lie between ``low_midi`` and ``high_midi`` at a tempo in quarters a minute.

    Strokes without pitch are passed over.

    >>> from standlight.score import line_to_musicxml, read_passage
    >>> notes = read_passage(line_to_musicxml("C5 q E5 G5 h", instrument="Alto")).notes
    >>> found = fit(notes, 55, 74, tempo_qpm=60)
    >>> found.n_above, found.seconds_outside, found.fitting_semitones
    (2, 3.0, -12)
    """
    pitched = [note for note in notes if note.midi is not None]
    above = [note for note in pitched if high_midi is not None and note.midi > high_midi]
    below = [note for note in pitched if low_midi is not None and note.midi < low_midi]
    lowest = min((note.midi for note in pitched), default=None)
    highest = max((note.midi for note in pitched), default=None)
    quarters = float(sum(note.duration_quarters for note in [*above, *below]))
    return RangeFit(
        len(above),
        len(below),
        quarters * 60.0 / tempo_qpm,
        lowest,
        highest,
        low_midi,
        high_midi,
        _fitting(lowest, highest, low_midi, high_midi) if above or below else 0,
    )


def _fitting(
    lowest: int, highest: int, low_midi: int | None, high_midi: int | None
) -> int | None:
    """The first move of the table after which both ends lie inside."""
    for semitones in FITTING_MOVES:
        inside_below = low_midi is None or lowest + semitones >= low_midi
        if inside_below and (high_midi is None or highest + semitones <= high_midi):
            return semitones
    return None


def fit_words(found: RangeFit, whose: str = "this singer's comfortable range") -> str:
    """What lies outside and what would help, in words; empty when every note lies inside.

    >>> found = RangeFit(2, 0, 1.25, 60, 71, 48, 67, -12)
    >>> fit_words(found)
    "2 notes (1.2 s) above this singer's comfortable range (G4): an octave lower fits"
    """
    if found.fits:
        return ""
    sides = []
    if found.n_above:
        sides.append((_notes(found.n_above), "above", pitch_name(found.high_midi)))
    if found.n_below:
        sides.append((_notes(found.n_below), "below", pitch_name(found.low_midi)))
    count, side, edge = sides[0]
    words = f"{count} ({found.seconds_outside:.1f} s) {side} {whose} ({edge})"
    if len(sides) > 1:
        count, side, other = sides[1]
        words = (
            f"{sides[0][0]} above (over {edge}) and {count} {side} (under {other}) {whose} "
            f"({found.seconds_outside:.1f} s)"
        )
    if found.fitting_semitones is None:
        return f"{words}: no move by an octave or up to a fourth fits"
    return f"{words}: {shift_words(found.fitting_semitones)} fits"


def _notes(count: int) -> str:
    """A number of notes."""
    return f"{count} note{'s' * (count != 1)}"


def written_octave_too_high(part: Part) -> bool:
    """True for a voice part that is probably written an octave above where it sounds.

    Men's parts are often set in a plain treble clef and sung an octave lower (common
    practice, no source); a file that leaves the octave out reads as a line that no voice
    of its name sings. The rule: the part is a voice; it spends more than `MOST_TIME_ABOVE`
    of its sung time above the range of every voice its name says ("Alto (or 1st Tenor)" is
    two); and an octave lower it does not lie below them for as long. Time counts, not
    single notes, since one high note is every tenor's pride. It asks; a person answers.
    """
    voices = _voices_of(part)
    if not voices:
        return False
    low_midi = min(voice.sounding_low_midi for voice in voices)
    high_midi = max(voice.sounding_high_midi for voice in voices)
    sung = [(note.midi, note.duration_quarters) for note in part.notes if note.midi is not None]
    most = MOST_TIME_ABOVE * float(sum(quarters for _, quarters in sung))
    above = sum(quarters for midi, quarters in sung if midi > high_midi)
    left_below = sum(quarters for midi, quarters in sung if midi - 12 < low_midi)
    return above > most and left_below <= most


def midi_named(text: str) -> int:
    """The MIDI number of a sounding pitch typed as letter, accidental and octave (C4 is 60).

    Raises `StandlightError` for anything else.

    >>> midi_named("C4"), midi_named("bb3"), midi_named("F♯5")
    (60, 58, 78)
    """
    found = _TYPED_PITCH.fullmatch(text.strip().replace("♭", "b").replace("♯", "#"))
    if found is None:
        raise StandlightError(
            f"{text.strip()!r} is no pitch", slip="a letter and its octave, as G3 or Bb4"
        )
    letter, sign, octave = found.groups()
    alter = {"#": 1, "b": -1, "": 0}[sign]
    return 12 * (int(octave) + 1) + SEMITONES_OF_STEP[letter.upper()] + alter


def moved(notes: Iterable[Note], semitones: int) -> tuple[Note, ...]:
    """The notes sounding ``semitones`` higher (negative: lower); strokes stay."""
    if semitones == 0:
        return tuple(notes)
    return tuple(
        note if note.midi is None else replace(note, midi=note.midi + semitones) for note in notes
    )


def in_octave(part: Part, octaves: int) -> Part:
    """The read part sounding ``octaves`` higher (negative: lower) than it is written."""
    if octaves == 0:
        return part
    return replace(
        part,
        transposition_semitones=part.transposition_semitones + 12 * octaves,
        notes=moved(part.notes, 12 * octaves),
    )


def _voices_of(part: Part) -> tuple[Instrument, ...]:
    """The voices of the table that the part's name says; empty when it is an instrument's."""
    own = INSTRUMENTS.get(part.instrument)
    if own is None or not own.voice:
        return ()
    said = (INSTRUMENTS.get(instrument_of(words)) for words in _NAMES_APART.split(part.name))
    return (own, *(voice for voice in said if voice is not None and voice.voice))
