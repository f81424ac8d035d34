"""Which of the pitched sound belongs to the part, and which can be nobody's slip.

A pitch track errs in its own ways: it falls an octave or a twelfth off, and it goes on in what
rings in the room. What is loud, and lies neither near the part nor where such a slip would put
it, came from somebody or something else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from standlight.sound.noting import Frames
from standlight.sound.values import HeardNote
from standlight.sound.written import WrittenLine

NEIGHBOUR_SEMITONES, GLIDE_S = 1.2, 0.10
"""How near to the part's notes, and how long around them, sound counts as the player's own
(scoops of a semitone and slides of a tenth of a second are usual in untrained voices)."""

OCTAVE_SEMITONES, TWELFTH_SEMITONES, SLIP_SEMITONES = 12.0, 19.0, 0.8
"""A tracker's slip lies within the last of these of an octave or a twelfth from the tone."""

SOFT_DB = -20.0
"""So far under the loud moments (90th percentile) it is the room that sounds."""


@dataclass(frozen=True, slots=True)
class Belonging:
    """Of all pitched sound, each 0..1: what the part explains, and what is foreign to it.

    The rest may be slips of the tracker, or the room. ``within`` is of what sounds from the first
    heard note to the last alone: who begins before the passage or plays on is no second player.
    """

    explained_share: float
    foreign_share: float
    within_explained_share: float
    within_foreign_share: float


def belonging_of(
    heard: Sequence[HeardNote],
    frames: Frames,
    line: WrittenLine,
    offset: float,
    a4_offset: float,
) -> Belonging:
    """What of the pitched sound in ``frames`` belongs to the ``heard`` notes of ``line``.

    ``offset`` is how far the part sounds from where it is written, ``a4_offset`` what
    ``midi_heard`` leaves out (both in semitones).
    """
    sounding = sorted(
        (note for note in heard if None not in (note.onset_s, note.offset_s)),
        key=lambda note: note.onset_s,
    )
    midi, weight = frames.midi[: frames.count], frames.weight[: frames.count]
    on_part = np.zeros(frames.count, dtype=bool)
    latest = np.full(frames.count, np.nan)
    for note in sounding:
        span = frames.span(note.onset_s - GLIDE_S, note.offset_s + GLIDE_S)
        apart = np.abs(midi[span][:, None] - _around(note, line, offset, a4_offset)).min(axis=1)
        on_part[span] |= apart < NEIGHBOUR_SEMITONES
        latest[frames.span(note.onset_s, note.offset_s)[0] :] = _pitch(
            note, line, offset, a4_offset
        )
    loud = frames.level_db[: frames.count] >= frames.loud_db + SOFT_DB
    foreign = loud & ~on_part & ~_is_slip(midi - latest)
    within = np.zeros(frames.count, dtype=bool)
    if sounding:
        until_s = max(note.offset_s for note in sounding)
        within[frames.span(sounding[0].onset_s - GLIDE_S, until_s + GLIDE_S)] = True
    everywhere = np.ones(frames.count, dtype=bool)
    return Belonging(
        _share(weight, on_part, everywhere),
        _share(weight, foreign, everywhere),
        _share(weight, on_part, within),
        _share(weight, foreign, within),
    )


def _share(weight: np.ndarray, some: np.ndarray, among: np.ndarray) -> float:
    """How much of the ``weight`` in the frames ``among`` lies in ``some`` of them, 0..1."""
    return float(weight[some & among].sum()) / max(float(weight[among].sum()), 1e-9)


def _around(
    note: HeardNote, line: WrittenLine, offset: float, a4_offset: float
) -> np.ndarray:
    """The pitches that may sound at ``note``: its own and its neighbours', ``(pitches,)``.

    Neighbours, because a voice slides from one note to the next.
    """
    written = line.midi[max(note.index - 1, 0) : note.index + 2] + offset
    if note.outcome == "other_pitch" and note.midi_heard is not None:
        return np.append(written, note.midi_heard + a4_offset)
    return written


def _pitch(note: HeardNote, line: WrittenLine, offset: float, a4_offset: float) -> float:
    """Where ``note`` sounded; where it is written if its pitch was not seen."""
    if note.midi_heard is None:
        return float(line.midi[note.index] + offset)
    return note.midi_heard + a4_offset


def _is_slip(apart: np.ndarray) -> np.ndarray:
    """True where a pitch that is ``apart`` (semitones) from a tone may be a tracker's slip.

    >>> _is_slip(np.array([-12.3, 7.0, 19.1, np.nan])).tolist()
    [True, False, True, False]
    """
    octave = np.abs(apart - OCTAVE_SEMITONES * np.round(apart / OCTAVE_SEMITONES))
    twelfth = np.abs(np.abs(apart) - TWELFTH_SEMITONES)
    return (octave < SLIP_SEMITONES) | (twelfth < SLIP_SEMITONES)
