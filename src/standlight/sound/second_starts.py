"""A written note that was played once more than written, at its own pitch and in its own time.

The follower lets a long note take the sound of two: a repeated pitch is hardly seen, and a note may
take longer than written. Only what is sure is told: a note takes longer than the notes around it
ask for by about one more note of its pitch, and in that time the sound sinks far and begins again.
In a run of notes of one pitch any of them may be the one too many: the second start is told as it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from standlight.sound.following import ADDED
from standlight.sound.noting import Frames
from standlight.sound.prolonged import (
    NEAR_SEMITONES,
    SURE_WEIGHT,
    Prolonged,
    asked_of,
    asked_of_runs,
    share_at_pitch,
)
from standlight.sound.rearticulation import SEEN
from standlight.sound.settling import Sounding
from standlight.sound.values import HOP_S
from standlight.sound.written import WrittenLine

LEAST_DIP_DB, LEAST_ODDS = 8.0, -1.3
"""A second start is sure where the level sinks so far below what it is before and after, and where
the log odds that the pitch begins again are so high. By hand: on 620 takes with known faults 16
second starts are told, and all of them were played."""

DIP_BEFORE_S, DIP_AFTER_S, BOTTOM_S = 0.30, 0.25, (0.15, 0.04)
"""The sound was as loud as this before and after a start; the softest is looked for so long before
it and after: the time of a detached note, and its silence."""

NEXT_DIP_S, NEXT_DIP_DB = 0.2, 2.0
"""Where the level sinks as far, to so many decibel, farther away than this and still inside the
note, it swells on and off: a vibrato of the breath. Of 15 added sounds told falsely in 120 lines
of real notes joined (`benchmarks/joined.py --seed 4501`) seven go, of 15 true ones one."""

LEAST_EXTRA, MOST_EXTRA = 0.5, 1.5
"""One note more takes this share of the time of a written one of its pitch (our choice)."""

LEAST_PART, LEAST_PART_S = 0.6, 0.15
"""Each of both tones lasts at least such a share of the written time and of the time beyond it, and
so long: nearer to a start that was heard it is the same one (our choice)."""

TAKEN_SHARE = 0.5
"""A note beside that lacks so much of what a note is longer lent it its time (our choice)."""

LEAST_AT_PITCH = 0.5
"""Share of each tone that has the pitch of the note."""


def with_second_starts(
    soundings: Sequence[Sounding], line: WrittenLine, frames: Frames
) -> tuple[Sounding, ...]:
    """``soundings`` with each note that surely begins a second time told as it and an added one."""
    every = (*asked_of(soundings, line), *asked_of_runs(soundings, line))
    asked = {one.place: one for one in every if not _is_taken(one, soundings, line)}
    found = []
    for place, sounding in enumerate(soundings):
        again_s = _second_start_s(asked[place], sounding, line, frames) if place in asked else None
        if again_s is None:
            found.append(sounding)
            continue
        midi = _heard_midi(sounding, again_s, frames)
        found.append(replace(sounding, until_s=again_s))
        found.append(replace(sounding, kind=ADDED, onset_s=again_s, midi=midi))
    return tuple(found)


def starts_surely(onset_s: float, frames: Frames) -> bool:
    """True when near ``onset_s`` the sound sinks far and surely begins again."""
    at, (before, after) = int(round(onset_s / HOP_S)), SEEN
    near = range(max(at - before, 1), min(at + after, frames.count))
    return any(_is_start(frame, frames) for frame in near)


def _is_taken(asked: Prolonged, soundings: Sequence[Sounding], line: WrittenLine) -> bool:
    """True where a note beside is as much shorter: then the start between them is told wrong."""
    pace = asked.expected_s / line.step_quarters[soundings[asked.place].index]
    beside = (*soundings[max(asked.place - 1, 0) : asked.place], soundings[asked.place + 1])
    return any(
        pace * line.step_quarters[one.index] - (one.until_s - one.onset_s)
        > TAKEN_SHARE * asked.excess_s
        for one in beside
        if one.kind != ADDED
    )


def _second_start_s(
    asked: Prolonged, sounding: Sounding, line: WrittenLine, frames: Frames
) -> float | None:
    """Where the ``sounding`` that took longer begins again, in seconds; None where it does not."""
    if not _is_one_more(asked.excess_s / asked.expected_s, sounding.index, line):
        return None
    least_s = max(LEAST_PART * min(asked.expected_s, asked.excess_s), LEAST_PART_S)
    first, last = sounding.onset_s + least_s, sounding.until_s - least_s
    starts = [
        at
        for at in range(round(first / HOP_S), round(last / HOP_S) + 1)
        if at < frames.count and _is_start(at, frames)
    ]
    if not starts:
        return None
    again = max(starts, key=lambda at: frames.again[at])
    if _swells_on_and_off(again, range(round(first / HOP_S), round(last / HOP_S) + 1), frames):
        return None
    again_s = again * HOP_S
    tones = frames.span(sounding.onset_s, again_s), frames.span(again_s, sounding.until_s)
    at_pitch = min(share_at_pitch(tone, sounding.midi, frames) for tone in tones)
    return again_s if at_pitch >= LEAST_AT_PITCH else None


def _swells_on_and_off(again: int, inside: range, frames: Frames) -> bool:
    """True when the level sinks as far elsewhere ``inside`` a note as around frame ``again``."""
    near = range(max(again - SEEN[0], 1), min(again + SEEN[1], frames.count))
    own_db = max(dip_db(at, frames.level_db) for at in near)
    far = (at for at in inside if abs(at - again) * HOP_S > NEXT_DIP_S and at < frames.count)
    least_db = max(own_db - NEXT_DIP_DB, LEAST_DIP_DB)
    return any(dip_db(at, frames.level_db) >= least_db for at in far)


def _is_one_more(share: float, index: int, line: WrittenLine) -> bool:
    """True where note ``index`` goes on by about one note of its pitch, it or one beside it.

    ``share`` is by how much of its own time it goes on.
    """
    own = line.step_quarters[index]
    near = slice(max(index - 1, 0), index + 2)
    equal = line.step_quarters[near][line.midi[near] == line.midi[index]]
    return bool(
        np.any((equal * LEAST_EXTRA <= share * own) & (share * own <= equal * MOST_EXTRA))
    )


def _is_start(at: int, frames: Frames) -> bool:
    """True when the sound sinks far at frame ``at`` and surely begins again."""
    return bool(frames.again[at] >= LEAST_ODDS and dip_db(at, frames.level_db) >= LEAST_DIP_DB)


def dip_db(at: int, level_db: np.ndarray) -> float:
    """How far the level sinks around frame ``at`` under what it reaches before and after it."""
    before, after, early, late = (
        int(round(one / HOP_S)) for one in (DIP_BEFORE_S, DIP_AFTER_S, *BOTTOM_S)
    )
    highest = min(level_db[max(at - before, 0) : at].max(), level_db[at : at + after].max())
    return float(highest - level_db[max(at - early, 0) : at + late].min())


def _heard_midi(sounding: Sounding, again_s: float, frames: Frames) -> float:
    """The pitch that is heard from the second start on."""
    span = frames.span(again_s, sounding.until_s)
    near = np.abs(frames.midi[span] - sounding.midi) < NEAR_SEMITONES
    return float(np.median(frames.midi[span][near & (frames.weight[span] > SURE_WEIGHT)]))
