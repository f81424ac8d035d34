"""What passage finding works with: what windows hold, what is looked at, what is found."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from typing import Protocol

import numpy as np


@dataclass(frozen=True, slots=True)
class Held:
    """What windows of one part hold; every field an array of shape (n_windows,).

    Counts unless the name says seconds, semitones or share. ``leaps`` are intervals wider
    than a major third; ``uneven`` counts dotted and tuplet values; ``distinct_*`` count
    different values; ``off_beat`` and ``syncopation`` are summed over notes;
    ``quickest_rate`` is notes a second in the busiest measure; ``stretch_s`` the longest
    stretch without a rest; ``lowest`` and ``highest`` are sounding MIDI numbers, nan in a
    window without pitch; ``softest`` and ``loudest`` index `LOUDNESS_ORDER`, -1 for none.
    """

    seconds: np.ndarray
    measures: np.ndarray
    sounding_s: np.ndarray
    onsets: np.ndarray
    quickest_rate: np.ndarray
    off_beat: np.ndarray
    syncopation: np.ndarray
    distinct_intervals: np.ndarray
    uneven: np.ndarray
    tuplets: np.ndarray
    pitched: np.ndarray
    distinct_pitches: np.ndarray
    leaps: np.ndarray
    accidentals: np.ndarray
    fifths: np.ndarray
    range_place: np.ndarray
    above_range: np.ndarray
    below_range: np.ndarray
    lowest: np.ndarray
    highest: np.ndarray
    long_notes: np.ndarray
    long_s: np.ndarray
    slurs: np.ndarray
    slurred: np.ndarray
    staccatos: np.ndarray
    accents: np.ndarray
    tenutos: np.ndarray
    tonguing_changes: np.ndarray
    distinct_dynamics: np.ndarray
    dynamic_changes: np.ndarray
    hairpins: np.ndarray
    softest: np.ndarray
    loudest: np.ndarray
    stretch_s: np.ndarray
    break_crossings: np.ndarray
    over_break: np.ndarray
    shifted: np.ndarray
    syllables: np.ndarray
    melismas: np.ndarray
    quick_runs: np.ndarray

    def __len__(self) -> int:
        """How many windows."""
        return len(self.seconds)

    def at(self, place: int) -> Held:
        """Only the window ``place``, as arrays of shape (1,)."""
        return Held(**{one.name: getattr(self, one.name)[[place]] for one in fields(self)})


@dataclass(frozen=True, slots=True)
class Asks:
    """What a criterion asks of a passage.

    ``shows`` gives for each window how well it shows the criterion, 0 (not at all) to 1
    (amply), shape (n_windows,); ``words`` says for a single window what is there to hear;
    ``least`` is the lowest value that counts as shown; ``needs`` completes "a passage
    needs ...".
    """

    shows: Callable[[Held], np.ndarray]
    words: Callable[[Held], str]
    needs: str
    least: float = 0.3


class Shown(Protocol):
    """What the finder knows of a criterion, so that this room need not know the table."""

    @property
    def key(self) -> str:
        """Its key in the table."""

    @property
    def name(self) -> str:
        """Its name in words."""

    @property
    def asks(self) -> Asks:
        """What it asks of a passage."""

    def applies_to(self, family: str) -> bool:
        """Whether players of this instrument family can show it."""


@dataclass(frozen=True, slots=True)
class Look:
    """Measures ``first`` to ``last`` (0-based, inclusive) of one part, looked at.

    ``demand`` is 0 to 1 among the piece's windows, ``None`` where nothing sounds or no window
    of such parts can be played alone, so that there is nothing to compare with. ``shows``
    maps the chosen criteria that apply to 0..1; ``missing`` are the keys not really shown;
    ``flags`` are sentences on range and grade; ``reason`` says it all in words.
    """

    part: int
    first: int
    last: int
    printed: str
    demand: float | None
    note_rate_hz: float
    seconds: float
    shows: Mapping[str, float]
    missing: tuple[str, ...]
    reason: str
    flags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PartFinding:
    """What was found for one part: a passage or ``None``, why, and other places to choose.

    For a part without a passage the alternatives are the nearest places, which miss a
    criterion (their ``missing`` says which).
    """

    part: int
    name: str
    passage: Look | None
    because: str
    alternatives: tuple[Look, ...] = ()


@dataclass(frozen=True, slots=True)
class Findings:
    """Passages for all parts of a piece and how fair they are.

    ``demand_sd`` is the standard deviation of demand over the parts of one line each that
    have a passage (percussion, harp and keyboards have scales of their own);
    ``note_rate_sd`` that of notes a second; ``common_window_sd`` that of demand if those
    parts all played one window, the best of those that most can play; each ``None`` with
    fewer than two parts. ``level`` is the common demand aimed at.
    """

    parts: tuple[PartFinding, ...]
    level: float | None
    demand_sd: float | None
    note_rate_sd: float | None
    common_window_sd: float | None
    common_first: int | None = None
