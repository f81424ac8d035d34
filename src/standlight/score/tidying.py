"""Make a stretch of measures stand alone: nothing open at its edges, no stop without a start."""

from __future__ import annotations

from collections.abc import Sequence

from lxml import etree

_NUMBERED = ("slur", "glissando", "slide", "tuplet", "wavy-line")
"""Notations with a start and a stop that share a number."""

_DIRECTIONS = ("wedge", "dashes", "bracket", "pedal")
"""Directions with a start and a stop that share a number."""

_STARTS = frozenset({"start", "crescendo", "diminuendo", "sostenuto"})
_STOPS = frozenset({"stop", "discontinue"})


def tidy(measures: Sequence[etree._Element]) -> None:
    """Drop, in place, every tie, slur, hairpin or line that crosses an edge; close 8va lines."""
    for tag in _NUMBERED:
        found = [element for measure in measures for element in measure.iter(tag)]
        _drop_unpaired(found)
    for tag in _DIRECTIONS:
        found = [
            element
            for measure in measures
            for element in measure.iterfind(f"direction/direction-type/{tag}")
        ]
        _drop_unpaired(found)
    _drop_hanging_ties(measures)
    _close_octave_shifts(measures)
    _drop_hanging_extenders(measures)
    _drop_empty(measures)


def _drop_unpaired(elements: Sequence[etree._Element]) -> None:
    """Drop starts without a stop, stops and continuations without a start, by number."""
    open_ones: dict[str, list[etree._Element]] = {}
    keep: set[etree._Element] = set()
    for element in _stops_first(elements):
        number, kind = element.get("number", "1"), element.get("type")
        if kind in _STARTS:
            open_ones[number] = [element]
        elif kind in _STOPS and number in open_ones:
            keep.update(open_ones.pop(number), [element])
        elif number in open_ones:
            open_ones[number].append(element)
    for element in elements:
        if element not in keep:
            element.getparent().remove(element)


def _stops_first(elements: Sequence[etree._Element]) -> list[etree._Element]:
    """The same order, but on one note what stops before what starts, whatever the file says."""
    order: dict[etree._Element, int] = {}
    places = {id(one): order.setdefault(one.getparent(), len(order)) for one in elements}
    return sorted(elements, key=lambda one: (places[id(one)], one.get("type") not in _STOPS))


def _drop_hanging_ties(measures: Sequence[etree._Element]) -> None:
    """Drop ties that began before the stretch or end after it."""
    open_ones: dict[str, list[etree._Element]] = {}
    for measure in measures:
        for note in measure.iterchildren("note"):
            if note.find("tie") is None and note.find("notations/tied") is None:
                continue
            pitch = _pitch_key(note)
            kinds = {tie.get("type") for tie in note.findall("tie")} or {
                tied.get("type") for tied in note.findall("notations/tied")
            }
            if "stop" in kinds or "continue" in kinds:
                if open_ones.get(pitch):
                    open_ones[pitch].pop()
                else:
                    _drop_ties(note, "stop")
            if "start" in kinds or "continue" in kinds:
                open_ones.setdefault(pitch, []).append(note)
    for notes in open_ones.values():
        for note in notes:
            _drop_ties(note, "start")


def _pitch_key(note: etree._Element) -> str:
    """Written pitch or staff place of a note as a text."""
    place = note.find("pitch")
    place = note.find("unpitched") if place is None else place
    return "" if place is None else " ".join(child.text or "" for child in place)


def _drop_ties(note: etree._Element, kind: str) -> None:
    """Remove the note's ties of this kind, sounding and printed."""
    for element in [*note.findall("tie"), *note.findall("notations/tied")]:
        if element.get("type") == kind:
            element.getparent().remove(element)


def _close_octave_shifts(measures: Sequence[etree._Element]) -> None:
    """Close an 8va line that is open at the end; drop stops of lines that were never opened."""
    open_ones: dict[str, etree._Element] = {}
    for measure in measures:
        for shift in measure.findall("direction/direction-type/octave-shift"):
            number, kind = shift.get("number", "1"), shift.get("type")
            if kind in ("up", "down"):
                open_ones[number] = shift
            elif number in open_ones:
                if kind == "stop":
                    del open_ones[number]
            else:
                shift.getparent().remove(shift)
    for number, shift in open_ones.items():
        direction = etree.SubElement(measures[-1], "direction")
        kind = etree.SubElement(direction, "direction-type")
        size = shift.get("size", "8")
        etree.SubElement(kind, "octave-shift", type="stop", number=number, size=size)


def _drop_hanging_extenders(measures: Sequence[etree._Element]) -> None:
    """Drop lyric extension lines that only stop, and those with no word after them."""
    last: dict[str, etree._Element] = {}
    for measure in measures:
        for lyric in measure.findall("note/lyric"):
            extend = lyric.find("extend")
            if extend is not None and extend.get("type") in ("stop", "continue"):
                lyric.remove(extend)
            elif lyric.find("text") is not None:
                last[lyric.get("number", "1")] = lyric
    for lyric in last.values():
        for extend in lyric.findall("extend"):
            lyric.remove(extend)


def _drop_empty(measures: Sequence[etree._Element]) -> None:
    """Remove the containers that lost their last child."""
    for measure in measures:
        for path in ("note/notations/ornaments", "note/notations", "direction/direction-type"):
            for element in measure.findall(path):
                if len(element) == 0:
                    element.getparent().remove(element)
        for direction in measure.findall("direction"):
            if direction.find("direction-type") is None:
                measure.remove(direction)
        for lyric in measure.findall("note/lyric"):
            if len(lyric) == 0:
                lyric.getparent().remove(lyric)
