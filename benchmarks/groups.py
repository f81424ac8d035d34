"""The common pulse of small groups: four made lines of different rhythm at once, one asked.

``PYTHONPATH=src python benchmarks/groups.py [GROUPS] [SEED]``: each group keeps an even tempo of
75 to 125 percent of the mark, every entry scattered by 12 ms, so that the true tempo is exact.
Counts the groups read within half a percent, those that were not followed (which is said) and
those read wrong; then how often a line that nobody plays is read at all.
"""

from __future__ import annotations

import sys
from fractions import Fraction
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from tests.sound.groups import passage_of, sung  # noqa: E402

from standlight.score.values import Passage  # noqa: E402
from standlight.sound import perform_together  # noqa: E402

MARK_QPM, QUARTERS, SCATTER_MS, NEAR = 96.0, 32, 12.0, 0.005
SCALE = (0, 2, 4, 5, 7, 9, 11)
VOICES = (
    (60, 79, (0.5, 1.0, 1.0, 2.0)), (55, 72, (0.5, 1.0, 1.0)),
    (48, 67, (1.0, 0.5, 2.0)), (40, 60, (1.0, 1.0, 2.0, 0.5)),
)  # fmt: skip
"""Lowest and highest note of each line, and the lengths it is made of, in quarters."""


def line(low: int, high: int, lengths: tuple[float, ...], rng: np.random.Generator) -> Passage:
    """A line of steps in C major, ``QUARTERS`` long."""
    made, left = [], float(QUARTERS)
    while left:
        made.append(min(float(rng.choice(lengths)), left))
        left -= made[-1]
    pitches = [midi for midi in range(low, high + 1) if midi % 12 in SCALE]
    steps = np.cumsum(rng.integers(-2, 3, size=len(made))) + len(pitches) // 2
    places = np.clip(steps, 0, len(pitches) - 1)
    return passage_of([pitches[at] for at in places], [Fraction(one) for one in made])


def main(groups: int, first_seed: int) -> int:
    """Print the counts; 0 always, since no figure is promised."""
    right, silent, invented, wrong = 0, 0, 0, []
    for seed in range(first_seed, first_seed + groups):
        rng = np.random.default_rng(seed)
        lines = [line(*voice, rng) for voice in VOICES]
        tempo_qpm = MARK_QPM * rng.uniform(0.75, 1.25)
        take = sung(lines, tempo_qpm, spread_ms=SCATTER_MS, seed=seed)
        read = perform_together(take, lines[int(rng.integers(4))], MARK_QPM).tempo_qpm
        silent += read is None
        if read is not None and abs(read / tempo_qpm - 1.0) < NEAR:
            right += 1
        elif read is not None:
            wrong.append(f"{100.0 * (read / tempo_qpm - 1.0):+.1f}")
        nobodys = line(48, 79, (0.5, 1.0, 1.0, 2.0), rng)
        invented += perform_together(take, nobodys, MARK_QPM).tempo_qpm is not None
    print(f"{groups} groups, seeds from {first_seed}: {right} within {100 * NEAR} percent of the "
          f"true tempo, {silent} not followed, {len(wrong)} wrong ({', '.join(wrong)} percent)")
    print(f"a line that nobody plays: read in {invented} of {groups}")
    return 0


if __name__ == "__main__":
    words = [int(word) for word in sys.argv[1:]] + [60, 1400][len(sys.argv) - 1 :]
    raise SystemExit(main(*words))
