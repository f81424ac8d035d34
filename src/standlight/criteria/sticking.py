"""Sticking: which hand plays, and with what. For people who see it."""

from __future__ import annotations

import numpy as np

from standlight.criteria.values import Criterion
from standlight.passages import Asks, Held, counted

ENOUGH_STROKES = 16.0
"""Strokes that let sticking be judged (our choice)."""


def _shows(held: Held) -> np.ndarray:
    """Strokes, against enough of them."""
    return held.onsets / ENOUGH_STROKES


def _words(held: Held) -> str:
    """The strokes."""
    return counted(int(held.onsets[0]), "stroke")


ASKS = Asks(_shows, _words, needs="a line of strokes")
"""Sticking is seen in any line of strokes."""


CRITERION = Criterion(
    key="sticking",
    name="Sticking and implement",
    question="Do the hands follow the sticking, with the right sticks or mallets and a free grip?",
    descriptors={
        1: "One hand does most of it, or the sticks do not fit the instrument.",
        2: "Sticking is right in slow places. The grip is tight or uneven.",
        3: "Sticking is as planned nearly always, with fitting sticks and a free grip.",
        4: "Sticking, stroke height and choice of sticks serve the sound of every note.",
    },
    families=("percussion",),
    by_ear="Sticking is for a person's eye: a recording does not show which hand plays.",
    asks=ASKS,
)
"""Sticking and implement, rated by a person; percussion only."""
