"""Counting what the listener got right against a take's truth, for tests and benchmarks."""

from __future__ import annotations

from collections import Counter

import numpy as np
from tests.sound.takes import Take

NEAR_S = 0.15


def compare(take: Take, report) -> dict:
    """Onset errors (ms), cents errors, and counts of faults found, missed and made up."""
    truth = take.last_played()
    onset_ms, cents, counts = [], [], Counter()
    for note in report.notes:
        true = truth.get(note.index)
        skipped = true is None
        wrong = note.index in take.wrong and not (  # put right in the last attempt is right
            true is not None and abs(true.midi - take.passage.notes[note.index].midi) < 0.5
        )
        counts["notes"] += true is not None
        if note.onset_s is not None and true is not None:
            onset_ms.append(1000.0 * (note.onset_s - true.onset_s))
        if note.deviation_cents is not None and true is not None and not wrong:
            written = take.passage.notes[note.index].midi
            cents.append(note.deviation_cents - 100.0 * (true.midi - written))
        for name, is_true, told in (
            ("other_pitch", wrong, note.outcome == "other_pitch"),
            ("missing", skipped, note.outcome == "missing"),
            ("wrong_or_missing", wrong or skipped, note.outcome != "played"),
        ):
            counts[f"{name}_true"] += is_true
            counts[f"{name}_told"] += told
            counts[f"{name}_hit"] += is_true and told
    left = [added.onset_s for added in report.added]
    counts["added_true"] += len(take.added)
    counts["added_told"] += len(left)
    for onset in take.added:
        near = [one for one in left if abs(one - onset) < NEAR_S]
        counts["added_hit"] += bool(near)
        if near:
            left.remove(near[0])
    counts["restart_true"] += take.restart_to is not None
    counts["restart_told"] += len(report.restarts)
    counts["restart_hit"] += take.restart_to is not None and any(
        restart.to_index == take.restart_to for restart in report.restarts
    )
    return {"onset_ms": np.array(onset_ms), "cents": np.array(cents), "counts": counts}


def summed(results: list[dict]) -> dict:
    """Many comparisons as one."""
    return {
        "onset_ms": np.concatenate([one["onset_ms"] for one in results]),
        "cents": np.concatenate([one["cents"] for one in results]),
        "counts": sum((one["counts"] for one in results), Counter()),
    }
