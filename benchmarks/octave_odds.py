"""The odds by which a note's octave is told: fitted on made takes, each seed told by the others.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/octave_odds.py --seeds
2701,2801,2901,3001,3101,3301,3401,3501 [--takes 144]``. Prints the weights, which stand (half a
point added) as ``UP_ODDS`` and ``DOWN_ODDS`` in `standlight.sound.octaves`, and what slips would be
told and how many falsely; then the same with the weights that stand there. Seeds that it is run on
are seen. Some minutes a seed, more where the takes are still to be made.
"""

from __future__ import annotations

import argparse
import sys
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np

from benchmarks.hearing import lines, tones
from benchmarks.hearing.accuracy import on_both_cores, told_of
from benchmarks.hearing.odds import by_the_others, fitted
from benchmarks.hearing.takes import take
from standlight.sound import octaves

NEAR_S = 0.1
"""A note counts where it was heard within this of its true start."""

ADDED_POINTS = 0.5


def looked_at(seed: int, number: int) -> list[tuple]:
    """Every note of a take whose octave was asked about.

    As ``(signs above, signs below, half-way peak in dB, whether a pitch was seen, truth)``.
    """
    made, asked = take(seed, "main", number), []
    decide = octaves._octave

    def watched(note, midi, level, usual):
        asked.append((note, midi, level, usual))
        return decide(note, midi, level, usual)

    octaves._octave = watched
    try:
        told_of(made.recording(), made.passage, made.line.tempo_qpm)
    finally:
        octaves._octave = decide
    truth = {note.index: note for note in made.truth.notes}
    rows = []
    for note, midi, level, usual in asked:
        true = truth[note.index]
        if true.onset_s is None or abs(note.onset_s - true.onset_s) > NEAR_S:
            continue
        seen = 0.0 if note.midi_heard is None else (note.midi_heard - midi) / 12.0
        way = 0
        if true.outcome == "octave":
            way = 1 if true.midi > made.passage.notes[note.index].midi else -1
        rows.append((
            octaves._signs_above(level, usual, seen), octaves._signs_below(level, usual, seen),
            level.between_peak_db, note.midi_heard is not None, way,
        ))  # fmt: skip
    return rows


def told(up: np.ndarray, down: np.ndarray, peak_db: np.ndarray, seen: np.ndarray) -> np.ndarray:
    """1, -1 or 0 of every note, as `octaves._octave` decides."""
    up = np.where(seen, up, -np.inf)
    down = np.where(peak_db >= octaves.LEAST_BETWEEN_DB, down, -np.inf)
    return np.where(np.maximum(up, down) <= 0.0, 0, np.where(up > down, 1, -1))


def counted(name: str, decided: np.ndarray, way: np.ndarray) -> None:
    """Print how many slips were told, and how many that were none."""
    cells = [f"{word} {np.sum((decided == one) & (way == one))} of {np.sum(way == one)}, "
             f"{np.sum((decided == one) & (way != one))} falsely"
             for word, one in (("up", 1), ("down", -1))]  # fmt: skip
    print(f"{name}: {'; '.join(cells)}", flush=True)


def main() -> None:
    """Hear, fit, print."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--seeds", required=True, help="development seeds, with commas")
    asked.add_argument("--takes", type=int, default=144)
    chosen = asked.parse_args()
    tones.fonts()
    lines.scores()
    rows, seeds = [], []
    for seed in map(int, chosen.seeds.split(",")):
        mine = [row for one in on_both_cores(partial(looked_at, seed), range(chosen.takes))
                for row in one]  # fmt: skip
        rows, seeds = rows + mine, seeds + [seed] * len(mine)
    above, below, peak_db, seen, way = (np.array(column) for column in zip(*rows, strict=True))
    seeds = np.array(seeds)
    print(f"{len(way)} notes of {len(np.unique(seeds))} seeds")
    if len(np.unique(seeds)) > 1:
        up = by_the_others(above, way == 1, seeds) + ADDED_POINTS
        down = by_the_others(below, way == -1, seeds) + ADDED_POINTS
        counted("each seed by the others", told(up, down, peak_db, seen), way)
    standing = above @ np.array(octaves.UP_ODDS), below @ np.array(octaves.DOWN_ODDS)
    counted("the weights that stand", told(*standing, peak_db, seen), way)
    for name, signs, one in (("up", above, 1), ("down", below, -1)):
        print(f"{name}, without the half point: {fitted(signs, way == one).round(3).tolist()}")


if __name__ == "__main__":
    main()
