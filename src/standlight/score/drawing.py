"""Draw readings under engraved music: two-sided marks with numbers, told apart without colour.

Under each system that has something to show stand up to two lanes, one for pitch (a
triangle above the line is sharp, below it flat, higher is more) and one for time (to the
left is early, to the right late, longer is more). Every mark carries its own sentence as
``<title>``. An outline instead of a filled shape means unsure. There is no right or wrong
colour; what is not called out is small and grey.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from lxml import etree

from standlight.music import Note, pitch_name

SMALL_CENTS = 10.0
"""About what amateurs can tell apart in short tones (Hill & Summers 2007, JASA)."""

SMALL_MS = 30.0
"""Lower end of the asynchrony among good ensemble players, 30-50 ms (Rasch 1979, from memory)."""

FULL_CENTS = 50.0
"""Deviation drawn at full height: half a semitone; more looks the same, the number tells."""

FULL_MS = 150.0
"""Deviation drawn at full length; our choice, more looks the same, the number tells."""

BELOW, ABOVE, QUIET = "#2b6cb0", "#b4531a", "#5d564b"
"""Below or early, above or late, small: defaults that a page's style sheet may override."""

_SVG = "{http://www.w3.org/2000/svg}"
_NUMBERS = re.compile(r"-?\d+(?:\.\d+)?")
_TRANSLATE = re.compile(r"translate\((-?[\d.]+)[ ,]+(-?[\d.]+)\)")
_DIGIT_WIDTH = 0.56
"""Width of a tabular figure as a share of the font size, for keeping numbers apart."""

_FONT_SPACES = 1.45
_LANE_GAP_SPACES = 0.7
_PITCH_HALF_SPACES = 1.7
_TIME_HALF_SPACES = 1.5
_HEAD_HALF_SPACES = 0.59
"""Half the width of a black notehead (1.18 staff spaces in the SMuFL font Bravura)."""


SAID, DOUBTED, PASSED = "said", "doubted", "passed"
"""How a deviation is drawn: called out with colour and number; a grey outline without a number,
since it may be off; a grey dot."""


@dataclass(frozen=True, slots=True)
class NotationMark:
    """What to draw at written note ``index``.

    ``cents`` is heard minus written (sharp positive), ``ms`` heard minus expected (late
    positive), both ``None`` when nothing is said. ``outcome`` is ``played``,
    ``other_pitch`` or ``missing``; ``heard`` names the other pitch as the musician
    writes it (`heard_name`). ``cents_as`` and ``ms_as`` tell how each is drawn: which deviation
    is called out is for those to say who put it into words. ``unsure`` is of the whole note;
    ``longer`` is one that went on beyond its written time.
    """

    index: int
    cents: float | None
    ms: float | None
    outcome: str = "played"
    unsure: bool = False
    heard: str = ""
    cents_as: str = SAID
    ms_as: str = SAID
    longer: bool = False


def heard_name(midi_heard: float, note: Note) -> str:
    """The pitch that was heard, named as it is written on this musician's part.

    >>> from fractions import Fraction
    >>> clarinet = Note(Fraction(0), Fraction(1), 58, 0, written_midi=60)
    >>> heard_name(60.1, clarinet)
    'D4'
    """
    shift = 0 if note.midi is None or note.written_midi is None else note.written_midi - note.midi
    return pitch_name(round(midi_heard) + shift)


def draw_readings(svg: str, marks: Sequence[NotationMark]) -> str:
    """The engraved music ``svg`` with its readings drawn under each system.

    Notes are found by their ids ``n{index}``. The picture grows by the height of the
    lanes. Raises ValueError when ``svg`` is no engraving or a marked note is not in it.
    """
    parser = etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=True)
    root = etree.fromstring(svg.encode("utf-8"), parser)
    page = root.find(f"{_SVG}svg")
    groups = [] if page is None else page.iter(f"{_SVG}g")
    systems = [group for group in groups if group.get("class") == "system"]
    if page is None or not systems:
        raise ValueError("this SVG is no engraving: it has no system of music")
    waiting = {mark.index: mark for mark in marks}
    grown = 0.0
    for system in systems:
        if grown:
            system.set("transform", f"translate(0, {grown:.0f})")
        grown += _System(system).draw(waiting)
    if waiting:
        raise ValueError(
            f"note {min(waiting)} is marked but not in this engraving (another passage's marks?)"
        )
    _grow(root, page, grown)
    return etree.tostring(root, encoding="unicode")


