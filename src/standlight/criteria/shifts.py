"""Shifts: how the left hand changes its place. For people who see and hear it."""

from __future__ import annotations

import numpy as np

from standlight.criteria.values import Criterion
from standlight.passages import Asks, Held, counted

ENOUGH_HIGH = 4.0
"""Notes above first position that let shifts be judged (our choice)."""


def _shows(held: Held) -> np.ndarray:
    """Notes above first position, against enough of them."""
    return held.shifted / ENOUGH_HIGH


def _words(held: Held) -> str:
    """The notes above first position."""
    return f"{counted(int(held.shifted[0]), 'note')} above first position"


ASKS = Asks(_shows, _words, needs="notes above first position")
"""Shifts are heard where the part leaves first position."""


CRITERION = Criterion(
    key="shifts",
    name="Shifts",
    question="Does the hand arrive in its new place lightly, in time and in tune?",
    descriptors={
        1: "The hand searches for its place, and the music stops for it.",
        2: "Some shifts arrive. Others slide long or land beside the note.",
        3: "Most shifts arrive in time and in tune, with a light hand.",
        4: "Shifts cannot be heard unless they are meant to be.",
    },
    families=("strings",),
    by_ear="Shifts are for a person's eye and ear: the tool does not know which finger plays.",
    asks=ASKS,
)
"""Shifts, rated by a person; strings only."""
