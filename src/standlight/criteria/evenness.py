"""Evenness: how alike a drummer's strokes are in time and loudness."""

from __future__ import annotations

import numpy as np

from standlight.criteria.figures import (
    median_difference,
    median_interval,
    robust_spread,
    spread_interval,
)
from standlight.criteria.values import Criterion, Reading
from standlight.passages import Asks, Held, counted
from standlight.sound.values import Performance

KEY = "evenness"

FEWEST_STROKES = 8
"""Strokes needed for a figure (our choice)."""


def read(performance: Performance) -> tuple[Reading, ...]:
    """Scatter of strokes in time (ms) and in loudness (LU), accents left out of the latter."""
    heard = [note for note in performance.notes if note.asynchrony_ms is not None]
    if len(heard) < FEWEST_STROKES:
        because = f"only {len(heard)} strokes in a row; at least {FEWEST_STROKES} are needed"
        return (
            Reading(KEY, "evenness in time", None, None, None, "ms", len(heard), because=because),
            *_rolls(performance),
        )
    scatter = robust_spread(note.asynchrony_ms for note in heard)
    low, high = spread_interval(scatter, len(heard))
    return (
        Reading(
            KEY, "evenness in time", scatter, low, high, "ms", len(heard),
            sentence=f"Strokes scatter by about {scatter:.0f} ms around the beat.",
        ),
        _loudness(performance),
        *_hands(performance),
        *_rolls(performance),
    )  # fmt: skip


FEWEST_IN_ROLL = 6
"""Strokes in a roll needed for a figure (our choice)."""

JUST_HEARD_LU = 1.0
"""Smallest noticeable change of level, about 1 dB (textbook, from memory)."""


def _hands(performance: Performance) -> tuple[Reading, ...]:
    """Every other stroke of runs of equal strokes against the strokes between, in LU.

    Which hand plays which stroke is not known: this only says that they differ.
    """
    name = "every other stroke"
    sides: tuple[list[float], list[float]] = ([], [])
    place, written = 0, performance.passage.notes
    for before, heard in zip(performance.notes, performance.notes[1:], strict=False):
        here, last = written[heard.index], written[before.index]
        alike = here.duration_quarters == last.duration_quarters and here.dynamic == last.dynamic
        place = place + 1 if alike else 0
        if place and heard.loudness_lkfs is not None and not here.marks & _ACCENTED:
            sides[place % 2].append(heard.loudness_lkfs)
    fewest = min(len(side) for side in sides)
    if fewest < FEWEST_STROKES:
        return ()
    if not performance.loudness_trusted:
        because = "the recording is overloaded, so its loudness cannot be believed"
        return (Reading(KEY, name, None, None, None, "LU", 2 * fewest, because=because),)
    apart, low, high = median_difference(*sides)
    words = "Strokes in a run are alike in loudness."
    if abs(apart) >= JUST_HEARD_LU and not low <= 0.0 <= high:
        words = "Every other stroke is louder."
    count = sum(len(side) for side in sides)
    return (Reading(KEY, name, apart, low, high, "LU", count, sentence=words),)


_ACCENTED = frozenset({"accent", "marcato"})


def _rolls(performance: Performance) -> tuple[Reading, ...]:
    """Speed and evenness of written rolls: strokes a second, percent of a gap, decibel."""
    if not any("tremolo" in note.marks for note in performance.passage.notes):
        return ()
    gaps = [
        np.diff(roll.onsets_s) for roll in performance.rolls if len(roll.onsets_s) > FEWEST_IN_ROLL
    ]
    if not gaps:
        because = f"no roll with {FEWEST_IN_ROLL} strokes or more that can be told apart"
        return (Reading(KEY, "roll speed", None, None, None, "strokes a second", 0,
                        because=because),)  # fmt: skip
    every = np.concatenate(gaps)
    count = len(every)
    speed, fast, slow = (1.0 / one for one in _median_of(every))
    uneven = 100.0 * robust_spread(value for gap in gaps for value in gap / np.median(gap))
    low, high = spread_interval(uneven, count)
    levels = [
        value - float(np.median(roll.levels_db))
        for roll in performance.rolls
        if len(roll.levels_db) > FEWEST_IN_ROLL
        for value in roll.levels_db
    ]
    loud = robust_spread(levels)
    return (
        Reading(
            KEY, "roll speed", speed, slow, fast, "strokes a second", count,
            sentence=f"Rolls have about {speed:.0f} strokes a second.",
        ),
        Reading(
            KEY, "roll evenness in time", uneven, low, high, "percent", count,
            sentence=f"Strokes of a roll scatter by about {uneven:.0f} percent of their gap.",
        ),
        Reading(
            KEY, "roll evenness in loudness", loud, *spread_interval(loud, len(levels)), "dB",
            len(levels), sentence=f"Strokes of a roll scatter by about {loud:.1f} dB.",
        ),
    )  # fmt: skip


def _median_of(gaps: np.ndarray) -> tuple[float, float, float]:
    """Median gap with its interval, the shortest stroke gap as a floor."""
    middle, low, high = median_interval(gaps.tolist())
    return middle, max(low, 1e-3), max(high, 1e-3)


def _loudness(performance: Performance) -> Reading:
    """Scatter of loudness among unaccented strokes around the median of their dynamic."""
    name = "evenness in loudness"
    groups: dict[str | None, list[float]] = {}
    for written, heard in zip(performance.passage.notes, performance.notes, strict=True):
        if heard.loudness_lkfs is not None and not written.marks & {"accent", "marcato"}:
            groups.setdefault(written.dynamic, []).append(heard.loudness_lkfs)
    apart = [level - float(np.median(group)) for group in groups.values() for level in group]
    because = ""
    if not performance.loudness_trusted:
        because = "the recording is overloaded, so its loudness cannot be believed"
    elif len(apart) < FEWEST_STROKES:
        because = f"only {len(apart)} strokes without accent; {FEWEST_STROKES} are needed"
    if because:
        return Reading(KEY, name, None, None, None, "LU", len(apart), because=because)
    scatter = robust_spread(apart)
    low, high = spread_interval(scatter, len(apart))
    return Reading(
        KEY, name, scatter, low, high, "LU", len(apart),
        sentence=f"Strokes scatter by about {scatter:.1f} LU in loudness.",
    )  # fmt: skip


def _shows(held: Held) -> np.ndarray:
    """Notes in runs of equal quick strokes, against as many as the reading needs twice over."""
    return held.quick_runs / (2.0 * FEWEST_STROKES)


def _words(held: Held) -> str:
    """The strokes in quick runs."""
    return f"{counted(int(held.quick_runs[0]), 'stroke')} in quick equal runs"


ASKS = Asks(_shows, _words, needs="runs of quick equal strokes")
"""Evenness is heard in quick equal strokes."""


CRITERION = Criterion(
    key="evenness",
    name="Even strokes",
    question="Are the strokes even, in time and in loudness?",
    descriptors={
        1: "Strokes are uneven, and hands sound different from each other.",
        2: "Slow strokes are even. Fast strokes or rolls get bumpy.",
        3: "Strokes are even nearly all the time, and rolls are smooth.",
        4: "Strokes and rolls are even at every speed and loudness, with clear accents.",
    },
    families=("percussion",),
    read=read,
    asks=ASKS,
)
"""Even strokes, read by the tool beside the director's ear."""
