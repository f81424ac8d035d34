"""``./run passages FILE``: a fair passage for every part, with the reason."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from standlight.commands._scores import score_bytes
from standlight.criteria import CRITERIA, Criterion
from standlight.passages import (
    SHIPPED_TABLES,
    Findings,
    Look,
    PartFinding,
    find_passages,
    survey_piece,
)
from standlight.score import read_score

NAME = "passages"
SUMMARY = "find a fair passage for every part of a score, with the reason"

FIRST_CHOICE = "rhythm,dynamics,articulation"
"""What a passage shows when nobody says otherwise."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """The file, the criteria to show, the length and the tempo."""
    parser.add_argument("file", type=Path, help="a .musicxml, .xml, .mxl or .mid file")
    parser.add_argument(
        "--criteria",
        type=_criteria,
        default=FIRST_CHOICE,
        help=f"what the passages show, of {', '.join(CRITERIA)} ({FIRST_CHOICE})",
    )
    parser.add_argument("--length", type=_measures, default=8, help="measures a passage (8)")
    parser.add_argument(
        "--tempo", type=_tempo, help="quarter notes a minute (the tempos of the score)"
    )
    parser.add_argument(
        "--grade",
        type=int,
        choices=sorted(SHIPPED_TABLES.grades),
        help="grade of music to compare with, 1 to 5",
    )
    parser.add_argument("--json", action="store_true", help="answer with one JSON object")


def run(options: argparse.Namespace) -> int:
    """Print what was found; 0, or 1 when no part has a passage."""
    score = read_score(score_bytes(options.file), name=options.file.name)
    survey = survey_piece(
        score, length_measures=options.length, tempo_qpm=options.tempo, grade=options.grade
    )
    findings = find_passages(survey, options.criteria)
    if options.json:
        json.dump(as_json(findings), sys.stdout, ensure_ascii=False)
        sys.stdout.write("\n")
    else:
        sys.stdout.write("\n".join(_lines(findings)) + "\n")
    return 0 if any(part.passage for part in findings.parts) else 1


def as_json(findings: Findings) -> dict[str, object]:
    """The findings as JSON values; measures are 0-based indexes, inclusive."""
    return {
        "parts": [
            {
                "index": part.part,
                "name": part.name,
                "passage": None if part.passage is None else _look(part.passage),
                "because": part.because,
                "alternatives": [_look(one) for one in part.alternatives],
            }
            for part in findings.parts
        ],
        "level": findings.level,
        "demand_sd": findings.demand_sd,
        "common_window_sd": findings.common_window_sd,
        "common_window_first": findings.common_first,
        "note_rate_sd": findings.note_rate_sd,
    }


def _look(one: Look) -> dict[str, object]:
    """One place as JSON values."""
    return {
        "first": one.first,
        "last": one.last,
        "printed": one.printed,
        "demand": one.demand,
        "shows": dict(one.shows),
        "reason": one.reason,
        "missing": list(one.missing),
        "flags": list(one.flags),
        "seconds": one.seconds,
        "note_rate_hz": one.note_rate_hz,
    }


def _lines(findings: Findings) -> list[str]:
    """The findings for people."""
    lines = [line for part in findings.parts for line in _part_lines(part)]
    for name, value in (
        ("Spread of demand over parts", findings.demand_sd),
        ("The same if all played one place", findings.common_window_sd),
        ("Spread of notes a second", findings.note_rate_sd),
    ):
        if value is not None:
            lines.append(f"{name}: {value:.3f}")
    return lines


def _part_lines(part: PartFinding) -> list[str]:
    """One part for people: where, demand, why; other places."""
    if part.passage is None:
        lines = [f"{part.part:3}  {part.name}: none. {part.because}"]
    else:
        where = f"measures {part.passage.printed}, demand {part.passage.demand:.2f}"
        lines = [f"{part.part:3}  {part.name}: {where}. {part.because}"]
        lines += [f"       {flag}" for flag in part.passage.flags]
    if part.alternatives:
        others = ", ".join(f"{one.printed} ({one.demand:.2f})" for one in part.alternatives)
        lines.append(f"       or measures {others}")
    return lines


def _criteria(words: str) -> tuple[Criterion, ...]:
    """The criteria named in a comma-separated list, in its order."""
    keys = list(dict.fromkeys(filter(None, words.split(","))))
    unknown = [key for key in keys if key not in CRITERIA]
    if unknown:
        raise argparse.ArgumentTypeError(
            f"there is no criterion {unknown[0]!r}; there are {', '.join(CRITERIA)}"
        )
    return tuple(CRITERIA[key] for key in keys)


def _measures(word: str) -> int:
    """A number of measures from 1 to 64."""
    return _number(word, 1, 64, "a number of measures")


def _tempo(word: str) -> float:
    """A tempo from 20 to 400 quarter notes a minute."""
    return float(_number(word, 20, 400, "a tempo"))


def _number(word: str, lowest: int, highest: int, what: str) -> int:
    """A whole number between two limits."""
    if not word.isdigit() or not lowest <= int(word) <= highest:
        raise argparse.ArgumentTypeError(f"{word} is not {what} from {lowest} to {highest}")
    return int(word)
