"""``./run listen TAKE...``: what the listening finds in recordings, for people or as JSON."""

from __future__ import annotations

import argparse
import csv
import json
import os
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from fractions import Fraction
from functools import partial
from multiprocessing import get_context
from pathlib import Path

from standlight.errors import StandlightError, UnreadableLine
from standlight.listening import Terms, listen_to, report_as_json
from standlight.music import Note
from standlight.score import INSTRUMENTS, Passage, Score, cut_passage, read_passage, read_score
from standlight.workshop.decoding import get_ready

NAME = "listen"
SUMMARY = "Read recordings against a part: what was heard of each note, and each criterion."

QUARTERS_A_MEASURE = 4
"""A list of notes has no barlines; its places are told as measures of four quarters."""

MOST_WORKERS = 2
"""Takes are read on so many cores at once (the machine the tool is built for has two)."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's words to ``parser``."""
    parser.add_argument("takes", nargs="+", metavar="TAKE", help="recordings of the passage")
    parser.add_argument("--score", metavar="FILE", help="MusicXML: .xml, .musicxml or .mxl")
    parser.add_argument("--part", metavar="NAME|INDEX", help="part of the score; counted from 0")
    parser.add_argument("--measures", metavar="A-B", help="printed measure numbers; default all")
    parser.add_argument(
        "--notes",
        metavar="NOTES.csv",
        help="instead of a score: onset_quarters,duration_quarters,midi[,drum]",
    )
    parser.add_argument("--tempo", type=_positive, required=True, metavar="QPM",
                        help="marked tempo, quarter notes a minute")  # fmt: skip
    parser.add_argument("--instrument", metavar="NAME", help="name in the instruments table")
    parser.add_argument("--a4", type=_positive, default=440.0, metavar="HZ", help="default 440")
    parser.add_argument("--json", action="store_true", help="print one JSON list")


def run(options: argparse.Namespace) -> int:
    """Read each take; 0 when every take was heard or honestly refused, 2 when called wrongly.

    Raises FileNotFoundError for a take, score or list that is not there, and
    `StandlightError` for a score or list that cannot be read.
    """
    if bool(options.score) == bool(options.notes) or (options.score and options.part is None):
        sys.stderr.write("Give either --score FILE with --part, or --notes NOTES.csv.\n")
        return 2
    if options.instrument and options.instrument not in INSTRUMENTS:
        sys.stderr.write(
            f"{options.instrument!r} is not in the instruments table; the part's own is used.\n"
        )
    if len(options.takes) == 1:
        get_ready()
    passage = passage_of(options)
    for name in options.takes:
        if Path(name).is_dir():
            raise StandlightError(f"{name} is a folder, not a recording", slip="name its files?")
        Path(name).stat()  # a take that is not there is told before any work
    terms = Terms(options.tempo, options.instrument, options.a4)
    read = partial(_one, passage=passage, terms=terms)
    answers = list(_each(read, options.takes))
    if options.json:
        json.dump(answers, sys.stdout, allow_nan=False)
        sys.stdout.write("\n")
    else:
        sys.stdout.write("\n".join(in_words(answer) for answer in answers))
    return 0


def passage_of(options: argparse.Namespace) -> Passage:
    """The passage that the words ask for, from a list of notes or a score."""
    if options.notes:
        text = Path(options.notes).read_text(encoding="utf-8-sig")
        return passage_from_csv(text, options.notes)
    data = Path(options.score).read_bytes()
    score = read_score(data, name=Path(options.score).name)
    part = _part_index(score, options.part)
    first, last = _measures(score, options.measures)
    return read_passage(cut_passage(data, part, first, last))


def passage_from_csv(text: str, name: str = "the list") -> Passage:
    """A passage from rows ``onset_quarters,duration_quarters,midi[,drum]`` in time order.

    Raises `UnreadableLine` naming the row.

    >>> head = "onset_quarters,duration_quarters,midi\\n"
    >>> passage_from_csv(head + "0,1,60\\n1,1/2,62").length_quarters
    Fraction(3, 2)
    """
    rows = list(csv.DictReader(text.splitlines()))
    wanted = {"onset_quarters", "duration_quarters", "midi"}
    if not rows or not wanted <= set(rows[0]):
        raise UnreadableLine(
            "the list has no rows under onset_quarters,duration_quarters,midi", where=name
        )
    notes = [_note(row, number, name) for number, row in enumerate(rows, start=2)]
    if any(b.onset_quarters < a.onset_quarters for a, b in zip(notes, notes[1:], strict=False)):
        raise UnreadableLine("the notes are not in order of onset", where=name)
    end = max(note.onset_quarters + note.duration_quarters for note in notes)
    return Passage(
        part_name="",
        instrument="",
        printed="",
        measures=(),
        notes=tuple(notes),
        length_quarters=end,
    )


