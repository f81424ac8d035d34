"""``./run engrave FILE --part NAME|INDEX --measures A-B -o OUT.svg``: measures as notation."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from standlight.commands._parts import part_named
from standlight.errors import StandlightError
from standlight.score import cut_passage, read_score
from standlight.workshop import engrave

NAME = "engrave"
SUMMARY = "draw measures of one part as notation (SVG)"


def arguments(parser: argparse.ArgumentParser) -> None:
    """The file, the part, the measures and where the drawing goes."""
    parser.add_argument("file", type=Path, help="a .musicxml, .xml or .mxl file")
    parser.add_argument("--part", required=True, help="a part's name, or its index from 0")
    parser.add_argument(
        "--measures", required=True, help="first and last as indexes from 0, for instance 8-15"
    )
    parser.add_argument("-o", "--out", type=Path, required=True, help="a file ending in .svg")
    parser.add_argument("--width-mm", type=float, default=180.0, help="width of the page (180)")


def run(options: argparse.Namespace) -> int:
    """Write the drawing; 0 then, 2 for a kind of file that cannot be drawn."""
    if options.out.suffix.lower() != ".svg":
        sys.stderr.write(
            f"Notation is drawn as .svg only; {options.out.name!r} asks for another kind.\n"
        )
        return 2
    first, last = _range(options.measures)
    data = options.file.read_bytes()
    score = read_score(data, name=options.file.name)
    part = part_named(score, options.part)
    svg = engrave(cut_passage(data, part.index, first, last), width_mm=options.width_mm)
    options.out.write_text(svg, encoding="utf-8")
    printed = [score.measures[index].printed for index in (first, last)]
    sys.stderr.write(
        f"{part.name}, measures {printed[0]} to {printed[1]} as printed: {options.out}\n"
    )
    return 0


def _range(words: str) -> tuple[int, int]:
    """First and last index from "8-15" or "8"."""
    first, dash, last = words.partition("-")
    if not first.isdigit() or (dash and not last.isdigit()):
        raise StandlightError(
            f"measures are written as A-B with indexes from 0, not {words!r}",
            slip="for instance 8-15",
        )
    return int(first), int(last) if dash else int(first)
