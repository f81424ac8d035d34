"""Make the words of a drawing stand as engraved, whatever fonts its reader has.

The engraver writes a metronome's note, a dynamic beside words or a chord symbol's flat as
letters of its music font. On a page without that font they would be empty boxes: here each
becomes a path. And it sets words by the widths of Times; a phone's own font is often wider, and
the syllables of a song would run into each other: here every word is told its length, so that
a wider font is drawn narrower (SVG 2, ``textLength``).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from lxml import etree

from standlight.workshop.fonts import text_width
from standlight.workshop.glyphs import MUSIC_FONT, shape

_SVG = "{http://www.w3.org/2000/svg}"
_SHARE_BEFORE = {"start": 0.0, "middle": 0.5, "end": 1.0}
"""How much of a line stands before its anchor (SVG 2, text-anchor)."""

_SPACES = " \t\r\n"
"""What an SVG reader may drop at the ends of a text (SVG 2, white-space)."""


@dataclass(slots=True)
class _Run:
    """A stretch of text in one look, with the place where a new line begins, if one does."""

    element: etree._Element
    letters: str
    size: float
    spacing: float
    musical: bool
    line: tuple[float, float] | None

    @property
    def width(self) -> float:
        """Advance of all letters, in the drawing's units."""
        if not self.musical:
            bold = _inherited(self.element, "font-weight") == "bold"
            italic = _inherited(self.element, "font-style") == "italic"
            return text_width(self.letters, self.size, bold=bold, italic=italic)
        return sum(_advance(letter, self.size) + self.spacing for letter in self.letters)


def settle_words(root: etree._Element) -> None:
    """In place: musical letters become outlines, plain words get their place and length."""
    for text in list(root.iter(f"{_SVG}text")):
        if any(run.get("font-family") == MUSIC_FONT for run in text.iter()):
            _outline(text)
        else:
            for run in _runs(text):
                _give_length(run)


def _give_length(run: _Run) -> None:
    """Tell a run how long it is; not one with spaces at its ends, which readers may drop."""
    if run.letters == run.letters.strip(_SPACES):
        run.element.set("textLength", f"{run.width:g}")
        run.element.set("lengthAdjust", "spacingAndGlyphs")


def _outline(text: etree._Element) -> None:
    """Place the runs of one text one after the other; the musical ones as paths after it."""
    share = _SHARE_BEFORE.get(text.get("text-anchor", "start"), 0.0)
    text.attrib.pop("text-anchor", None)
    paths = []
    for line in _lines(list(_runs(text))):
        x, y = line[0].line or (0.0, 0.0)
        x -= share * sum(run.width for run in line)
        for run in line:
            width = run.width
            if run.musical:
                paths.extend(_paths(run, x, y))
                run.element.getparent().remove(run.element)
            else:
                _settle(run, x)
            x += width
    for path in reversed(paths):
        text.addnext(path)


def _settle(run: _Run, x: float) -> None:
    """Place a plain run at ``x`` without the spaces at its ends: the first would be dropped."""
    words = run.letters.strip(_SPACES)
    begins = len(run.letters) - len(run.letters.lstrip(_SPACES))
    before = replace(run, letters=run.letters[:begins]).width
    run.element.text = run.letters = words
    run.element.set("x", f"{x + before:g}")
    if words:
        _give_length(run)


def _runs(text: etree._Element) -> Iterator[_Run]:
    """The runs of ``text`` in reading order; the first begins a line."""
    place: tuple[float, float] | None = _place(text, (0.0, 0.0))
    here = place
    for element in text.iter(f"{_SVG}text", f"{_SVG}tspan"):
        if element is not text and (element.get("x") or element.get("y")):
            here = place = _place(element, here or (0.0, 0.0))
        if element.text:
            yield _Run(
                element,
                element.text,
                _number(_inherited(element, "font-size")),
                _number(element.get("letter-spacing")),
                element.get("font-family") == MUSIC_FONT,
                place,
            )
            place = None


def _lines(runs: Sequence[_Run]) -> list[list[_Run]]:
    """The runs by line."""
    lines: list[list[_Run]] = []
    for run in runs:
        if run.line is not None or not lines:
            lines.append([])
        lines[-1].append(run)
    return lines


def _paths(run: _Run, x: float, y: float) -> Iterator[etree._Element]:
    """The outlines of a musical run that begins at ``x`` on the line ``y``."""
    for letter in run.letters:
        found = shape(letter)
        if found is not None:
            scale = run.size / found.units
            yield etree.Element(
                f"{_SVG}path",
                d=found.outline,
                transform=f"translate({x:g}, {y:g}) scale({scale:g}, {-scale:g})",
            )
        x += _advance(letter, run.size) + run.spacing


def _advance(letter: str, size: float) -> float:
    """Advance of a musical letter; nothing for one that the font does not have."""
    found = shape(letter)
    return 0.0 if found is None else found.advance * size / found.units


def _place(element: etree._Element, default: tuple[float, float]) -> tuple[float, float]:
    """The element's own x and y, each else that of ``default``."""
    x, y = element.get("x"), element.get("y")
    return (default[0] if x is None else _number(x), default[1] if y is None else _number(y))


def _inherited(element: etree._Element | None, attribute: str) -> str:
    """The attribute on the element or the nearest one around it that has it, else ""."""
    while element is not None:
        value = element.get(attribute)
        if value is not None:
            return value
        element = element.getparent()
    return ""


def _number(value: str | None) -> float:
    """A length such as "405px" as a number of the drawing's units; 0 for none."""
    try:
        return float((value or "0").removesuffix("px"))
    except ValueError:
        return 0.0
