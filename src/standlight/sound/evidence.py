"""What the follower looks at: how each frame agrees with each pitch, and where notes may begin.

A boundary between notes lies only where something happens (the sound rises, the pitch
changes, a voice starts or ends) or, where nothing does, on a coarse grid: the second pass
moves boundaries by more than the grid is wide, and a search over few boundaries is quick.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standlight.sound.values import PitchTrack

SILENT_FRAME = -0.05
"""Score of a silent frame inside a note: short notes are no fault."""

LEAST_PEAK = 0.06
"""Onset evidence below is no place for a boundary of its own."""

PEAK_REACH = 2
"""Frames on both sides over which a boundary's evidence is the highest."""

QUIET_WEIGHT = 0.15
"""A stretch is silent where its frames weigh no more in the mean (trials)."""

GRID_FRAMES = 10
"""Boundaries are at most so far apart (the second pass moves them by 16)."""

AGAIN_FROM, AGAIN_SPAN = -5.5, 2.5
"""From these log odds on a pitch may begin again, and so much further it needs nothing more. Even
odds would be too much to ask: places inside held notes are many, but few of them fit the written
time (development seed 1900: to ask odds of 0 or -1 for nothing more lost restarts and starts)."""

AGAIN_PEAK, AGAIN_REACH = -4.75, 4
"""Odds at the least, and frames on both sides in which they are highest, of a boundary's place."""

CHANGE_SEMITONES, CHANGE_FRAMES = 0.6, 2
"""A pitch that moves so far in so many frames on both sides is a place for a boundary."""


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """What the follower looks at, all ``(frames,)`` every ``HOP_S``.

    Pitch, its weight, evidence 0..1 of an onset, and log odds that the same pitch begins again.
    """

    midi: np.ndarray
    weight: np.ndarray
    onset: np.ndarray
    again: np.ndarray


def frame_weight(track: PitchTrack) -> np.ndarray:
    """How much a frame's pitch counts, 0..1: 0 where unvoiced, 1 from confidence 0.8."""
    return np.where(track.voiced, np.clip((track.confidence - 0.4) / 0.4, 0.0, 1.0), 0.0)


def evidence_of(track: PitchTrack, onset: np.ndarray, again: np.ndarray) -> Evidence:
    """Pitch, weight, evidence of onsets and odds of new starts cut to their common length."""
    frames = min(len(track.midi), len(onset))
    weight = frame_weight(track)[:frames]
    return Evidence(track.midi[:frames], weight, onset[:frames], again[:frames])


def match_score(midi: np.ndarray, weight: np.ndarray, pitches: np.ndarray) -> np.ndarray:
    """Score -1..1 of each frame for each of ``pitches``, shape ``(frames, pitches)``.

    Full within 0.4 semitones, none at 0.65, against from 0.9; an octave slip of the tracker
    is mild; a silent frame scores ``SILENT_FRAME``.
    """
    apart = np.abs(midi[:, None] - pitches[None, :])
    match = np.clip((0.65 - apart) / 0.25, -1.0, 1.0)
    match = np.where(np.abs(apart - 12.0) < 0.5, np.maximum(match, -0.2), match)
    return weight[:, None] * match + (1.0 - weight[:, None]) * SILENT_FRAME


