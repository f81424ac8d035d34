"""What is seen at some measures of a part, in the words that a director reads.

Demands are shown as whole points of 100: how many of a hundred passages of the piece ask less.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from standlight.criteria import CRITERIA
from standlight.passages import Look, Survey
from standlight.programme.phrases import listed
from standlight.programme.queries.places import n_notes, why_not_alone

AMPLY = 0.75
"""From here on a criterion is shown amply: three quarters of what lets it be rated fully (ours)."""

ABOUT_THE_SAME_POINTS = 5
"""Demands this close to the middle one ask about the same: a tenth of the passages, either way
half of it (our choice)."""

SHORTEST_S, LONGEST_S = 10.0, 60.0
"""A check of 15 to 60 seconds is common practice (no source); under 10 there is little to rate."""


@dataclass(frozen=True, slots=True)
class Others:
    """The demands of the parts a part is compared with, in points; ``None`` with none."""

    low: int | None = None
    high: int | None = None

    def beside(self, points: int | None) -> str:
        """How a demand stands beside the others', in words.

        >>> Others(55, 60).beside(72), Others(55, 60).beside(58), Others().beside(58)
        ('more than the others (55 to 60)', 'about the same as the others (55 to 60)', '')
        """
        if points is None or self.low is None or self.high is None:
            return ""
        span = f"{self.low} to {self.high}" if self.low != self.high else f"{self.low}"
        word = "about the same as"
        if points > self.high + ABOUT_THE_SAME_POINTS:
            word = "more than"
        elif points < self.low - ABOUT_THE_SAME_POINTS:
            word = "less than"
        return f"{word} the others ({span})"


@dataclass(frozen=True, slots=True)
class Seen:
    """Measures of a part, looked at, in words; ``points`` is the demand, ``None`` for not known.

    ``shows`` says how well each criterion is shown; ``slips`` are flags and what speaks
    against playing it alone.
    """

    first: int
    last: int
    printed: str
    rests: bool
    points: int | None
    beside: str
    shows: str
    seconds: str
    reason: str
    slips: tuple[str, ...]


def points_of(demand: float | None) -> int | None:
    """A demand as points of 100.

    >>> points_of(0.576), points_of(None)
    (58, None)
    """
    return None if demand is None else round(100 * demand)


def others_of(demands: Sequence[float | None]) -> Others:
    """The lowest and highest of some demands.

    >>> others_of([0.55, None, 0.6])
    Others(low=55, high=60)
    """
    points = [one for one in map(points_of, demands) if one is not None]
    return Others(min(points), max(points)) if points else Others()


def shows_words(shows: Mapping[str, float]) -> str:
    """How well criteria are shown, grouped, in words.

    >>> shows_words({"rhythm": 1.0, "dynamics": 0.5, "tone": 0.1})
    'Shows rhythm amply, dynamics enough, tone too little.'
    """
    grouped: dict[str, list[str]] = {"amply": [], "enough": [], "too little": [], "not at all": []}
    for key, value in shows.items():
        if key in CRITERIA:
            grouped[_how_well(key, value)].append(CRITERIA[key].name.lower())
    said = [f"{listed(names)} {how}" for how, names in grouped.items() if names]
    return f"Shows {', '.join(said)}." if said else ""


def _how_well(key: str, value: float) -> str:
    """One criterion's showing as an adverb."""
    if value >= AMPLY:
        return "amply"
    if value >= CRITERIA[key].asks.least:
        return "enough"
    return "too little" if value > 0 else "not at all"


def missing_words(shows: Mapping[str, float]) -> str:
    """The criteria not really shown, as the end of a sentence; empty for none.

    >>> missing_words({"rhythm": 1.0, "tone": 0.1, "dynamics": 0.0})
    'does not really show tone and dynamics'
    """
    names = [
        CRITERIA[key].name.lower()
        for key, value in shows.items()
        if key in CRITERIA and value < CRITERIA[key].asks.least
    ]
    return f"does not really show {listed(names)}" if names else ""


def seconds_words(seconds: float) -> str:
    """A length, with a word where it is outside what is usual.

    >>> seconds_words(12.2), seconds_words(7.6)
    ('12 seconds', '8 seconds: little to rate')
    """
    words = f"{seconds:.0f} second{'' if round(seconds) == 1 else 's'}"
    if seconds > LONGEST_S:
        return f"{words}: longer than a check usually takes (15 to 60)"
    return f"{words}: little to rate" if seconds < SHORTEST_S else words


def seen_of(survey: Survey, found: Look, others: Others) -> Seen:
    """A look in words, beside the others' demands."""
    points = points_of(found.demand)
    return Seen(
        first=found.first,
        last=found.last,
        printed=found.printed,
        rests=not n_notes(found),
        points=points,
        beside=others.beside(points),
        shows=shows_words(found.shows) if n_notes(found) else "",
        seconds=seconds_words(found.seconds),
        reason=found.reason,
        slips=(*found.flags, *why_not_alone(survey, found.part, found.first, found.last)),
    )
