"""A cut with the tempo that a check asks for, so that a musician sees one number and not two.

The tempo at the start becomes the asked one; later changes keep their relation to it. The
note value that the score counts in is kept, else the meter's own is printed.
"""

from __future__ import annotations

from fractions import Fraction

from lxml import etree

from standlight.music import beat_of_meter
from standlight.score.container import open_score
from standlight.score.printed_tempo import tempo_mark
from standlight.score.walked import QUARTERS_OF_TYPE, number_in


def with_tempo(notation: bytes, tempo_qpm: float) -> bytes:
    """The cut ``notation`` at ``tempo_qpm`` (quarters a minute), ids and all else as they are.

    Done twice with one tempo it changes nothing more. Raises `UnreadableScore` when
    ``notation`` is no score.

    >>> from standlight.score import line_to_musicxml, read_passage
    >>> line = line_to_musicxml("tempo 108 Bb4 h Bb4 h | C5 w", instrument="Flute")
    >>> read_passage(with_tempo(line, 96.0)).tempo_qpm
    96.0
    """
    root, _ = open_score(notation, name="the passage")
    first = root.find("part/measure")
    before = _at_the_start(first)
    sounded = next((float(s.get("tempo")) for s in before if number_in(s.get("tempo"))), None)
    if sounded is not None:
        _scale(root, tempo_qpm / sounded)
    beat = _beat_of(before) or _meter_beat(first)
    for sound in before:
        _take_out(sound)
    place = next((n for n, child in enumerate(first, 1) if child.tag == "attributes"), 0)
    first.insert(place, tempo_mark(tempo_qpm, beat))
    etree.indent(root)
    return etree.tostring(root, encoding="UTF-8", xml_declaration=True)


def _at_the_start(measure: etree._Element) -> list[etree._Element]:
    """The sounds that give a tempo before anything has sounded or rested, in order."""
    found = []
    for child in measure:
        if child.tag in ("note", "forward", "backup"):
            break
        here = [child] if child.tag == "sound" else child.findall("sound")
        late = number_in(child.findtext("offset")) or 0
        found += [sound for sound in here if sound.get("tempo") and late <= 0]
    return found


def _beat_of(sounds: list[etree._Element]) -> Fraction | None:
    """The note value in quarters that is printed with one of ``sounds``."""
    for sound in sounds:
        unit = sound.getparent().find("direction-type/metronome/beat-unit")
        if unit is not None and unit.text in QUARTERS_OF_TYPE:
            dots = len(unit.getparent().findall("beat-unit-dot"))
            return QUARTERS_OF_TYPE[unit.text] * (2 - Fraction(1, 2**dots))
    return None


def _meter_beat(measure: etree._Element) -> Fraction:
    """What the first meter is counted in, a quarter where none is written."""
    beats = number_in(measure.findtext("attributes/time/beats"))
    unit = number_in(measure.findtext("attributes/time/beat-type"))
    return beat_of_meter(int(beats), int(unit)) if beats and unit else Fraction(1)


def _scale(root: etree._Element, ratio: float) -> None:
    """Let every tempo keep its relation to the first one, sounded and printed."""
    for sound in root.iter("sound"):
        if number_in(sound.get("tempo")):
            sound.set("tempo", f"{float(sound.get('tempo')) * ratio:g}")
    for printed in root.iter("per-minute"):
        if number_in(printed.text):
            printed.text = str(round(float(printed.text) * ratio))


def _take_out(sound: etree._Element) -> None:
    """Remove a tempo; of its direction whatever else is said stays (words such as Allegro)."""
    direction = sound.getparent()
    direction.remove(sound)
    if direction.tag != "direction":
        return
    for kind in direction.findall("direction-type"):
        if kind.find("metronome") is not None:
            direction.remove(kind)
    if direction.find("direction-type") is None:
        direction.getparent().remove(direction)
