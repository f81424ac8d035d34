"""Reading large scores, ours and music21's in the same run: seconds, notes, peak memory.

Beside the reading the whole chain (read, profile, choose) is timed. Each happens in a fresh
child process that gets the bytes of one score: 20 parts x 300 measures and 36 x 943, both
stacked from one real symphony movement (`benchmarks/big_scores.py`), and half of the first
for the growth. Ours is the median of three children, music21's one child. With
``--editions`` every real edition of the tests is also read by both and the notes are
compared, part by part (a few minutes).

Usage: python benchmarks/reading_scores.py [--no-reference] [--editions]
"""

from __future__ import annotations

import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
import warnings
from collections import Counter
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from benchmarks.big_scores import stacked
from benchmarks.machine import machine

ROOT = Path(__file__).resolve().parents[1]
MOVEMENT = ROOT / "tests" / "scores" / "real" / "beethoven_op21_1.mxl"
SIZES = ((20, 150), (20, 300), (36, 943))
ASKED = (20, 300)
"""The size the promise is made for; the one before and the one after show the growth."""

MOST_SECONDS, LEAST_RATIO, MOST_MEGABYTES = 0.8, 10, 250
MOST_CHAIN_SECONDS, LEAST_CHAIN_RATIO = 1.5, 6
RUNS = 3
TUNE = "F4 q G4 q A4 h"
"""What warms a reader before it is timed."""


def read_ours(file: Path) -> int:
    """Number of notes `read_score` finds in the file."""
    from standlight.score import read_score

    return sum(len(part.notes) for part in read_score(file.read_bytes()).parts)


def read_reference(file: Path) -> int:
    """Number of note heads music21's converter finds (ties not merged, grace notes too)."""
    from music21 import converter

    warnings.simplefilter("ignore")
    score = converter.parse(file, format="musicxml", forceSource=True)
    return sum(len(element.pitches) or 1 for element in score.recurse().notes)


def warm_ours() -> None:
    """Bring in the reader and read one note, so that imports are not counted."""
    from standlight.score import line_to_musicxml, read_score

    read_score(line_to_musicxml(TUNE, instrument="Flute"))


def warm_reference() -> None:
    """Bring in music21 and read one note, so that imports are not counted."""
    from music21 import converter

    from standlight.score import line_to_musicxml

    converter.parseData(line_to_musicxml(TUNE, instrument="Flute"), format="musicxml")


def read_and_choose(file: Path) -> int:
    """The whole chain: read, profile and choose a passage for every part; the notes read."""
    from standlight.criteria import CRITERIA
    from standlight.passages import find_passages, survey_piece
    from standlight.score import read_score

    score = read_score(file.read_bytes())
    chosen = [CRITERIA[key] for key in ("rhythm", "dynamics", "articulation")]
    find_passages(survey_piece(score), chosen)
    return sum(len(part.notes) for part in score.parts)


def warm_chain() -> None:
    """Bring in everything that the chain uses, on a line of four measures."""
    from standlight.criteria import CRITERIA
    from standlight.passages import find_passages, survey_piece
    from standlight.score import line_to_musicxml, read_score

    tune = " | ".join(["F4 q G4 A4 h"] * 8)
    survey = survey_piece(read_score(line_to_musicxml(tune, instrument="Flute")))
    find_passages(survey, [CRITERIA["rhythm"]])


READERS: dict[str, tuple[Callable[[], None], Callable[[Path], int]]] = {
    "ours": (warm_ours, read_ours),
    "chain": (warm_chain, read_and_choose),
    "music21": (warm_reference, read_reference),
}
"""What a child may do: a warming, then the one act that is timed."""


def child(reader: str, file: Path) -> None:
    """Time one reading and print it as JSON (runs in its own process)."""
    warm, read = READERS[reader]
    warm()
    began = time.perf_counter()
    n_notes = read(file)
    seconds = time.perf_counter() - began
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps({"seconds": seconds, "peak_mib": peak, "n_notes": n_notes}))


