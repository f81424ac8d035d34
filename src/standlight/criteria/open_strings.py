"""Open strings: whether the instrument is tuned before it is played. For people alone."""

from __future__ import annotations

import numpy as np

from standlight.criteria.values import Criterion
from standlight.passages import Asks, Held, counted

ENOUGH_PITCHES = 5.0
"""Different pitches among which open strings usually are (our choice)."""


def _shows(held: Held) -> np.ndarray:
    """Different pitches, against enough of them: any line crosses open strings."""
    return held.distinct_pitches / ENOUGH_PITCHES


def _words(held: Held) -> str:
    """The different pitches."""
    return counted(int(held.distinct_pitches[0]), "pitch", "pitches")


ASKS = Asks(_shows, _words, needs="several different pitches")
"""Tuning of the open strings is heard before the passage and wherever it uses them."""


CRITERION = Criterion(
    key="open_strings",
    name="Open strings",
    question="Are the open strings in tune with the group before I begin?",
    descriptors={
        1: "I did not tune, or several strings are far off.",
        2: "Some strings match. I need help to hear or to mend the others.",
        3: "All strings match the tuning note, with a little help for the last one.",
        4: "I tune all strings alone, in fifths or fourths, and check them again.",
    },
    families=("strings",),
    by_ear="Open strings are for a person's ear: the tool cannot tell which string sounds.",
    asks=ASKS,
)
"""Open strings, rated by ear; strings only."""