def _grow(root: etree._Element, page: etree._Element, units: float) -> None:
    """Make the picture ``units`` (of the inner drawing) higher."""
    width, height = (float(number) for number in page.get("viewBox", "").split()[2:])
    outer_width, outer_height = (float(number) for number in root.get("viewBox", "").split()[2:])
    new_height = outer_height + units * outer_width / width
    page.set("viewBox", f"0 0 {width:.0f} {height + units:.0f}")
    root.set("viewBox", f"0 0 {outer_width:g} {new_height:.0f}")
    if root.get("height") is not None:
        root.set("height", f"{new_height:.0f}")


class _System:
    """One system of the drawing: where its notes are, how low its content reaches."""

    def __init__(self, group: etree._Element) -> None:
        self.group = group
        staff_lines = group.iterfind(f".//{_SVG}g[@class='staff']/{_SVG}path")
        lines = [line.get("d", "") for line in staff_lines]
        heights = sorted({float(_NUMBERS.findall(line)[1]) for line in lines if line})
        gaps = [low - high for high, low in zip(heights, heights[1:], strict=False) if low > high]
        self.staff, self.space = heights, min(gaps, default=180.0)
        self.left = min((float(_NUMBERS.findall(line)[0]) for line in lines if line), default=0.0)
        self.right = max((float(_NUMBERS.findall(line)[2]) for line in lines if line), default=0.0)
        self.bottom = max(_heights(group), default=0.0)
        self.notes = {
            int(note.get("id", "")[1:]): note
            for note in group.iter(f"{_SVG}g")
            if re.fullmatch(r"n\d+", note.get("id", "")) and "note" in note.get("class", "").split()
        }

    def draw(self, waiting: dict[int, NotationMark]) -> float:
        """Draw this system's marks, take them out of ``waiting``; the height added below it."""
        mine = [waiting.pop(index) for index in sorted(self.notes) if index in waiting]
        if not mine:
            return 0.0
        readings = etree.SubElement(self.group, f"{_SVG}g", {"class": "readings"})
        depth, lanes = self.bottom + _LANE_GAP_SPACES * self.space, 0
        for lane, half, show in (
            (_pitch_mark, _PITCH_HALF_SPACES, lambda mark: mark.cents is not None or mark.heard),
            (_time_mark, _TIME_HALF_SPACES, lambda mark: mark.ms is not None),
        ):
            shown = [mark for mark in mine if show(mark) and mark.outcome != "missing"]
            if shown:
                self.lane(readings, lane, shown, depth + half * self.space)
                depth += (2 * half + _LANE_GAP_SPACES / 2) * self.space
                lanes += 1
        for mark in mine:
            if mark.outcome == "missing":
                self.missing(readings, mark)
            if mark.longer:
                self.longer(readings, mark)
        return depth - self.bottom if lanes else 0.0

    def centre(self, index: int) -> tuple[float, float]:
        """The middle of a note's head."""
        use = self.notes[index].find(f".//{_SVG}g[@class='notehead']/{_SVG}use")
        place = None if use is None else _TRANSLATE.search(use.get("transform", ""))
        if place is None:
            raise ValueError(f"note {index} has no head in this engraving")
        return float(place.group(1)) + _HEAD_HALF_SPACES * self.space, float(place.group(2))

    def lane(
        self, readings: etree._Element, draw: object, marks: Sequence[NotationMark], middle: float
    ) -> None:
        """A hairline with a unit at its start and the marks on it; numbers where there is room."""
        label = "cents" if draw is _pitch_mark else "ms"
        line = etree.SubElement(readings, f"{_SVG}path", {"class": "reading-line"})
        line.set("d", f"M{self.left:.0f} {middle:.0f} L{self.right:.0f} {middle:.0f}")
        line.set("stroke", QUIET)
        line.set("stroke-width", f"{self.space * 0.04:.0f}")
        self.text(readings, self.left, middle - self.space * 0.3, label, "start", QUIET)
        places = [(mark, self.centre(mark.index)[0]) for mark in marks]
        numbered = self.numbered(places, label)
        for mark, x in places:
            draw(self, readings, mark, x, middle, mark.index in numbered)

    def numbered(self, places: Sequence[tuple[NotationMark, float]], label: str) -> set[int]:
        """Which notes get their number printed: the largest first, as long as there is room."""
        label_end = self.left + self.space * _FONT_SPACES * _DIGIT_WIDTH * (len(label) + 1)
        taken = [(self.left, label_end)]
        kept: set[int] = set()
        for mark, x in sorted(places, key=lambda one: -_weight(one[0], label)):
            words = _number(mark, label)
            half = self.space * _FONT_SPACES * _DIGIT_WIDTH * (len(words) + 0.6) / 2
            if words and all(x + half <= left or x - half >= right for left, right in taken):
                taken.append((x - half, x + half))
                kept.add(mark.index)
        return kept

    def text(
        self, parent: etree._Element, x: float, y: float, words: str, anchor: str, fill: str
    ) -> None:
        """Small figures in the page's own font."""
        text = etree.SubElement(parent, f"{_SVG}text", {"class": "reading-number"})
        text.set("x", f"{x:.0f}")
        text.set("y", f"{y:.0f}")
        text.set("text-anchor", anchor)
        text.set("font-size", f"{self.space * _FONT_SPACES:.0f}px")
        text.set("font-family", "inherit")
        text.set("fill", fill)
        text.text = words

    def shape(
        self, readings: etree._Element, mark: NotationMark, kind: str, value: float, manner: str
    ) -> tuple[etree._Element, str]:
        """The group of one mark with its sentence, and its colour."""
        grey = manner != SAID
        side = "small" if grey else ("above" if value > 0 else "below")
        colour = QUIET if grey else (ABOVE if value > 0 else BELOW)
        outlined = mark.unsure or manner == DOUBTED
        unsure = " unsure" if outlined else ""
        group = etree.SubElement(readings, f"{_SVG}g", {"class": f"reading {kind} {side}{unsure}"})
        etree.SubElement(group, f"{_SVG}title").text = _sentence(mark, kind)
        group.set("fill", "none" if outlined else colour)
        group.set("stroke", colour)
        group.set("stroke-width", f"{self.space * 0.09:.0f}")
        return group, colour

    def missing(self, readings: etree._Element, mark: NotationMark) -> None:
        """An open dashed ring around a note that was not heard."""
        x, y = self.centre(mark.index)
        ring = etree.SubElement(self.dashed(readings, mark, "missing"), f"{_SVG}ellipse")
        ring.set("cx", f"{x:.0f}")
        ring.set("cy", f"{y:.0f}")
        ring.set("rx", f"{self.space * 1.15:.0f}")
        ring.set("ry", f"{self.space * 0.95:.0f}")

    def longer(self, readings: etree._Element, mark: NotationMark) -> None:
        """A dashed line to the right of a note that went on too long, never on a staff line."""
        x, y = self.centre(mark.index)
        if any(abs(y - line_y) < 0.25 * self.space for line_y in self.staff):
            y += 0.5 * self.space
        line = etree.SubElement(self.dashed(readings, mark, "longer"), f"{_SVG}path")
        first, last = (x + spaces * self.space for spaces in (0.9, 2.9))
        line.set("d", f"M{first:.0f} {y:.0f} L{last:.0f} {y:.0f}")

    def dashed(self, readings: etree._Element, mark: NotationMark, kind: str) -> etree._Element:
        """The group of a mark drawn in dashes on the music itself, with its sentence."""
        unsure = " unsure" if mark.unsure else ""
        group = etree.SubElement(readings, f"{_SVG}g", {"class": f"reading {kind}{unsure}"})
        etree.SubElement(group, f"{_SVG}title").text = _sentence(mark, kind)
        group.set("fill", "none")
        group.set("stroke", QUIET)
        group.set("stroke-width", f"{self.space * 0.12:.0f}")
        group.set("stroke-dasharray", f"{self.space * 0.35:.0f} {self.space * 0.25:.0f}")
        return group