def measured(reader: str, file: Path, runs: int) -> dict[str, float]:
    """Median seconds, highest peak and notes of ``runs`` fresh children."""
    answers = []
    for _ in range(runs):
        said = subprocess.run(
            [sys.executable, str(Path(__file__)), "--child", reader, str(file)],
            check=True, capture_output=True, text=True, env={**os.environ, "PYTHONHASHSEED": "0"},
        ).stdout
        answers.append(json.loads(said.splitlines()[-1]))
    return {
        "seconds": statistics.median(answer["seconds"] for answer in answers),
        "peak_mib": max(answer["peak_mib"] for answer in answers),
        "n_notes": answers[0]["n_notes"],
    }


def line(words: str, answer: dict[str, float]) -> str:
    """One line of the report."""
    return (
        f"  {words:22} {answer['seconds']:7.2f} s  {answer['peak_mib']:6.0f} MiB peak"
        f"  {answer['n_notes']:,.0f} notes"
    )


def editions() -> None:
    """Read every real edition by both and print where the notes differ."""
    from tests.reference_reader import reference_score, sounding_by_tie_marks
    from tests.scores import REAL, real

    from standlight.score import read_score

    for name in REAL:
        here = Counter(
            (part.index, note.onset_quarters, note.midi)
            for part in read_score(real(name)).parts
            for note in part.notes
        )
        there = sounding_by_tie_marks(reference_score(real(name), ".mxl"))
        apart = (here - there).total()
        parts = sorted({part for part, _, _ in (here - there) + (there - here)})
        said = f"{apart} at another moment, parts {parts}" if apart or parts else "all equal"
        print(f"  {name:36} {here.total():6,} notes, {there.total():6,} by music21: {said}")


def main() -> None:
    """Build, measure, print."""
    if "--child" in sys.argv:
        child(sys.argv[-2], Path(sys.argv[-1]))
        return
    print(f"machine: {machine()}")
    movement = MOVEMENT.read_bytes()
    ours: dict[tuple[int, int], dict[str, float]] = {}
    chains: dict[tuple[int, int], dict[str, float]] = {}
    with tempfile.TemporaryDirectory() as folder:
        for size in SIZES:
            file = Path(folder) / f"{size[0]}x{size[1]}.musicxml"
            file.write_bytes(stacked(movement, *size))
            print(f"{size[0]} parts x {size[1]} measures, {file.stat().st_size / 1e6:.1f} MB:")
            ours[size] = measured("ours", file, RUNS)
            print(line("read_score", ours[size]))
            chains[size] = measured("chain", file, RUNS)
            print(line("read, profile, choose", chains[size]))
            if "--no-reference" in sys.argv:
                continue
            theirs = measured("music21", file, 1)
            print(line("music21 converter", theirs))
            for words, mine, least in (("reading", ours, LEAST_RATIO),
                                       ("chain", chains, LEAST_CHAIN_RATIO)):
                print(f"  music21's reading over our {words}:"
                      f" {theirs['seconds'] / mine[size]['seconds']:.1f}"
                      + (f" (asked {least})" if size == ASKED else ""))
    asked = ours[ASKED]
    print(f"asked of {ASKED[0]} x {ASKED[1]}: {asked['seconds']:.2f} s of {MOST_SECONDS} s, "
          f"{asked['peak_mib'] * 1.048576:.0f} MB of {MOST_MEGABYTES} MB")
    print(f"  and the chain: {chains[ASKED]['seconds']:.2f} s of {MOST_CHAIN_SECONDS} s, "
          f"{chains[ASKED]['peak_mib'] * 1.048576:.0f} MB")
    for size, answer in (*ours.items(), *chains.items()):
        print(f"growth {size[0]} x {size[1]}: "
              f"{answer['seconds'] / (size[0] * size[1]) * 1e6:.0f} us a part and measure, "
              f"{answer['seconds'] / answer['n_notes'] * 1e6:.1f} us a note")
    if "--editions" in sys.argv:
        print("editions, notes of both readers:")
        editions()


if __name__ == "__main__":
    main()
