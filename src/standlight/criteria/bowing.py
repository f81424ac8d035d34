"""Bowing: its direction and how the bow is shared out. For people who see and hear it."""

from __future__ import annotations

import numpy as np

from standlight.criteria.values import Criterion
from standlight.passages import Asks, Held, counted

ENOUGH_MARKED = 8.0
"""Slurred, short or stressed notes that let bowing be judged (our choice)."""


def _shows(held: Held) -> np.ndarray:
    """Notes under slurs and with marks of the bow, against enough of them."""
    return (held.slurred + held.staccatos + held.accents + held.tenutos) / ENOUGH_MARKED


def _words(held: Held) -> str:
    """The slurs and the marked notes."""
    marked = int(held.staccatos[0] + held.accents[0] + held.tenutos[0])
    return f"{counted(int(held.slurs[0]), 'slur')}, {counted(marked, 'marked note')}"


ASKS = Asks(_shows, _words, needs="slurs or marked notes")
"""Bowing shows where strokes differ."""


CRITERION = Criterion(
    key="bowing",
    name="Bowing",
    question="Does the bow go the written way, with enough of it for each note?",
    descriptors={
        1: "The bow goes the other way often, or it runs out.",
        2: "The direction is right in easy places. Long notes run short of bow.",
        3: "The direction is as written nearly always. Long notes get more bow than short ones.",
        4: "Direction, place and speed of the bow are planned for every note and serve the phrase.",
    },
    families=("strings",),
    by_ear="Bowing is for a person's eye and ear: a recording hides which way the bow goes.",
    asks=ASKS,
)
"""Bow direction and distribution, rated by a person; strings only."""
