"""A restart that explains nothing was none: the course without jumps, where it is the better one.

To the follower every note is worth so much at most, so that a slow player's long notes, on a line
of few pitches, may be worth two quick ones each, and a jump back pays for playing it twice. Whoever
truly went back leaves sounds that no course without a jump explains. So the take is followed once
more without jumps, and both courses answer the same three questions, none of which counts notes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from standlight.sound.evidence import Evidence
from standlight.sound.following import ADDED, OTHER, WRITTEN, Path, Segment, follow, follow_again
from standlight.sound.pacing import own_pace
from standlight.sound.rearticulation import odds_near
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

NO_START_ODDS = -1.5
"""Under these log odds a pitch does not begin again. On 864 made takes of seeds 4001 and 4201 seven
of 569 jumps lie behind attempts at the pitch of the note before none of whose notes begins again,
and six of them were none."""

TAIL_ODDS, LAST_SHARE, TAIL_WEIGHT = -4.0, 1.0 / 3.0, 0.5
"""Under these log odds, and where over its last share no more than this weighs, what sounds on at
the pitch of the note before a jump is that note's tail, and not the one jumped to. Of 288 restarted
takes (4501, 4801) four jumps lead to such a pitch that does not begin: two die away, and are tails;
two sound on, and began just before. The one that was seen (5001) dies away too."""

JOINED_S = 0.05
"""What follows within this is the same sound going on."""


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


def without_held_attempts(path: Path, line: WrittenLine, evidence: Evidence) -> Path:
    """``path`` without jumps back behind attempts that are one held note.

    Whoever holds a note over a breath and goes on at its pitch seems to have played the next notes
    too and to have gone back. Where none of them begins, the note before is held until there.
    """
    segments, jumps = list(path.segments), []
    for time_s, to in path.jumps:
        end = sum(segment.start_s < time_s for segment in segments)
        held = _held(segments[:end], to, line, evidence)
        if held is None:
            jumps.append((time_s, to))
        else:
            first, index = held
            one = replace(segments[first], index=index, end_s=time_s)
            segments = [*segments[:first], one, *segments[end:]]
    return replace(path, segments=tuple(segments), jumps=tuple(jumps))


def without_tails(path: Path, line: WrittenLine, evidence: Evidence) -> Path:
    """``path`` with each jump to the tail of the note before it led to the note after that."""
    segments, jumps = list(path.segments), []
    for time_s, to in path.jumps:
        place = sum(segment.start_s < time_s for segment in segments)
        if _is_tail(segments[max(place - 1, 0) : place + 2], line, evidence):
            before, tail, after = segments[place - 1 : place + 2]
            segments[place - 1 : place + 1] = [replace(before, end_s=tail.end_s)]
            time_s, to = after.start_s, after.index
        jumps.append((time_s, to))
    return replace(path, segments=tuple(segments), jumps=tuple(jumps))


def _is_tail(three: list[Segment], line: WrittenLine, evidence: Evidence) -> bool:
    """True when the middle one of ``three`` is the first one going on, and the last one follows."""
    if len(three) < 3 or any(segment.kind != WRITTEN for segment in three):
        return False
    before, tail, after = three
    joined = tail.start_s - before.end_s < JOINED_S and after.index == tail.index + 1
    same = line.midi[before.index] == line.midi[tail.index] != line.midi[after.index]
    begins = odds_near(evidence.again, tail.start_s) >= TAIL_ODDS
    return bool(joined and same and not begins and _dies_away(tail, evidence))


def _dies_away(segment: Segment, evidence: Evidence) -> bool:
    """True when little sounds in the last part of ``segment``."""
    first_s = segment.end_s - LAST_SHARE * (segment.end_s - segment.start_s)
    first, last = int(first_s / HOP_S), int(segment.end_s / HOP_S)
    last_part = evidence.weight[first : max(last, first + 1)]
    return bool(len(last_part)) and float(last_part.mean()) < TAIL_WEIGHT


def _held(
    before: list[Segment], to: int, line: WrittenLine, evidence: Evidence
) -> tuple[int, int] | None:
    """From which segment on all ``before`` a jump ``to`` a note is one held note, and which note.

    The note before the attempt, or the one that the attempt left out. None where it is none.
    """
    first = len(before)
    while first > 0 and before[first - 1].index >= to:
        first -= 1
    attempt, prior = before[first:], before[first - 1] if first else None
    if not attempt or to == 0:
        return None
    if prior is None or prior.index < to - 1:
        prior, held, later = None, to - 1, attempt[1:]
    elif prior.kind == WRITTEN and attempt[0].start_s - prior.end_s < JOINED_S:
        held, later = prior.index, attempt
    else:
        return None
    same = all(
        segment.kind == WRITTEN and line.midi[segment.index] == line.midi[held]
        for segment in attempt
    )
    begins = any(odds_near(evidence.again, one.start_s) >= NO_START_ODDS for one in later)
    if not same or begins:
        return None
    return (first, held) if prior is None else (first - 1, held)
