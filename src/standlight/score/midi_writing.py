"""A MIDI piece written as MusicXML, so that it is read, cut and listened to like any score.

It is not made to be looked at: there are no beams, slurs, dynamics or articulations, which a
MIDI file does not hold. Parts are written for their instrument (a clarinet in B-flat a whole
tone up), so that pitch names are those of the printed part. Velocities are left out: they are
how a computer plays, not what is printed.

Standards: MIDI 1.0 and Standard MIDI Files 1.0 (meters, keys, tempos), MusicXML 4.0.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from lxml import etree

from standlight.errors import UnreadableScore
from standlight.score.clefs import clef_of, transpose_of
from standlight.score.general_midi import drum_of_key
from standlight.score.instruments import INSTRUMENTS, Instrument, instrument_of
from standlight.score.midi_piece import MOST_NOTES, MidiPiece, MidiTrack
from standlight.score.midi_timing import (
    Bar,
    Moment,
    Sounding,
    bars_of,
    begins_with_pickup,
    moment_of,
    voices_of,
)
from standlight.score.remembering import MIDI_ORIGIN, ORIGIN_FIELD, remember
from standlight.score.walked import QUARTERS_OF_TYPE

MOST_WRITTEN = 2 * MOST_NOTES
"""Measures of parts and notes, one counted for each measure it sounds in: three times those of
the largest orchestral movement seen (36 parts x 943 measures, 68,000 notes)."""

_FIFTHS_BY_STEP = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}
_STEP_BY_FIFTHS = {fifths: step for step, fifths in _FIFTHS_BY_STEP.items()}
_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_MOST_FIFTHS = 7
_TUPLETS = ((1, 1), (3, 2), (5, 4), (7, 4))
_VALUES = {
    length * (2 - Fraction(1, 2**dots)) * Fraction(normal, actual): (kind, dots, (actual, normal))
    for actual, normal in reversed(_TUPLETS)
    for dots in (2, 1, 0)
    for kind, length in QUARTERS_OF_TYPE.items()
    if Fraction(1, 32) <= length <= 8
}
"""Note type, dots and tuplet by length in quarters; the plainest way to write each."""


@dataclass(frozen=True, slots=True)
class _Piece:
    """What the parts share: the last key and all tempos by the measure in which they begin."""

    bars: Sequence[Bar]
    divisions: int
    pickup: bool
    keys: dict[int, int]
    tempos: dict[int, list[tuple[Fraction, float]]]


@dataclass(slots=True)
class _Slice:
    """What of a chord falls into one measure; times from the measure's start."""

    onset: Fraction
    length: Fraction
    keys: list[int]
    tied_into: bool
    tied: bool


def musicxml_of_midi(piece: MidiPiece) -> bytes:
    """The piece as a MusicXML file, one part a track that has notes.

    Notes are moved to a fine grid, measures follow the time signatures, notes over a barline
    are tied, chords and up to four voices are kept. Channel 10 becomes strokes with the drum
    names of General MIDI. Raises `UnreadableScore` when the time signatures and the last note
    would fill more measures than any piece has, or the notes tied over them more than is read.
    """
    moment = moment_of(piece)
    tracks = [track for track in piece.tracks if track.notes]
    voices = [voices_of(track.notes, moment, drums=track.drums) for track in tracks]
    end = max(chord.end for part in voices for voice in part for chord in voice)
    shared = _shared(piece, moment, voices, end)
    _check_size(voices, shared.bars)
    root = etree.Element("score-partwise", version="4.0")
    remember(root, ORIGIN_FIELD, MIDI_ORIGIN)
    rows = etree.SubElement(root, "part-list")
    for number, (track, part) in enumerate(zip(tracks, voices, strict=True), start=1):
        row = _row(rows, f"P{number}", track, number)
        instrument = INSTRUMENTS.get(instrument_of(row.findtext("part-name", ""), row))
        writer = _PartWriter(shared, track, instrument, f"P{number}")
        writer.write(etree.SubElement(root, "part", id=f"P{number}"), part, first=number == 1)
    return etree.tostring(root, encoding="UTF-8", xml_declaration=True)


def _shared(
    piece: MidiPiece, moment: Moment, voices: list[list[list[Sounding]]], end: Fraction
) -> _Piece:
    """Measures, keys, tempos and the unit of durations that makes every time whole."""
    bars = bars_of(piece, moment, end)
    starts, stop = [bar.onset for bar in bars], bars[-1].onset + bars[-1].length
    at_moment = {moment(tick): qpm for tick, qpm in sorted(piece.tempos)}
    tempos: dict[int, list[tuple[Fraction, float]]] = {}
    for at, qpm in at_moment.items():
        if at < stop:
            bar = bisect_right(starts, at) - 1
            tempos.setdefault(bar, []).append((at - starts[bar], qpm))
    keys = {bisect_right(starts, moment(tick)) - 1: fifths for tick, fifths in sorted(piece.keys)}
    times = [*starts, stop, *(place for placed in tempos.values() for place, _ in placed)]
    times += [time for part in voices for voice in part for one in voice
              for time in (one.onset, one.end)]  # fmt: skip
    divisions = math.lcm(*{time.denominator for time in times})
    return _Piece(bars, divisions, begins_with_pickup(bars), keys, tempos)


