"""Engrave a small score as an SVG picture that a strict page may hold.

The engraver (verovio, LGPL-3) runs in a child process, since it can crash on a damaged
file. What it draws is then cleaned: no style sheet, no style attributes, no scripts, no
links to elsewhere; colours follow the page (``currentColor``). The ids of notes stay.
"""

from __future__ import annotations

import re
import zlib

from lxml import etree

from standlight.errors import WorkshopFailure
from standlight.workshop.child import Limits, run_child

CSS_PIXELS_PER_MM = 96 / 25.4
"""CSS Values and Units: an inch is 96 px and 25.4 mm."""

ENGRAVING_LIMITS = Limits(
    memory_bytes=1_500_000_000, cpu_seconds=20, file_bytes=32_000_000, wall_seconds=40
)
"""A passage takes 0.1 s; a whole part of 900 measures some seconds."""

_PART_LABEL = re.compile(rb"<part-(name|abbreviation)(?:\s[^>]*)?>[^<]*</part-\1>")

_SVG = "{http://www.w3.org/2000/svg}"
_XLINK_HREF = "{http://www.w3.org/1999/xlink}href"
_FORBIDDEN = frozenset(
    {f"{_SVG}{tag}" for tag in ("style", "script", "foreignObject", "image", "a")}
)
_DRAWN = frozenset({f"{_SVG}{tag}" for tag in ("path", "polygon", "polyline", "rect", "ellipse")})
_TEXT_LOOK = {
    "reh": ("font-weight", "bold"),
    "tempo": ("font-weight", "bold"),
    "dir": ("font-style", "italic"),
    "dynam": ("font-style", "italic"),
    "mNum": ("font-style", "italic"),
}
"""What the engraver's own style sheet said, as attributes."""


def engrave(musicxml: bytes, *, width_mm: float = 180, scale: int = 40) -> str:
    """The music as one SVG element (text), ``width_mm`` wide and as high as it needs.

    ``scale`` is the size of the notes in percent: at 40 a staff is 7.6 mm high, as in a
    printed part; a phone of 360 CSS px shows two plain measures a system at 88 mm. The
    part's name is not drawn (the page says it). Each note keeps the ``id`` it has in
    ``musicxml``. Width and height are CSS pixels and
    there is a ``viewBox``, so a page may shrink it. Raises `WorkshopFailure`.
    """
    if not 20 <= width_mm <= 600 or not 10 <= scale <= 200:
        raise ValueError(f"width {width_mm} mm or scale {scale} is outside 20-600 mm, 10-200")
    width = round(width_mm * CSS_PIXELS_PER_MM * 100 / scale)
    seed = zlib.crc32(musicxml) % 1_000_000 + 1
    drawn = run_child(
        "engraver",
        _PART_LABEL.sub(rb"<part-\1/>", musicxml),
        arguments=[str(width), str(scale), str(seed)],
        limits=ENGRAVING_LIMITS,
    )
    return cleaned(drawn)


def cleaned(drawn: bytes) -> str:
    """The engraver's SVG without anything a strict content policy forbids."""
    try:
        parser = etree.XMLParser(
            resolve_entities=False, no_network=True, remove_blank_text=True, huge_tree=True
        )
        root = etree.fromstring(drawn, parser)
    except etree.XMLSyntaxError as broken:
        raise WorkshopFailure("the engraver drew nothing readable") from broken
    if root.tag != f"{_SVG}svg" or root.get("viewBox") is None:
        raise WorkshopFailure("the engraver drew no picture")
    _, _, width, height = root.get("viewBox", "").split()
    root.set("width", width)
    root.set("height", height)
    root.set("class", "engraved")
    root.set("fill", "currentColor")
    for element in list(root.iter(etree.Element)):
        _clean(element)
    etree.cleanup_namespaces(root)
    return etree.tostring(root, encoding="unicode")


def _clean(element: etree._Element) -> None:
    """Drop or rewrite one element in place."""
    classes = (element.get("class") or "").split()
    if element.tag in _FORBIDDEN or "placeholder" in classes:
        parent = element.getparent()
        if parent is not None:
            parent.remove(element)
        return
    for name in list(element.attrib):
        if name == "style" or name.startswith("on"):
            del element.attrib[name]
    target = element.attrib.pop(_XLINK_HREF, None)
    if target is not None and target.startswith("#"):
        element.set("href", target)
    if "definition-scale" in classes:
        element.attrib.pop("color", None)
    if element.tag in _DRAWN and element.get("stroke-width") is not None:
        element.set("stroke", "currentColor")
    for name in classes:
        if name in _TEXT_LOOK:
            attribute, value = _TEXT_LOOK[name]
            element.set(attribute, value)
