"""A restart that explains nothing was none: the course without jumps, where it is the better one.

To the follower every note is worth so much at most, so that a slow player's long notes, on a line
of few pitches, may be worth two quick ones each, and a jump back pays for playing it twice. Whoever
truly went back leaves sounds that no course without a jump explains. So the take is followed once
more without jumps, and both courses answer the same three questions, none of which counts notes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from standlight.sound.evidence import Evidence
from standlight.sound.following import ADDED, OTHER, WRITTEN, Path, Segment, follow, follow_again
from standlight.sound.pacing import own_pace
from standlight.sound.values import HOP_S
from standlight.sound.written import WrittenLine

SAME_SEMITONES = 0.7
"""What sounds is the written pitch within this, as for the other courses of the room."""

ODD_LOG = 0.35
"""A note is of an odd length if it lasts by so much (log) more or less than the course around."""

MORE_SHARE = 0.01
"""The course without jumps must explain so much more of what sounds: less is chance."""

LEAST_EXPLAINED = 0.9
"""And so much in all: where most is noise, neither course says anything (the six of seed 4001 that
were believed explain .92 to .997)."""


@dataclass(frozen=True, slots=True)
class Standing:
    """How a course stands to a take.

    ``explained`` is the share of what sounds that has the pitch of the note it is told of, 0..1.
    ``faults`` counts other pitches, added sounds and notes left out, ``odd`` the lengths that lie
    off the course.
    """

    explained: float
    faults: int
    odd: int

    def is_beaten_by(self, plainer: Standing) -> bool:
        """True when the ``plainer`` one explains more by no more faults and no odder lengths.

        >>> Standing(0.89, 6, 5).is_beaten_by(Standing(0.99, 0, 2))
        True
        >>> Standing(0.98, 1, 3).is_beaten_by(Standing(0.98, 0, 3))  # explains no more
        False
        """
        explains_more = plainer.explained >= max(self.explained + MORE_SHARE, LEAST_EXPLAINED)
        return explains_more and plainer.faults <= self.faults and plainer.odd <= self.odd


def standing_of(path: Path, line: WrittenLine, evidence: Evidence, offset: float) -> Standing:
    """How ``path`` stands to what sounds, for pitches ``line.midi + offset`` (semitones)."""
    played = [segment for segment in path.segments if segment.kind in (WRITTEN, OTHER)]
    at_pitch = np.zeros(len(evidence.weight), dtype=bool)
    for segment in played:
        if segment.kind == WRITTEN:
            here = slice(*(round(at_s / HOP_S) for at_s in (segment.start_s, segment.end_s)))
            apart = evidence.midi[here] - line.midi[segment.index] - offset
            at_pitch[here] |= np.abs(apart) < SAME_SEMITONES
    sounds = float(evidence.weight.sum())
    left_out = len(line) - len({segment.index for segment in played})
    return Standing(
        explained=float(evidence.weight[at_pitch].sum()) / sounds if sounds else 0.0,
        faults=sum(segment.kind in (OTHER, ADDED) for segment in path.segments) + left_out,
        odd=_odd_lengths(played, line),
    )


def _odd_lengths(played: list[Segment], line: WrittenLine) -> int:
    """How many of the notes ``played`` last much longer or shorter than those around them."""
    index = np.array([segment.index for segment in played], dtype=int)
    frames = np.array([segment.end_s - segment.start_s for segment in played]) / HOP_S
    pace = own_pace(line, index, frames) if played else None
    if pace is None or pace.course is None:
        return 0
    slower = np.log(np.maximum(frames, 1.0) / line.step_quarters[index]) - pace.course[index]
    told = ~line.free[index] & (index < len(line) - 1)
    return int(np.count_nonzero(np.abs(slower[told]) > ODD_LOG))


def without_needless_jumps(
    path: Path,
    line: WrittenLine,
    evidence: Evidence,
    offset: float,
    qpm: float,
    finished: Callable[[Path], Path],
) -> Path:
    """``path``, or the course without jumps where that is the better one.

    ``finished`` is what else is done to a course before it is told. ``qpm`` is the marked tempo in
    quarters a minute, ``offset`` the take's shift in semitones.
    """
    if not path.jumps:
        return path
    first = follow(line, evidence, offset, qpm, jumping=False)
    straight = finished(follow_again(line, evidence, offset, first, jumping=False))
    with_jumps, plainer = (
        standing_of(one, line, evidence, offset) for one in (path, straight)
    )
    return straight if with_jumps.is_beaten_by(plainer) else path
