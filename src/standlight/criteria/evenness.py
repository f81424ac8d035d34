"""Evenness: how alike a drummer's strokes are in time and loudness."""

from __future__ import annotations

import numpy as np

from standlight.criteria.figures import robust_spread, spread_interval
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
        )
    scatter = robust_spread(note.asynchrony_ms for note in heard)
    low, high = spread_interval(scatter, len(heard))
    return (
        Reading(
            KEY, "evenness in time", scatter, low, high, "ms", len(heard),
            sentence=f"Strokes scatter by about {scatter:.0f} ms around the beat.",
        ),
        _loudness(performance),
    )  # fmt: skip


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
