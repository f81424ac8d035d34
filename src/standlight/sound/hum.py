"""The hum of the mains in the pauses of a take is no note.

Where nobody plays, a recorder's or a lamp's hum has the clearest pitch of all. It stands at the
mains' frequency and its first multiples, wherever the player is, and far below the music.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from standlight.music import midi_of_hz
from standlight.sound.values import PitchTrack

MAINS_HZ, MULTIPLES = (50.0, 60.0), (1, 2, 3)
"""Frequencies of public supply (IEC 60038, from memory), and the multiples that are looked at."""

HUM_SEMITONES = 0.15
"""The hum is as exact as the mains; notes lie 35 and 50 cents beside these pitches."""

HUM_DB = 12.0
"""Hum lies at least so far under the loud moments (90th percentile), or it is not told from a
note (made takes have it from 18 dB down)."""

_HUM_MIDI = np.array([float(midi_of_hz(hz * by)) for hz in MAINS_HZ for by in MULTIPLES])


def on_the_mains(midi: np.ndarray) -> np.ndarray:
    """True where a pitch (semitones, any shape) stands at the mains' frequency or a multiple.

    >>> on_the_mains(np.array([31.35, 31.0, 69.0]))  # 50 Hz, the G beside it, A4
    array([ True, False, False])
    """
    return np.abs(np.asarray(midi)[..., None] - _HUM_MIDI).min(axis=-1) < HUM_SEMITONES


def without_hum(track: PitchTrack, level_db: np.ndarray) -> PitchTrack:
    """``track`` with no voice where it follows the mains; ``level_db`` is the sound's, by frame."""
    frames = len(track.midi)
    level = np.full(frames, np.inf)
    level[: len(level_db)] = level_db[:frames]
    soft = level < float(np.percentile(level_db, 90)) - HUM_DB
    hum = on_the_mains(track.midi) & soft
    return replace(
        track, voiced=track.voiced & ~hum, confidence=np.where(hum, 0.0, track.confidence)
    )
