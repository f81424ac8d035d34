"""Expression: the shape and character a player gives the line. For people's ears.

Gaps between notes are read beside it: where the sound stopped against rests and breath marks.
"""

from __future__ import annotations

import numpy as np

from standlight.criteria.gaps import gaps
from standlight.criteria.values import EVERYONE, Criterion, Reading
from standlight.passages import Asks, Held, counted
from standlight.sound.values import Performance

KEY = "expression"


def read(performance: Performance) -> tuple[Reading, ...]:
    """Where the sound stopped: gaps that are not written, and written breaths that were heard."""
    return gaps(KEY, performance)


def _shows(held: Held) -> np.ndarray:
    """Slurred or held lines, changes of loudness, and a phrase long enough to shape."""
    line = np.minimum(1.0, (held.slurred + held.long_notes) / 8.0)
    changes = held.hairpins + np.maximum(held.distinct_dynamics - 1, 0)
    loudness = np.minimum(1.0, 0.5 * changes)
    phrase = np.minimum(1.0, held.stretch_s / 4.0)
    return 0.4 * line + 0.3 * loudness + 0.3 * phrase


def _words(held: Held) -> str:
    """The longest phrase, slurs and changes of loudness."""
    said = [f"a phrase of {held.stretch_s[0]:.0f} seconds"]
    said += [counted(int(held.slurs[0]), "slur")] if held.slurs[0] else []
    said += [counted(int(held.hairpins[0]), "hairpin")] if held.hairpins[0] else []
    return ", ".join(said)


ASKS = Asks(_shows, _words, needs="a line to shape: slurs, held notes, hairpins")
"""Expression is heard in a line that can be shaped."""


CRITERION = Criterion(
    key="expression",
    name="Expression",
    question="Does the line have shape and character, as if it says something?",
    descriptors={
        1: "The notes come one by one, all the same. I do not hear phrases yet.",
        2: "Some phrases grow and relax, or some markings are followed. Others are flat.",
        3: "Most phrases have a shape and an end, and the style fits the piece.",
        4: "Every phrase goes somewhere. The style is clear, and the player makes choices.",
    },
    families=EVERYONE,
    by_ear="Expression is for a person's ear: the tool does not judge musical meaning.",
    beside="The figures beside it say where the sound stopped, not how well the line is shaped.",
    read=read,
    asks=ASKS,
)
"""Phrasing and style, rated by ear."""
