"""Dynamics: how much louder the loud regions are than the soft ones, inside one take."""

from __future__ import annotations

import numpy as np

from standlight.criteria.figures import NORMAL_95
from standlight.criteria.values import EVERYONE, Criterion, Reading
from standlight.music import LOUDNESS_ORDER
from standlight.passages import Asks, Held, counted
from standlight.sound.values import Performance

KEY = "dynamics"
NAME = "loud minus soft"

FEWEST_NOTES = 3
"""Notes needed on each side of a contrast (our choice)."""

LITTLE_LU = 3.0
"""Under this a contrast is called little: a level change of 1 dB is just heard (textbook)."""


def read(performance: Performance) -> tuple[Reading, ...]:
    """Contrast between the loudest and the softest marked dynamic of the take, in LU.

    Only inside one take and only where the recording's loudness can be believed.
    """
    if not performance.loudness_trusted:
        return (_absent("the recording is overloaded, so its loudness cannot be believed", 0),)
    by_mark: dict[str, list[float]] = {}
    for written, heard in zip(performance.passage.notes, performance.notes, strict=True):
        if written.dynamic in LOUDNESS_ORDER and heard.loudness_lkfs is not None:
            by_mark.setdefault(written.dynamic, []).append(heard.loudness_lkfs)
    marks = [m for m in LOUDNESS_ORDER if len(by_mark.get(m, [])) >= FEWEST_NOTES]
    count = sum(len(levels) for levels in by_mark.values())
    if len(marks) < 2:
        because = (
            f"fewer than two dynamic markings have {FEWEST_NOTES} heard notes each, "
            "so there is no contrast to measure"
        )
        return (_absent(because, count),)
    soft, loud = np.array(by_mark[marks[0]]), np.array(by_mark[marks[-1]])
    contrast = float(loud.mean() - soft.mean())
    se = float(np.sqrt(loud.var(ddof=1) / len(loud) + soft.var(ddof=1) / len(soft)))
    words = f"{marks[-1]} is clearly louder than {marks[0]}."
    if contrast < LITTLE_LU:
        words = f"Little contrast is heard between {marks[0]} and {marks[-1]}."
    return (
        Reading(
            KEY, NAME, contrast, contrast - NORMAL_95 * se, contrast + NORMAL_95 * se, "LU",
            len(loud) + len(soft), sentence=words,
        ),
    )  # fmt: skip


def _absent(because: str, count: int) -> Reading:
    """The reading of this criterion when there is no figure, with the reason."""
    return Reading(KEY, NAME, None, None, None, "LU", count, because=because)


def _shows(held: Held) -> np.ndarray:
    """Levels beyond the first and hairpins; two levels, or a level and a hairpin, are half."""
    contrast = 0.5 * np.maximum(held.distinct_dynamics - 1, 0)
    return contrast + 0.4 * np.minimum(held.hairpins, 2)


def _words(held: Held) -> str:
    """From the softest to the loudest, and the hairpins."""
    soft, loud = int(held.softest[0]), int(held.loudest[0])
    said = []
    if soft >= 0:
        levels = LOUDNESS_ORDER[soft], LOUDNESS_ORDER[loud]
        said.append(levels[0] if soft == loud else f"{levels[0]} to {levels[1]}")
    said += [counted(int(held.hairpins[0]), "hairpin")] if held.hairpins[0] else []
    return ", ".join(said) or "none written"


ASKS = Asks(_shows, _words, needs="two written levels, or a hairpin")
"""Dynamics are heard where they change."""


CRITERION = Criterion(
    key="dynamics",
    name="Dynamics",
    question="Can a listener hear the written loud and soft?",
    descriptors={
        1: "It is all one loudness, or loud and soft come by accident.",
        2: "A little change can be heard, mostly at the biggest markings.",
        3: "Loud and soft are clearly different where they are written.",
        4: "Every marking is heard, changes grow smoothly, and the sound stays good.",
    },
    families=EVERYONE,
    read=read,
    asks=ASKS,
)
"""Dynamics, read by the tool beside the director's ear."""
