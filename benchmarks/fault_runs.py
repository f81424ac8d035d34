"""Faults in a row: a phrase in the wrong octave, a missed key, a bar left out. Are they told?

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/fault_runs.py --seeds 4501,4801
[--takes 144] [--list]``.
The generator of `benchmarks/listening.py` never plants a fault beside another, so that each has one
explanation; musicians do play whole phrases wrong. Here every take has up to two runs of two to
eight notes, all an octave off to one side, all another pitch by one step, or all left out, and the
usual faults where they are apart from those. Prints as what the notes of runs were told, by kind
and by length, and the precision over all notes. A seed that it is run on is seen.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from functools import partial
from pathlib import Path
from unittest.mock import patch

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.hearing import lines, playing, takes, tones
from benchmarks.hearing.accuracy import on_both_cores, told_of
from benchmarks.hearing.intervals import proportion
from benchmarks.hearing.judging import told_outcome
from standlight.listening import METHOD

KIND = "runs"
"""Its takes are kept under this word; what else is planned for them is as in the main kind."""

OUTCOMES = ("octave", "other", "missing")
LENGTHS, MOST_RUNS, LARGEST_SHARE = (2, 3, 4, 6, 8), 2, 0.25
"""Notes of a run, runs of a take, and no run is a larger share of the part."""

STEPS = (-2, -1, 1, 2)
"""Semitones by which a run of wrong notes lies off: a missed key, a wrong clef, a slipped hand."""

LOW_MIDI, HIGH_MIDI = 60, 76
"""Runs below the one go an octave up, above the other down, as the usual octaves do."""

Run = tuple[int, int, str, int]
"""First note, number of notes, what becomes of them, semitones they are off."""

_instead, _faults = playing._instead, playing._faults


def runs_of(rng, notes) -> list[Run]:
    """Runs that fit into ``notes``, apart from each other and from both ends."""
    found: list[Run] = []
    for kind in rng.permutation(OUTCOMES)[:MOST_RUNS]:
        count = int(min(rng.choice(LENGTHS), LARGEST_SHARE * len(notes)))
        starts = [int(at) for at in rng.permutation(len(notes) - count - 4) + 2]
        for first in starts if count >= min(LENGTHS) else ():
            if all(first > at + many + 2 or first + count + 2 < at for at, many, _, _ in found):
                found.append((first, count, str(kind), _off(rng, notes[first].midi, str(kind))))
                break
    return found


def _off(rng, midi: int, kind: str) -> int:
    """How many semitones a run that begins at ``midi`` lies off."""
    if kind != "octave":
        return int(rng.choice(STEPS))
    return 12 if midi < LOW_MIDI else -12 if midi > HIGH_MIDI else int(rng.choice((-12, 12)))


def make(seed: int, kind: str, number: int) -> takes.MadeTake:
    """A new take with such runs."""
    off: dict[int, int] = {}

    def faults(rng, notes, plan) -> dict[int, str]:
        runs = runs_of(rng, notes)
        planted = {at: word for first, count, word, _ in runs for at in range(first, first + count)}
        off.update((at, by) for first, count, _, by in runs for at in range(first, first + count))
        apart = {
            at: word
            for at, word in _faults(rng, notes, plan).items()
            if all(abs(at - other) > playing.LEAST_APART for other in planted)
        }
        return {**apart, **planted}

    def instead(rng, notes, index: int, fault: str) -> int:
        return notes[index].midi + off[index] if index in off else (
            _instead(rng, notes, index, fault)
        )  # fmt: skip

    with (patch.object(playing, "_instead", instead), patch.object(playing, "_faults", faults)):
        return takes.make(seed, kind, number)


def planted_runs(outcomes: dict[int, str]) -> list[tuple[int, int, str]]:
    """First note, number of notes and outcome of every run of equal faults of two and more.

    >>> planted_runs({0: "played", 1: "octave", 2: "octave", 3: "played", 4: "other"})
    [(1, 2, 'octave')]
    """
    runs: list[tuple[int, int, str]] = []
    for index in sorted(outcomes):
        outcome = outcomes[index]
        if outcome not in OUTCOMES:
            continue
        if runs and runs[-1][2] == outcome and sum(runs[-1][:2]) == index:
            runs[-1] = (runs[-1][0], runs[-1][1] + 1, outcome)
        else:
            runs.append((index, 1, outcome))
    return [run for run in runs if run[1] >= min(LENGTHS)]


def told(seed: int, number: int) -> tuple[str, Counter, list[str]]:
    """Name, counts by place and outcome, and a line for each run that was not told whole."""
    made, counts, said = takes.take(seed, KIND, number, make), Counter(), []
    report = told_of(made.recording(), made.passage, made.line.tempo_qpm)
    heard, notes = {note.index: note for note in report.notes}, made.passage.notes
    as_told = {at: told_outcome(heard.get(at), note.midi) for at, note in enumerate(notes)}
    true = {note.index: note.outcome for note in made.truth.notes}
    for first, count, outcome in planted_runs(true):
        own = [as_told[at] for at in range(first, first + count)]
        counts.update((outcome, f"{count}", one == outcome) for one in own)
        counts.update((outcome, "as", one) for one in own)
        if any(one != outcome for one in own):
            said.append(f"{made.name}: {first} to {first + count - 1} {outcome}: {' '.join(own)}")
    for at, outcome in as_told.items():
        counts["all", outcome, outcome == true[at]] += 1
    counts.update(("verdict", verdict.code, True) for verdict in report.verdicts)
    return made.name, counts, said


def main() -> None:
    """Make, hear, print."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--seeds", required=True, help="with commas between them")
    words.add_argument("--takes", type=int, default=144)
    words.add_argument("--list", action="store_true", help="print every run not told whole")
    asked = words.parse_args()
    takes.KINDS[KIND] = takes.KINDS["main"]
    tones.fonts()
    lines.scores()
    counts = Counter()
    for seed in map(int, asked.seeds.split(",")):
        for _, found, said in on_both_cores(partial(told, seed), range(asked.takes)):
            counts += found
            if asked.list:
                print(*said, sep="\n", end="\n" if said else "")
    print(f"Method {METHOD}, seeds {asked.seeds}, {asked.takes} takes each.")
    for outcome in OUTCOMES:
        as_what = {key[2]: n for key, n in counts.items() if key[:2] == (outcome, "as")}
        lengths = []
        for length in map(str, LENGTHS):
            hit, missed = counts[outcome, length, True], counts[outcome, length, False]
            if hit + missed:
                lengths.append(f"{length}: {hit} of {hit + missed}")
        share = proportion(as_what.get(outcome, 0), sum(as_what.values()))
        print(f"{outcome} in runs, told: {share}; as {as_what}; by length {'; '.join(lengths)}")
        right, wrong = counts["all", outcome, True], counts["all", outcome, False]
        print(f"{outcome}, precision over all notes: {proportion(right, right + wrong)}")
    print("verdicts:", {key[1]: n for key, n in counts.items() if key[0] == "verdict"})


if __name__ == "__main__":
    main()
