"""A very small writer of MusicXML 4.0 for the demo's own pieces.

A line of music is text: pitch and value in pairs, measures ended by ``|``.
Values are ``w h q e s`` (whole to sixteenth), a dot after them for dotted.
After a value may stand ``>`` accent, ``'`` staccato, ``(`` slur begins, ``)``
slur ends. ``!mf`` sets the dynamic, ``[A]`` a rehearsal letter, ``r`` is a rest,
``x`` a drum stroke. Pitches are concert pitches; an instrument's row transposes.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from lxml import etree

DIVISIONS = 4
STEPS = "CDEFGAB"
SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
SHARP_ORDER = "FCGDAEB"
ALTERS = {"#": 1, "b": -1}
ACCIDENTALS = {-1: "flat", 0: "natural", 1: "sharp"}
VALUES = {
    "w": ("whole", Fraction(4)),
    "h": ("half", Fraction(2)),
    "q": ("quarter", Fraction(1)),
    "e": ("eighth", Fraction(1, 2)),
    "s": ("16th", Fraction(1, 4)),
}
BEAMS = {"eighth": 1, "16th": 2}


@dataclass(frozen=True, slots=True)
class Staff:
    """How one part is printed: its name, clef and transposition (semitones, steps, octaves)."""

    name: str
    instrument: str
    clef: str = "G2"
    chromatic: int = 0
    diatonic: int = 0
    octave_change: int = 0
    program: int = 1
    drum: bool = False


@dataclass(frozen=True, slots=True)
class Event:
    """One note, rest or stroke of a line; ``pitch`` is (step, alter, octave) in concert pitch."""

    pitch: tuple[str, int, int] | None
    value: str
    dotted: bool
    marks: frozenset[str]
    stroke: bool = False

    @property
    def quarters(self) -> Fraction:
        """Length in quarters."""
        return VALUES[self.value][1] * (Fraction(3, 2) if self.dotted else 1)


@dataclass(frozen=True, slots=True)
class Bar:
    """One measure of a line: what stands in it and the words over it."""

    events: tuple[tuple[str | None, Event], ...]
    rehearsal: str | None


def parse_pitch(token: str) -> tuple[str, int, int]:
    """``"Bb4"`` -> ``("B", -1, 4)``."""
    alter = sum(ALTERS[c] for c in token[1:-1])
    return token[0], alter, int(token[-1])


def midi_of(pitch: tuple[str, int, int]) -> int:
    """MIDI number of a (step, alter, octave) pitch."""
    step, alter, octave = pitch
    return 12 * (octave + 1) + SEMITONES[step] + alter


def key_alter(step: str, fifths: int) -> int:
    """Alteration a key signature gives to a step."""
    place = SHARP_ORDER.index(step)
    if fifths > place:
        return 1
    return -1 if -fifths > 6 - place else 0


def move(pitch: tuple[str, int, int], steps: int, semitones: int) -> tuple[str, int, int]:
    """The pitch moved by so many staff steps and semitones, spelled accordingly."""
    step, _, octave = pitch
    place = STEPS.index(step) + 7 * octave + steps
    moved = STEPS[place % 7], place // 7
    natural = midi_of((moved[0], 0, moved[1]))
    return moved[0], midi_of(pitch) + semitones - natural, moved[1]


def parse_line(text: str) -> tuple[Bar, ...]:
    """The measures of a line of text."""
    bars: list[Bar] = []
    for measure in text.strip().strip("|").split("|"):
        events: list[tuple[str | None, Event]] = []
        rehearsal = dynamic = None
        tokens = measure.split()
        while tokens:
            token = tokens.pop(0)
            if token.startswith("!"):
                dynamic = token[1:]
            elif token.startswith("["):
                rehearsal = token.strip("[]")
            else:
                value = tokens.pop(0)
                pitch = None if token in "rx" else parse_pitch(token)
                marks = frozenset(value[1:].replace(".", ""))
                events.append((dynamic, Event(pitch, value[0], "." in value, marks, token == "x")))
                dynamic = None
        bars.append(Bar(tuple(events), rehearsal))
    return tuple(bars)


def shift(
    bars: tuple[Bar, ...], *, octaves: int = 0, scale_steps: int = 0, fifths: int = 0
) -> tuple[Bar, ...]:
    """The line moved by octaves and by steps of the key's own scale."""

    def moved(event: Event) -> Event:
        if event.pitch is None:
            return event
        step, _, octave = event.pitch
        place = STEPS.index(step) + 7 * (octave + octaves) + scale_steps
        step = STEPS[place % 7]
        return Event(
            (step, key_alter(step, fifths), place // 7), event.value, event.dotted, event.marks
        )

    return tuple(Bar(tuple((d, moved(e)) for d, e in bar.events), bar.rehearsal) for bar in bars)


def sub(
    parent: etree._Element, tag: str, text: object | None = None, **attributes: str
) -> etree._Element:
    """A child element with its text."""
    child = etree.SubElement(parent, tag, {k.replace("_", "-"): v for k, v in attributes.items()})
    if text is not None:
        child.text = str(text)
    return child


@dataclass(frozen=True, slots=True)
class Piece:
    """A whole piece: words, key (fifths), time, tempo; staff, line and syllables of each part."""

    title: str
    composer: str
    fifths: int
    beats: int
    tempo: int
    parts: tuple[tuple[Staff, tuple[Bar, ...], tuple[str, ...]], ...]


def write(piece: Piece) -> bytes:
    """The piece as MusicXML."""
    root = etree.Element("score-partwise", version="4.0")
    sub(sub(root, "work"), "work-title", piece.title)
    identification = sub(root, "identification")
    sub(identification, "creator", piece.composer, type="composer")
    sub(identification, "rights", "CC0 1.0: written for this demo, free for any use")
    part_list = sub(root, "part-list")
    for number, (staff, _, _) in enumerate(piece.parts, 1):
        _list_part(part_list, number, staff)
    for number, (staff, bars, syllables) in enumerate(piece.parts, 1):
        _write_part(sub(root, "part", id=f"P{number}"), piece, number, staff, bars, list(syllables))
    doctype = (
        '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
        '"http://www.musicxml.org/dtds/partwise.dtd">'
    )
    return etree.tostring(
        root, xml_declaration=True, encoding="UTF-8", pretty_print=True, doctype=doctype
    )


def _list_part(part_list: etree._Element, number: int, staff: Staff) -> None:
    entry = sub(part_list, "score-part", id=f"P{number}")
    sub(entry, "part-name", staff.name)
    instrument = sub(entry, "score-instrument", id=f"P{number}-I1")
    sub(instrument, "instrument-name", staff.instrument)
    midi = sub(entry, "midi-instrument", id=f"P{number}-I1")
    if staff.drum:
        sub(midi, "midi-channel", 10)
        sub(midi, "midi-unpitched", staff.program)
    else:
        sub(midi, "midi-program", staff.program)


def _write_part(
    part: etree._Element,
    piece: Piece,
    number: int,
    staff: Staff,
    bars: tuple[Bar, ...],
    syllables: list[str],
) -> None:
    written_fifths = (piece.fifths + 7 * -staff.chromatic + 6) % 12 - 6
    for index, bar in enumerate(bars, 1):
        length = sum(event.quarters for _, event in bar.events)
        if length != piece.beats:
            raise ValueError(f"{piece.title}, {staff.name}, measure {index}: {length} quarters")
        measure = sub(part, "measure", number=str(index))
        if index == 1:
            _attributes(measure, piece, staff, written_fifths)
            if number == 1:
                _tempo(measure, piece.tempo)
        if bar.rehearsal and number == 1:
            direction = sub(measure, "direction", placement="above")
            sub(sub(direction, "direction-type"), "rehearsal", bar.rehearsal)
        place = Fraction(0)
        for at, (dynamic, event) in enumerate(bar.events):
            if dynamic:
                direction = sub(measure, "direction", placement="below")
                sub(sub(sub(direction, "direction-type"), "dynamics"), dynamic)
            note = _note(measure, staff, event, written_fifths, number)
            _beam(note, bar, at, place)
            _notations(note, event)
            if syllables and event.pitch and ")" not in event.marks:
                _lyric(note, syllables.pop(0))
            place += event.quarters
        if index == len(bars):
            sub(sub(measure, "barline", location="right"), "bar-style", "light-heavy")


def _attributes(measure: etree._Element, piece: Piece, staff: Staff, fifths: int) -> None:
    attributes = sub(measure, "attributes")
    sub(attributes, "divisions", DIVISIONS)
    sub(sub(attributes, "key"), "fifths", 0 if staff.drum else fifths)
    time = sub(attributes, "time")
    sub(time, "beats", piece.beats)
    sub(time, "beat-type", 4)
    clef = sub(attributes, "clef")
    if staff.drum:
        sub(clef, "sign", "percussion")
        sub(sub(attributes, "staff-details"), "staff-lines", 1)
        return
    sub(clef, "sign", staff.clef[0])
    sub(clef, "line", staff.clef[1])
    if staff.clef.endswith("8vb"):
        sub(clef, "clef-octave-change", -1)
    elif (staff.chromatic, staff.octave_change) != (0, 0):
        transpose = sub(attributes, "transpose")
        sub(transpose, "diatonic", staff.diatonic)
        sub(transpose, "chromatic", staff.chromatic)
        if staff.octave_change:
            sub(transpose, "octave-change", staff.octave_change)


def _tempo(measure: etree._Element, tempo: int) -> None:
    direction = sub(measure, "direction", placement="above")
    metronome = sub(sub(direction, "direction-type"), "metronome")
    sub(metronome, "beat-unit", "quarter")
    sub(metronome, "per-minute", tempo)
    sub(direction, "sound", tempo=str(tempo))


def _note(
    measure: etree._Element, staff: Staff, event: Event, fifths: int, number: int
) -> etree._Element:
    note = sub(measure, "note")
    accidental = None
    if event.stroke:
        unpitched = sub(note, "unpitched")
        sub(unpitched, "display-step", "E")
        sub(unpitched, "display-octave", 4)
    elif event.pitch is None:
        sub(note, "rest")
    else:
        octaves = 0 if staff.clef.endswith("8vb") else staff.octave_change
        step, alter, octave = move(
            event.pitch, -staff.diatonic - 7 * octaves, -staff.chromatic - 12 * octaves
        )
        pitch = sub(note, "pitch")
        sub(pitch, "step", step)
        if alter:
            sub(pitch, "alter", alter)
        sub(pitch, "octave", octave)
        if alter != key_alter(step, fifths):
            accidental = ACCIDENTALS[alter]
    sub(note, "duration", int(event.quarters * DIVISIONS))
    if event.stroke:
        sub(note, "instrument", id=f"P{number}-I1")
    sub(note, "voice", 1)
    sub(note, "type", VALUES[event.value][0])
    if event.dotted:
        sub(note, "dot")
    if accidental:
        sub(note, "accidental", accidental)
    return note


def _beam(note: etree._Element, bar: Bar, at: int, place: Fraction) -> None:
    """Beams join the notes of one beat that are shorter than it."""
    depth = BEAMS.get(VALUES[bar.events[at][1].value][0], 0)
    if not depth or note.find("rest") is not None:
        return
    places, clock = [], Fraction(0)
    for _, event in bar.events:
        short = event.value in "es" and (event.pitch is not None or event.stroke)
        places.append((int(clock), event.value) if short else None)
        clock += event.quarters

    def joined(other: int, level: int) -> bool:
        if not 0 <= other < len(places) or places[other] is None:
            return False
        beat, value = places[other]
        return beat == int(place) and BEAMS[VALUES[value][0]] >= level

    for level in range(1, depth + 1):
        before, after = joined(at - 1, level), joined(at + 1, level)
        state = {(False, True): "begin", (True, True): "continue", (True, False): "end"}.get(
            (before, after)
        )
        if state:
            sub(note, "beam", state, number=str(level))


def _notations(note: etree._Element, event: Event) -> None:
    if not event.marks:
        return
    notations = sub(note, "notations")
    for mark, kind in (("(", "start"), (")", "stop")):
        if mark in event.marks:
            sub(notations, "slur", number="1", type=kind)
    names = [name for mark, name in ((">", "accent"), ("'", "staccato")) if mark in event.marks]
    if names:
        articulations = sub(notations, "articulations")
        for name in names:
            sub(articulations, name)


def _lyric(note: etree._Element, syllable: str) -> None:
    """A syllable: ``"win-"`` begins, ``"-ter"`` ends, ``"-ri-"`` is in the middle."""
    kind = {
        (False, False): "single",
        (False, True): "begin",
        (True, True): "middle",
        (True, False): "end",
    }
    lyric = sub(note, "lyric", number="1")
    sub(lyric, "syllabic", kind[(syllable.startswith("-"), syllable.endswith("-"))])
    sub(lyric, "text", syllable.strip("-"))