def _pitch_mark(
    system: _System, readings: etree._Element, mark: NotationMark, x: float, y: float, number: bool
) -> None:
    """A triangle above (sharp) or below (flat) the line, or the name of another pitch."""
    space = system.space
    if mark.outcome == "other_pitch":
        group, _ = system.shape(readings, mark, "pitch", 0.0, PASSED)
        group.set("stroke", "none")
        group.set("class", "reading pitch other" + (" unsure" if mark.unsure else ""))
        if number:
            words = _number(mark, "cents")
            system.text(group, x, y - space * 0.3, words, "middle", "currentColor")
        else:
            _dot(group, x, y, space)
        return
    cents = mark.cents or 0.0
    manner = _manner(mark, "pitch")
    group, colour = system.shape(readings, mark, "pitch", cents, manner)
    if manner == PASSED:
        _dot(group, x, y, space)
        return
    sign = 1 if cents > 0 else -1
    height = sign * space * (0.45 + 1.0 * min(abs(cents), FULL_CENTS) / FULL_CENTS)
    half = space * 0.42
    _triangle(group, (x - half, y), (x + half, y), (x, y - height))
    if number:
        beside = y + space * 1.25 if sign > 0 else y - space * 0.3
        system.text(_plain(group), x, beside, _number(mark, "cents"), "middle", colour)


