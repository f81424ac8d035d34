"""``./run listen TAKE...``: what the listening finds in recordings, for people or as JSON."""

from __future__ import annotations

import argparse
import json
import os
import stat
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from multiprocessing import get_context
from pathlib import Path

from standlight.commands._by_rows import by_rows
from standlight.commands._exits import CALLED_WRONGLY, DONE, file_trouble
from standlight.commands._notes_list import NotesList, notes_list
from standlight.commands._parts import part_named
from standlight.commands._tables import table_text
from standlight.criteria import CRITERIA
from standlight.errors import StandlightError, WorkshopFailure
from standlight.listening import (
    METHOD,
    ListeningReport,
    Reading,
    Terms,
    Verdict,
    listen_to,
    report_as_json,
)
from standlight.score import (
    INSTRUMENTS,
    Passage,
    Score,
    cut_passage,
    instrument_of,
    read_passage,
    read_score,
)
from standlight.workshop.decoding import get_ready

NAME = "listen"
SUMMARY = "Read recordings against a part: what was heard of each note, and each criterion."

MOST_WORKERS = 2
"""Takes are read on so many cores at once (the machine the tool is built for has two)."""

LOWEST_A4_HZ, HIGHEST_A4_HZ = 300.0, 600.0
"""Nobody has tuned an A outside these (about a fifth to both sides of 440, our choice)."""

FASTEST_QPM = 10_000.0
"""A marked tempo is slower than this."""

_SLIPS: tuple[tuple[Callable[[argparse.Namespace], bool], str], ...] = (
    (
        lambda words: bool(words.score) == bool(words.notes)
        or bool(words.score and words.part is None),
        "Give either --score FILE with --part, or --notes NOTES.csv.",
    ),
    (
        lambda words: bool(words.notes and words.measures),
        "--measures needs a score: give --score FILE with --part. A list of notes is the passage, "
        "from its first row to its last.",
    ),
    (
        lambda words: bool(words.notes and words.part is not None),
        "--part needs a score: a list of notes is one part.",
    ),
)
"""What cannot be asked for together, and what is said of it."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's words to ``parser``."""
    parser.add_argument("takes", nargs="+", metavar="TAKE", help="recordings of the passage")
    parser.add_argument("--score", metavar="FILE", help="MusicXML: .xml, .musicxml or .mxl")
    parser.add_argument(
        "--part", metavar="NAME|INDEX",
        help="part of the score, counted from 0; of a chord its top note is followed",
    )  # fmt: skip
    parser.add_argument("--measures", metavar="A-B", help="printed measure numbers; default all")
    parser.add_argument(
        "--notes",
        metavar="NOTES.csv",
        help="instead of a score: onset_quarters,duration_quarters,midi[,drum]; either all rows "
        "have a sounding midi or all are drums; of rows that begin together (a chord) the highest "
        "is followed and tells when the others began: a verdict says so",
    )
    parser.add_argument("--tempo", type=_tempo, required=True, metavar="QPM",
                        help="marked tempo, quarter notes a minute")  # fmt: skip
    parser.add_argument("--instrument", metavar="NAME",
                        help="what plays, for instance clarinet or timpani; "
                        "default: the part's own")  # fmt: skip
    parser.add_argument("--a4", type=_a4, default=440.0, metavar="HZ", help="default 440")
    parser.add_argument("--json", action="store_true", help="print one JSON list")


def run(options: argparse.Namespace) -> int:
    """Read each take; 0 when every take was heard or honestly refused, 2 when called wrongly.

    A take whose file cannot be reached has a verdict like the others, and the exit code says so
    (3 when it is not there, else 1). Raises OSError for a score or list that cannot be reached,
    and `StandlightError` for one that cannot be read.
    """
    slip = next((sentence for is_so, sentence in _SLIPS if is_so(options)), "")
    if slip:
        sys.stderr.write(f"{slip}\n")
        return CALLED_WRONGLY
    if len(options.takes) == 1:
        get_ready()
    listed = _listed(options)
    passage = listed.passage if listed else passage_of(options)
    terms = Terms(options.tempo, _instrument(options.instrument, passage), options.a4)
    away = [_out_of_reach(name, terms) for name in options.takes]
    near = [name for name, one in zip(options.takes, away, strict=True) if one is None]
    read = partial(_one, passage=passage, listed=listed, terms=terms)
    heard = iter(_each(read, near))
    found = [one or next(heard) for one in away]
    answers = [answer for _, answer in found]
    if options.json:
        json.dump(answers, sys.stdout, allow_nan=False)
        sys.stdout.write("\n")
    else:
        sys.stdout.write("\n".join(in_words(answer) for answer in answers))
    return max(code for code, _ in found)


def _listed(options: argparse.Namespace) -> NotesList | None:
    """The list of notes that the words ask for, if they do."""
    if not options.notes:
        return None
    return notes_list(table_text(Path(options.notes)), options.notes)


def passage_of(options: argparse.Namespace) -> Passage:
    """The passage of the score that the words ask for."""
    data = Path(options.score).read_bytes()
    score = read_score(data, name=Path(options.score).name)
    part = part_named(score, options.part)
    first, last = _measures(score, options.measures)
    return read_passage(cut_passage(data, part.index, first, last))


