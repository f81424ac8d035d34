"""From samples to a followed performance: pitch, onsets, loudness, quality, following.

`perform` follows a passage through a `Recording` and gives a `Performance`; the verdicts
say whether the recording can be read at all. Nothing here opens a file, asks a clock or
knows a person; signals are numpy arrays with shape and unit in each docstring.
"""

from __future__ import annotations

from standlight.sound.performing import perform
from standlight.sound.quality import (
    FATAL,
    Verdict,
    first_sound_s,
    verdicts_on_performance,
    verdicts_on_sound,
)
from standlight.sound.values import HeardNote, Performance, PitchTrack, Recording

__all__ = [
    "FATAL",
    "HeardNote",
    "Performance",
    "PitchTrack",
    "Recording",
    "Verdict",
    "first_sound_s",
    "perform",
    "verdicts_on_performance",
    "verdicts_on_sound",
]
