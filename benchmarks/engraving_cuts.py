"""500 random cuts of every score in the repository, drawn by a warm engraver; 150 pages of PDF.

For each cut a score, a part, a start and 4 to 16 measures are drawn from a seeded generator
(a score with fewer measures is cut whole); four of five cuts are of real editions, which are few
and large, the others of the test suite's small files. A child that has drawn a cut already
draws the others; what is timed is one cut from its MusicXML to the cleaned SVG: drawing in the
child, crossing to the parent, cleaning there. Cutting is timed apart. Every note of
`read_passage` must have its id in the drawing. Peer in the same run: the same engraver draws the
same selection from the whole score by its own `select`, the score loaded once beforehand (its
loading is told too).

Usage: PYTHONPATH=src:. .venv-test/bin/python benchmarks/engraving_cuts.py [cuts] [seed]
"""

from __future__ import annotations

import math
import random
import re
import statistics
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from tests.scores import REAL, SUITE, real, suite  # noqa: E402

from standlight.errors import StandlightError, WorkshopFailure  # noqa: E402
from standlight.score import cut_passages, read_passage, read_score  # noqa: E402
from standlight.workshop import Sheet, engrave_many, pages_pdf  # noqa: E402
from standlight.workshop.child import _framed, _frames  # noqa: E402
from standlight.workshop.engraving import _PART_LABEL, cleaned  # noqa: E402

CUTS, SEED, PAGES = 500, 20, 150
SHARE_OF_REAL = 0.8
SHORTEST, LONGEST = 4, 16
WIDTH, SCALE = 1701, 40  # 180 mm at 40 percent, as pages ask for it
PEER_CUTS = 100
"""The peer's cost hardly varies, and it loads each score whole."""


@dataclass(frozen=True, slots=True)
class Place:
    """A cut: the score's name, and part, first and last measure by index."""

    name: str
    part: int
    first: int
    last: int


def places(count: int, seed: int) -> tuple[dict[str, bytes], list[Place]]:
    """The scores by name, and ``count`` seeded places in them."""
    chance = random.Random(seed)
    scores = {name: real(name) for name in REAL} | {name: suite(name) for name in SUITE}
    sizes = {}
    for name, data in list(scores.items()):
        try:
            score = read_score(data)
        except StandlightError as refused:
            print(f"left out, no score: {name}: {refused}")
            continue
        sizes[name] = (len(score.parts), len(score.measures))
    found = []
    for _ in range(count):
        kind = REAL if chance.random() < SHARE_OF_REAL else SUITE
        name = chance.choice([name for name in kind if name in sizes])
        parts, measures = sizes[name]
        length = min(measures, chance.randint(SHORTEST, LONGEST))
        first = chance.randrange(measures - length + 1)
        found.append(Place(name, chance.randrange(parts), first, first + length - 1))
    return scores, found


class WarmEngraver:
    """The engraving tool with its pipes open, asked for one drawing at a time."""

    def __init__(self) -> None:
        """Start the child as `run_list` does, but task by task through pipes."""
        source = (
            "import sys\n"
            "from standlight.workshop import child, engraver\n"
            "def asked():\n"
            "    while True:\n"
            "        head = sys.stdin.buffer.read(child._FRAME.size)\n"
            "        if not head:\n"
            "            return\n"
            "        yield sys.stdin.buffer.read(child._FRAME.unpack(head)[1])\n"
            "engraver.listed = asked\n"
            f"sys.argv[1:] = ['{WIDTH}', '{SCALE}']\n"
            "engraver.main()\n"
        )
        self.child = subprocess.Popen(
            [sys.executable, "-c", source], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            env={"PYTHONPATH": str(ROOT / "src")},
        )  # fmt: skip

    def draw(self, cut: bytes) -> str:
        """One drawing, cleaned."""
        self.child.stdin.write(_framed(0, _PART_LABEL.sub(rb"<part-\1/>", cut)))
        self.child.stdin.flush()
        head = self.child.stdout.read(5)
        length = int.from_bytes(head[1:], "little")
        ((kind, content),) = _frames(head + self.child.stdout.read(length))
        if kind:
            raise WorkshopFailure(content.decode())
        return cleaned(content)

    def end(self) -> None:
        """Let the child end."""
        self.child.stdin.close()
        self.child.wait(10)


def percentile(values: list[float], share: float) -> float:
    """The value that ``share`` of all are at most (nearest rank)."""
    return sorted(values)[math.ceil(share * len(values)) - 1]


def told(values: list[float]) -> str:
    """Median, 95th percentile and longest in milliseconds."""
    some = [1000 * value for value in values]
    return (
        f"median {statistics.median(some):.1f}, p95 {percentile(some, 0.95):.1f},"
        f" max {max(some):.1f} ms"
    )


def lost_notes(cut: bytes, svg: str) -> int:
    """How many of the passage's notes have no id in the drawing."""
    drawn = set(re.findall(r' id="(n\d+)"', svg))
    return sum(f"n{place}" not in drawn for place in range(len(read_passage(cut).notes)))