def _time_mark(
    system: _System, readings: etree._Element, mark: NotationMark, x: float, y: float, number: bool
) -> None:
    """A triangle that points left (early) or right (late) from the note's place on the line."""
    space, ms = system.space, mark.ms or 0.0
    manner = _manner(mark, "time")
    group, colour = system.shape(readings, mark, "time", ms, manner)
    if manner == PASSED:
        _dot(group, x, y, space)
        return
    sign = 1 if ms > 0 else -1
    length = sign * space * (0.6 + 1.2 * min(abs(ms), FULL_MS) / FULL_MS)
    half = space * 0.42
    _triangle(group, (x, y - half), (x, y + half), (x + length, y))
    if number:
        below = y + space * 1.65
        system.text(_plain(group), x, below, _number(mark, "ms"), "middle", colour)


def _manner(mark: NotationMark, kind: str) -> str:
    """How one of a mark's two deviations is drawn; what nobody can tell is passed over anyway."""
    if kind == "time":
        return mark.ms_as if abs(mark.ms or 0.0) >= SMALL_MS else PASSED
    return mark.cents_as if abs(mark.cents or 0.0) >= SMALL_CENTS else PASSED


def _plain(group: etree._Element) -> etree._Element:
    """A group inside a mark whose figures are never outlined."""
    return etree.SubElement(group, f"{_SVG}g", {"stroke": "none"})


def _dot(group: etree._Element, x: float, y: float, space: float) -> None:
    """A small dot on the line: read, and close to what is written."""
    dot = etree.SubElement(group, f"{_SVG}circle")
    dot.set("cx", f"{x:.0f}")
    dot.set("cy", f"{y:.0f}")
    dot.set("r", f"{space * 0.2:.0f}")


def _triangle(group: etree._Element, *corners: tuple[float, float]) -> None:
    """A triangle through three corners."""
    points = " ".join(f"{x:.0f},{y:.0f}" for x, y in corners)
    etree.SubElement(group, f"{_SVG}polygon", {"points": points})


def _weight(mark: NotationMark, label: str) -> float:
    """How much a number matters when there is no room for all."""
    if label == "ms":
        return abs(mark.ms or 0.0)
    return float("inf") if mark.outcome == "other_pitch" else abs(mark.cents or 0.0)


def _number(mark: NotationMark, label: str) -> str:
    """The figure of what is called out with its sign, the heard pitch's name, or ""."""
    if label == "cents" and mark.outcome == "other_pitch":
        return mark.heard or "other"
    value = mark.cents if label == "cents" else mark.ms
    if value is None or _manner(mark, "pitch" if label == "cents" else "time") != SAID:
        return ""
    return f"{'+' if value > 0 else '−'}{abs(value):.0f}"


def _sentence(mark: NotationMark, kind: str) -> str:
    """What a mark says, in words, notes counted from 1."""
    start = f"note {mark.index + 1}: "
    on_music = kind in ("missing", "longer")
    doubted = not on_music and mark.outcome != "other_pitch" and _manner(mark, kind) == DOUBTED
    unsure = " (unsure)" if mark.unsure or doubted else ""
    if kind == "missing":
        return start + "not heard" + unsure
    if kind == "longer":
        return start + "went on longer than written, held or played twice"
    if kind == "time":
        late = "late" if (mark.ms or 0) > 0 else "early"
        return f"{start}{abs(mark.ms or 0):.0f} ms {late}{unsure}"
    if mark.outcome == "other_pitch":
        return start + f"heard as {mark.heard or 'another pitch'}" + unsure
    sharp = "sharp" if (mark.cents or 0) > 0 else "flat"
    return f"{start}{abs(mark.cents or 0):.0f} cents {sharp}{unsure}"


def _heights(group: etree._Element) -> Iterable[float]:
    """The vertical coordinates of what a system draws, in the drawing's own units."""
    for element in group.iter(f"{_SVG}path", f"{_SVG}polygon", f"{_SVG}polyline"):
        numbers = _NUMBERS.findall(element.get("d") or element.get("points") or "")
        yield from (float(number) for number in numbers[1::2])
    for element in group.iter(f"{_SVG}use"):
        place = _TRANSLATE.search(element.get("transform", ""))
        if place:
            yield float(place.group(2))
    for element in group.iter(f"{_SVG}text"):
        if element.get("y") is not None:
            yield float(element.get("y", "0"))
    for element in group.iter(f"{_SVG}rect", f"{_SVG}ellipse"):
        yield float(element.get("y") or element.get("cy") or "0")
