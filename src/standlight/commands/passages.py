"""``./run passages FILE``: a passage proposed for every part, with the reason."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from standlight.score import Proposal, Score, propose_passages, read_score, why_no_passage

NAME = "passages"
SUMMARY = "propose a passage for every part of a score, with the reason"

NOT_MEASURED = (
    "passages are chosen by how much a part plays; what they ask of a player is not measured yet"
)
"""Why the figures of demand are null."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """The file and the length of a passage."""
    parser.add_argument("file", type=Path, help="a .musicxml, .xml or .mxl file")
    parser.add_argument("--length", type=_measures, default=8, help="measures a passage (8)")
    parser.add_argument("--json", action="store_true", help="answer with one JSON object")


def run(options: argparse.Namespace) -> int:
    """Print the proposals; 0, or 1 when no part has one."""
    score = read_score(options.file.read_bytes(), name=options.file.name)
    proposals = propose_passages(score, length_measures=options.length)
    if options.json:
        json.dump(as_json(score, proposals), sys.stdout, ensure_ascii=False)
        sys.stdout.write("\n")
    else:
        for part, proposal in zip(score.parts, proposals, strict=True):
            said = f"none: {why_no_passage(score, part.index)}"
            if proposal is not None:
                said = f"measures {proposal.printed}: {proposal.reason}"
            sys.stdout.write(f"{part.index:3}  {part.name}, {said}\n")
    return 0 if any(proposals) else 1


def as_json(score: Score, proposals: tuple[Proposal | None, ...]) -> dict[str, object]:
    """The proposals as JSON values; measures are 0-based indexes, inclusive."""
    return {
        "parts": [
            {
                "index": part.index,
                "name": part.name,
                "passage": None
                if proposal is None
                else {
                    "first": proposal.first,
                    "last": proposal.last,
                    "printed": proposal.printed,
                    "demand": None,
                    "shows": None,
                    "reason": proposal.reason,
                },
                "because": proposal.reason if proposal else why_no_passage(score, part.index),
                "alternatives": [],
            }
            for part, proposal in zip(score.parts, proposals, strict=True)
        ],
        "demand_sd": None,
        "common_window_sd": None,
        "note_rate_sd": None,
        "because": NOT_MEASURED,
    }


def _measures(word: str) -> int:
    """A number of measures from 1 to 64."""
    if not word.isdigit() or not 1 <= int(word) <= 64:
        raise argparse.ArgumentTypeError(f"{word} is not a number of measures from 1 to 64")
    return int(word)