def cut_all(scores: dict[str, bytes], wanted: list[Place]) -> tuple[dict[Place, bytes], float]:
    """Every cut, and the seconds that cutting took, each score read once."""
    by_score: dict[str, list[Place]] = {}
    for place in wanted:
        by_score.setdefault(place.name, []).append(place)
    cuts, began = {}, time.perf_counter()
    for name, some in by_score.items():
        asked = [(place.part, place.first, place.last) for place in some]
        cuts.update(zip(some, cut_passages(scores[name], asked), strict=True))
    return cuts, time.perf_counter() - began


def ours(cuts: dict[Place, bytes], wanted: list[Place]) -> tuple[list[float], list[str]]:
    """Seconds of each drawing, and the drawings; prints what is lost or refused."""
    engraver = WarmEngraver()
    engraver.draw(cuts[wanted[0]])
    engraver.draw(cuts[wanted[1]])
    seconds, drawings, notes, lost, refused = [], [], 0, 0, 0
    slowest: list[tuple[float, Place]] = []
    for place in wanted:
        began = time.perf_counter()
        try:
            svg = engraver.draw(cuts[place])
        except WorkshopFailure as failure:
            refused += 1
            print(f"refused: {place}: {failure}")
            continue
        seconds.append(time.perf_counter() - began)
        slowest.append((seconds[-1], place))
        drawings.append(svg)
        notes += len(read_passage(cuts[place]).notes)
        missing = lost_notes(cuts[place], svg)
        lost += missing
        if missing:
            print(f"lost {missing} notes: {place}")
    engraver.end()
    print(f"cuts drawn: {len(drawings)} of {len(wanted)}, refused {refused};"
          f" notes {notes:,}, lost {lost}")
    print(f"one cut in a warm child, drawn and cleaned: {told(seconds)} (asked: p95 50 ms)")
    for value, place in sorted(slowest, key=lambda one: -one[0])[:5]:
        notes = len(read_passage(cuts[place]).notes)
        print(f"  slow: {1000 * value:.0f} ms {place}, {notes} notes")
    return seconds, drawings


def peer(scores: dict[str, bytes], wanted: list[Place]) -> None:
    """The engraver's own selection from the whole score."""
    import verovio
    from lxml import etree

    from standlight.score.container import open_score
    from standlight.workshop.engraver import _OPTIONS

    verovio.enableLog(verovio.LOG_OFF)
    loading, drawing, failed = [], [], 0
    by_score: dict[str, list[Place]] = {}
    for place in wanted:
        by_score.setdefault(place.name, []).append(place)
    for name, some in by_score.items():
        toolkit = verovio.toolkit()
        toolkit.setOptions({**_OPTIONS, "pageWidth": WIDTH, "scale": SCALE})
        whole = etree.tostring(open_score(scores[name])[0], encoding="unicode")
        began = time.perf_counter()
        if not toolkit.loadData(whole):
            failed += len(some)
            continue
        loading.append(time.perf_counter() - began)
        for place in some:
            began = time.perf_counter()
            toolkit.select({"measureRange": f"{place.first + 1}-{place.last + 1}"})
            toolkit.redoLayout()
            toolkit.renderToSVG(1)
            drawing.append(time.perf_counter() - began)
    print(f"peer, the engraver's own selection (of all parts), {len(drawing)} cuts,"
          f" {failed} not loaded: {told(drawing)}; loading the score first: {told(loading)}")


def pages(drawings: list[str]) -> None:
    """150 different pages as one PDF, child's start and all."""
    chosen = list(dict.fromkeys(drawings))[:PAGES]
    sheets = [
        Sheet(
            title="Playing check", over="Playing check, Concert Band",
            lines=(f"Musician {number}. Part, measures 33 to 40. Quarter note 96.",), svg=svg,
            questions=(("Tone", "Is the sound clear?"), ("Rhythm", "Does it fit?")),
            footer=("A march. A composer. An edition.", "For this ensemble's own players."),
        )
        for number, svg in enumerate(chosen)
    ]  # fmt: skip
    seconds = []
    for _ in range(3):
        began = time.perf_counter()
        pdf = pages_pdf(sheets)
        seconds.append(time.perf_counter() - began)
    print(f"PDF, {len(sheets)} pages of different music, {len(pdf) / 1e6:.1f} MB:"
          f" median of 3 {statistics.median(seconds):.2f} s (asked: 2 s)")


def main() -> None:
    """Cut, draw, compare, print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else CUTS
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else SEED
    from benchmarks.machine import machine

    print(f"machine: {machine()}")
    scores, wanted = places(count, seed)
    print(f"{len(scores)} scores, {count} cuts of {SHORTEST} to {LONGEST} measures, seed {seed}")
    cuts, cutting = cut_all(scores, wanted)
    print(f"cutting: {1000 * cutting / count:.1f} ms a cut, reading the scores included")
    _, drawings = ours(cuts, wanted)
    began = time.perf_counter()
    engrave_many([cuts[place] for place in wanted[:40]], width_mm=180)
    print(f"40 parts by one call of engrave_many, child's start included:"
          f" {time.perf_counter() - began:.2f} s")
    pages(drawings)
    peer(scores, wanted[:PEER_CUTS])


if __name__ == "__main__":
    main()
