"""Added sounds that are no accident: a few notes begun, given up and begun again.

To a follower two extra sounds cost less than a stop with a jump, so a short attempt comes out as
sounds that nobody wrote. They have the pitches of the very notes that come next, or of those
just played: then somebody stumbled and tried again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from standlight.sound.following import ADDED, WRITTEN, Path, Segment
from standlight.sound.values import HOP_S
from standlight.sound.written import WrittenLine

FEWEST = 2
"""So many sounds in a row are an attempt; one alone may be a note played twice."""

SAME_SEMITONES = 0.7
"""A sound is the written note within this."""

PAUSE_S = 0.30
"""Sounds of one pitch alone tell nothing unless there is so much silence before going on."""


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
    return bool(len(quiet)) and float(quiet.mean()) < 0.15
