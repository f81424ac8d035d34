"""Articulation: how much of its written length each note sounds."""

from __future__ import annotations

import numpy as np

from standlight.criteria.figures import median_interval
from standlight.criteria.values import SUSTAINING, Criterion, Reading
from standlight.passages import Asks, Held, counted
from standlight.sound.values import Performance

KEY = "articulation"

FEWEST_NOTES = 3
"""Notes of a kind needed for a figure (our choice)."""

_KINDS = {
    "short notes (dots)": ("staccato", "Notes with dots"),
    "long notes (lines)": ("tenuto", "Notes with lines"),
    "joined notes (slurs)": ("slurred", "Slurred notes"),
}


def read(performance: Performance) -> tuple[Reading, ...]:
    """Median share of its written length that a note sounds, by kind of mark, in percent.

    A room's echo makes notes longer than they were played; the sentence of a reading says
    what was heard, not what was meant.
    """
    shares: dict[str, list[float]] = {name: [] for name in _KINDS}
    plain: list[float] = []
    for written, heard in zip(performance.passage.notes, performance.notes, strict=True):
        if heard.sounding_share is None:
            continue
        marked = [name for name, (mark, _) in _KINDS.items() if mark in written.marks]
        for name in marked:
            shares[name].append(100.0 * heard.sounding_share)
        if not marked:
            plain.append(100.0 * heard.sounding_share)
    readings = [_reading("plain notes", plain, "Plain notes")]
    for name, (_, words) in _KINDS.items():
        if shares[name]:
            readings.append(_reading(name, shares[name], words))
    return tuple(readings)


def _reading(name: str, shares: list[float], words: str) -> Reading:
    """The median share of one kind of note, or the reason why there is none."""
    if len(shares) < FEWEST_NOTES:
        because = f"only {len(shares)} such notes with a known length; {FEWEST_NOTES} are needed"
        return Reading(KEY, name, None, None, None, "percent", len(shares), because=because)
    share, low, high = median_interval(shares)
    sentence = f"{words} sound for {share:.0f} percent of their written length."
    return Reading(KEY, name, share, low, high, "percent", len(shares), sentence=sentence)


def _shows(held: Held) -> np.ndarray:
    """Kinds of marks, each by how often it stands (twice is enough), half for each kind."""
    kinds = (held.slurs, held.staccatos, held.accents, held.tenutos)
    return 0.5 * sum(np.minimum(count / 2.0, 1.0) for count in kinds)


_MARKED = (
    ("slurs", "slur"),
    ("staccatos", "staccato note"),
    ("accents", "accent"),
    ("tenutos", "tenuto note"),
)


def _words(held: Held) -> str:
    """The marks, counted."""
    said = [
        counted(int(getattr(held, field)[0]), word)
        for field, word in _MARKED
        if getattr(held, field)[0]
    ]
    return ", ".join(said) or "none written"


ASKS = Asks(_shows, _words, needs="slurs, dots, lines or accents")
"""Articulation is heard where it is marked."""


CRITERION = Criterion(
    key="articulation",
    name="Articulation",
    question="Do notes start and end the way they are marked?",
    descriptors={
        1: "Starts are unclear, and all notes are joined or cut the same way.",
        2: "Some marks are followed: slurs, dots and lines sound a little different.",
        3: "Starts are clear, and slurs, dots, lines and accents sound as marked nearly always.",
        4: "Every start and end is clean and fits the style, also in fast music.",
    },
    families=SUSTAINING,
    read=read,
    asks=ASKS,
)
"""Articulation, read by the tool beside the director's ear."""
