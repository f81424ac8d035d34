"""A stop and a try again that one long note has swallowed.

To a follower a long note is cheaper than a stop with a jump. Where a silence stands inside a note,
either what sounds after it has the pitches and lengths of that note, or of the few up to it, and
the part goes on from there; or what sounds before it has those of the note and the few after it,
which the part then begins with. Either way the player has stopped and tried the place again. What
the last note of a take has swallowed is not looked for: nothing goes on from there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from standlight.sound.evidence import AGAIN_PEAK, QUIET_WEIGHT, Evidence
from standlight.sound.following import ADDED, OTHER, WRITTEN, Path, Segment
from standlight.sound.stumbles import SAME_SEMITONES
from standlight.sound.values import HOP_S
from standlight.sound.written import WrittenLine

PAUSE_S = 0.20
"""A stop lasts so long at least: less than the follower's, for a room rings on, and pitches and
lengths speak too."""

ENTRY_S = 0.10
"""Sound that begins so shortly before the next note is that note's own, and a note that falls
silent so soon has not begun: its boundary lies where the silence begins."""

MOST_NOTES = 6
"""More notes tried again than this the follower hears as a jump by itself (our choice)."""

FEWEST_ALONE = 3
"""A note that only sounds too long before a silence is so many notes at least: of 288 clean made
takes (seeds 1900 to 1902) four have two where somebody only waited. After a silence one will do."""

LENGTH_LOG = 0.30
"""How far (log) the sound may be from the length of the notes at the take's tempo."""

FITS_SHARE, HEARD_SHARE = 0.75, 0.3
"""So much of all that sounds must be at the notes' pitches, and so much of each note must sound."""

START_REACH = 8
"""Frames around its place in which a repeated pitch must be able to begin again."""


@dataclass(frozen=True, slots=True, eq=False)
class _Take:
    """What stretches are held against: the part as it sounds, the take, its seconds a quarter."""

    line: WrittenLine
    evidence: Evidence
    offset: float
    quarter_s: float


def with_resumptions(path: Path, line: WrittenLine, evidence: Evidence, offset: float) -> Path:
    """``path`` with every swallowed stop and its jump, in a take ``offset`` semitones off."""
    take = _Take(line, evidence, offset, path.quarter_s)
    segments, kept, jumps = path.segments, [], list(path.jumps)
    place = 0
    while place < len(segments):
        after = _next_note(segments, place)
        found = None
        if after is not None and not _jumped(path, segments[place], segments[after]):
            found = _retold(segments[place:after], segments[after], take)
        if found is None:
            kept.append(segments[place])
            place += 1
            continue
        told, resumed_s, index = found
        kept.extend(told)
        jumps.append((resumed_s, index))
        place = after
    return replace(path, segments=tuple(kept), jumps=tuple(sorted(jumps)))


def _next_note(segments: Sequence[Segment], place: int) -> int | None:
    """Where the note after the one at ``place`` stands; None unless the part goes on by one."""
    notes = (WRITTEN, OTHER)
    after = place + 1
    while after < len(segments) and segments[after].kind == ADDED:
        after += 1
    if after == len(segments) or segments[place].kind not in notes:
        return None
    goes_on = segments[after].index == segments[place].index + 1
    return after if goes_on and segments[after].kind in notes else None


def _jumped(path: Path, segment: Segment, following: Segment) -> bool:
    """True when the path has a jump of its own between the two."""
    return any(segment.start_s < at_s <= following.start_s + HOP_S for at_s, _ in path.jumps)


def _retold(
    run: Sequence[Segment], following: Segment, take: _Take
) -> tuple[list[Segment], float, int] | None:
    """What a note and the added sounds after it are, when somebody stopped and tried again.

    The segments, and where in seconds and at which note the player went on; else None.
    """
    note, index = run[0], run[0].index
    silence = _silence(take.evidence, note.start_s, following.start_s)
    if silence is None:
        return None
    stopped_s, resumed_s = silence
    begun = stopped_s - note.start_s >= ENTRY_S
    before = _fitting(note.start_s, stopped_s, _onward(index, take), take) if begun else None
    if following.start_s - resumed_s < ENTRY_S:
        if before is None or (len(run) == 1 and len(before) < FEWEST_ALONE):
            return None
        return before, following.start_s, following.index
    after = _fitting(resumed_s, following.start_s, _back(index, begun, take), take)
    if after is None:
        return None
    return [*(before or _until(run, stopped_s)), *after], resumed_s, after[0].index


