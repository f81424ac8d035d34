"""Is it the written octave? By which harmonics sound, for every note that has the right name.

Autocorrelation cannot tell a tone from the one an octave above it (every period of the
higher is also one of the lower when doubled), and the written range, which decides
elsewhere, is just what an octave slip leaves. The spectrum can: without its odd harmonics a
tone is the octave above; with sound half-way between its harmonics it is the octave below.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from standlight.music import hz_of_midi
from standlight.sound.values import HeardNote, Recording

LONGEST_LOOK_S = 0.30
"""So much of a note's middle is looked at."""

HIGHEST_HZ, MOST_HARMONICS = 6_000.0, 6
"""Harmonics above are left out: phones and rooms shape them too much."""

HALF_WIDTH = 0.025
"""Each harmonic is sought within this share of its frequency (about 40 cents)."""

UP_DB, UP_APART_DB = -22.0, 12.0
"""Odd harmonics so far below the even ones, and so far below what the take's notes usually
have: the octave above. On made takes (seeds 1600 and 1700) all but 2 of 2,496 right notes lie
above the first, 40 of 47 slips below it and most of them far below."""

DOWN_DB, DOWN_APART_DB = -7.5, 18.0
"""Sound half-way between harmonics so little below the harmonics, and so far above the take's
usual: the octave below. On the same takes all but three right notes lie below the first."""

SEEN_UP_DB, SEEN_DOWN_DB = -17.0, -12.0
"""The same where the pitch track itself lies an octave off. With all six 119 of 130 slips are
told and 3 that are none; milder by 5 and 6 dB, 122 and 26."""

SAME_SEMITONES = 0.7
"""A sound counts as the written note's name within this of it or its octaves."""

_FLOOR = 1e-12


def harmonic_levels(
    recording: Recording, start_s: float, end_s: float, hz: float
) -> tuple[float, float] | None:
    """Odd against even harmonics of ``hz``, and half-way sound against all, in decibel.

    Of the middle of what lies between ``start_s`` and ``end_s``. None when that is too short.

    >>> time_s = np.arange(48_000) / 48_000
    >>> tone = np.sin(2 * np.pi * 440 * time_s).astype(np.float32)
    >>> odd_db, _ = harmonic_levels(Recording(tone, 48_000), 0.1, 0.6, 220.0)
    >>> odd_db < -60.0
    True
    """
    length_s = end_s - start_s
    first_s = start_s + min(0.05, 0.25 * length_s)
    last_s = min(end_s - 0.1 * length_s, first_s + LONGEST_LOOK_S)
    rate_hz = recording.rate_hz
    piece = recording.samples[int(first_s * rate_hz) : int(last_s * rate_hz)].astype(float)
    if len(piece) < 3.0 * rate_hz / hz:
        return None
    size = 1 << int(np.ceil(np.log2(max(4 * len(piece), 8_192))))
    power = np.abs(np.fft.rfft(piece * np.hanning(len(piece)), size)) ** 2
    top = int(min(2 * MOST_HARMONICS, 2.0 * min(HIGHEST_HZ, 0.45 * rate_hz) / hz))
    halves = np.arange(1, top + 1)
    centre = halves * hz / 2.0 * size / rate_hz
    low = (centre * (1.0 - HALF_WIDTH)).astype(int)
    high = (centre * (1.0 + HALF_WIDTH)).astype(int) + 2
    level = np.array([power[a:b].max(initial=0.0) for a, b in zip(low, high, strict=True)])
    between, odd, even = (level[mask].sum() for mask in (
        halves % 2 == 1, halves % 4 == 2, halves % 4 == 0))  # fmt: skip
    return _decibel(odd, even), _decibel(between, odd + even)


def _decibel(one: float, other: float) -> float:
    """``one`` against ``other`` in decibel."""
    return 10.0 * float(np.log10((one + _FLOOR) / (other + _FLOOR)))


def with_octaves(
    heard: Sequence[HeardNote], recording: Recording, written: np.ndarray, a4_offset: float
) -> list[HeardNote]:
    """``heard`` with the octave of each note that has the written name decided by harmonics.

    ``written`` are the pitches that the notes should sound at by index, the take's shift and
    tuning in them, ``a4_offset`` what ``midi_heard`` leaves out (both in semitones).
    """
    folded = [_folded(note, written, a4_offset) for note in heard]
    levels = [
        harmonic_levels(recording, note.onset_s, note.offset_s, float(hz_of_midi(midi)))
        if midi is not None and note.onset_s is not None and note.offset_s is not None
        else None
        for note, midi in zip(heard, folded, strict=True)
    ]
    known = [level for level in levels if level is not None]
    if not known:
        return list(heard)
    usual_odd, usual_between = np.median(np.array(known), axis=0)
    decided = []
    for note, midi, level in zip(heard, folded, levels, strict=True):
        if midi is None or level is None:
            decided.append(note)
            continue
        seen = note.outcome != "played"
        up = level[0] < min(SEEN_UP_DB if seen else UP_DB, usual_odd - UP_APART_DB)
        down = level[1] > max(SEEN_DOWN_DB if seen else DOWN_DB, usual_between + DOWN_APART_DB)
        decided.append(_at(note, midi - a4_offset, int(up) - int(down and not up)))
    return decided


def _folded(note: HeardNote, written: np.ndarray, a4_offset: float) -> float | None:
    """The heard pitch brought to the written octave; None for any other note."""
    if note.midi_heard is None:
        return None
    apart = note.midi_heard + a4_offset - written[note.index]
    octaves = round(apart / 12.0)
    if abs(octaves) > 1 or abs(apart - 12.0 * octaves) > SAME_SEMITONES:
        return None
    return note.midi_heard + a4_offset - 12.0 * octaves


def _at(note: HeardNote, midi: float, octaves: int) -> HeardNote:
    """``note`` at ``octaves`` from the written one (``midi``); in that octave it is played."""
    if not octaves:
        known = note.deviation_cents is not None
        return replace(note, outcome="played", midi_heard=midi) if known else note
    return replace(
        note,
        outcome="other_pitch",
        midi_heard=midi + 12.0 * octaves,
        deviation_cents=None,
        deviation_se_cents=None,
    )
