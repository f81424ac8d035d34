"""Diction: whether the sung words can be understood. For people's ears only."""

from __future__ import annotations

import numpy as np

from standlight.criteria.values import Criterion
from standlight.passages import Asks, Held, counted

ENOUGH_SYLLABLES = 16.0
"""Syllables that let words be judged, about two lines of verse (our choice)."""


def _shows(held: Held) -> np.ndarray:
    """Syllables against enough of them."""
    return held.syllables / ENOUGH_SYLLABLES


def _words(held: Held) -> str:
    """Syllables and the notes drawn out over them."""
    said = counted(int(held.syllables[0]), "syllable")
    drawn_out = int(held.melismas[0])
    return f"{said}, {drawn_out} over more than one note" if drawn_out else said


ASKS = Asks(_shows, _words, needs="words to sing")
"""Diction is heard where there are words."""


CRITERION = Criterion(
    key="diction",
    name="Diction",
    question="Can a listener understand the words?",
    descriptors={
        1: "Most words cannot be understood, or words are missing.",
        2: "Some words are clear. Vowels change or ends of words get lost.",
        3: "Most words are clear. Vowels match the style and ends of words are together.",
        4: "Every word is clear, with tall vowels and light, exact consonants.",
    },
    families=("voice",),
    by_ear="Diction is for a person's ear: the tool does not listen to words.",
    asks=ASKS,
)
"""Clear words, rated by ear; voices only."""