def _onward(index: int, take: _Take) -> list[tuple[int, int]]:
    """Stretches of notes (first, one after the last) from ``index`` on, of two or more."""
    most = min(index + 1 + MOST_NOTES, len(take.line))
    return [(index, end) for end in range(index + 2, most + 1)]


def _back(index: int, begun: bool, take: _Take) -> list[tuple[int, int]]:
    """Stretches that end with ``index``; not it alone if it had not begun or is held freely."""
    latest = index if begun and not take.line.free[index] else index - 1
    return [(first, index + 1) for first in range(latest, max(index - MOST_NOTES, -1), -1)]


def _until(run: Sequence[Segment], stopped_s: float) -> list[Segment]:
    """What of ``run`` sounds before the silence."""
    return [
        replace(one, end_s=min(one.end_s, stopped_s))
        for one in run
        if one.start_s < stopped_s - HOP_S
    ]


def _silence(evidence: Evidence, start_s: float, end_s: float) -> tuple[float, float] | None:
    """The longest silence between two times, from and to, in seconds; None where none is."""
    first, last = round(start_s / HOP_S), round(end_s / HOP_S)
    width = round(PAUSE_S / HOP_S)
    passed = np.append(0.0, np.cumsum(evidence.weight[first:last]))
    if len(passed) <= width:
        return None
    quiet = passed[width:] - passed[:-width] < QUIET_WEIGHT * width
    edges = np.flatnonzero(np.diff(np.concatenate([[0], quiet, [0]])))
    if not len(edges):
        return None
    begins, ends = edges[::2], edges[1::2]
    longest = int((ends - begins).argmax())
    return (first + int(begins[longest])) * HOP_S, (first + int(ends[longest]) - 1 + width) * HOP_S


def _fitting(
    start_s: float, end_s: float, choices: Sequence[tuple[int, int]], take: _Take
) -> list[Segment] | None:
    """The written notes that fit what sounds between two times, the best length of ``choices``.

    A choice is the first index and the one after the last; None where none fits.
    """
    best, least = None, LENGTH_LOG
    length_s = max(end_s - start_s, HOP_S)
    for first, last in choices:
        steps = take.line.step_quarters[first:last]
        whole = float(steps.sum())
        off = abs(float(np.log(length_s / (whole * take.quarter_s))))
        starts_s = start_s + np.append(0.0, np.cumsum(steps)) * length_s / whole
        if off < least and _fits(starts_s, take.line.midi[first:last] + take.offset, take.evidence):
            least = off
            best = [
                Segment(WRITTEN, first + step, float(starts_s[step]), float(starts_s[step + 1]))
                for step in range(last - first)
            ]
    return best


def _fits(starts_s: np.ndarray, pitches: np.ndarray, evidence: Evidence) -> bool:
    """True when ``pitches`` sound from one of ``starts_s`` to the next, ``(notes + 1,)``."""
    at = np.round(starts_s / HOP_S).astype(int)
    for start, previous, pitch in zip(at[1:], pitches, pitches[1:], strict=False):
        around = evidence.again[max(start - START_REACH, 0) : start + START_REACH + 1]
        if previous == pitch and around.max(initial=-np.inf) < AGAIN_PEAK:
            return False
    fitting = sounding = 0.0
    for first, last, pitch in zip(at, at[1:], pitches, strict=False):
        weight = evidence.weight[first:last]
        fits = float(weight[np.abs(evidence.midi[first:last] - pitch) < SAME_SEMITONES].sum())
        if not len(weight) or fits < HEARD_SHARE * len(weight):
            return False
        fitting, sounding = fitting + fits, sounding + float(weight.sum())
    return fitting >= FITS_SHARE * sounding
