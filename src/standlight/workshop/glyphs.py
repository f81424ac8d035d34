"""The shapes and widths of musical letters, out of the engraver's own font data.

A metronome's note, the accidental of a chord symbol and the like are drawn by the
engraver as letters of a music font that no reader's machine has. `shape` gives the
outline to draw instead, `text_width` the room that the plain words beside it take.
The files are verovio's: Bravura (SIL Open Font Licence) and the widths of Times.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from lxml import etree

MUSIC_FONT = "Bravura"
_WIDTH_FILES = {
    (False, False): "Times.xml",
    (False, True): "Times-italic.xml",
    (True, False): "Times-bold.xml",
    (True, True): "Times-bold-italic.xml",
}
"""The engraver's widths of plain text by (bold, italic)."""

_UNKNOWN_WIDTH_EM = 0.5
"""Width of a letter without an entry: half an em, a usual width (our choice)."""


@dataclass(frozen=True, slots=True)
class Shape:
    """One glyph: its outline (an SVG path, y upwards) and advance, both per ``units`` an em."""

    outline: str
    advance: float
    units: float


@cache
def font_data() -> Path:
    """The folder of fonts inside the engraver's wheel; the engraver itself is not loaded."""
    found = find_spec("verovio")
    if found is None or found.origin is None:
        raise ModuleNotFoundError("verovio is not installed; ./run installs it")
    return Path(found.origin).parent / "data"


@cache
def shape(letter: str) -> Shape | None:
    """The outline of one letter of the music font, ``None`` if the font has none.

    >>> shape(chr(0xE0A4)).advance  # SMuFL: a black notehead is 1.18 staff spaces of 250 wide
    295.0
    >>> shape("no letter") is None
    True
    """
    advances, units = _advances(f"{MUSIC_FONT}.xml")
    if letter not in advances:
        return None
    place = font_data() / MUSIC_FONT / f"{ord(letter):04X}.xml"
    if not place.exists():
        return None
    path = etree.fromstring(place.read_bytes()).find("path")
    return None if path is None else Shape(path.get("d", ""), advances[letter], units)


def text_width(text: str, size: float, *, bold: bool = False, italic: bool = False) -> float:
    """The width of plain ``text`` at font size ``size``, in the unit of ``size``.

    >>> text_width("100", 1000)  # every figure of Times is half an em wide
    1500.0
    """
    advances, units = _advances(f"text/{_WIDTH_FILES[bold, italic]}")
    return sum(advances.get(letter, _UNKNOWN_WIDTH_EM * units) for letter in text) * size / units


@cache
def _advances(name: str) -> tuple[dict[str, float], float]:
    """Advance width by letter, and the units of an em."""
    root = etree.fromstring((font_data() / name).read_bytes())
    widths = {
        chr(int(glyph.get("c", ""), 16)): float(glyph.get("h-a-x", "0")) for glyph in root.iter("g")
    }
    return widths, float(root.get("units-per-em", "1000"))
