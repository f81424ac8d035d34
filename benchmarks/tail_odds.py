"""The odds by which a tail is told from a note that repeats a pitch: fitted on made takes.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/tail_odds.py --seeds
2701,2801,2901,3001,3101,3301,3401,3501 --beside 2701,2801,2901 [--takes 144]``. The first seeds are
those of `benchmarks/listening.py`, the second have wrong notes at a neighbour's pitch as well
(`benchmarks/neighbour_pitch.py`). Prints the weights, which stand as ``ODDS`` in
`standlight.sound.tails`, and how many new notes would be believed and how many tails falsely: each
fifth of the takes by the others, with the weights that stand, and by what was asked before them, a
clear start that is no echo. Seeds that it is run on are seen.
"""

from __future__ import annotations

import sys
from pathlib import Path
from unittest.mock import patch

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np

from benchmarks import neighbour_pitch
from benchmarks.hearing import takes
from benchmarks.hearing.accuracy import told_of
from benchmarks.hearing.odds import by_the_others, fitted
from standlight.sound import noting, tails

FIFTHS = 5


def looked_at(seed: int, kind: str, number: int) -> list[tuple]:
    """Every place of a take where it was asked: ``(signs, begins clearly, is a new note, fifth)``.

    Only those where a note was left out, or another pitch played.
    """
    made, rows, asking = takes.take(seed, kind, number, neighbour_pitch.MAKERS.get(kind)), [], []
    truth = {note.index: note.outcome for note in made.truth.notes}
    left_over, is_tail = noting._is_left_over, noting.is_tail

    def asked(sounding, before, midi, share, frames):
        asking[:] = [sounding, frames]
        return left_over(sounding, before, midi, share, frames)

    def watched(*args):
        sounding, frames = asking
        clear = frames.starts(sounding.onset_s) and not frames.echoes(sounding.onset_s)
        if truth[sounding.index] in ("missing", "other"):
            new = truth[sounding.index] == "other"
            rows.append((tails._signs(*args), clear, new, number % FIFTHS))
        return is_tail(*args)

    with patch.object(noting, "_is_left_over", asked), patch.object(noting, "is_tail", watched):
        told_of(made.recording(), made.passage, made.line.tempo_qpm)
    return rows


def counted(name: str, believed: np.ndarray, new: np.ndarray) -> None:
    """Print how many new notes are believed, and how many tails."""
    print(f"{name}: {np.sum(believed & new)} of {np.sum(new)} new notes, "
          f"{np.sum(believed & ~new)} of {np.sum(~new)} tails")  # fmt: skip


def main() -> None:
    """Hear, fit, print."""
    chosen = neighbour_pitch.asked_seeds(__doc__.splitlines()[0]).parse_args()
    rows = neighbour_pitch.looked_at_all(looked_at, chosen)
    _, signs, clear, new, fifth = (np.array(column) for column in zip(*rows, strict=True))
    counted("each fifth by the others", by_the_others(signs, new, fifth) >= 0.0, new)
    counted("the weights that stand", signs @ np.array(tails.ODDS) >= 0.0, new)
    counted("a clear start that is no echo", clear, new)
    print(f"weights: {fitted(signs, new).round(3).tolist()}")


if __name__ == "__main__":
    main()