def _instrument(words: str | None, passage: Passage) -> str | None:
    """The name in the instruments table that ``words`` mean; ``None`` leaves it to the passage.

    Unless the words are the table's own, stderr says what they are taken for.
    """
    if not words:
        return None
    exact = next((name for name in INSTRUMENTS if name.lower() == words.strip().lower()), "")
    name = exact or instrument_of(words)
    if name != words:
        sys.stderr.write(f"{_taken_for(words, name, passage)}\n")
    return name or None


def _taken_for(words: str, name: str, passage: Passage) -> str:
    """A sentence: which instrument the take is heard as, when ``words`` are not in the table."""
    if name:
        return f"{words!r} is heard as {name!r}."
    unknown = f"No instrument is known as {words!r}"
    if passage.instrument:
        return f"{unknown}; the part's own, {passage.instrument!r}, is used."
    kind = "pitched" if any(note.midi is not None for note in passage.notes) else "struck"
    return f"{unknown}; the take is heard as {kind} notes of no instrument in particular."


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
            printed = f"{score.measures[0].printed} to {score.measures[-1].printed}"
            raise StandlightError(
                f"there is no measure {number!r} in the score",
                slip=f"its measures are {printed}; write A-B, for instance 5-8",
            )
        ends.append(by_number[number])
    if ends[1] < ends[0]:
        raise StandlightError(f"measures {wanted} run backwards", slip="ends swapped?")
    return ends[0], ends[1]


def _tempo(text: str) -> float:
    """A marked tempo in quarters a minute, for argparse."""
    number = float(text)
    if not 0.0 < number < FASTEST_QPM:
        raise argparse.ArgumentTypeError(f"{text} is not a sensible number above 0")
    return number


def _a4(text: str) -> float:
    """The A that is tuned to, in Hz, for argparse."""
    number = float(text)
    if not LOWEST_A4_HZ <= number <= HIGHEST_A4_HZ:
        raise argparse.ArgumentTypeError(
            f"{text} Hz is no A that an ensemble tunes to ({LOWEST_A4_HZ:.0f} to "
            f"{HIGHEST_A4_HZ:.0f}; cents or a MIDI number instead of Hz?)"
        )
    return number


def _each(read: partial, takes: Sequence[str]) -> list[tuple[int, dict]]:
    """Every take's `_one` in order, on both cores when there are several takes.

    Raises `WorkshopFailure` when the system ends one of the helpers.
    """
    workers = min(MOST_WORKERS, len(takes), os.cpu_count() or 1)
    if workers < 2:
        return [read(take) for take in takes]
    # Each worker keeps a warm decoder of its own. Spawning would run the command line's own
    # start again in each.
    try:
        with ProcessPoolExecutor(workers, mp_context=get_context("fork")) as pool:
            return list(pool.map(read, takes))
    except BrokenProcessPool as problem:
        raise WorkshopFailure(
            "one of the two helpers that listen was stopped by the machine",
            slip="too little memory? try fewer takes at a time",
        ) from problem


def _one(
    name: str, passage: Passage, listed: NotesList | None, terms: Terms
) -> tuple[int, dict]:
    """The exit code that one take asks for, and the contract's object for it."""
    try:
        data = Path(name).read_bytes()
    except OSError as problem:  # it went away in the meantime; the others are heard all the same
        return _away(name, problem, terms)
    report = listen_to(data, passage, terms)
    sys.stderr.write(f"{name}: {report.seconds:.1f} s read\n")
    answer = {"file": name, **report_as_json(report)}
    return DONE, answer if listed is None else by_rows(answer, listed)


def _out_of_reach(name: str, terms: Terms) -> tuple[int, dict] | None:
    """`_away` for a take that cannot be reached, told before any work; else ``None``."""
    try:
        if not stat.S_ISFIFO(os.stat(name).st_mode):  # a pipe can be opened only once
            open(name, "rb").close()
    except OSError as problem:
        return _away(name, problem, terms)
    return None


def _away(name: str, problem: OSError, terms: Terms) -> tuple[int, dict]:
    """Exit code and object for a take whose file cannot be reached; stderr says why."""
    code, sentence = file_trouble(problem)
    sys.stderr.write(f"{sentence}\n")
    return code, {"file": name, **report_as_json(_unreached(sentence, terms))}


def _unreached(sentence: str, terms: Terms) -> ListeningReport:
    """The report on a take whose file cannot be reached: as on one that cannot be decoded."""
    row = INSTRUMENTS.get(terms.instrument or "")
    readings = tuple(
        Reading(one.key, one.name, None, None, None, "", 0, because=one.by_ear or sentence)
        for one in CRITERIA.values()
        if row is None or one.applies_to(row.family)
    )
    verdicts = (Verdict("unreadable", sentence),)
    return ListeningReport(METHOD, 0.0, 0.0, verdicts, readings=readings)


def in_words(answer: dict) -> str:
    """One take's answer as lines for a person."""
    # A name that is no text (bytes of another machine) would stop the printing.
    lines = [answer["file"].encode("utf-8", "backslashreplace").decode("utf-8")]
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
