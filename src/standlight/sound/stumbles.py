"""Added sounds that are no accident, and an accident that is an added sound.

To a follower two extra sounds cost less than a stop with a jump, so a short attempt comes out as
sounds that nobody wrote. They have the pitches of the very notes that come next, or of those
just played: then somebody stumbled and tried again. A sound that nobody wrote before two notes of
one pitch comes out as the first of them gone wrong and the second held for both: the length tells.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from standlight.sound.evidence import QUIET_WEIGHT
from standlight.sound.following import ADDED, OTHER, WRITTEN, Path, Segment
from standlight.sound.values import HOP_S
from standlight.sound.written import WrittenLine

FEWEST = 2
"""So many sounds in a row are an attempt; one alone may be a note played twice."""

SAME_SEMITONES = 0.7
"""A sound is the written note within this."""

PAUSE_S = 0.30
"""Sounds of one pitch alone tell nothing unless there is so much silence before going on."""


TWO_LOG, ONE_LOG = 0.20, 0.40
"""A note whose length (log) is so near to that of two, and so far from its own, is two."""

LONGEST_EXTRA_S = 1.0
"""A longer sound is no extra one (the follower's own limit)."""


def with_extras(path: Path, line: WrittenLine) -> Path:
    """``path`` with each extra sound before two notes of one pitch told as one.

    The follower hears a soft bow repeat a pitch less surely than it hears another pitch.
    """
    segments: list[Segment] = []
    for segment in path.segments:
        before = segments[-1] if segments else None
        if before is None or not _held_for_two(before, segment, line, path.quarter_s):
            segments.append(segment)
            continue
        first, second = line.step_quarters[before.index], line.step_quarters[segment.index]
        length_s = segment.end_s - segment.start_s
        middle_s = segment.start_s + length_s * float(first / (first + second))
        segments[-1] = replace(before, kind=ADDED)
        segments.append(replace(segment, index=before.index, end_s=middle_s))
        segments.append(replace(segment, start_s=middle_s))
    return replace(path, segments=tuple(segments))


def _held_for_two(before: Segment, segment: Segment, line: WrittenLine, quarter_s: float) -> bool:
    """True when ``before`` is told wrong and ``segment``, its pitch again, sounds for both."""
    if before.kind != OTHER or segment.kind != WRITTEN or segment.index != before.index + 1:
        return False
    if line.midi[before.index] != line.midi[segment.index]:
        return False
    if line.free[before.index] or line.free[segment.index]:
        return False
    if before.end_s - before.start_s > LONGEST_EXTRA_S:
        return False
    took = (segment.end_s - segment.start_s) / quarter_s
    own, other = line.step_quarters[segment.index], line.step_quarters[before.index]
    return bool(abs(np.log(took / (own + other))) < TWO_LOG and np.log(took / own) > ONE_LOG)


def with_stumbles(
    path: Path, line: WrittenLine, midi: np.ndarray, weight: np.ndarray, offset: float
) -> Path:
    """``path`` with each run of added sounds that is an attempt told as one, with its jump.

    ``midi`` and ``weight`` are ``(frames,)``; ``offset`` is the take's shift in semitones.
    """
    segments, jumps = list(path.segments), list(path.jumps)
    for first, last in _runs(segments):
        pitches = [_pitch(segment, midi, weight) for segment in segments[first:last]]
        back = _place(pitches, segments, (first, last), line, offset)
        if back is None or not _telling(pitches, segments[first:last], weight):
            continue
        index, goes_on = back
        for place in range(first, last):
            segments[place] = replace(
                segments[place], kind=WRITTEN, index=index + place - first
            )
        restart = segments[last] if goes_on else segments[first]
        jumps.append((restart.start_s, index))
    return replace(path, segments=tuple(segments), jumps=tuple(sorted(jumps)))


def _runs(segments: Sequence[Segment]) -> list[tuple[int, int]]:
    """First place and place after the last of each run of ``FEWEST`` added sounds or more."""
    runs, first = [], None
    for place, segment in enumerate(segments):
        if segment.kind == ADDED:
            first = place if first is None else first
        elif first is not None:
            runs.append((first, place))
            first = None
    return [(first, last) for first, last in runs if last - first >= FEWEST]


def _pitch(segment: Segment, midi: np.ndarray, weight: np.ndarray) -> float | None:
    """The median pitch that sounds in the segment; None where none does."""
    span = slice(int(segment.start_s / HOP_S), max(int(segment.end_s / HOP_S), 1))
    heard = midi[span][weight[span] > 0]
    return float(np.median(heard)) if len(heard) else None


def _place(
    pitches: Sequence[float | None],
    segments: Sequence[Segment],
    run: tuple[int, int],
    line: WrittenLine,
    offset: float,
) -> tuple[int, bool] | None:
    """Index of the written note that the sounds begin at, and whether it is played after them.

    True: the sounds are the attempt, and the player goes back after them. False: the notes
    before were the attempt, and the sounds repeat them. None: neither.
    """
    first, last = run
    count = last - first
    following, before = segments[last].index, segments[first - 1] if first else None
    if _same(pitches, line, following, offset):
        return following, True
    if before is not None and before.kind == WRITTEN and before.index + 1 == following:
        start = following - count
        if start >= 0 and _same(pitches, line, start, offset):
            return start, False
    return None


def _same(
    pitches: Sequence[float | None], line: WrittenLine, index: int, offset: float
) -> bool:
    """True when the sounds have the pitches of the written notes from ``index`` on."""
    written = line.midi[index : index + len(pitches)] + offset
    return len(written) == len(pitches) and all(
        pitch is not None and abs(pitch - target) < SAME_SEMITONES
        for pitch, target in zip(pitches, written, strict=True)
    )


def _telling(
    pitches: Sequence[float | None], sounds: Sequence[Segment], weight: np.ndarray
) -> bool:
    """True when the pitches differ or silence follows: repeated notes alone tell nothing."""
    known = [pitch for pitch in pitches if pitch is not None]
    if max(known) - min(known) > SAME_SEMITONES:
        return True
    end = int(sounds[-1].end_s / HOP_S)
    quiet = weight[max(end - int(PAUSE_S / HOP_S), 0) : end]
    return bool(len(quiet)) and float(quiet.mean()) < QUIET_WEIGHT