def _note(row: dict[str, str | None], number: int, name: str) -> Note:
    """One row as a note; ``number`` is its line in the file."""
    try:
        onset = Fraction((row["onset_quarters"] or "").strip())
        midi = (row["midi"] or "").strip()
        return Note(
            onset_quarters=onset,
            duration_quarters=Fraction((row["duration_quarters"] or "").strip()),
            midi=int(midi) if midi else None,
            drum=None if midi else (row.get("drum") or "drum").strip(),
            measure=int(onset // QUARTERS_A_MEASURE),
        )
    except (ValueError, ZeroDivisionError) as problem:
        where = f"line {number} of {name}"
        slip = "a fraction like 3/2, a whole midi?"
        raise UnreadableLine(str(problem), where=where, slip=slip) from problem


def _part_index(score: Score, wanted: str) -> int:
    """Index of a part by its number from 0 or by its name, large and small letters alike."""
    if wanted.isdigit() and int(wanted) < len(score.parts):
        return int(wanted)
    found = [part.index for part in score.parts if part.name.lower() == wanted.lower()]
    if len(found) == 1:
        return found[0]
    names = ", ".join(f"{part.index} {part.name}" for part in score.parts)
    what = "no part" if not found else "more than one part"
    raise StandlightError(f"{what} is called {wanted!r}; there are: {names}")


def _measures(score: Score, wanted: str | None) -> tuple[int, int]:
    """First and last measure index of ``"A-B"`` or ``"A"`` in printed numbers; all for None."""
    if not wanted:
        return 0, len(score.measures) - 1
    first, _, last = wanted.partition("-")
    by_number: dict[str, int] = {}
    for measure in score.measures:
        by_number.setdefault(measure.printed, measure.index)
    ends = []
    for number in (first.strip(), (last or first).strip()):
        if number not in by_number:
            raise StandlightError(f"there is no measure {number!r} in the score")
        ends.append(by_number[number])
    if ends[1] < ends[0]:
        raise StandlightError(f"measures {wanted} run backwards", slip="ends swapped?")
    return ends[0], ends[1]


def _positive(text: str) -> float:
    """A number above 0, for argparse."""
    number = float(text)
    if not 0.0 < number < 10_000.0:
        raise argparse.ArgumentTypeError(f"{text} is not a sensible number above 0")
    return number


def _each(read: partial, takes: Sequence[str]) -> list[dict]:
    """Every take's answer in order, on both cores when there are several takes."""
    workers = min(MOST_WORKERS, len(takes), os.cpu_count() or 1)
    if workers < 2:
        return [read(take) for take in takes]
    # Each worker keeps a warm decoder of its own. Spawning would run the command line's own
    # start again in each.
    with ProcessPoolExecutor(workers, mp_context=get_context("fork")) as pool:
        return list(pool.map(read, takes))


def _one(name: str, passage: Passage, terms: Terms) -> dict:
    """The contract's object for one take."""
    data = Path(name).read_bytes()
    report = listen_to(data, passage, terms)
    sys.stderr.write(f"{name}: {report.seconds:.1f} s read\n")
    return {"file": name, **report_as_json(report)}


def in_words(answer: dict) -> str:
    """One take's answer as lines for a person."""
    lines = [answer["file"]]
    lines += [f"  {verdict['sentence']}" for verdict in answer["verdicts"]]
    lines += [f"  {spot['sentence']}" for spot in answer["spots"]]
    for reading in answer["readings"]:
        if reading["value"] is None:
            lines.append(f"  {reading['criterion']}: no figure. {reading['because']}")
            continue
        figure = f"{reading['value']:.1f} {reading['unit']}"
        if reading["low"] is not None:
            figure += f" ({reading['low']:.1f} to {reading['high']:.1f})"
        lines.append(f"  {reading['criterion']}: {reading['sentence']} {reading['name']} {figure}")
    return "\n".join(lines) + "\n"
