"""Which measures a rehearsal should look at: readings, levels and remarks counted apart. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

READINGS, LEVELS, MUSICIANS, DIRECTORS = "readings", "levels", "musicians", "directors"
LOCAL = (READINGS, MUSICIANS, DIRECTORS)
"""Sources that point at measures; a level speaks of a whole passage."""

LONGEST_RANGE = 4
"""Measures in one range: what a group repeats without losing the thread. Common practice."""

MOST_RANGES = 3
"""Ranges an ensemble: what fits a rehearsal. Common practice, no source."""


MOST_MEASURES = 2000
"""No movement on a stand is longer; a greater number is a slip, and no span counts for more."""


@dataclass(frozen=True, slots=True)
class Mention:
    """One person's trouble in measures ``first`` to ``last`` (0-based), by one source."""

    source: str
    who: int
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class TroubleRange:
    """Measures ``first`` to ``last`` with the number of different people a source."""

    first: int
    last: int
    counts: dict[str, int] = field(default_factory=dict)


def trouble_ranges(
    mentions: Sequence[Mention], *, most: int = MOST_RANGES, longest: int = LONGEST_RANGE
) -> tuple[TroubleRange, ...]:
    """Up to ``most`` ranges that do not touch each other, the most troubled first.

    A range starts at the measure most people's readings and remarks point at (levels
    decide a tie) and grows to neighbours with at least half as much, up to ``longest``
    measures. Where only levels speak, the range is the rated passage itself.

    >>> low = [Mention(LEVELS, who, 0, 7) for who in range(5)]
    >>> late = [Mention(READINGS, who, 4, 5) for who in range(3)]
    >>> trouble_ranges([*low, *late], most=1)
    (TroubleRange(first=4, last=5, counts={'readings': 3, 'levels': 5, 'musicians': 0,
    'directors': 0}),)
    """
    local = _weights([row for row in mentions if row.source in LOCAL])
    levels = _weights([row for row in mentions if row.source == LEVELS])
    open_measures = set(local) | set(levels)
    found: list[TroubleRange] = []
    while open_measures and len(found) < most:
        peak = max(open_measures, key=lambda m: (local.get(m, 0), levels.get(m, 0), -m))
        if local.get(peak, 0):
            first, last = _grown(peak, local, open_measures, longest)
        else:
            first, last = _alike(peak, levels, open_measures)
        found.append(TroubleRange(first, last, _counts(mentions, first, last)))
        # What surrounds a range that is shown already is the same trouble, not a new one.
        open_measures -= set(range(first - 1, last + 2))
        if not local.get(peak, 0):
            continue
        open_measures = {
            m for m in open_measures if local.get(m, 0) or not _told(m, found, mentions)
        }
    return tuple(found)


def _told(measure: int, found: Sequence[TroubleRange], mentions: Sequence[Mention]) -> bool:
    """True when the levels on ``measure`` belong to a passage that a range already speaks for."""
    spoken = [
        row
        for row in mentions
        if row.source == LEVELS
        and any(row.first <= shown.last and row.last >= shown.first for shown in found)
    ]
    return any(row.first <= measure <= row.last for row in spoken)


def _weights(mentions: Sequence[Mention]) -> dict[int, int]:
    """Measure to the number of (source, person) pairs that point at it.

    Of a longer span the first `MOST_MEASURES` count: one slip must not fill the memory.
    """
    pointing: dict[int, set[tuple[str, int]]] = {}
    for row in mentions:
        end = min(row.last + 1, row.first + MOST_MEASURES)
        for measure in range(row.first, end):
            pointing.setdefault(measure, set()).add((row.source, row.who))
    return {measure: len(people) for measure, people in pointing.items()}


def _grown(
    peak: int, weights: dict[int, int], open_measures: set[int], longest: int
) -> tuple[int, int]:
    """The range around ``peak`` of neighbours with at least half its weight."""
    first = last = peak
    enough = weights[peak] / 2

    def weight(measure: int) -> float:
        return weights.get(measure, 0) if measure in open_measures else 0

    while last - first + 1 < longest:
        before, after = weight(first - 1), weight(last + 1)
        if max(before, after) < enough:
            break
        if after >= before:
            last += 1
        else:
            first -= 1
    return first, last


def _alike(peak: int, weights: dict[int, int], open_measures: set[int]) -> tuple[int, int]:
    """The run of measures around ``peak`` with the same weight: the rated passage."""
    first = last = peak
    while first - 1 in open_measures and weights.get(first - 1) == weights[peak]:
        first -= 1
    while last + 1 in open_measures and weights.get(last + 1) == weights[peak]:
        last += 1
    return first, last


def _counts(mentions: Sequence[Mention], first: int, last: int) -> dict[str, int]:
    """Different people a source whose mention touches the range."""
    return {
        source: len(
            {
                row.who
                for row in mentions
                if row.source == source and row.first <= last and row.last >= first
            }
        )
        for source in (READINGS, LEVELS, MUSICIANS, DIRECTORS)
    }
