"""How often and how long: a director's own numbers over the common ones, as plain data and back.

A number of how often is "so many in its span" or, for what comes again all the time, "every so many
weeks"; 0 is none. Minutes are (of the director, of the musician) for one musician's work.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from standlight.errors import StandlightError
from standlight.planning import HOLDINGS, MINUTES, Holding

MOST_OFTEN = 20
MOST_REVIEW, MOST_ASKED = 15.0, 300
"""Bounds of what can be typed: above them a number is a slip."""


@dataclass(frozen=True, slots=True)
class SeasonTerms:
    """Holding key to how often; kind key to minutes. What is missing is the common number."""

    often: Mapping[str, int] = field(default_factory=dict)
    minutes: Mapping[str, tuple[float, int]] = field(default_factory=dict)


def terms_of(data: Mapping[str, object]) -> SeasonTerms:
    """The terms in plain data; what cannot be read is left out, so that a plan can be opened."""
    often = data.get("often")
    minutes = data.get("minutes")
    return SeasonTerms(
        {key: int(n) for key, n in often.items()} if isinstance(often, dict) else {},
        {key: (float(one[0]), int(one[1])) for key, one in minutes.items()}
        if isinstance(minutes, dict) else {},
    )  # fmt: skip


def data_of(terms: SeasonTerms) -> dict[str, object]:
    """The plain data of terms.

    >>> terms_of(data_of(SeasonTerms({"acts": 3}))).often
    {'acts': 3}
    """
    return {
        "often": dict(terms.often),
        "minutes": {key: list(one) for key, one in terms.minutes.items()},
    }


def often_of(holding: Holding, terms: SeasonTerms) -> int:
    """How often a holding is held: times in its span, or every so many weeks."""
    return terms.often.get(holding.key, holding.every_weeks or holding.times)


def holdings_of(terms: SeasonTerms) -> tuple[Holding, ...]:
    """What a year holds by these terms; what is held 0 times is left out."""
    held = []
    for holding in HOLDINGS:
        often = often_of(holding, terms)
        if often and holding.every_weeks:
            held.append(replace(holding, every_weeks=often))
        elif often:
            held.append(replace(holding, times=often))
    return tuple(held)


def minutes_of(kind: str, terms: SeasonTerms) -> tuple[float, int]:
    """Minutes of the director and of the musician for one musician's work of a kind."""
    return terms.minutes.get(kind, MINUTES[kind])


def typed_terms(cells: Mapping[str, str]) -> SeasonTerms:
    """The terms in the fields of the form: ``often:HOLDING``, ``review:KIND``, ``asked:KIND``.

    Raises `StandlightError` for a number that is none, or out of bounds.
    """
    often = {
        one.key: int(_number(cells.get(f"often:{one.key}", ""), "how often", 0, MOST_OFTEN))
        for one in HOLDINGS
    }
    minutes = {
        kind: (
            _number(cells.get(f"review:{kind}", ""), "your minutes", 0, MOST_REVIEW),
            int(_number(cells.get(f"asked:{kind}", ""), "a musician’s minutes", 0, MOST_ASKED)),
        )
        for kind in MINUTES
    }
    return SeasonTerms(often, minutes)


def _number(text: str, what: str, least: float, most: float) -> float:
    try:
        number = float(text.strip().replace(",", "."))
    except ValueError:
        raise StandlightError(f"{text!r} is no number for {what}", slip="2 or 0.75") from None
    if not least <= number <= most:
        raise StandlightError(f"{number:g} is out of bounds for {what}",
                              slip=f"from {least:g} to {most:g}")  # fmt: skip
    return number
