"""The shapes of musical letters, out of the engraver's own font data.

A metronome's note, the accidental of a chord symbol and the like are drawn by the
engraver as letters of a music font that no reader's machine has. `shape` gives the
outline to draw instead. The files are verovio's: Bravura (SIL Open Font Licence).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from lxml import etree

MUSIC_FONT = "Bravura"


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
    advances, units = _advances()
    if letter not in advances:
        return None
    place = font_data() / MUSIC_FONT / f"{ord(letter):04X}.xml"
    if not place.exists():
        return None
    path = etree.fromstring(place.read_bytes()).find("path")
    return None if path is None else Shape(path.get("d", ""), advances[letter], units)


@cache
def _advances() -> tuple[dict[str, float], float]:
    """Advance width by letter of the music font, and the units of an em."""
    root = etree.fromstring((font_data() / f"{MUSIC_FONT}.xml").read_bytes())
    widths = {
        chr(int(glyph.get("c", ""), 16)): float(glyph.get("h-a-x", "0")) for glyph in root.iter("g")
    }
    return widths, float(root.get("units-per-em", "1000"))
