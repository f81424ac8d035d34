"""Typed notes and measures as values, and how they are written as MusicXML."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from fractions import Fraction

from lxml import etree

from standlight.score.beaming import beams
from standlight.score.clefs import clef_of, transpose_of
from standlight.score.instruments import Instrument
from standlight.score.numbering import number_notes
from standlight.score.walked import QUARTERS_OF_TYPE

VALUES = {
    "w": "whole", "h": "half", "q": "quarter", "e": "eighth", "s": "16th", "t": "32nd",
}  # fmt: skip
"""The letter of each typed value and its MusicXML name."""

FLAGS = {"e": 1, "s": 2, "t": 3}
"""Flags or beams of the short values."""

_ACCIDENTAL_NAMES = {2: "double-sharp", 1: "sharp", 0: "natural", -1: "flat", -2: "flat-flat"}
_SHARPS, _FLATS = "FCGDAEB", "BEADGCF"

STROKES = {
    "x": ("C", 5, "normal"),
    "snare": ("C", 5, "normal"),
    "rim": ("C", 5, "x"),
    "bass": ("F", 4, "normal"),
    "tom": ("E", 5, "normal"),
    "low-tom": ("A", 4, "normal"),
    "cymbal": ("A", 5, "x"),
    "hihat": ("G", 5, "x"),
    "triangle": ("E", 5, "triangle"),
    "tambourine": ("C", 5, "normal"),
    "block": ("E", 5, "normal"),
}
"""Each stroke's place on a five-line staff and its notehead: common practice, no source."""


@dataclass(slots=True)
class TypedNote:
    """A typed note, rest or stroke; ``step`` None for a rest or a stroke."""

    step: str | None
    alter: int
    octave: int
    stroke: str | None
    value: str
    dots: int
    triplet: bool
    marks: tuple[str, ...]
    tied: bool
    slur: list[str] = field(default_factory=list)
    dynamic: str | None = None
    tuplet: str | None = None

    @property
    def quarters(self) -> Fraction:
        """Sounding length."""
        length = QUARTERS_OF_TYPE[VALUES[self.value]] * (2 - Fraction(1, 2**self.dots))
        return length * Fraction(2, 3) if self.triplet else length

    @property
    def rest(self) -> bool:
        """True for silence."""
        return self.step is None and self.stroke is None


@dataclass(slots=True)
class TypedMeasure:
    """A typed measure with the meter, key and tempo that begin in it."""

    number: int
    meter: tuple[int, int]
    new_meter: bool = False
    fifths: int | None = None
    tempo: float | None = None
    notes: list[TypedNote] = field(default_factory=list)

    @property
    def quarters(self) -> Fraction:
        """Length of what was typed."""
        return sum((note.quarters for note in self.notes), Fraction(0))


def write_line(
    measures: list[TypedMeasure], pickup: bool, instrument: Instrument, title: str
) -> bytes:
    """The measures as MusicXML bytes, notes numbered n0, n1, ...; accidentals and beams are set."""
    root = etree.Element("score-partwise", version="4.0")
    if title:
        etree.SubElement(etree.SubElement(root, "work"), "work-title").text = title
    row = etree.SubElement(etree.SubElement(root, "part-list"), "score-part", id="P1")
    etree.SubElement(row, "part-name").text = instrument.name
    for stroke in sorted({note.stroke for one in measures for note in one.notes if note.stroke}):
        drum = etree.SubElement(row, "score-instrument", id=f"P1-{stroke}")
        name = instrument.name.lower() if stroke == "x" else stroke
        etree.SubElement(drum, "instrument-name").text = name
    part = etree.SubElement(root, "part", id="P1")
    divisions = math.lcm(*(note.quarters.denominator for one in measures for note in one.notes))
    writer = _Writer(instrument, divisions)
    for place, measure in enumerate(measures):
        element = etree.SubElement(part, "measure", number=str(measure.number))
        if place == 0 and pickup:
            element.set("implicit", "yes")
        writer.measure(element, measure, first=place == 0)
    barline = etree.SubElement(part[-1], "barline", location="right")
    etree.SubElement(barline, "bar-style").text = "light-heavy"
    number_notes(root)
    etree.indent(root)
    return etree.tostring(root, encoding="UTF-8", xml_declaration=True)


