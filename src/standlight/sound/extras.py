"""Sounds that nobody wrote: which of those that the follower added are told.

The room rings on after a note, and a pitch track that loses a tone names a part of it. What is told
is loud enough, has a pitch that lasts, and begins where it is much softer than what was before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from standlight.music import hz_of_midi
from standlight.sound.following import ADDED
from standlight.sound.noting import Frames
from standlight.sound.second_starts import starts_surely
from standlight.sound.settling import Sounding
from standlight.sound.values import AddedSound

SAME_PITCH_SEMITONES, SHORTEST_TWICE_S, TWICE_SHARE = 0.7, 0.20, 0.6
"""An added sound at the pitch of a note beside it is that note's own start, wobble or tail
unless it lasts so long, or surely begins after the note before (made takes of seed 4501: three
such, all of them played), or lasts such a share of the note before: a quick note played twice is
no longer (five shorter sounds of seed 4501: two last .86 and .94 of it, both played, the others
.30 at most, none of them played)."""

FAINT_DB, NO_START_DB = -20.0, 3.0
"""An added sound so far under the loud moments (90th percentile) is the room or its noise; so is
one much softer than what was before it that does not begin with such a rise (made takes of
development seeds: of 376 true ones 2 lost, of 46 false ones 13 gone)."""

OCTAVE, EVEN_OVER_ODD_DB = 12.0, 6.0
"""An added sound that lies nearer to both notes beside it an octave higher is so much higher where
the even harmonics of the pitch that was tracked stand out so much farther than the odd ones: a
period twice as long fits as well. Of 621 told on three development seeds (4501, 5901, 6001) nine
lie so low: five an octave too low, four an octave under a note that sounds on, and none right."""

FEWEST_FRAMES, SURE_WEIGHT = 4, 0.2
"""A sound has a pitch for so many frames, each with more weight than this."""


def added_of(
    settled: Sequence[Sounding], frames: Frames, a4_offset: float
) -> tuple[AddedSound, ...]:
    """Sounds of ``settled`` that belong to no written note and are more than a breath of noise.

    ``a4_offset`` is what ``midi_heard`` leaves out, in semitones.
    """
    found = []
    for place, sounding in enumerate(settled):
        if sounding.kind != ADDED or sounding.midi is None:
            continue
        beside = [*settled[max(place - 1, 0) : place], *settled[place + 1 : place + 2]]
        sounding = _in_own_octave(sounding, beside, frames)
        end_s = frames.end_of(sounding.onset_s, sounding.until_s)
        span = frames.span(sounding.onset_s, end_s)
        is_room = _is_room(sounding.onset_s, span, frames)
        if is_room or _is_piece(sounding, settled, place, end_s, frames):
            continue
        if (frames.weight[span] > SURE_WEIGHT).sum() >= FEWEST_FRAMES:
            found.append(AddedSound(sounding.onset_s, end_s, sounding.midi - a4_offset))
    return tuple(found)


def _in_own_octave(sounding: Sounding, beside: Sequence[Sounding], frames: Frames) -> Sounding:
    """``sounding``, an octave higher where that is its pitch (`EVEN_OVER_ODD_DB`)."""
    below = [other.midi - sounding.midi for other in beside if other.midi is not None]
    if not below or min(below) <= OCTAVE / 2.0:
        return sounding
    levels = frames.spectra.levels(
        sounding.onset_s, sounding.until_s, float(hz_of_midi(sounding.midi))
    )
    if levels is None or levels.even_peak_db - levels.odd_peak_db < EVEN_OVER_ODD_DB:
        return sounding
    return replace(sounding, midi=sounding.midi + OCTAVE)


def _is_piece(
    sounding: Sounding, settled: Sequence[Sounding], place: int, end_s: float, frames: Frames
) -> bool:
    """True of a short sound at the pitch of a note beside it that does not surely begin."""
    if end_s - sounding.onset_s >= SHORTEST_TWICE_S:
        return False
    before, after = (
        any(
            other.midi is not None and abs(other.midi - sounding.midi) < SAME_PITCH_SEMITONES
            for other in beside
        )
        for beside in (settled[max(place - 1, 0) : place], settled[place + 1 : place + 2])
    )
    if before:
        own_s = sounding.onset_s - settled[place - 1].onset_s
        as_long = end_s - sounding.onset_s >= TWICE_SHARE * own_s
        return not (as_long or starts_surely(sounding.onset_s, frames))
    return after


def _is_room(onset_s: float, span: np.ndarray, frames: Frames) -> bool:
    """True when what sounds over ``span`` from ``onset_s`` on is what rings on in the room."""
    if frames.level_db[span].max() < frames.loud_db + FAINT_DB:
        return True
    return frames.echoes(onset_s) and not frames.begins(onset_s, NO_START_DB)
