"""A cut an octave lower or higher, or in another key, with the same notes' ids.

An octave changes octaves alone. Another key moves every written pitch, key signature and
chord symbol by one interval: of the two that span the wanted semitones, the one whose new
key signature has fewer accidentals. All steps of that interval are counted along the line
of fifths (F C G D A E B, seven on for each sharp), so a note that needed an accidental
before needs one after, and only its name changes.
"""

from __future__ import annotations

from collections.abc import Sequence

from lxml import etree

from standlight.errors import StandlightError
from standlight.score.container import open_score
from standlight.score.instruments import INSTRUMENTS, instrument_of
from standlight.score.reading import identities_of
from standlight.score.walked import PartWalk, number_in
from standlight.score.walking import OUT_OF_RANGE, resolution_of, walk_part

OCTAVE_SEMITONES = 12
MOST_SEMITONES = 12
"""A passage is moved by an octave at most: beyond that it is another part (our choice)."""

MOST_FIFTHS = 6
"""Six sharps or flats: every key has a spelling within them."""

_OCTAVES = range(10)
"""MusicXML 4.0, type ``octave``: 0 to 9."""

_LINE_OF_FIFTHS = "FCGDAEB"
SEMITONES_OF_STEP = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
"""Semitones of each natural above the C below it."""

_NAME_OF_ALTER = {2: "double-sharp", 1: "sharp", 0: "natural", -1: "flat", -2: "flat-flat"}
_ALTER_OF_NAME = {
    **{name: alter for alter, name in _NAME_OF_ALTER.items()},
    "sharp-sharp": 2,
    "double-flat": -2,
}
_STRINGS_AND_FINGERS = ("fingering", "string", "fret", "open-string", "thumb-position")
"""Directions to the hand that are wrong at another pitch."""

_INTERVALS = (
    "a half step", "a whole step", "a minor third", "a major third", "a fourth", "a tritone",
    "a fifth", "a minor sixth", "a major sixth", "a minor seventh", "a major seventh", "an octave",
)  # fmt: skip


