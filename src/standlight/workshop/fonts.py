"""The text font out of the engraver's wheel: its widths, and files for a child's own folder.

Pictures and printed pages use no font of the machine they are made on. The engraver brings
Liberation Serif 1.04, which is as wide as the Times it reckons with, packed as WOFF2 inside a
style sheet (GNU GPL 2 with the exception that documents may embed the font; the house itself
hands no font on). Musical signs need no font: they are outlines by then.
"""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

from standlight.errors import WorkshopFailure
from standlight.workshop.glyphs import font_data

TEXT_FONT = "Liberation Serif"
PAGE_FONT_FAMILY = 'font-family="Times, serif"'
"""How the engraver names its text font in a drawing."""

_PACKED = re.compile(r"data:application/font-woff2[^,]*,([A-Za-z0-9+/=]+)")
_BOLD_BIT, _ITALIC_BIT = 1, 2
"""OpenType, table ``head``, field ``macStyle``."""

_UNKNOWN_WIDTH_EM = 0.5
"""Width of a letter that the font does not have: half an em, a usual width (our choice)."""


def text_width(text: str, size: float, *, bold: bool = False, italic: bool = False) -> float:
    """The width of plain ``text`` at font size ``size``, in the unit of ``size``.

    >>> text_width("100", 1000)  # every figure of Times is half an em wide
    1500.0
    """
    widths, units = _widths()[bold, italic]
    return sum(widths.get(letter, _UNKNOWN_WIDTH_EM * units) for letter in text) * size / units


def unpack_text_fonts(folder: Path) -> list[Path]:
    """Write regular, bold, italic and bold italic of the text font into ``folder``.

    Raises `WorkshopFailure` when the engraver's wheel no longer brings them.
    """
    folder.mkdir(parents=True, exist_ok=True)
    places = []
    for number, font in enumerate(_fonts()):
        font.flavor = None
        places.append(folder / f"text{number}.ttf")
        font.save(places[-1])
    return places


def with_named_font(svg: str) -> str:
    """The drawing with its text font named, for tools that know no "Times".

    >>> with_named_font('<svg font-family="Times, serif"/>')
    '<svg font-family="Liberation Serif"/>'
    """
    return svg.replace(PAGE_FONT_FAMILY, f'font-family="{TEXT_FONT}"')


def _fonts() -> Iterator[Any]:
    """The four fonts, opened."""
    from fontTools.ttLib import TTFont  # some 0.1 s to load, which not every page needs

    sheet = (font_data() / "Liberation.css").read_text(encoding="ascii")
    packed = _PACKED.findall(sheet)
    if not packed:
        raise WorkshopFailure("the engraver's text font is not where it was")
    for one in packed:
        yield TTFont(io.BytesIO(base64.b64decode(one)))


@cache
def _widths() -> dict[tuple[bool, bool], tuple[dict[str, int], int]]:
    """By (bold, italic): the advance of each letter, and the units of an em."""
    found = {}
    for font in _fonts():
        style, advances = font["head"].macStyle, font["hmtx"].metrics
        widths = {chr(code): advances[name][0] for code, name in font.getBestCmap().items()}
        look = (bool(style & _BOLD_BIT), bool(style & _ITALIC_BIT))
        found[look] = (widths, font["head"].unitsPerEm)
    return found
