"""Vowels and breath: one shape of vowel, and air that carries the phrase. For people alone."""

from __future__ import annotations

import numpy as np

from standlight.criteria.values import Criterion
from standlight.passages import Asks, Held, counted

ENOUGH_LONG_SECONDS = 6.0
"""Held notes of this many seconds let vowels and breath be judged (our choice)."""


def _shows(held: Held) -> np.ndarray:
    """Held notes and an unbroken phrase, each against enough of it."""
    return 0.5 * np.minimum(1.0, held.long_s / ENOUGH_LONG_SECONDS) + 0.5 * np.minimum(
        1.0, held.stretch_s / ENOUGH_LONG_SECONDS
    )


def _words(held: Held) -> str:
    """The held notes and the longest phrase."""
    held_notes = counted(int(held.long_notes[0]), "held note")
    return f"{held_notes}, a phrase of {held.stretch_s[0]:.0f} seconds"


ASKS = Asks(_shows, _words, needs="held notes and a phrase to breathe for")
"""Vowels and breath are heard on held notes and in long phrases."""


CRITERION = Criterion(
    key="vowels",
    name="Vowels and breath",
    question="Do vowels keep one shape, and does the breath last to the end of the phrase?",
    descriptors={
        1: "Vowels change within a note, or I breathe in the middle of words.",
        2: "Some vowels keep their shape. The breath runs out before most ends.",
        3: "Most vowels match from note to note. Breaths come where the phrase ends.",
        4: "Every vowel is tall and the same low and high. The breath is silent and lasts.",
    },
    families=("voice",),
    by_ear="Vowels and breath are for a person's ear: the tool does not listen to words.",
    asks=ASKS,
)
"""Vowel shape and breath, rated by ear; voices only."""