def _check_size(voices: Sequence[Sequence[Sequence[Sounding]]], bars: Sequence[Bar]) -> None:
    """Refuse what would be written as more than `MOST_WRITTEN` measures of parts and notes.

    A note is written once for each measure that it sounds in, so a few kilobytes of notes that
    never end would fill a machine's memory.
    """
    starts = [bar.onset for bar in bars]
    count = len(voices) * len(bars) + sum(
        len(chord.keys) * (bisect_left(starts, chord.end) - bisect_right(starts, chord.onset) + 1)
        for part in voices
        for voice in part
        for chord in voice
    )
    if count > MOST_WRITTEN:
        raise UnreadableScore(
            f"the MIDI file would fill {count:,} measures and notes, more than {MOST_WRITTEN:,}",
            slip="notes that never end?",
        )


def _row(rows: etree._Element, identity: str, track: MidiTrack, number: int) -> etree._Element:
    """The part's row in the list: its name, its drums or its program."""
    row = etree.SubElement(rows, "score-part", id=identity)
    name = etree.SubElement(row, "part-name")
    if track.drums:
        name.text = track.name or "Percussion"
        for key in sorted({note.midi for note in track.notes}):
            drum = etree.SubElement(row, "score-instrument", id=f"{identity}-D{key}")
            etree.SubElement(drum, "instrument-name").text = drum_of_key(key)
        return row
    midi = etree.SubElement(row, "midi-instrument", id=f"{identity}-I1")
    etree.SubElement(midi, "midi-program").text = str(track.program + 1)
    name.text = track.name or instrument_of("", row) or f"Track {number}"
    return row


