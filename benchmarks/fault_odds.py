"""The odds that what was told of a note is so: fitted on made takes, and how well they hold.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/fault_odds.py --seeds
2701,2801,2901,3001,3101 --beside 2701,2801,2901 [--runs 4501] [--takes 144]``.
The first seeds are those of `benchmarks/listening.py`, the second have faults at a neighbour's
pitch as well (`benchmarks/neighbour_pitch.py`), the third faults in a row
(`benchmarks/fault_runs.py`). For each thing that can be told of a note it prints how often it is so
where the odds say so, each seed told by the others and by the weights that stand as ``ODDS`` in
`standlight.sound.belief`; and with ``--weights`` the weights, with ``--only SIGN,SIGN`` those
alone while all others stand. Seeds that it is run on are seen.
"""

from __future__ import annotations

import sys
from collections import Counter
from functools import partial
from pathlib import Path
from unittest.mock import patch

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np

from benchmarks import neighbour_pitch
from benchmarks.hearing import takes
from benchmarks.hearing.accuracy import told_of
from benchmarks.hearing.judging import told_outcome
from benchmarks.hearing.odds import by_the_others, fitted
from standlight.sound import belief, performing, second_look

EDGES = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.95, 0.98, 1.0)
"""Between these the share that is so is printed."""

FIRST_LOOK = ("other", "missing")
"""What the first look may give back is taken as it was told before it."""


def looked_at(seed: int, kind: str, number: int) -> list[tuple[str, dict[str, float], str]]:
    """Of every note of a take what was told, its signs, and what is true."""
    made, rows, now = takes.take(seed, kind, number, neighbour_pitch.MAKERS.get(kind)), [], []
    looks = {name: getattr(performing, name) for name in ("looked_again", "with_probabilities")}
    read = belief.signs_of

    def look(name, heard, scene):
        now[:] = [name]
        count = Counter(note.index for note in heard)
        now.append({index for index, times in count.items() if times == 1})
        return looks[name](heard, scene)

    def signs(note, place, beside, scene):
        found, told = read(note, place, beside, scene), belief.told_as(note, scene)
        if (now[0] == "looked_again") == (told in FIRST_LOOK) and note.index in now[1]:
            rows.append((note.index, told, found))
        return found

    with (patch.object(performing, "looked_again", partial(look, "looked_again")),
          patch.object(performing, "with_probabilities", partial(look, "with_probabilities")),
          patch.object(second_look, "signs_of", signs)):  # fmt: skip
        report = told_of(made.recording(), made.passage, made.line.tempo_qpm)
    true = _truth(made, {note.index: note for note in report.notes})
    return [(told, found, true[index]) for index, told, found in rows]


def _truth(made: takes.MadeTake, heard: dict) -> dict[int, str]:
    """What became of every note; of equal notes the one that was told missing is."""
    notes = made.passage.notes
    true = {note.index: note.outcome for note in made.truth.notes}
    told = {index: told_outcome(note, notes[index].midi) for index, note in heard.items()}
    for index in [at for at, outcome in true.items() if outcome == "missing"]:
        for at in (index - 1, index + 1):
            equal = 0 <= at < len(notes) and notes[at].midi == notes[index].midi
            if equal and told.get(at) == "missing" != told.get(index):
                true[index], true[at] = "played", "missing"
                break
    return true


def counted(name: str, chance: np.ndarray, true: np.ndarray) -> None:
    """Print the share that is so, by what the odds say."""
    cells = []
    for low, high in zip(EDGES[:-1], EDGES[1:], strict=True):
        here = (chance >= low) & ((chance < high) | (high == EDGES[-1]))
        if here.any():
            cells.append(f"{low:g} to {high:g}: {true[here].mean():.2f} of {here.sum()}")
    loss = -np.log(np.where(true, np.maximum(chance, 1e-6), np.maximum(1.0 - chance, 1e-6)))
    print(f"  {name} (loss {loss.mean():.4f}): {'; '.join(cells)}")


def main() -> None:
    """Hear, fit, print."""
    asked = neighbour_pitch.asked_seeds(__doc__.splitlines()[0])
    asked.add_argument("--weights", action="store_true", help="print the weights, too")
    asked.add_argument("--only", default="", help="fit these signs alone, with commas")
    chosen = asked.parse_args()
    rows = neighbour_pitch.looked_at_all(looked_at, chosen)
    for told, odds in belief.ODDS.items():
        mine = [row for row in rows if row[1] == told]
        true = np.array([row[3] == told for row in mine])
        signs = np.array([[row[2][name] for name in odds] for row in mine])
        of = np.array([row[0] for row in mine])
        print(f"told as {told}: {true.sum()} of {len(true)} are")
        weighed = {"weights that stand": signs @ np.array(list(odds.values()))}
        if len(np.unique(of)) > 1:
            weighed["each seed by the others"] = by_the_others(signs, true, of)
        for name, log_odds in weighed.items():
            counted(name, 1.0 / (1.0 + np.exp(-log_odds)), true)
        only = [name for name in odds if name in chosen.only.split(",")]
        if only:
            own = signs[:, [list(odds).index(name) for name in only]]
            standing = np.array(list(odds.values()))
            rest = signs @ standing - own @ np.array([odds[name] for name in only])
            weights = fitted(own, true, rest)
            chance = 1.0 / (1.0 + np.exp(-(rest + own @ weights)))
            counted("these fitted, the others as they stand", chance, true)
            print("  " + ", ".join(f'"{n}": {w:.3g}' for n, w in zip(only, weights, strict=True)))
        if chosen.weights:
            weights = zip(odds, fitted(signs, true).round(3).tolist(), strict=True)
            print("  " + ", ".join(f'"{name}": {weight:g}' for name, weight in weights))


if __name__ == "__main__":
    main()
