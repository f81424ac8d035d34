"""Wrong notes that have the pitch of the note beside them: are they told, or taken for its tail?

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/neighbour_pitch.py --seeds
2701,2801,2901 [--takes 144]``.
The generator of `benchmarks/listening.py` never plants such a note, so that every planted fault has
one explanation; musicians do play them. Here half of the wrong notes take the pitch of a neighbour
up to a fourth away. Prints as what they and the others were told, and the precision that is left.
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

KIND = "beside"
"""Its takes are kept under this word; what else is planned for them is as in the main kind."""

BESIDE_SHARE, FARTHEST_SEMITONES = 0.5, 5

_instead = playing._instead


def instead(rng, notes, index: int, fault: str) -> int:
    """The pitch sounded instead of written note ``index``: half the time that of a neighbour."""
    if fault == "octave" or rng.random() < 1.0 - BESIDE_SHARE:
        return _instead(rng, notes, index, fault)
    own = notes[index].midi
    near = [notes[index + step].midi for step in (-1, 1)]
    near = [midi for midi in near if 0 < abs(midi - own) <= FARTHEST_SEMITONES]
    return int(rng.choice(near)) if near else _instead(rng, notes, index, fault)


def make(seed: int, kind: str, number: int) -> takes.MadeTake:
    """A new take with such notes."""
    with patch.object(playing, "_instead", instead):
        return takes.make(seed, kind, number)


def told(seed: int, number: int) -> Counter:
    """What became of a take's wrong notes, by where their pitch was from, and false ones."""
    made = takes.take(seed, KIND, number, make)
    report = told_of(made.recording(), made.passage, made.line.tempo_qpm)
    heard, notes, counts = {n.index: n for n in report.notes}, made.passage.notes, Counter()
    for true in made.truth.notes:
        outcome = told_outcome(heard.get(true.index), notes[true.index].midi)
        if true.outcome != "other":
            counts["false", outcome] += true.outcome != "octave"
            continue
        sounded = round(true.midi - made.truth.tuning_cents / 100.0)
        beside = any(notes[true.index + step].midi == sounded for step in (-1, 1))
        counts["beside" if beside else "apart", outcome] += 1
    return counts


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
    for where in ("beside", "apart"):
        of = {outcome: n for (place, outcome), n in counts.items() if place == where}
        words = ", ".join(f"{outcome} {n}" for outcome, n in sorted(of.items()))
        share = proportion(of.get("other", 0), sum(of.values()))
        print(f"wrong notes {where}: told {share}; {words}")
    hit = counts["beside", "other"] + counts["apart", "other"]
    print(f"precision: {proportion(hit, hit + counts['false', 'other'])}")


if __name__ == "__main__":
    main()
