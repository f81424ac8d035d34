"""``./run engrave FILE --part NAME|INDEX --measures A-B -o OUT``: measures as notation.

The ending of OUT says what is made: ``.svg`` or ``.png``, a drawing; ``.pdf``, a page.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from standlight.commands._parts import part_named
from standlight.errors import StandlightError
from standlight.score import cut_passage, read_score
from standlight.workshop import PAPERS, Sheet, engrave, engrave_png, pages_pdf

NAME = "engrave"
SUMMARY = "draw measures of one part as notation (SVG, PNG or PDF)"


@dataclass(frozen=True, slots=True)
class _Drawing:
    """What is drawn and how: the cut, what the page says of it, and the sizes asked for."""

    cut: bytes
    title: str
    words: str
    width_mm: float
    dots_per_inch: float
    paper: str


def _svg(drawing: _Drawing) -> bytes:
    """An SVG file."""
    return engrave(drawing.cut, width_mm=drawing.width_mm).encode("utf-8")


def _png(drawing: _Drawing) -> bytes:
    """A PNG file."""
    return engrave_png(
        drawing.cut, width_mm=drawing.width_mm, dots_per_inch=drawing.dots_per_inch
    )


def _pdf(drawing: _Drawing) -> bytes:
    """A PDF of one page."""
    svg = engrave(drawing.cut, width_mm=drawing.width_mm)
    sheet = Sheet(title=drawing.title, lines=(drawing.words,), svg=svg)
    return pages_pdf([sheet], paper=drawing.paper, title=drawing.title)


KINDS: dict[str, Callable[[_Drawing], bytes]] = {".svg": _svg, ".png": _png, ".pdf": _pdf}
"""The kinds of file that can be made, by ending."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """The file, the part, the measures and where the drawing goes."""
    parser.add_argument("file", type=Path, help="a .musicxml, .xml or .mxl file")
    parser.add_argument("--part", required=True, help="a part's name, or its index from 0")
    parser.add_argument(
        "--measures", required=True, help="first and last as indexes from 0, for instance 8-15"
    )
    parser.add_argument(
        "-o", "--out", type=Path, required=True, help="a file ending in .svg, .png or .pdf"
    )
    parser.add_argument("--width-mm", type=float, default=180.0, help="width of the music (180)")
    parser.add_argument("--dpi", type=float, default=200.0, help="dots to an inch of a PNG (200)")
    parser.add_argument("--paper", choices=sorted(PAPERS), default="a4", help="of a PDF (a4)")


def run(options: argparse.Namespace) -> int:
    """Write the drawing; 0 then, 2 for a kind of file or a size that cannot be drawn."""
    made_by = KINDS.get(options.out.suffix.lower())
    if made_by is None:
        sys.stderr.write(
            f"Notation is drawn as .svg, .png or .pdf; {options.out.name!r} is another kind.\n"
        )
        return 2
    first, last = _range(options.measures)
    data = options.file.read_bytes()
    score = read_score(data, name=options.file.name)
    part = part_named(score, options.part)
    cut = cut_passage(data, part.index, first, last)
    printed = [score.measures[index].printed for index in (first, last)]
    words = f"{part.name}, measures {printed[0]} to {printed[1]} as printed"
    title = score.title or options.file.stem
    drawing = _Drawing(cut, title, words, options.width_mm, options.dpi, options.paper)
    try:
        made = made_by(drawing)
    except ValueError as slip:
        sys.stderr.write(f"{slip}.\n")
        return 2
    options.out.write_bytes(made)
    sys.stderr.write(f"{words}: {options.out}\n")
    return 0


def _range(words: str) -> tuple[int, int]:
    """First and last index from "8-15" or "8"."""
    first, dash, last = words.partition("-")
    if not first.isdecimal() or (dash and not last.isdecimal()):
        raise StandlightError(
            f"measures are written as A-B with indexes from 0, not {words!r}",
            slip="for instance 8-15",
        )
    return int(first), int(last) if dash else int(first)
