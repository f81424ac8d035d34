"""A musician's growth in words: one table for who directs, one for who plays, a row a state.

The musician's sentences keep to short words; nothing in them speaks of other people.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from standlight.programme.queries.level_amounts import about_words, likely_words


@dataclass(frozen=True, slots=True)
class Moved:
    """How far a line moved, in levels, between two days, and the interval of that."""

    first: datetime.date
    last: datetime.date
    levels: float
    low: float
    high: float

    @property
    def likely(self) -> str:
        """The interval in words."""
        return likely_words(self.low, self.high)

    @property
    def about(self) -> str:
        """The size in words."""
        return about_words(self.levels)


def since_words(first: datetime.date, last: datetime.date) -> str:
    """From when to when, as one says it; the year only where it changes.

    >>> since_words(datetime.date(2026, 9, 3), datetime.date(2026, 11, 20))
    'from Sep 3 to Nov 20'
    """
    return f"from {day_words(first)} to {day_words(last)}"


def day_words(day: datetime.date) -> str:
    """A day of this school year.

    >>> day_words(datetime.date(2026, 9, 3))
    'Sep 3'
    """
    return f"{day:%b} {day.day}"


DIRECTOR_STATES: Mapping[str, Callable[[Moved | None], str]] = MappingProxyType(
    {
        "rising": lambda moved: (
            f"Rising: {moved.about} up {since_words(moved.first, moved.last)} "
            f"({moved.likely})."
        ),
        "falling": lambda moved: (
            f"Falling: {moved.about} down {since_words(moved.first, moved.last)} "
            f"({moved.likely})."
        ),
        "could_be_chance": lambda moved: (
            f"No clear change {since_words(moved.first, moved.last)}: "
            f"{_way(moved)}, which could be chance."
        ),
        "too_few": lambda moved: "Too few to say.",
    }
)
"""State of a line of growth to the director's sentence."""

MUSICIAN_STATES: Mapping[str, Callable[[Moved | None], str]] = MappingProxyType(
    {
        "rising": lambda moved: (
            f"You are going up. Since {day_words(moved.first)} you moved up {moved.about}."
        ),
        "falling": lambda moved: (
            f"You are going down. Since {day_words(moved.first)} you moved down {moved.about}. "
            "Ask your director what to try next."
        ),
        "could_be_chance": lambda moved: (
            f"No clear change since {day_words(moved.first)}. "
            "You may have moved a bit, but that could be chance."
        ),
        "too_few": lambda moved: "Too few takes to say. Each new take helps.",
    }
)
"""State of a line of growth to the musician's sentences."""


def _way(moved: Moved) -> str:
    """Size and direction of what could be chance."""
    if moved.about == about_words(0):
        return "hardly any difference"
    return f"{moved.about} {'up' if moved.levels > 0 else 'down'}"


def own_view_words(n: int, kinder: int, stricter: int, *, you: bool) -> str:
    """How often one's own level was above or below the director's; empty when never given.

    >>> own_view_words(6, 4, 1, you=True)
    'You rated yourself 6 times. You were kinder than your director 4 times, stricter once.'
    >>> own_view_words(2, 0, 0, you=False)
    'Rated themselves 2 times: the same as you each time.'
    """
    if not n:
        return ""
    other = "your director" if you else "you"
    begin = f"You rated yourself {_times(n)}." if you else f"Rated themselves {_times(n)}:"
    same = n - kinder - stricter
    if same == n:
        each = "" if n == 1 else " each time"
        return f"{begin} {'You gave the' if you else 'the'} same as {other}{each}."
    found = (("kinder", kinder), ("stricter", stricter))
    said = [f"{word} {_times(count)}" for word, count in found if count]
    first, rest = said[0], said[1:]
    word, _, count = first.partition(" ")
    return (
        f"{begin} {'You were ' if you else ''}{word} than {other} {count}"
        f"{''.join(f', {one}' for one in rest)}."
    )


def _times(count: int) -> str:
    """A count as one says it."""
    return "once" if count == 1 else f"{count} times"
