"""Articulation: how much of its written length each note sounds."""

from __future__ import annotations

import numpy as np

from standlight.criteria.figures import median_difference, median_interval
from standlight.criteria.values import SUSTAINING, Criterion, Reading
from standlight.passages import Asks, Held, counted
from standlight.sound.values import Performance

KEY = "articulation"

FEWEST_NOTES = 3
"""Notes of a kind needed for a figure (our choice)."""

KINDS = {
    "short notes (dots)": ("staccato", "Notes with dots"),
    "long notes (lines)": ("tenuto", "Notes with lines"),
    "joined notes (slurs)": ("slurred", "Slurred notes"),
}
"""Kind of note to the mark it carries and how it is called at the start of a sentence."""


def read(performance: Performance) -> tuple[Reading, ...]:
    """Median share of its written length that a note sounds, by kind of mark, in percent.

    A room's echo makes notes longer than they were played; the sentence of a reading says
    what was heard, not what was meant.
    """
    shares: dict[str, list[float]] = {name: [] for name in KINDS}
    plain: list[float] = []
    for written, heard in zip(performance.passage.notes, performance.notes, strict=True):
        if heard.sounding_share is None:
            continue
        marked = [name for name, (mark, _) in KINDS.items() if mark in written.marks]
        for name in marked:
            shares[name].append(100.0 * heard.sounding_share)
        if not marked:
            plain.append(100.0 * heard.sounding_share)
    readings = [_reading("plain notes", plain, "Plain notes")]
    for name, (_, words) in KINDS.items():
        if shares[name]:
            readings.append(_reading(name, shares[name], words))
    readings += _contrasts(shares, plain)
    readings.append(_separation(performance))
    return tuple(readings)


EXPECTED = {
    "short notes (dots)": ("shorter", -1.0),
    "long notes (lines)": ("longer", 1.0),
    "joined notes (slurs)": ("longer", 1.0),
}
"""Which way each kind differs from plain notes, as every method book says."""

CLEAR_PERCENT = 10.0
"""A difference of so many percent of the written length is called clear (our choice)."""


def _contrasts(shares: dict[str, list[float]], plain: list[float]) -> list[Reading]:
    """Each marked kind against plain notes, in percent of the written length."""
    readings = []
    for name, (_, words) in KINDS.items():
        if not shares[name]:
            continue
        title = f"{name} against plain notes"
        fewest = min(len(shares[name]), len(plain))
        if fewest < FEWEST_NOTES:
            because = f"only {fewest} notes on one side; {FEWEST_NOTES} are needed"
            readings.append(
                Reading(KEY, title, None, None, None, "percent", fewest, because=because)
            )
            continue
        apart, low, high = median_difference(shares[name], plain)
        way, sign = EXPECTED[name]
        clear = sign * apart >= CLEAR_PERCENT and not low <= 0.0 <= high
        said = f"are clearly {way} than" if clear else "sound about as long as"
        readings.append(
            Reading(
                KEY, title, apart, low, high, "percent", len(shares[name]) + len(plain),
                sentence=f"{words} {said} plain notes.",
            )
        )  # fmt: skip
    return readings


def _separation(performance: Performance) -> Reading:
    """The silence before the next note where none is slurred and no rest stands, ms."""
    name, silences = "separation of plain notes", []
    written = performance.passage.notes
    for before, after in zip(performance.notes, performance.notes[1:], strict=False):
        if before.offset_s is None or after.onset_s is None or before.sounding_share is None:
            continue
        first, second = written[before.index], written[after.index]
        ends = first.onset_quarters + first.duration_quarters
        if second.onset_quarters > ends or first.marks & _SHAPED or "slurred" in second.marks:
            continue
        silences.append(1000.0 * max(after.onset_s - before.offset_s, 0.0))
    if len(silences) < FEWEST_NOTES:
        because = f"only {len(silences)} plain notes lead to another; {FEWEST_NOTES} are needed"
        return Reading(KEY, name, None, None, None, "ms", len(silences), because=because)
    value, low, high = median_interval(silences)
    words = "Plain notes follow each other without a gap."
    if value >= HEARD_GAP_MS:
        words = "A short silence is heard between plain notes."
    return Reading(KEY, name, value, low, high, "ms", len(silences), sentence=words)


_SHAPED = frozenset({"staccato", "tenuto", "marcato", "fermata", "breath_after"})

HEARD_GAP_MS = 30.0
"""Less than this is the follower's own grain: frames of 10 ms and the note's decay (our choice)."""


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
