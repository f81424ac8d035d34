"""A quick sound of another pitch between two notes, which the follower gave to one of them.

A finger that falls a moment late sounds a pitch that nobody wrote for a tenth of a second. To the
follower an added sound costs as much as such a moment gains, so it takes it for the first or the
last of a written note. Only what is sure is told: at the edge of a note the pitch track stays on a
pitch that neither it nor its neighbours have, and in that moment the harmonics of this pitch stand
farther out of the sound than those of any of the three. Singers are not asked: they pass through
other pitches on their way, and of three real songs 16 such moments would be told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from standlight.music import hz_of_midi
from standlight.sound.following import ADDED, WRITTEN
from standlight.sound.noting import Frames, heard_midi
from standlight.sound.settling import Sounding
from standlight.sound.values import HOP_S

ONE_SEMITONES, FEWEST_FRAMES, STEADY_SEMITONES = 0.35, 4, 0.2
"""The pitch track stays within the first of its own middle, and for so many frames it moves by no
more than the second: a player's scoop of a semitone moves on by twice as much."""

EDGE_S, LEAST_REST_S = 0.08, 0.15
"""A slip begins or ends so near to the edge of its note, and leaves so much of it: else it is the
note itself, gone wrong (a flute's sixteenth of seed 6101; the shortest rest beside a true one was
0.19 s)."""

STANDS_OUT_DB, NEAR_SEMITONES, NEAR_STANDS_OUT_DB = 4.0, 1.5, 6.0
"""How much farther its harmonics stand out than those of the three notes, and how much where one of
them is so near that a short look hardly parts the two. On 432 faulty made takes (development seeds
4501, 5901 and 6001) nine more sounds are told so, all of them slips that were played; with the
first for all, two first moments of a note are told too."""

SAME_SEMITONES, OVERTONES = 0.7, (12.0, 19.02)
"""So near to a note, its octaves or its twelfth it may be that note's own sound."""

OWN_SEMITONES = (0.0, *OVERTONES, 24.0)
ATTACK_SEMITONES = 1.7
"""What begins a note so near to its pitch is its own attack: in a real alto saxophone's notes the
first 50 ms lie a semitone above, in a tuba's one and a half below (34 such moments were told in 108
lines of real notes joined, `benchmarks/joined.py --seed 4501`)."""

FARTHEST_SEMITONES, FAINT_DB = 10.5, -20.0
"""Farther from its note, or softer against the loud moments, it is no slip of the hand."""

MARGIN_S = 0.01
"""What sounds is looked at from so long before to so long after: else too few periods are seen."""


def with_quick_slips(soundings: Sequence[Sounding], frames: Frames) -> tuple[Sounding, ...]:
    """``soundings`` with every quick slip at the edge of a written note told as an added one."""
    found: list[Sounding] = []
    for place, sounding in enumerate(soundings):
        beside = (*soundings[max(place - 1, 0) : place], *soundings[place + 1 : place + 2])
        slip = _slip_in(sounding, beside, frames)
        if slip is None:
            found.append(sounding)
        elif slip.onset_s - sounding.onset_s < sounding.until_s - slip.until_s:
            first = replace(slip, onset_s=sounding.onset_s)
            found += [first, replace(sounding, onset_s=slip.until_s)]
        else:
            last = replace(slip, until_s=sounding.until_s)
            found += [replace(sounding, until_s=slip.onset_s), last]
    return tuple(found)


def _slip_in(
    sounding: Sounding, beside: Sequence[Sounding], frames: Frames
) -> Sounding | None:
    """The slip at the beginning or the end of ``sounding``, None where there is none."""
    if sounding.kind != WRITTEN:
        return None
    known = [one for one in beside if one.midi is not None]
    pitches = [float(sounding.midi), *(heard_midi(one, frames) for one in known)]
    for first, last in _steady_runs(sounding, frames):
        start_s, end_s = first * HOP_S, last * HOP_S
        before_s, after_s = start_s - sounding.onset_s, sounding.until_s - end_s
        if min(before_s, after_s) > EDGE_S or max(before_s, after_s) < LEAST_REST_S:
            continue
        part = (start_s - MARGIN_S, end_s + MARGIN_S)
        heard = float(np.median(frames.midi[first:last]))
        midi = _own_midi(heard, pitches[0], part, frames)
        if before_s < after_s and abs(midi - pitches[0]) < ATTACK_SEMITONES:
            continue
        if _is_slip(midi, pitches, part, frames):
            return Sounding(ADDED, sounding.index, start_s, end_s, midi)
    return None


def _steady_runs(sounding: Sounding, frames: Frames) -> list[tuple[int, int]]:
    """From which to which frame of ``sounding`` the pitch track stays on one pitch."""
    span = frames.span(sounding.onset_s, sounding.until_s).tolist()
    runs, first = [], span[0]
    for at in (*span, span[-1] + 1):
        silent = bool(at > span[-1] or frames.weight[at] <= 0.0)
        if silent or not _stays(frames.midi[first : at + 1]):
            if _is_steady(frames.midi[first:at]):
                runs.append((first, at))
            first = at + silent
    return runs


def _stays(midi: np.ndarray) -> bool:
    """True when the last of ``midi`` lies about where those before it do."""
    return len(midi) < 2 or abs(midi[-1] - np.median(midi[:-1])) < ONE_SEMITONES


def _is_steady(midi: np.ndarray) -> bool:
    """True when so many of ``midi`` in a row hardly move that it is no scoop."""
    if len(midi) < FEWEST_FRAMES:
        return False
    pieces = np.lib.stride_tricks.sliding_window_view(midi, FEWEST_FRAMES)
    return bool(np.ptp(pieces, axis=1).min() <= STEADY_SEMITONES)


def _own_midi(midi: float, near: float, part: tuple[float, float], frames: Frames) -> float:
    """``midi``, or its octave or twelfth where that is nearer to ``near`` and stands farther out.

    A period twice or three times as long fits a short tone beside another one as well.
    """
    higher = [midi + one for one in OVERTONES if abs(midi + one - near) < abs(midi - near)]
    names = [midi, *higher]
    return names[int(np.argmax(_stand_out(part, names, frames)))]


def _is_slip(
    midi: float, pitches: Sequence[float], part: tuple[float, float], frames: Frames
) -> bool:
    """True when ``midi`` is none of the ``pitches`` and stands farther out than any of them."""
    apart = [abs(midi - other) for other in pitches]
    if min(abs(one - own) for one in apart for own in OWN_SEMITONES) < SAME_SEMITONES:
        return False
    if apart[0] > FARTHEST_SEMITONES or frames.above_db(*part) < FAINT_DB:
        return False
    own_db, *others_db = _stand_out(part, (midi, *pitches), frames)
    least_db = NEAR_STANDS_OUT_DB if min(apart) < NEAR_SEMITONES else STANDS_OUT_DB
    return own_db - max(others_db) >= least_db


def _stand_out(
    part: tuple[float, float], pitches: Sequence[float], frames: Frames
) -> list[float]:
    """How far each of the ``pitches`` stands out of a ``part``, decibel; 0 of a part too short."""
    found = (frames.spectra.standing_out_db(part, float(hz_of_midi(one))) for one in pitches)
    return [0.0 if one is None else one for one in found]