class _Writer:
    """What is in force while writing: key, accidentals of the measure, what is tied."""

    def __init__(self, instrument: Instrument, divisions: int) -> None:
        self.instrument = instrument
        self.divisions = divisions
        # Under an octave clef MusicXML writes the pitch as it sounds.
        self.octave_shift = -1 if instrument.clef.endswith("8vb") else 0
        self.signature: dict[str, int] = {}
        self.altered: dict[tuple[str, int], int] = {}
        self.tied_into = False
        self.dynamic: str | None = None

    def measure(self, element: etree._Element, measure: TypedMeasure, *, first: bool) -> None:
        """Write one measure."""
        self.altered = {}
        if first or measure.new_meter or measure.fifths is not None:
            self.attributes(element, measure, first=first)
        if measure.tempo is not None:
            etree.SubElement(element, "sound", tempo=f"{measure.tempo:g}")
        beamed = beams(
            [(n.quarters, 0 if n.rest else FLAGS.get(n.value, 0)) for n in measure.notes],
            measure.meter,
        )
        for note, beam in zip(measure.notes, beamed, strict=True):
            self.note(element, note, beam)

    def attributes(
        self, element: etree._Element, measure: TypedMeasure, *, first: bool
    ) -> None:
        """Write what begins in this measure."""
        attributes = etree.SubElement(element, "attributes")
        if first:
            etree.SubElement(attributes, "divisions").text = str(self.divisions)
        if measure.fifths is not None and not self.instrument.unpitched:
            key = etree.SubElement(attributes, "key")
            etree.SubElement(key, "fifths").text = str(measure.fifths)
            names = _SHARPS[: measure.fifths] if measure.fifths > 0 else _FLATS[: -measure.fifths]
            self.signature = dict.fromkeys(names, 1 if measure.fifths > 0 else -1)
        if measure.new_meter:
            time = etree.SubElement(attributes, "time")
            etree.SubElement(time, "beats").text = str(measure.meter[0])
            etree.SubElement(time, "beat-type").text = str(measure.meter[1])
        if not first:
            return
        attributes.append(clef_of(self.instrument, octaves=self.octave_shift))
        if not (self.instrument.unpitched or self.octave_shift) and self.instrument.transposition:
            attributes.append(transpose_of(self.instrument))

    def note(self, measure: etree._Element, typed: TypedNote, beam: tuple[str, ...]) -> None:
        """Write one note, rest or stroke in the order the MusicXML schema asks for."""
        if typed.dynamic is not None:
            direction = etree.SubElement(measure, "direction", placement="below")
            kind = etree.SubElement(direction, "direction-type")
            etree.SubElement(etree.SubElement(kind, "dynamics"), typed.dynamic)
        note = etree.SubElement(measure, "note")
        accidental, tied_into = None, self.tied_into
        if typed.rest:
            etree.SubElement(note, "rest")
        elif typed.stroke is not None:
            step, octave, _ = STROKES[typed.stroke]
            place = etree.SubElement(note, "unpitched")
            etree.SubElement(place, "display-step").text = step
            etree.SubElement(place, "display-octave").text = str(octave)
        else:
            accidental = self.pitch(note, typed, tied_into=tied_into)
        length = typed.quarters * self.divisions
        etree.SubElement(note, "duration").text = str(length)
        if tied_into:
            etree.SubElement(note, "tie", type="stop")
        if typed.tied:
            etree.SubElement(note, "tie", type="start")
        self.tied_into = typed.tied
        if typed.stroke is not None:
            etree.SubElement(note, "instrument", id=f"P1-{typed.stroke}")
        etree.SubElement(note, "voice").text = "1"
        etree.SubElement(note, "type").text = VALUES[typed.value]
        for _ in range(typed.dots):
            etree.SubElement(note, "dot")
        if accidental is not None:
            etree.SubElement(note, "accidental").text = accidental
        if typed.triplet:
            ratio = etree.SubElement(note, "time-modification")
            etree.SubElement(ratio, "actual-notes").text = "3"
            etree.SubElement(ratio, "normal-notes").text = "2"
        if typed.stroke is not None and STROKES[typed.stroke][2] != "normal":
            etree.SubElement(note, "notehead").text = STROKES[typed.stroke][2]
        for level, word in enumerate(beam, start=1):
            etree.SubElement(note, "beam", number=str(level)).text = word
        _notations(note, typed, tied_into=tied_into)

    def pitch(
        self, note: etree._Element, typed: TypedNote, *, tied_into: bool
    ) -> str | None:
        """Write the pitch; the accidental to print, ``None`` when the staff already says it."""
        pitch = etree.SubElement(note, "pitch")
        etree.SubElement(pitch, "step").text = typed.step
        if typed.alter:
            etree.SubElement(pitch, "alter").text = str(typed.alter)
        etree.SubElement(pitch, "octave").text = str(typed.octave + self.octave_shift)
        place = (typed.step, typed.octave)
        shown = self.altered.get(place, self.signature.get(typed.step, 0))
        if shown == typed.alter or tied_into:
            return None
        self.altered[place] = typed.alter
        return _ACCIDENTAL_NAMES[typed.alter]


def _notations(note: etree._Element, typed: TypedNote, *, tied_into: bool) -> None:
    """Write ties, slurs, triplet brackets and articulations as printed."""
    notations = etree.SubElement(note, "notations")
    if tied_into:
        etree.SubElement(notations, "tied", type="stop")
    if typed.tied:
        etree.SubElement(notations, "tied", type="start")
    for kind in typed.slur:
        etree.SubElement(notations, "slur", type=kind, number="1")
    if typed.tuplet is not None:
        etree.SubElement(notations, "tuplet", type=typed.tuplet)
    if typed.marks:
        articulations = etree.SubElement(notations, "articulations")
        for mark in typed.marks:
            etree.SubElement(articulations, mark)
    if len(notations) == 0:
        note.remove(notations)