def other_score(midi: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Score of each frame for some one pitch: full while it stays, against where it moves."""
    moved = np.zeros(len(midi))
    moved[1:] = (np.abs(np.diff(midi)) > 0.6) & (weight[1:] > 0) & (weight[:-1] > 0)
    return weight * (1.0 - 4.0 * moved) + (1.0 - weight) * SILENT_FRAME


def boundaries(evidence: Evidence) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Frames at which a note may begin or end, rising from 0 to the last, and what speaks for it.

    All ``(boundaries,)``: the frame; evidence 0..1 of an onset, 0 on the grid; how surely the same
    pitch begins again, 0..1. Each the highest within ``PEAK_REACH`` frames.

    >>> quiet = Evidence(np.zeros(25), np.zeros(25), np.zeros(25), np.full(25, -9.0))
    >>> [int(frame) for frame in boundaries(quiet)[0]]
    [0, 8, 16, 25]
    """
    frames = len(evidence.midi)
    voiced = evidence.weight > 0.1
    switched = np.flatnonzero(voiced[1:] != voiced[:-1]) + 1
    chosen = np.zeros(frames + 1, dtype=bool)
    chosen[[0, frames]] = True
    chosen[_apart(switched, 3)] = True
    chosen[_changes(evidence.midi, voiced)] = True
    onset = highest(evidence.onset, -PEAK_REACH, PEAK_REACH)
    chosen[:frames] |= (evidence.onset >= onset) & (evidence.onset >= LEAST_PEAK)
    top = highest(evidence.again, -AGAIN_REACH, AGAIN_REACH)
    chosen[:frames] |= (evidence.again >= top) & (evidence.again > AGAIN_PEAK)
    places = _apart(np.flatnonzero(chosen), 2, evidence.onset)
    filled = [np.array([0])]
    for first, last in zip(places[:-1], places[1:], strict=True):
        parts = max(1, int(np.ceil((last - first) / GRID_FRAMES)))
        filled.append(first + (last - first) * np.arange(1, parts + 1) // parts)
    found = np.concatenate(filled)
    odds = highest(evidence.again, -PEAK_REACH, PEAK_REACH)
    again = np.clip((odds - AGAIN_FROM) / AGAIN_SPAN, 0.0, 1.0)
    return found, np.append(onset, 0.0)[found], np.append(again, 1.0)[found]


def highest(values: np.ndarray, first: int, last: int) -> np.ndarray:
    """The highest of ``values`` from ``first`` to ``last`` frames after each one, same shape.

    >>> [int(one) for one in highest(np.array([3, 1, 4, 1, 5]), -1, 0)]
    [3, 3, 4, 4, 5]
    """
    if not len(values):
        return values
    before, after = max(-first, 0), max(last, 0)
    padded = np.pad(values, (before, after), mode="edge")
    around = np.lib.stride_tricks.sliding_window_view(padded, last - first + 1)
    start = before + first
    return around[start : start + len(values)].max(axis=1)


def silence_before(weight: np.ndarray, frames: int) -> tuple[np.ndarray, np.ndarray]:
    """Where so many ``frames`` before are silent, and the frame at which that silence began.

    ``weight`` is ``(n,)``, both are ``(n + 1,)``; the second says nothing where the first is False.

    >>> silent, began = silence_before(np.repeat([1.0, 0.0], 50), 30)
    >>> silent[[50, 75, 76]].tolist(), int(began[76]), int(began[-1])
    ([False, False, True], 50, 50)
    """
    passed, frame = np.append(0.0, np.cumsum(weight)), np.arange(len(weight) + 1)
    silent = passed - passed[np.maximum(frame - frames, 0)] < QUIET_WEIGHT * frames
    first = np.maximum.accumulate(np.where(silent, 0, frame + 1))
    return silent, first - int(np.ceil((1.0 - QUIET_WEIGHT) * frames))


def _changes(midi: np.ndarray, voiced: np.ndarray) -> np.ndarray:
    """Frames in the middle of each change of pitch."""
    if len(midi) <= 2 * CHANGE_FRAMES:
        return np.zeros(0, dtype=int)
    ahead, behind = midi[2 * CHANGE_FRAMES :], midi[: -2 * CHANGE_FRAMES]
    both = voiced[2 * CHANGE_FRAMES :] & voiced[: -2 * CHANGE_FRAMES]
    moved = np.where(both, np.abs(ahead - behind), 0.0)
    padded = np.pad(moved, 2)
    top = np.lib.stride_tricks.sliding_window_view(padded, 5).max(axis=1)
    peaks = np.flatnonzero((moved >= top) & (moved > CHANGE_SEMITONES))
    return _apart(peaks, 3) + CHANGE_FRAMES


def _apart(places: np.ndarray, least: int, height: np.ndarray | None = None) -> np.ndarray:
    """``places`` without those closer than ``least`` to a kept one; the higher of two stays.

    The first and the last place always stay when heights are given.
    """
    kept: list[int] = []
    for place in places.tolist():
        if not kept or place - kept[-1] >= least:
            kept.append(place)
        elif height is not None and len(kept) > 1 and (
            place >= len(height) or height[place] > height[kept[-1]]
        ):
            kept[-1] = place
    return np.array(kept, dtype=int)
