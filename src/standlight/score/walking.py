"""One walk through one MusicXML part: drafts of its notes and what happens in each measure.

The clock is counted in ticks, ``resolution`` of them to a quarter (the least common
multiple of all ``<divisions>`` of the file), from 0 at the start of each measure. Rules,
all from the MusicXML 4.0 report: a ``<chord/>`` note does not move the clock; ``<backup>``
and ``<forward>`` do; a grace note takes no time; sounding pitch is written pitch plus
``<transpose>``; an 8va line changes nothing, since ``<pitch>`` is written as it sounds
under it; a ``sound`` tempo counts quarters; cue notes belong to somebody else's part.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import chain

from lxml import etree

from standlight.score.directions import DirectionReader
from standlight.score.values import Remark
from standlight.score.walked import (
    QUARTERS_OF_TYPE,
    Draft,
    PartIdentity,
    PartWalk,
    SignDraft,
    WalkedMeasure,
    number_in,
    whole_in,
)

_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_ALTER_OF_ACCIDENTAL = {
    "sharp": "1",
    "flat": "-1",
    "double-sharp": "2",
    "sharp-sharp": "2",
    "flat-flat": "-2",
    "double-flat": "-2",
}
_MARK_OF_ELEMENT = {
    "staccato": ("staccato",),
    "staccatissimo": ("staccato",),
    "tenuto": ("tenuto",),
    "detached-legato": ("staccato", "tenuto"),
    "accent": ("accent",),
    "strong-accent": ("marcato",),
    "breath-mark": ("breath_after",),
    "caesura": ("breath_after",),
    "tremolo": ("tremolo",),
    "trill-mark": ("trill",),
    "fermata": ("fermata",),
}
FINEST_RESOLUTION = 10**15
"""Far above any real score (10,080 is usual): hundreds of odd divisions have no common multiple
that a machine can count in (our choice)."""

HIGHEST_MIDI = 127
"""The MIDI 1.0 specification numbers pitches 0 to 127."""

OUT_OF_RANGE = "pitch_range"
"""The code of the remark on a note that sounds outside these."""

_DIVISIONS = etree.XPath("part/measure/attributes/divisions/text()", smart_strings=False)


def resolution_of(root: etree._Element) -> int:
    """Ticks to a quarter that make every ``<divisions>`` of the score whole (at least 1).

    One that would go beyond `FINEST_RESOLUTION` is left out; its times are rounded.
    """
    resolution = 1
    for divisions in set(_DIVISIONS(root)):
        value = number_in(divisions)
        if value is not None and value > 0:
            finer = math.lcm(resolution, value.numerator)
            resolution = finer if finer <= FINEST_RESOLUTION else resolution
    return resolution


def walk_part(
    part: etree._Element, identity: PartIdentity, *, index: int, resolution: int
) -> PartWalk:
    """Walk ``part`` once, in document order; nothing in it raises, oddities become remarks."""
    walker = _Walker(identity, index, resolution)
    for number, measure in enumerate(part.iterchildren("measure")):
        walker.measure(number, measure)
    return walker.walk


class _Walker(DirectionReader):
    """The state of a walk: clock, what is in force, what is still open."""

    def __init__(self, identity: PartIdentity, index: int, resolution: int) -> None:
        super().__init__(resolution)
        self.identity = identity
        self.index = index
        self.transpositions: dict[int, int] = {}
        self.meter: tuple[int, int] | None = (4, 4)
        self.percussion_clefs: dict[int, bool] = {}
        self.open_ties: dict[object, list[Draft]] = {}
        self.open_slurs: dict[str, tuple[str, int, Draft]] = {}
        self.grace_before: set[str] = set()
        self.said: set[str] = set()
        self.chord_tick = 0
        self.chord_marks: set[str] = set()
        self.readers = {
            "note": self.note,
            "backup": self.backup,
            "forward": self.forward,
            "attributes": self.attributes,
            "direction": self.direction,
            "barline": self.barline,
            "sound": self.sound,
        }

    def measure(self, number: int, measure: etree._Element) -> None:
        """Read one measure and append it to the walk."""
        printed = (measure.get("number") or "").strip() or None
        self.now, self.cursor, self.chord_tick = number, 0, 0
        self.here = WalkedMeasure(printed, measure.get("implicit") == "yes")
        for child in measure:
            reader = self.readers.get(child.tag)
            if reader is not None:
                reader(child)
        if self.meter is not None:
            self.here.beats, self.here.beat_unit = self.meter
            self.here.nominal = self.resolution * 4 * self.meter[0] // self.meter[1]
        self.walk.measures.append(self.here)

    def remark(self, code: str, sentence: str, *, once: bool = False) -> None:
        """Keep a remark on this part and measure; with ``once`` only the first of its code."""
        if once and code in self.said:
            return
        self.said.add(code)
        self.walk.remarks.append(Remark(code, sentence, self.index, self.now))

    def ticks_of(self, duration: etree._Element | None) -> int | None:
        """A ``<duration>`` in ticks, ``None`` when it is absent or no number."""
        if duration is None:
            return None
        text = duration.text or ""
        value = whole_in(text)
        value = number_in(text) if value is None else value
        if value is None or value < 0:
            return None
        ticks = value * self.unit
        return ticks if isinstance(ticks, int) else round(ticks)

    def note(self, note: etree._Element) -> None:
        """Read a note, chord note, rest, grace note or cue note."""
        found = {child.tag: child for child in note}
        voice = (found["voice"].text or "1").strip() if "voice" in found else "1"
        if "grace" in found:
            self.grace_before.add(voice)
            return
        ticks = self.ticks_of(found.get("duration"))
        if ticks is None:
            ticks = self.length_without_duration(found, note)
        chord = "chord" in found
        if not chord:
            self.chord_tick = self.cursor
            self.cursor += ticks
            self.here.content = max(self.here.content, self.cursor)
            self.chord_marks = set()
        if "rest" in found:
            if note.get("print-object") != "no":
                staff = int(number_in(note.findtext("staff")) or 1)
                self.walk.rests.append((self.now, self.cursor - ticks, ticks, staff, voice))
            if "notations" in found and found["notations"].find("fermata") is not None:
                self.held_rest(ticks)
            return
        if "cue" in found:
            self.remark("cue", "Cue notes are left out: they belong to another part.", once=True)
            return
        if ticks <= 0:
            self.remark("no_duration", "A note without length is left out.")
            return
        staff_number = number_in(found["staff"].text) if "staff" in found else None
        staff = int(staff_number) if staff_number else 1
        sounded = self.pitch(found, staff)
        if sounded is None:
            return
        written, midi, drum = sounded
        draft = self.place(found, note, Draft(
            self.now, self.chord_tick, ticks, midi, written, drum, voice, staff,
            self.chord_marks, note, self.now, self.chord_tick + ticks,
        ))  # fmt: skip
        if voice in self.grace_before:
            draft.marks.add("after_grace")
            self.grace_before.discard(voice)
        if "notations" in found:
            self.notations(note.findall("notations"), draft)
        if "lyric" in found and draft.lyric is None:
            draft.lyric = _syllable(note)

    def held_rest(self, ticks: int) -> None:
        """Note a fermata on the rest that has just been passed."""
        start = self.cursor - ticks
        self.walk.signs.append(
            SignDraft("fermata_on_rest", self.now, start, self.now, self.cursor)
        )

    def length_without_duration(
        self, found: dict[str, etree._Element], note: etree._Element
    ) -> int:
        """Ticks of a note that states none: from its type and dots, or a whole measure's rest."""
        if "type" in found:
            length = QUARTERS_OF_TYPE.get((found["type"].text or "").strip())
            if length is not None:
                dots = len(note.findall("dot"))
                return int(length * (2 - Fraction(1, 2**dots)) * self.resolution)
        if "rest" in found and self.meter is not None:
            return self.resolution * 4 * self.meter[0] // self.meter[1]
        return 0

    def pitch(
        self, found: dict[str, etree._Element], staff: int
    ) -> tuple[int | None, int | None, str | None] | None:
        """Written pitch, sounding pitch and drum name; ``None`` when the note has none of them."""
        pitch = found.get("pitch")
        percussion = self.percussion_clefs.get(staff, False) and self.identity.unpitched
        if pitch is not None and percussion:
            self.remark(
                "percussion_pitch", "Pitches on a percussion clef are read as strokes.", once=True
            )
            return None, None, self.drum(found, pitch.findtext("step"), pitch.findtext("octave"))
        if pitch is None:
            stroke = found.get("unpitched")
            if stroke is None:
                self.remark("no_pitch", "A note without pitch is left out.")
                return None
            step, octave = stroke.findtext("display-step"), stroke.findtext("display-octave")
            return None, None, self.drum(found, step, octave)
        texts = {child.tag: child.text for child in pitch}
        alter = texts.get("alter")
        if alter is None and "accidental" in found:
            alter = _ALTER_OF_ACCIDENTAL.get((found["accidental"].text or "").strip())
            if alter is not None:
                self.remark(
                    "accidental", "An accidental is printed but not sounded; it is sounded here."
                )
        written, rounded = _written_midi(texts.get("step"), texts.get("octave"), alter)
        if written is None:
            self.remark("no_pitch", "A note with half a pitch is left out.")
            return None
        if rounded:
            self.remark(
                "microtone", "A pitch between two semitones is rounded to the nearer.", once=True
            )
        shift = self.transpositions.get(staff, self.transpositions.get(0, 0))
        if not 0 <= written + shift <= HIGHEST_MIDI:
            self.remark(OUT_OF_RANGE, "A note that no instrument sounds is left out.", once=True)
            return None
        return written, written + shift, None

    def drum(
        self, found: dict[str, etree._Element], step: str | None, octave: str | None
    ) -> str:
        """A stroke's drum: its instrument's name, the part's only one, or its staff line."""
        drums = self.identity.drums
        if "instrument" in found and found["instrument"].get("id") in drums:
            return drums[found["instrument"].get("id", "")]
        if len(drums) == 1:
            return next(iter(drums.values()))
        if self.identity.name and not drums and step is None:
            return self.identity.name.lower()
        return f"line {step}{octave}" if step else "drum"

    def place(
        self, found: dict[str, etree._Element], note: etree._Element, draft: Draft
    ) -> Draft:
        """Lengthen the note this one is tied to and return that, or append ``draft``."""
        kinds = {tie.get("type") for tie in note.findall("tie")} if "tie" in found else set()
        if not kinds and "notations" in found:
            kinds = {tied.get("type") for tied in note.iterfind("notations/tied")}
        key = draft.written if draft.written is not None else draft.drum
        if "stop" in kinds or "continue" in kinds:
            held = self.held(key, draft)
            if held is not None:
                held.ticks += draft.ticks
                held.end_measure, held.end_tick = draft.end_measure, draft.end_tick
                draft = held
            else:
                self.remark("tie", "A tie ends here that did not begin; the note is struck.")
                self.walk.drafts.append(draft)
        else:
            self.walk.drafts.append(draft)
        if "start" in kinds or "continue" in kinds:
            self.open_ties.setdefault(key, []).append(draft)
        return draft

    def held(self, key: object, draft: Draft) -> Draft | None:
        """The open note that ``draft`` continues, taken out of the open ones."""
        waiting = self.open_ties.get(key, [])
        joined = [
            held
            for held in waiting
            if (held.end_measure, held.end_tick) == (draft.measure, draft.tick)
            or (held.end_measure + 1 == draft.measure and draft.tick == 0)
        ]
        joined.sort(key=lambda held: held.voice != draft.voice)
        if not joined:
            return None
        waiting.remove(joined[0])
        return joined[0]

    def notations(self, groups: Sequence[etree._Element], draft: Draft) -> None:
        """Add a note's articulations, ornaments, fermata and slurs to its marks."""
        slurs = []
        for notation in chain.from_iterable(groups):
            tag = notation.tag
            if tag == "slur":
                slurs.append(notation)
            elif tag in ("articulations", "ornaments"):
                for child in notation:
                    draft.marks.update(_MARK_OF_ELEMENT.get(child.tag, ()))
            elif tag == "dynamics":
                self.dynamic(notation, draft.staff, self.chord_tick)
            else:
                draft.marks.update(_MARK_OF_ELEMENT.get(tag, ()))
        for slur in sorted(slurs, key=lambda one: one.get("type") != "stop"):
            self.slur(slur, draft)

    def slur(self, slur: etree._Element, draft: Draft) -> None:
        """Open or close a slur; only one that closes marks the notes under it."""
        number = slur.get("number", "1")
        kind = slur.get("type")
        if kind == "start":
            self.open_slurs[number] = (draft.voice, len(self.walk.drafts), draft)
        elif kind == "stop" and number in self.open_slurs:
            voice, position, first = self.open_slurs.pop(number)
            if first is draft or first.marks is draft.marks:
                return
            first.marks.add("slur_start")
            draft.marks.add("slur_stop")
            for between in self.walk.drafts[position:]:
                if between.voice == voice and between.marks is not first.marks:
                    between.marks.add("slurred")

    def backup(self, backup: etree._Element) -> None:
        """Move the clock back, at most to the measure's start."""
        self.cursor -= self.ticks_of(backup.find("duration")) or 0
        if self.cursor < 0:
            self.remark("backup", "A voice begins before its measure; it is moved to the start.")
            self.cursor = 0

    def forward(self, forward: etree._Element) -> None:
        """Move the clock on."""
        self.cursor += self.ticks_of(forward.find("duration")) or 0
        self.here.content = max(self.here.content, self.cursor)

    def attributes(self, attributes: etree._Element) -> None:
        """Take over divisions, meter, clefs, staves and transposition."""
        for child in attributes:
            if child.tag == "divisions":
                divisions = number_in(child.text)
                if divisions is None or divisions <= 0:
                    self.remark("divisions", "The unit of durations is no number; kept as it was.")
                    continue
                unit = Fraction(self.resolution) / divisions
                self.unit = unit.numerator if unit.denominator == 1 else unit
            elif child.tag == "time":
                self.time(child)
            elif child.tag == "staves":
                self.walk.staves = max(self.walk.staves, int(number_in(child.text) or 1))
            elif child.tag == "clef":
                staff = int(number_in(child.get("number")) or 1)
                self.percussion_clefs[staff] = child.findtext("sign", "").strip() == "percussion"
            elif child.tag == "transpose":
                self.transpose(child)
            elif child.tag == "key":
                fifths = number_in(child.findtext("fifths"))
                if fifths is not None:
                    self.walk.keys.append((self.now, int(fifths)))
            elif child.tag == "measure-style":
                count = number_in(child.findtext("multiple-rest"))
                if count is not None:
                    self.multi_rest(int(count))

    def multi_rest(self, count: int) -> None:
        """Note rests that are printed together as one sign of ``count`` measures."""
        self.walk.signs.append(
            SignDraft("multi_rest", self.now, 0, self.now + count, 0, count=count)
        )

    def time(self, time: etree._Element) -> None:
        """Take over a meter; several fractions are added, none means free time."""
        if time.find("senza-misura") is not None:
            self.meter = None
            return
        total = Fraction(0)
        units = []
        for beats, unit in zip(time.findall("beats"), time.findall("beat-type"), strict=False):
            counts = [number_in(count) for count in (beats.text or "").split("+")]
            value = number_in(unit.text)
            if None in counts or not value or value.denominator != 1:
                self.remark("meter", "A time signature cannot be read; the one before stays.")
                return
            units.append(int(value))
            total += Fraction(sum(counts)) / value
        if not units or total <= 0:
            return
        unit = math.lcm(*units)
        unit *= (total * unit).denominator
        self.meter = (int(total * unit), unit)

    def transpose(self, transpose: etree._Element) -> None:
        """Take over a transposition in semitones, for one staff or for all."""
        chromatic = number_in(transpose.findtext("chromatic")) or Fraction(0)
        octaves = number_in(transpose.findtext("octave-change")) or Fraction(0)
        semitones = math.floor(chromatic + 12 * octaves + Fraction(1, 2))
        staff = number_in(transpose.get("number"))
        if staff is None:
            self.transpositions.clear()
        self.transpositions[int(staff or 0)] = semitones
        if not self.walk.drafts:
            self.walk.transposition = semitones


def _syllable(note: etree._Element) -> str | None:
    """The first verse's syllable at a note, with a hyphen when its word goes on."""
    lyrics = note.findall("lyric")
    first = min(lyrics, key=lambda lyric: number_in(lyric.get("number")) or 1)
    text = "".join(part.text or "" for part in first.iterfind("text")).strip()
    if not text:
        return None
    goes_on = (first.findtext("syllabic") or "").strip() in ("begin", "middle")
    return f"{text}-" if goes_on else text


@lru_cache(maxsize=4096)  # a piece has a few dozen different pitches, each some hundred times
def _written_midi(
    step: str | None, octave: str | None, alter: str | None
) -> tuple[int | None, bool]:
    """The MIDI number of a written pitch and whether it was rounded; ``None`` for half a pitch."""
    semitones_of_step = _STEPS.get((step or "").strip().upper())
    octave_number, altered = number_in(octave), number_in(alter) or Fraction(0)
    if semitones_of_step is None or octave_number is None:
        return None, False
    semitones = math.floor(altered + Fraction(1, 2))
    written = 12 * (int(octave_number) + 1) + semitones_of_step + semitones
    return written, altered != semitones