def shift_notation(notation: bytes, *, semitones: int) -> bytes:
    """The cut ``notation`` (MusicXML) with every pitch moved by ``semitones``, as MusicXML.

    Note ids, lyrics, rhythm and ``<transpose>`` stay. A singer's treble clef goes with an
    octave (the small 8), so that the music looks the same. Raises `StandlightError` when
    there is no pitch to move, when it is moved by more than an octave or out of MIDI's
    range, and for quarter-tones and key signatures without fifths in another key.

    >>> from standlight.score import line_to_musicxml, read_passage
    >>> line = line_to_musicxml("key F F4 q A4 C5 Bb4", instrument="Soprano")
    >>> [note.midi for note in read_passage(shift_notation(line, semitones=-3)).notes]
    [62, 66, 69, 67]
    """
    if not -MOST_SEMITONES <= semitones <= MOST_SEMITONES:
        raise StandlightError(
            f"a passage is moved by an octave at most, not by {semitones} semitones",
            slip="octaves or cents instead of semitones?",
        )
    root, _ = open_score(notation, name="the passage")
    part, walk = root.find("part"), _walked(root)
    if all(draft.midi is None for draft in walk.drafts):
        raise StandlightError(
            "this passage has no pitches, so it cannot be set an octave lower or in another key",
            slip="a percussion part?",
        )
    if semitones == 0:
        return notation
    if semitones % OCTAVE_SEMITONES == 0:
        _move_octaves(part, semitones // OCTAVE_SEMITONES, with_clefs=_is_sung(root, walk))
    else:
        _move_keys(part, semitones)
    return _written(root)


def lowered(cut: bytes, octaves: int) -> bytes:
    """The cut that looks as it is printed and sounds ``octaves`` higher (negative: lower).

    For a part that is written an octave away from where it sounds: the clef gets the
    small 8 that was left out, whatever the instrument. With 0 the cut comes back as it is.

    >>> from standlight.score import line_to_musicxml, read_passage
    >>> line = line_to_musicxml("C5 q E5 G5 h", instrument="Alto")
    >>> [note.midi for note in read_passage(lowered(line, -1)).notes]
    [60, 64, 67]
    """
    if octaves == 0:
        return cut
    root, _ = open_score(cut, name="the passage")
    _move_octaves(root.find("part"), octaves, with_clefs=True)
    return _written(root)


def fifths_of(notation: bytes) -> int:
    """The key signature at the start of a cut: sharps, or flats as a negative number."""
    root, _ = open_score(notation, name="the passage")
    return _fifths(root.find("part/measure").find("attributes/key"))


def moved_fifths(fifths: int, semitones: int) -> int:
    """The key signature after a move by ``semitones``, spelled with fewest accidentals.

    Six sharps and six flats are as good: the side of the old key is kept, and from none
    the side of the move (up to sharps).

    >>> moved_fifths(0, -1), moved_fifths(-3, 2), moved_fifths(2, 12), moved_fifths(-1, 1)
    (5, -1, 2, -6)
    """
    return fifths + _steps_of_fifths([fifths], semitones)


def shift_words(semitones: int) -> str:
    """The move in a musician's words.

    >>> shift_words(-12), shift_words(3), shift_words(0)
    ('an octave lower', 'a minor third higher', 'as written')
    """
    if semitones == 0:
        return "as written"
    direction = "higher" if semitones > 0 else "lower"
    return f"{_INTERVALS[abs(semitones) - 1]} {direction}"


def key_words(fifths: int) -> str:
    """A key signature in words.

    >>> key_words(-3), key_words(1), key_words(0)
    ('3 flats', '1 sharp', 'no sharps or flats')
    """
    if fifths == 0:
        return "no sharps or flats"
    kind = "sharp" if fifths > 0 else "flat"
    return f"{abs(fifths)} {kind}{'s' * (abs(fifths) != 1)}"


def _walked(root: etree._Element) -> PartWalk:
    """The walk through the cut's part."""
    part = root.find("part")
    identity = identities_of(root, [part], [])[0]
    return walk_part(part, identity, index=0, resolution=resolution_of(root))


def _written(root: etree._Element) -> bytes:
    """The moved cut as UTF-8 bytes; raises `StandlightError` when a note left MIDI's range."""
    if any(remark.code == OUT_OF_RANGE for remark in _walked(root).remarks):
        raise _out_of_range()
    return etree.tostring(root, encoding="UTF-8", xml_declaration=True)


def _out_of_range() -> StandlightError:
    """The refusal of a note that no instrument sounds."""
    return StandlightError("moved so far, a note of this passage leaves the range of MIDI")


def _is_sung(root: etree._Element, walk: PartWalk) -> bool:
    """True when the cut's part is a voice of the table."""
    row = root.find("part-list/score-part")
    name = row.findtext("part-name", "") if row is not None else ""
    known = INSTRUMENTS.get(instrument_of(name, row, walk.transposition))
    return known is not None and known.voice


def _move_octaves(part: etree._Element, octaves: int, *, with_clefs: bool) -> None:
    """Move every pitch by whole octaves; with the clefs, what is drawn stays where it is."""
    with_clefs = with_clefs and all(_clef_can_move(clef, octaves) for clef in part.iter("clef"))
    for pitch in part.iter("pitch"):
        _add_to(pitch.find("octave"), octaves)
    if not with_clefs:
        _take_out(part, *_STRINGS_AND_FINGERS)
        _let_stems_go(part)
        return
    for clef in part.iter("clef"):
        _move_clef(clef, octaves)
    for octave in part.iterfind(".//rest/display-octave"):
        _add_to(octave, octaves)


def _add_to(octave: etree._Element | None, octaves: int) -> None:
    """Count up an ``<octave>`` or ``<display-octave>``; raises when MusicXML has no such one."""
    value = None if octave is None else number_in(octave.text)
    if value is None:
        return
    if int(value) + octaves not in _OCTAVES:
        raise _out_of_range()
    octave.text = str(int(value) + octaves)


def _clef_can_move(clef: etree._Element, octaves: int) -> bool:
    """True for a treble clef that ends up plain or with one small 8."""
    return clef.findtext("sign", "").strip() == "G" and abs(_octave_of(clef) + octaves) <= 1


def _octave_of(clef: etree._Element) -> int:
    """The octaves that a clef's small 8 already tells."""
    return int(number_in(clef.findtext("clef-octave-change")) or 0)


def _move_clef(clef: etree._Element, octaves: int) -> None:
    """Write the small 8 of a clef anew, or leave it out."""
    now = _octave_of(clef) + octaves
    _take_out(clef, "clef-octave-change")
    if now:
        etree.SubElement(clef, "clef-octave-change").text = str(now)


def _move_keys(part: etree._Element, semitones: int) -> None:
    """Move pitches, key signatures and chord symbols by an interval that is no octave."""
    if part.find("measure").find("attributes/key") is None:
        _write_plain_key(part.find("measure"))
    together = _steps_of_fifths([_fifths(key) for key in part.iter("key")], semitones)
    steps = together
    for measure in part.iterchildren("measure"):
        respelled = False
        for element in measure.iter("key", "pitch", "harmony"):
            if element.tag == "key":
                fifths = _fifths(element)
                fits = abs(fifths + together) <= MOST_FIFTHS
                steps = together if fits else _steps_of_fifths([fifths], semitones)
                _move_key(element, fifths + steps)
            elif element.tag == "pitch":
                respelled |= _move_pitch(element, steps, semitones)
            else:
                _move_harmony(element, steps)
        for note in measure.iterchildren("note"):
            _rename_accidentals(note, steps, print_all=respelled)
    _take_out(part, *_STRINGS_AND_FINGERS)
    _let_stems_go(part)


def _write_plain_key(measure: etree._Element) -> None:
    """Write the key signature without accidentals that a cut without one was read in."""
    attributes = measure.find("attributes")
    if attributes is None:
        attributes = etree.Element("attributes")
        measure.insert(0, attributes)
    key = etree.Element("key")
    etree.SubElement(key, "fifths").text = "0"
    attributes.insert(1 if attributes.find("divisions") is not None else 0, key)


def _fifths(key: etree._Element | None) -> int:
    """The fifths of a ``<key>``, 0 without one; raises for a signature of another kind."""
    if key is None:
        return 0
    value = number_in(key.findtext("fifths"))
    if value is None:
        raise StandlightError(
            "this passage has a key signature that is not counted in sharps or flats, so it "
            "can be set an octave lower or higher but in no other key"
        )
    return int(value)


def _steps_of_fifths(keys: Sequence[int], semitones: int) -> int:
    """By how many fifths all of ``keys`` move for ``semitones``: fewest accidentals win."""
    up = 7 * semitones % OCTAVE_SEMITONES
    if up == 0:
        return 0
    side = keys[0] or semitones

    def burden(steps: int) -> tuple[int, bool]:
        moved = keys[0] + steps
        return max(abs(key + steps) for key in keys), (moved > 0) != (side > 0)

    return min((up, up - OCTAVE_SEMITONES), key=burden)


def _move_key(key: etree._Element, fifths: int) -> None:
    """Write the new signature; naturals that cancelled the old one go."""
    _take_out(key, "cancel")
    key.find("fifths").text = str(fifths)


def _place(step: str, alter: int) -> int:
    """A note name's place on the line of fifths, C at 0."""
    return _LINE_OF_FIFTHS.index(step) - 1 + 7 * alter


def _name(place: int) -> tuple[str, int]:
    """Step and alter at a place of the line of fifths."""
    return _LINE_OF_FIFTHS[(place + 1) % 7], (place + 1) // 7


def _move_pitch(pitch: etree._Element, steps: int, semitones: int) -> bool:
    """Move one ``<pitch>``; True when it had to be spelled anew, past double accidentals."""
    step, alter = pitch.findtext("step", "").strip().upper(), _alter_of(pitch)
    octave = number_in(pitch.findtext("octave"))
    if step not in SEMITONES_OF_STEP or octave is None:
        return False
    semitone = 12 * int(octave) + SEMITONES_OF_STEP[step] + alter + semitones
    step, moved = _name(_place(step, alter) + steps)
    respelled = moved not in _NAME_OF_ALTER
    while moved not in _NAME_OF_ALTER:
        step, moved = _name(_place(step, moved) - (12 if moved > 0 else -12))
    octave = (semitone - moved - SEMITONES_OF_STEP[step]) // 12
    if octave not in _OCTAVES:
        raise _out_of_range()
    pitch.find("step").text = step
    pitch.find("octave").text = str(octave)
    _set_alter(pitch, "alter", moved)
    return respelled


def _alter_of(pitch: etree._Element) -> int:
    """The alteration that is sounded: written, or else printed as an accidental."""
    alter = number_in(pitch.findtext("alter"))
    if alter is None:
        printed = pitch.getparent().findtext("accidental", "").strip()
        return _ALTER_OF_NAME.get(printed, 0)
    if alter.denominator != 1:
        raise StandlightError(
            "this passage has quarter-tones, so it can be set an octave lower or higher but "
            "in no other key"
        )
    return int(alter)


def _set_alter(holder: etree._Element, tag: str, alter: int) -> None:
    """Write an alteration after the step, or none for a natural."""
    _take_out(holder, tag)
    if alter:
        element = etree.Element(tag)
        element.text = str(alter)
        holder[0].addnext(element)


def _rename_accidentals(note: etree._Element, steps: int, *, print_all: bool) -> None:
    """Let the printed accidentals of a moved note say its new alteration."""
    pitch = note.find("pitch")
    if pitch is None:
        return
    accidental = note.find("accidental")
    alter = int(pitch.findtext("alter") or 0)
    if accidental is not None:
        accidental.text = _NAME_OF_ALTER[alter]
    elif print_all:
        _print_accidental(note, _NAME_OF_ALTER[alter])
    for mark in note.iter("accidental-mark"):
        old_step, _ = _name(_place(pitch.findtext("step"), alter) - steps)
        _rename_mark(mark, old_step, steps)


def _print_accidental(note: etree._Element, name: str) -> None:
    """Add an accidental where the schema wants it: after the type and its dots."""
    before = [child for child in note if child.tag in ("type", "dot", "voice", "duration")]
    if before:
        accidental = etree.Element("accidental")
        accidental.text = name
        before[-1].addnext(accidental)


def _rename_mark(mark: etree._Element, old_step: str, steps: int) -> None:
    """Move the accidental over a trill or turn: it belongs to the note above (or below)."""
    alter = _ALTER_OF_NAME.get((mark.text or "").strip())
    if alter is None:
        return
    ladder = "CDEFGAB"
    aside = -1 if mark.get("placement") == "below" else 1
    neighbour = ladder[(ladder.index(old_step) + aside) % 7]
    _, moved = _name(_place(neighbour, alter) + steps)
    mark.text = _NAME_OF_ALTER.get(moved, mark.text)


def _move_harmony(harmony: etree._Element, steps: int) -> None:
    """Move a chord symbol's root and bass; a drawn fingering chart goes."""
    for kind in ("root", "bass"):
        for holder in harmony.iterfind(kind):
            step = holder.find(f"{kind}-step")
            if step is None or (step.text or "").strip() not in SEMITONES_OF_STEP:
                continue
            alter = int(number_in(holder.findtext(f"{kind}-alter")) or 0)
            name, moved = _name(_place(step.text.strip(), alter) + steps)
            step.text = name
            step.attrib.pop("text", None)
            _set_alter(holder, f"{kind}-alter", moved)
    _take_out(harmony, "frame")


def _take_out(holder: etree._Element, *tags: str) -> None:
    """Remove every element of these names under ``holder``."""
    for element in list(holder.iter(*tags)):
        element.getparent().remove(element)


def _let_stems_go(part: etree._Element) -> None:
    """Leave stems to the engraver where one voice is alone on its staff."""
    for measure in part.iterchildren("measure"):
        if measure.find("backup") is not None:
            continue
        for stem in measure.findall("note/stem"):
            if stem.text in ("up", "down"):
                stem.getparent().remove(stem)
