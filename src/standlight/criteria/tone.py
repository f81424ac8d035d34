"""Tone: the colour and centre of the sound. For people's ears; steadiness is read beside it."""

from __future__ import annotations

import numpy as np

from standlight.criteria.holds import steadiness, vibrato
from standlight.criteria.values import SUSTAINING, Criterion, Reading
from standlight.passages import Asks, Held, counted
from standlight.sound.values import Performance

KEY = "tone"

ENOUGH_LONG_SECONDS = 6.0
"""Held notes of this many seconds let a tone be judged fully (our choice)."""


def read(performance: Performance) -> tuple[Reading, ...]:
    """How steady held notes are in pitch and level, and vibrato: never how good the tone is."""
    return (*steadiness(KEY, performance), *vibrato(KEY, performance))


def _shows(held: Held) -> np.ndarray:
    """How many seconds of held notes there are, against enough of them."""
    return held.long_s / ENOUGH_LONG_SECONDS


def _words(held: Held) -> str:
    """The held notes."""
    return counted(int(held.long_notes[0]), "held note")


ASKS = Asks(_shows, _words, needs="notes held for half a second or more")
"""Tone is heard on held notes."""


CRITERION = Criterion(
    key="tone",
    name="Tone",
    question="Is the sound clear, steady and full for this instrument or voice?",
    descriptors={
        1: "The sound often breaks, shakes or is hard to hear. It is hard to hold a note.",
        2: "The sound is clear on some notes. High, low, loud or soft notes lose it.",
        3: "The sound is clear and steady on most notes, with good air, bow or breath.",
        4: "The sound is full and even on every note, high and low, loud and soft.",
    },
    families=SUSTAINING,
    by_ear="Tone is for a person's ear: a microphone and a room change it too much to measure.",
    beside="The figures beside it say how steady held notes were, not how good the tone is.",
    read=read,
    asks=ASKS,
)
"""Tone quality, rated by ear."""
