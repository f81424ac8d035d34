"""From samples to a followed performance: pitch, onsets, loudness, quality, following.

`perform` follows a passage through a `Recording` and gives a `Performance`; the verdicts
say whether the recording can be read at all. Nothing here opens a file, asks a clock or
knows a person; signals are numpy arrays with shape and unit in each docstring.
"""

from __future__ import annotations

from standlight.sound.beyond import with_playing_beyond_told
from standlight.sound.curves import (
    LoudnessPoint,
    TempoPoint,
    loudness_line,
    stops_of,
    stretches_of,
    tempo_curve,
)
from standlight.sound.holding import held_notes
from standlight.sound.joins import Join, joins_of
from standlight.sound.performing import perform
from standlight.sound.quality import (
    FATAL,
    Verdict,
    first_sound_s,
    verdicts_on_performance,
    verdicts_on_sound,
)
from standlight.sound.repeats import with_repeats_told
from standlight.sound.rolling import rolls_of
from standlight.sound.targets import EQUAL_TEMPERAMENT, PitchTarget
from standlight.sound.together import perform_together
from standlight.sound.values import (
    HeardNote,
    HeldNote,
    Performance,
    PitchTrack,
    Recording,
    Roll,
)

__all__ = [
    "EQUAL_TEMPERAMENT",
    "FATAL",
    "HeardNote",
    "HeldNote",
    "Join",
    "LoudnessPoint",
    "Performance",
    "PitchTarget",
    "PitchTrack",
    "Recording",
    "Roll",
    "TempoPoint",
    "Verdict",
    "first_sound_s",
    "held_notes",
    "joins_of",
    "loudness_line",
    "perform",
    "perform_together",
    "rolls_of",
    "stops_of",
    "stretches_of",
    "tempo_curve",
    "verdicts_on_performance",
    "verdicts_on_sound",
    "with_playing_beyond_told",
    "with_repeats_told",
]
