"""Engrave small scores as SVG pictures that a strict page may hold.

The engraver (verovio, LGPL-3) runs in a child process, since it can crash on a damaged
file. What it draws is then cleaned: no style sheet, no style attributes, no scripts, no
links to elsewhere, no letter of a font that a reader may lack; colours follow the page
(``currentColor``). The ids of notes and measures stay, those made up by the engraver go.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from lxml import etree

from standlight.errors import WorkshopFailure
from standlight.workshop.child import Limits, run_list
from standlight.workshop.lettering import settle_words

CSS_PIXELS_PER_MM = 96 / 25.4
"""CSS Values and Units: an inch is 96 px and 25.4 mm."""

MOST_IN_ONE_CHILD = 64
"""Passages drawn by one child, so that its limits stay near what it needs (our choice)."""

_START_LIMITS = Limits(
    memory_bytes=1_500_000_000, cpu_seconds=20, file_bytes=32_000_000, wall_seconds=40
)
"""A passage takes 0.02 s and 0.1 MB; a whole part of 900 measures some seconds."""

_MORE_CPU_SECONDS, _MORE_FILE_BYTES = 1, 2_000_000
"""What each further passage of a list adds to the limits: ten times what a large one needs."""

_PART_LABEL = re.compile(rb"<part-(name|abbreviation)(?:\s[^>]*)?>[^<]*</part-\1>")
_OWN_ID = re.compile(r"[nm]\d{1,5}|[0-9A-F]{4,5}-\w+")
"""Ids that stay: of our notes and measures, and of the glyphs that a drawing uses."""

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
    (drawn,) = engrave_many([musicxml], width_mm=width_mm, scale=scale)
    if isinstance(drawn, WorkshopFailure):
        raise drawn
    return drawn


def engrave_many(
    scores: Sequence[bytes], *, width_mm: float = 180, scale: int = 40
) -> list[str | WorkshopFailure]:
    """`engrave` for many small scores at the price of one child's start.

    One entry a score, in the same order: its SVG, or the failure that its drawing met;
    the others are drawn all the same. A drawing does not depend on its neighbours.
    """
    if not 20 <= width_mm <= 600 or not 10 <= scale <= 200:
        raise ValueError(f"width {width_mm} mm or scale {scale} is outside 20-600 mm, 10-200")
    width = round(width_mm * CSS_PIXELS_PER_MM * 100 / scale)
    drawings: list[str | WorkshopFailure] = []
    for start in range(0, len(scores), MOST_IN_ONE_CHILD):
        some = scores[start : start + MOST_IN_ONE_CHILD]
        answers = run_list(
            "engraver",
            [_PART_LABEL.sub(rb"<part-\1/>", musicxml) for musicxml in some],
            arguments=[str(width), str(scale)],
            limits=_limits(len(some)),
        )
        drawings.extend(_cleaned_or_why(answer) for answer in answers)
    return drawings


def _limits(count: int) -> Limits:
    """Limits of a child that draws ``count`` passages."""
    more = count - 1
    return Limits(
        memory_bytes=_START_LIMITS.memory_bytes,
        cpu_seconds=_START_LIMITS.cpu_seconds + more * _MORE_CPU_SECONDS,
        file_bytes=_START_LIMITS.file_bytes + more * _MORE_FILE_BYTES,
        wall_seconds=_START_LIMITS.wall_seconds + more * _MORE_CPU_SECONDS,
    )


def _cleaned_or_why(answer: bytes | WorkshopFailure) -> str | WorkshopFailure:
    """The cleaned drawing, or the failure of drawing or cleaning it."""
    if isinstance(answer, WorkshopFailure):
        return answer
    try:
        return cleaned(answer)
    except WorkshopFailure as failure:
        return failure


def cleaned(drawn: bytes) -> str:
    """The engraver's SVG without anything a strict content policy forbids."""
    try:
        parser = etree.XMLParser(
            resolve_entities=False, no_network=True, remove_comments=True, remove_pis=True,
            huge_tree=True,
        )  # fmt: skip
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
    settle_words(root)
    for text in list(root.iter(f"{_SVG}text")):
        if not any(text.itertext()):
            text.getparent().remove(text)
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
    if not _OWN_ID.fullmatch(element.get("id", "n0")):
        del element.attrib["id"]
    target = element.attrib.pop(_XLINK_HREF, None)
    target = element.get("href") if target is None else target
    if target is not None and target.startswith("#"):
        element.set("href", target)
    elif target is not None:
        element.attrib.pop("href", None)
    if "definition-scale" in classes:
        element.attrib.pop("color", None)
    if element.tag in _DRAWN and element.get("stroke-width") is not None:
        element.set("stroke", "currentColor")
    for name in classes:
        if name in _TEXT_LOOK:
            attribute, value = _TEXT_LOOK[name]
            element.set(attribute, value)
