"""Does a tone sound at all, wherever it lies? Asked where nothing sounds near the written part.

The part is followed within its own range. Who plays another part, two octaves away, is silent
there: a recording with clear tones in it is neither silence nor noise.
"""

from __future__ import annotations

from standlight.sound.hum import on_the_mains
from standlight.sound.pitch import pitch_candidates, pitch_path
from standlight.sound.values import Recording

LOWEST_MIDI, HIGHEST_MIDI = 24.0, 100.0
"""From a tuba's lowest notes to a piccolo's (the common ranges, from memory)."""

CLEAR_CONFIDENCE = 0.9
"""Tones have steadier periods than this; room noise above 90 stays under it (made takes of
seed 3701: silent rooms are clear in 2 of 100 frames at most, noisy takes in 33, another part in 69
and more)."""


def clear_tone_share(recording: Recording) -> float:
    """Share of the recording in which a clear tone sounds at any pitch but the mains' hum, 0..1.

    >>> import numpy as np
    >>> time_s = np.arange(48_000) / 48_000
    >>> tone = np.sin(2 * np.pi * 440 * time_s).astype(np.float32)
    >>> silence = Recording(0.0 * tone, 48_000)
    >>> clear_tone_share(Recording(tone, 48_000)) > 0.9, clear_tone_share(silence)
    (True, 0.0)
    """
    candidates = pitch_candidates(recording, LOWEST_MIDI, HIGHEST_MIDI)
    track = pitch_path(candidates, LOWEST_MIDI, HIGHEST_MIDI)
    clear = track.voiced & (track.confidence > CLEAR_CONFIDENCE) & ~on_the_mains(track.midi)
    return float(clear.mean()) if len(clear) else 0.0
