"""How long all readings and lines of a take need, apart from the following: promise 30 ms.

``PYTHONPATH=src python benchmarks/readings.py [TAKES]``: made takes of about 20 s are followed
once; then held notes, rolls, every criterion, tempo curve and loudness line are timed by their
best of five in processor time (other work on the machine does not count). Prints the median
and the slowest take.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from tests.sound.takes import TIMBRES, make_take  # noqa: E402

from standlight.criteria import CRITERIA, spots_of  # noqa: E402
from standlight.sound import (  # noqa: E402
    Performance,
    Recording,
    held_notes,
    loudness_line,
    perform,
    rolls_of,
    tempo_curve,
)

PROMISE_MS = 30.0
TAKE_S = 20.0
REPEATS = 5


def everything(recording: Recording, performance: Performance) -> int:
    """All readings and lines of one take; how many figures and points they are."""
    whole = replace(
        performance,
        held=held_notes(recording, performance),
        rolls=rolls_of(recording, performance),
    )
    pitched = [one for one in CRITERIA.values() if one.key != "evenness"]
    readings = [reading for one in pitched if one.read for reading in one.read(whole)]
    lines = [*tempo_curve(whole), *loudness_line(recording, whole)]
    return len(readings) + len(lines) + len(spots_of(whole, pitched))


def main(takes: int) -> int:
    """Print the table; 0 when the slowest take keeps the promise for 20 s."""
    spent_ms, lengths_s = [], []
    for seed, timbre in zip(range(takes), list(TIMBRES) * takes, strict=False):
        take = make_take(seed, timbre=timbre, count=30)
        performance = perform(take.recording, take.passage, take.tempo_qpm)
        best = np.inf
        for _ in range(REPEATS):
            start = time.process_time()
            everything(take.recording, performance)
            best = min(best, time.process_time() - start)
        spent_ms.append(1000.0 * best)
        lengths_s.append(take.recording.seconds)
    share = np.array(spent_ms) * TAKE_S / np.array(lengths_s)
    print(f"{takes} takes of {min(lengths_s):.0f} to {max(lengths_s):.0f} s")
    print(f"all readings, ms for 20 s: median {np.median(share):.1f}, slowest {share.max():.1f}")
    return int(share.max() > PROMISE_MS)


if __name__ == "__main__":
    raise SystemExit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 16))