class _PartWriter:
    """Writes one part: how it transposes, and which key is in force."""

    def __init__(
        self, shared: _Piece, track: MidiTrack, instrument: Instrument | None, identity: str
    ) -> None:
        self.shared = shared
        self.drums = track.drums
        self.identity = identity
        self.instrument = None if track.drums or not instrument else instrument
        if self.instrument is not None and self.instrument.unpitched:
            self.instrument = None
        # Under an octave clef MusicXML writes the pitch as it sounds.
        octave_clef = self.instrument is not None and self.instrument.clef.endswith("8vb")
        self.transposing = self.instrument is not None and not octave_clef
        self.fifths = 0

    @property
    def transposition(self) -> int:
        """Sounding minus written pitch in semitones."""
        return self.instrument.transposition if self.instrument and self.transposing else 0

    def write(
        self, part: etree._Element, voices: list[list[Sounding]], *, first: bool
    ) -> None:
        """Write all measures; the first part carries the tempos of the piece."""
        content = [_slices(voice, self.shared.bars) for voice in voices]
        number = 0 if self.shared.pickup else 1
        for at, bar in enumerate(self.shared.bars):
            measure = etree.SubElement(part, "measure", number=str(number + at))
            if at == 0 and self.shared.pickup:
                measure.set("implicit", "yes")
            self._attributes(measure, at)
            cursor = Fraction(0)
            here = [slices for voice in content if (slices := voice.get(at))]
            for number_of_voice, slices in enumerate(here or [[]], start=1):
                self._move(measure, -cursor)
                cursor = self._voice(measure, slices, number_of_voice, bar)
            if first:
                self._tempos(measure, self.shared.tempos.get(at, []), cursor)

    def _attributes(self, measure: etree._Element, at: int) -> None:
        """Write what begins in measure ``at``: unit, key, meter, clef, transposition."""
        bar, first, began = self.shared.bars[at], at == 0, at in self.shared.keys
        if not (first or bar.new_meter or began):
            return
        attributes = etree.SubElement(measure, "attributes")
        if first:
            etree.SubElement(attributes, "divisions").text = str(self.shared.divisions)
        if (began or first) and not self.drums:
            self.fifths = self.shared.keys.get(at, self.fifths)
            key = etree.SubElement(attributes, "key")
            etree.SubElement(key, "fifths").text = str(self._written_fifths())
        if bar.new_meter:
            time = etree.SubElement(attributes, "time")
            etree.SubElement(time, "beats").text = str(bar.meter.beats)
            etree.SubElement(time, "beat-type").text = str(bar.meter.beat_unit)
        if first:
            self._clef(attributes)

    def _written_fifths(self) -> int:
        """The key signature as this part prints it, at most seven signs."""
        fifths = self.fifths
        if self.instrument is not None and self.transposing:
            fifths += 12 * self.instrument.diatonic - 7 * self.instrument.chromatic
        while abs(fifths) > _MOST_FIFTHS:
            fifths -= 12 if fifths > 0 else -12
        return fifths

    def _clef(self, attributes: etree._Element) -> None:
        """Write the clef and, for a transposing instrument, by how much it sounds apart."""
        if self.drums:
            clef = etree.SubElement(attributes, "clef")
            etree.SubElement(clef, "sign").text = "percussion"
            return
        apart = self.instrument is not None and not self.transposing
        attributes.append(clef_of(self.instrument, octaves=-1 if apart else 0))
        if self.instrument and self.transposing and self.instrument.transposition:
            attributes.append(transpose_of(self.instrument))

    def _voice(
        self, measure: etree._Element, slices: list[_Slice], number: int, bar: Bar
    ) -> Fraction:
        """Write one voice; quarters from the measure's start to where it ends."""
        cursor = Fraction(0)
        for piece in slices:
            self._silence(measure, piece.onset - cursor, number)
            for place, key in enumerate(piece.keys):
                self._note(measure, piece, key, number, chord=place > 0)
            cursor = piece.onset + piece.length
        if number == 1:
            self._silence(measure, bar.length - cursor, number, whole=cursor == 0)
            cursor = bar.length
        return cursor

    def _silence(
        self, measure: etree._Element, quarters: Fraction, voice: int, *, whole: bool = False
    ) -> None:
        """Write a rest in the first voice, a skip in the others."""
        if quarters <= 0:
            return
        if voice > 1:
            self._move(measure, quarters)
            return
        note = etree.SubElement(measure, "note")
        rest = etree.SubElement(note, "rest")
        if whole:
            rest.set("measure", "yes")
        etree.SubElement(note, "duration").text = str(quarters * self.shared.divisions)
        etree.SubElement(note, "voice").text = str(voice)

    def _note(
        self, measure: etree._Element, piece: _Slice, key: int, voice: int, *, chord: bool
    ) -> None:
        """Write one note or stroke in the order the MusicXML schema asks for."""
        note = etree.SubElement(measure, "note")
        if chord:
            etree.SubElement(note, "chord")
        if self.drums:
            etree.SubElement(note, "unpitched")
        else:
            self._pitch(note, key)
        etree.SubElement(note, "duration").text = str(piece.length * self.shared.divisions)
        if piece.tied_into:
            etree.SubElement(note, "tie", type="stop")
        if piece.tied:
            etree.SubElement(note, "tie", type="start")
        if self.drums:
            etree.SubElement(note, "instrument", id=f"{self.identity}-D{key}")
        etree.SubElement(note, "voice").text = str(voice)
        if piece.length not in _VALUES:
            return
        kind, dots, (actual, normal) = _VALUES[piece.length]
        etree.SubElement(note, "type").text = kind
        for _ in range(dots):
            etree.SubElement(note, "dot")
        if actual != normal:
            ratio = etree.SubElement(note, "time-modification")
            etree.SubElement(ratio, "actual-notes").text = str(actual)
            etree.SubElement(ratio, "normal-notes").text = str(normal)

    def _pitch(self, note: etree._Element, key: int) -> None:
        """Write the printed pitch of a sounding key."""
        step, alter, octave = spelled(key - self.transposition, self._written_fifths())
        pitch = etree.SubElement(note, "pitch")
        etree.SubElement(pitch, "step").text = step
        if alter:
            etree.SubElement(pitch, "alter").text = str(alter)
        etree.SubElement(pitch, "octave").text = str(octave)

    def _tempos(
        self, measure: etree._Element, tempos: list[tuple[Fraction, float]], cursor: Fraction
    ) -> None:
        """Write the tempos that begin in this measure, each at its moment, in time order."""
        for place, qpm in tempos:
            self._move(measure, place - cursor)
            cursor = place
            etree.SubElement(measure, "sound", tempo=f"{qpm:g}")

    def _move(self, measure: etree._Element, quarters: Fraction) -> None:
        """Move the clock of the measure on or back."""
        if quarters:
            kind = "forward" if quarters > 0 else "backup"
            move = etree.SubElement(measure, kind)
            etree.SubElement(move, "duration").text = str(abs(quarters) * self.shared.divisions)


def spelled(midi: int, fifths: int) -> tuple[str, int, int]:
    """Step, alter and octave of a key, spelled from the twelve names nearest the key signature.

    On the line of fifths these reach from three below to eight above the key: in C major from
    E-flat to G-sharp.

    >>> spelled(61, 0), spelled(61, -4), spelled(59, -6)
    (('C', 1, 4), ('D', -1, 4), ('C', -1, 4))
    """
    lowest = fifths - 3
    place = lowest + (7 * midi - lowest) % 12
    alter, natural = divmod(place + 1, 7)
    step = _STEP_BY_FIFTHS[natural - 1]
    return step, alter, (midi - alter - _SEMITONES[step]) // 12 - 1


def _slices(voice: list[Sounding], bars: Sequence[Bar]) -> dict[int, list[_Slice]]:
    """What of each chord falls into each measure, by measure index."""
    starts = [bar.onset for bar in bars]
    found: dict[int, list[_Slice]] = {}
    for chord in voice:
        at, onset = bisect_right(starts, chord.onset) - 1, chord.onset
        while onset < chord.end:
            stop = min(chord.end, bars[at].onset + bars[at].length)
            found.setdefault(at, []).append(
                _Slice(onset - bars[at].onset, stop - onset, chord.keys,
                       tied_into=onset > chord.onset, tied=stop < chord.end)
            )  # fmt: skip
            at, onset = at + 1, stop
    return found
