"""Rolled notes of a percussion part looked into: the strokes inside them, one by one."""

from __future__ import annotations

import numpy as np

from standlight.sound.onsets import stroke_onsets
from standlight.sound.spectrum import power_by_frame
from standlight.sound.values import Performance, Recording, Roll

ROLL_MARK = "tremolo"
"""The mark of a rolled note."""

STEP_S = 0.001
"""Energy is looked at this finely."""

RISE_S = 0.006
"""A stroke's energy rises within so long (common practice, no source)."""

LEAST_RISE_DB = 3.0
"""A smaller rise over ``RISE_S`` is no stroke (chosen on made rolls)."""

SHORTEST_GAP_S = 0.020
"""Strokes are at least so far apart: 50 a second, faster than hands or bounces (our choice)."""

LONGEST_ROLL_S = 8.0
"""A roll at the end, where no note follows, is followed for so long at most (our choice)."""

CLEAR_STRENGTH = 0.10
"""Strokes of bars and kettles are told by `onsets.stroke_onsets` from this strength on."""

_FLOOR_POWER = 1e-12


def rolls_of(recording: Recording, performance: Performance) -> tuple[Roll, ...]:
    """Every rolled note that was heard, with its strokes; none when no roll is written."""
    written = performance.passage.notes
    if not any(ROLL_MARK in note.marks for note in written):
        return ()
    quarter_s = 60.0 / (performance.tempo_qpm or performance.marked_tempo_qpm)
    heard = [note for note in performance.notes if note.onset_s is not None]
    rings = any(note.midi is not None for note in written)
    ringing = _ringing_strokes(recording) if rings else None
    found = []
    for place, note in enumerate(heard):
        if ROLL_MARK not in written[note.index].marks:
            continue
        lasts_s = min(float(written[note.index].duration_quarters) * quarter_s, LONGEST_ROLL_S)
        end_s = note.onset_s + lasts_s
        following = [other.onset_s for other in heard[place + 1 :] if other.onset_s > note.onset_s]
        if following:
            end_s = min(end_s, min(following) - SHORTEST_GAP_S / 2.0)
        if ringing is None:
            onsets_s, levels_db = strokes_between(recording, note.onset_s, end_s)
        else:
            onsets_s, levels_db = _within(*ringing, note.onset_s, end_s)
        found.append(Roll(note.index, tuple(onsets_s.tolist()), tuple(levels_db.tolist())))
    return tuple(found)


def _ringing_strokes(recording: Recording) -> tuple[np.ndarray, np.ndarray]:
    """All clear strokes of what rings on, whose energy need not rise: seconds and decibel."""
    times_s, strengths = stroke_onsets(recording)
    times_s = times_s[strengths >= CLEAR_STRENGTH]
    power = power_by_frame(recording.samples, recording.rate_hz, STEP_S)
    first = np.round(times_s / STEP_S).astype(int)
    tops = [power[at : at + round(SHORTEST_GAP_S / STEP_S)].max(initial=0.0) for at in first]
    return times_s, 10.0 * np.log10(np.maximum(tops, _FLOOR_POWER))


def _within(
    times_s: np.ndarray, levels_db: np.ndarray, start_s: float, end_s: float
) -> tuple[np.ndarray, np.ndarray]:
    """The strokes from ``start_s`` up to ``end_s``."""
    inside = (times_s > start_s - RISE_S) & (times_s < end_s)
    return times_s[inside], levels_db[inside]


def strokes_between(
    recording: Recording, start_s: float, end_s: float
) -> tuple[np.ndarray, np.ndarray]:
    """Strokes between two times: seconds and peak levels in decibel, both ``(strokes,)``."""
    first = max(start_s - 2.0 * RISE_S, 0.0)
    step = max(1, round(STEP_S * recording.rate_hz))
    piece = recording.samples[int(first * recording.rate_hz) : int(end_s * recording.rate_hz)]
    blocks = len(piece) // step
    rise = max(1, round(RISE_S / STEP_S))
    if blocks < 3 * rise:
        return np.zeros(0), np.zeros(0)
    power = np.square(piece[: blocks * step], dtype=np.float64).reshape(blocks, step).mean(axis=1)
    power = np.convolve(power, np.full(3, 1.0 / 3.0), mode="same")
    level = 10.0 * np.log10(np.maximum(power, _FLOOR_POWER))
    low = np.lib.stride_tricks.sliding_window_view(np.pad(level, (rise, 0), mode="edge"), rise)
    rises = level - low[:blocks].min(axis=1)
    reach = round(SHORTEST_GAP_S / STEP_S)
    around = np.lib.stride_tricks.sliding_window_view(np.pad(level, reach, mode="edge"), 2 * reach)
    tops = np.flatnonzero((level >= around[:blocks].max(axis=1)) & (rises >= LEAST_RISE_DB))
    kept: list[int] = []
    for top in tops:
        if not kept or top - kept[-1] >= reach:
            kept.append(int(top))
    at = np.array(kept, dtype=int)
    return first + at * step / recording.rate_hz, level[at]
