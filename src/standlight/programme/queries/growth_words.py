"""A musician's growth in words: one table for who directs, one for who plays, a row a state.

The musician's sentences keep to short words; nothing in them speaks of other people.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from standlight.programme.dates import date_words, since_words
from standlight.programme.queries.level_amounts import about_words, amount_words, likely_words
from standlight.programme.queries.studies import NOT_SHOWN
from standlight.ratings.growth_values import (
    AHEAD,
    ALL_HIGHEST,
    ALL_LOWEST,
    ALONE,
    BEHIND,
    COULD_BE_CHANCE,
    FALLING,
    FEW_OCCASIONS,
    LEAST_OCCASIONS,
    NO_ANCHOR,
    POOLED_ONLY,
    RISING,
    TOO_FEW,
)
from standlight.ratings.self_view import (
    ALIKE,
    FURTHER,
    HARDER,
    KINDER,
    NEARER,
    UNCLEAR,
)
from standlight.ratings.self_view import COULD_BE_CHANCE as CHANCE_TREND
from standlight.ratings.self_view import TOO_FEW as SELF_TOO_FEW


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
    def start(self) -> str:
        """The first day."""
        return date_words(self.first, seen_from=self.last)

    @property
    def span(self) -> str:
        """From the first day to the last."""
        return since_words(self.first, self.last)

    @property
    def least(self) -> str:
        """The least it may be, where its direction is sure.

        >>> Moved(datetime.date(2026, 9, 3), datetime.date(2026, 11, 3), 0.5, 0.2, 0.9).least
        'at least a fifth of a level'
        """
        smallest = amount_words(min(abs(self.low), abs(self.high)))
        return "at least a little" if smallest == amount_words(0) else f"at least {smallest}"

    @property
    def about(self) -> str:
        """The size in words."""
        return about_words(self.levels)


DIRECTOR_STATES: Mapping[str, Callable[[Moved], str]] = MappingProxyType(
    {
        RISING: lambda moved: (
            f"Rising: {moved.about} up {moved.span} ({moved.likely})."
        ),
        FALLING: lambda moved: (
            f"Falling: {moved.about} down {moved.span} "
            f"({moved.likely})."
        ),
        AHEAD: lambda moved: (
            f"Growing more than the group: by {moved.about} "
            f"{moved.span} ({moved.likely})."
        ),
        BEHIND: lambda moved: (
            f"Growing less than the group: by {moved.about} "
            f"{moved.span} ({moved.likely})."
        ),
        COULD_BE_CHANCE: lambda moved: (
            f"No clear change {moved.span}: "
            f"{_way(moved)}, which could be chance."
        ),
        TOO_FEW: lambda moved: "Too few to say.",
    }
)
"""State of a line of growth to the director's sentence."""

MUSICIAN_STATES: Mapping[str, Callable[[Moved], str]] = MappingProxyType(
    {
        RISING: lambda moved: (
            f"You are going up. Since {moved.start} you moved up {moved.about}, "
            f"{moved.least}."
        ),
        FALLING: lambda moved: (
            f"You are going down. Since {moved.start} you moved down {moved.about}, "
            f"{moved.least}. Ask your director what to try next."
        ),
        AHEAD: lambda moved: NOT_TWICE,
        BEHIND: lambda moved: NOT_TWICE,
        COULD_BE_CHANCE: lambda moved: (
            f"No clear change since {moved.start}. "
            "You may have moved a bit, but that could be chance."
        ),
        TOO_FEW: lambda moved: "Too few takes to say. Each new take helps.",
        NOT_SHOWN: lambda moved: (
            "Not all your takes are answered yet. You can read this when they are."
        ),
    }
)
"""State of a line of growth to the musician's sentences: theirs alone, never beside others.

One state is not the study's: the line rests on a take that the musician was not shown yet.
"""

NOT_TWICE = (
    "We cannot say yet how far you moved. For that, the same music must be played twice, "
    "some weeks apart."
)
"""What a musician reads while no passage was asked again."""

DIRECTOR_REASONS: Mapping[str, str] = MappingProxyType(
    {
        "": "",
        NO_ANCHOR: (
            "No passage was asked again far enough apart, so harder music and growth cannot be "
            "told apart. The lines stand beside the group's, which is drawn flat. Ask a passage "
            "again and the group's own growth can be told."
        ),
        FEW_OCCASIONS: (
            f"A line needs takes from at least {LEAST_OCCASIONS} different times on one instrument."
        ),
        ALONE: "Fewer than three musicians and no passage asked again: nothing to compare with.",
        POOLED_ONLY: (
            "Sure only when leaning on how the whole group grows; their own takes alone do not "
            "show it."
        ),
        ALL_HIGHEST: "Every level was Extending: growth above that cannot be seen.",
        ALL_LOWEST: "Every level was Beginning: a harder or easier passage would tell more.",
    }
)
"""Why a line says what it says, for the director; empty where there is nothing to add."""

MUSICIAN_REASONS: Mapping[str, str] = MappingProxyType(
    {
        "": "",
        NO_ANCHOR: "",
        FEW_OCCASIONS: f"It takes {LEAST_OCCASIONS} takes from different weeks.",
        ALONE: "",
        POOLED_ONLY: "",
        ALL_HIGHEST: "All your levels are at the top. More than that we cannot see.",
        ALL_LOWEST: "",
    }
)
"""The same for the musician: only what they can use."""


def _way(moved: Moved) -> str:
    """Size and direction of what could be chance."""
    if moved.about == about_words(0):
        return "hardly any difference"
    return f"{moved.about} {'up' if moved.levels > 0 else 'down'}"


OWN_VIEWS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        ALIKE: (
            "You hear yourself much as your director does.",
            "Rates themselves much as the director does.",
        ),
        KINDER: (
            "On the whole you are kinder to yourself than your director is.",
            "On the whole kinder to themselves than the director is.",
        ),
        HARDER: (
            "On the whole you are harder on yourself than your director is.",
            "On the whole harder on themselves than the director is.",
        ),
        UNCLEAR: (
            "Your view and your director's differ at times. That could be chance.",
            "Their view and the director's differ at times, which could be chance.",
        ),
        SELF_TOO_FEW: (
            "Rate yourself on a few more takes to see how your view and your director's compare.",
            "",
        ),
    }
)
"""State of a self-view to the musician's sentence and the director's."""

OWN_VIEW_TRENDS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        NEARER: ("The two views come nearer.", "The two views come nearer."),
        FURTHER: ("The two views move apart.", "The two views move apart."),
        CHANCE_TREND: ("", ""),
    }
)
"""How the distance of the two views changed, in the same order; empty where that is chance."""


def own_view_words(n: int, kinder: int, stricter: int, *, you: bool) -> str:
    """How often one's own level was above or below the director's; empty when never given.

    >>> own_view_words(6, 4, 1, you=True)
    'You rated yourself 6 times. You were kinder than your director 4 times, stricter once.'
    >>> own_view_words(2, 0, 0, you=False)
    'Rated themselves 2 times: the same as the director each time.'
    """
    if not n:
        return ""
    other = "your director" if you else "the director"
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
