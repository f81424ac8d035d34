"""Faults that have the pitch of the note beside them: are they told, or taken for its tail?

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/neighbour_pitch.py --seeds
2701,2801,2901 [--takes 144]``.
The generator of `benchmarks/listening.py` never plants such a fault, so that every planted one has
one explanation; musicians do play them. Here half of the wrong notes take the pitch of a neighbour
up to a fourth away, and half of the notes left out have a neighbour of their own pitch. Prints as
what they and the others were told (of equal notes either may be the one left out), and the
precision that is left.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Callable
from functools import partial
from pathlib import Path
from unittest.mock import patch

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks import fault_runs
from benchmarks.hearing import lines, playing, takes, tones
from benchmarks.hearing.accuracy import on_both_cores, told_of
from benchmarks.hearing.intervals import proportion
from benchmarks.hearing.judging import told_outcome

KIND = "beside"
"""Its takes are kept under this word; what else is planned for them is as in the main kind."""

BESIDE_SHARE, FARTHEST_SEMITONES = 0.5, 5

PLACES = {
    "beside": ("wrong notes with the pitch of a neighbour", "other"),
    "apart": ("other wrong notes", "other"),
    "equal": ("notes left out beside an equal one", "missing"),
    "left out": ("other notes left out", "missing"),
}
"""What is counted, in words, and as what it should be told."""

_instead, _faults = playing._instead, playing._faults


def instead(rng, notes, index: int, fault: str) -> int:
    """The pitch sounded instead of written note ``index``: half the time that of a neighbour."""
    if fault == "octave" or rng.random() < 1.0 - BESIDE_SHARE:
        return _instead(rng, notes, index, fault)
    own = notes[index].midi
    near = [notes[index + step].midi for step in (-1, 1)]
    near = [midi for midi in near if 0 < abs(midi - own) <= FARTHEST_SEMITONES]
    return int(rng.choice(near)) if near else _instead(rng, notes, index, fault)


def faults(rng, notes, plan) -> dict[int, str]:
    """The usual faults; half the notes left out are moved to one that a neighbour is equal to."""
    found = _faults(rng, notes, plan)
    equal = [at for at in range(2, len(notes) - 2) if _has_equal(notes, at)]
    for index in [at for at, kind in found.items() if kind == "missing"]:
        far = [at for at in equal
               if all(abs(at - other) > playing.LEAST_APART for other in found if other != index)]
        if far and rng.random() < BESIDE_SHARE:
            del found[index]
            found[int(rng.choice(far))] = "missing"
    return found


def _has_equal(notes, index: int) -> bool:
    """True when a note beside ``index`` has its pitch."""
    return any(notes[index + step].midi == notes[index].midi for step in (-1, 1))


def make(seed: int, kind: str, number: int) -> takes.MadeTake:
    """A new take with such notes."""
    with (patch.object(playing, "_instead", instead), patch.object(playing, "_faults", faults)):
        return takes.make(seed, kind, number)


MAKERS = {KIND: make, fault_runs.KIND: fault_runs.make}
"""Who makes the takes that the usual maker does not."""


def told(seed: int, number: int) -> Counter:
    """What became of a take's faults, by what their neighbours are, and false ones."""
    made = takes.take(seed, KIND, number, make)
    report = told_of(made.recording(), made.passage, made.line.tempo_qpm)
    heard, notes, counts = {n.index: n for n in report.notes}, made.passage.notes, Counter()
    told = [told_outcome(heard.get(index), note.midi) for index, note in enumerate(notes)]
    excused = set()
    for true in made.truth.notes:
        outcome, index = told[true.index], true.index
        if true.outcome == "other":
            sounded = round(true.midi - made.truth.tuning_cents / 100.0)
            beside = any(notes[index + step].midi == sounded for step in (-1, 1))
            counts["beside" if beside else "apart", outcome] += 1
        elif true.outcome == "missing" and _has_equal(notes, index):
            equal = [at for at in (index, index - 1, index + 1) if
                     notes[at].midi == notes[index].midi and told[at] == "missing"]
            excused.update(equal[:1])
            counts["equal", "missing" if equal else outcome] += 1
        elif true.outcome == "missing":
            counts["left out", outcome] += 1
    for true in made.truth.notes:
        right = told[true.index] == true.outcome or true.index in excused
        if true.outcome != "octave" and not right:
            counts["false", told[true.index]] += 1
    return counts


def asked_seeds(purpose: str) -> argparse.ArgumentParser:
    """What a benchmark that fits odds is asked: seeds of the usual kind, of this one, of runs."""
    asked = argparse.ArgumentParser(description=purpose)
    asked.add_argument("--seeds", required=True, help="development seeds, with commas")
    asked.add_argument("--beside", default="", help="seeds with faults at a neighbour's pitch")
    asked.add_argument("--runs", default="", help="seeds with faults in a row (fault_runs.py)")
    asked.add_argument("--takes", type=int, default=144)
    return asked


def looked_at_all(look: Callable[[int, str, int], list], chosen: argparse.Namespace) -> list[tuple]:
    """The rows that ``look`` finds in every take that was asked for, each after its seed."""
    tones.fonts()
    lines.scores()
    rows = []
    for kind, seeds in (
        ("main", chosen.seeds), (KIND, chosen.beside), (fault_runs.KIND, chosen.runs)
    ):  # fmt: skip
        takes.KINDS[kind] = takes.KINDS["main"]
        for seed in map(int, filter(None, seeds.split(","))):
            heard = on_both_cores(partial(look, seed, kind), range(chosen.takes))
            rows += [(seed, *row) for one in heard for row in one]
    return rows


def main() -> None:
    """Make, hear, print."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--seeds", required=True, help="with commas between them")
    asked.add_argument("--takes", type=int, default=144)
    chosen = asked.parse_args()
    takes.KINDS[KIND] = takes.KINDS["main"]
    tones.fonts()
    lines.scores()
    counts = Counter()
    for seed in map(int, chosen.seeds.split(",")):
        counts += sum(on_both_cores(partial(told, seed), range(chosen.takes)), Counter())
    for where, (words, outcome) in PLACES.items():
        of = {told: n for (place, told), n in counts.items() if place == where}
        share = proportion(of.get(outcome, 0), sum(of.values()))
        print(f"{words}: told {share}; {', '.join(f'{one} {n}' for one, n in sorted(of.items()))}")
    for outcome in ("other", "missing"):
        hit = sum(counts[where, outcome] for where, (_, own) in PLACES.items() if own == outcome)
        print(f"{outcome}, precision: {proportion(hit, hit + counts['false', outcome])}")


if __name__ == "__main__":
    main()
