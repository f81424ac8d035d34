"""A second look at every note that was told as another pitch or missing, before it is believed.

The pitch track may have followed a mixture of two tones, the room or a knock while the written
note sounded: then the harmonics of the written pitch stand out, and further than those of the pitch
that was told, or of the note before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from standlight.music import hz_of_midi
from standlight.sound.following import ADDED
from standlight.sound.harmonics import early_part, late_part, standing_out_db
from standlight.sound.loudness import loudness_lkfs
from standlight.sound.noting import UNCLEAR_PROBABILITY, Frames
from standlight.sound.settling import Sounding
from standlight.sound.values import HeardNote, Recording

LEAST_MORE_DB = 3.0
"""The harmonics of a written pitch stand out at least so much further than those of the other
pitch that was told, in the mean of an early and a late look (made takes of eight development seeds:
19 of 87 right notes and 8 of 27 octaves told as another pitch do, and 1 of 1,745 wrong ones)."""

HIDDEN_PEAK_DB = 8.0
"""A note that was told missing sounds where its harmonics stand out so far, further than those of
the note before, and neither that one nor the next has its pitch (the same takes: 49 of 172 right
notes and 8 of 31 octaves told as missing, and 4 of 858 that were left out)."""

TELLING_CENTS, Z_95 = 25.0, 1.959964
"""A deviation that is not known to what is heard as out of tune in a melody (Larrouy-Maestri 2018,
abstract) tells nothing: it is left out (2 in 100 notes of the same takes, half under 0.15 s)."""

NEAR_SEMITONES = 0.5
"""A sound has the pitch of the one beside it within this."""


def looked_again(
    heard: Sequence[HeardNote],
    settled: Sequence[Sounding],
    frames: Frames,
    written: np.ndarray,
    a4_offset: float,
) -> list[HeardNote]:
    """``heard`` with each other pitch and missing note played where the written pitch sounds.

    ``settled`` are all soundings; ``heard`` those of written notes, in the same order. ``written``
    are the pitches that the notes should sound at by index, the take's shift and tuning in them,
    ``a4_offset`` what ``midi_heard`` leaves out (both in semitones). A note that is given back has
    no deviation; that of another pitch has the written one for its octave to be told, a missing
    one has none, for where no pitch was seen an octave above is none (5 of 40 came out so, 4 of
    them left out): see `without_guesses`.
    """
    places = [place for place, sounding in enumerate(settled) if sounding.kind != ADDED]
    return [
        _looked_at(note, place, settled, frames, float(written[note.index]), a4_offset)
        for note, place in zip(heard, places, strict=True)
    ]


def without_guesses(heard: Sequence[HeardNote]) -> list[HeardNote]:
    """``heard`` without what was not measured, or too unsurely to mean anything.

    Without the pitch of played notes that was taken as written, and without deviations whose 95
    percent interval reaches farther than `TELLING_CENTS`.
    """
    return [_without_guess(note) for note in heard]


def _without_guess(note: HeardNote) -> HeardNote:
    """``note`` without its pitch or its deviation where that is a guess."""
    if note.outcome != "played" or note.midi_heard is None:
        return note
    if note.deviation_cents is None:
        return replace(note, midi_heard=None)
    if Z_95 * note.deviation_se_cents <= TELLING_CENTS:
        return note
    return replace(note, deviation_cents=None, deviation_se_cents=None)


def _looked_at(
    note: HeardNote,
    place: int,
    settled: Sequence[Sounding],
    frames: Frames,
    written: float,
    a4_offset: float,
) -> HeardNote:
    """``note`` as it was told, or played; ``written`` is the pitch it should sound at."""
    own = written - a4_offset
    is_octave = note.deviation_cents is not None  # of those `octaves` tells, and measures them
    wrong = note.outcome == "other_pitch" and not is_octave
    if wrong and _is_mistaken(note, frames.recording, own, a4_offset):
        return replace(
            note, outcome="played", midi_heard=own, deviation_cents=None,
            deviation_se_cents=None, probability=UNCLEAR_PROBABILITY,
        )  # fmt: skip
    if note.outcome == "missing" and _is_hidden(place, settled, frames.recording, written):
        sounding = settled[place]
        end_s = frames.end_of(sounding.onset_s, sounding.until_s)
        return HeardNote(
            note.index, "played", sounding.onset_s, end_s, probability=UNCLEAR_PROBABILITY,
            loudness_lkfs=loudness_lkfs(frames.k_power[frames.span(sounding.onset_s, end_s)]),
        )  # fmt: skip
    return note


def _is_mistaken(note: HeardNote, recording: Recording, own: float, a4_offset: float) -> bool:
    """True where the pitch ``own`` stands out and the one that was told does not."""
    looks = [
        (_stands_out(recording, part, own + a4_offset),
         _stands_out(recording, part, note.midi_heard + a4_offset))
        for part in _parts(note.onset_s, note.offset_s)
    ]  # fmt: skip
    more_db = [mine - other for mine, other in looks if mine is not None and other is not None]
    return bool(more_db) and float(np.mean(more_db)) >= LEAST_MORE_DB


def _is_hidden(
    place: int, settled: Sequence[Sounding], recording: Recording, written: float
) -> bool:
    """True where the ``written`` pitch stands out of what was laid at ``place``, from there on."""
    beside = [
        settled[at].midi if 0 <= at < len(settled) else None for at in (place - 1, place + 1)
    ]
    if any(midi is not None and abs(midi - written) < NEAR_SEMITONES for midi in beside):
        return False
    parts = _parts(settled[place].onset_s, settled[place].until_s)
    own = [_stands_out(recording, part, written) for part in parts]
    if None in own or np.mean(own) < HIDDEN_PEAK_DB:
        return False
    if beside[0] is None:
        return True
    before = [_stands_out(recording, part, beside[0]) for part in parts]
    return None in before or bool(np.mean(own) > np.mean(before))


def _parts(start_s: float, end_s: float) -> tuple[tuple[float, float], tuple[float, float]]:
    """The early and the late part of a note, from when to when."""
    return early_part(start_s, end_s), late_part(start_s, end_s)


def _stands_out(recording: Recording, part: tuple[float, float], midi: float) -> float | None:
    """How far the harmonics of ``midi`` stand out in a part of the recording, dB."""
    return standing_out_db(recording, part, float(hz_of_midi(midi)))
