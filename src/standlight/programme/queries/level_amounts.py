"""Amounts of a level in the words people use, and intervals in the same words.

A figure like 0.34 says more than anybody knows; "about a third of a level" says as much as the
tool does. The exact figures stand where a page is opened further.
"""

from __future__ import annotations

AMOUNTS: tuple[tuple[float, str], ...] = (
    (0.05, "next to nothing"),
    (0.15, "a tenth of a level"),
    (0.22, "a fifth of a level"),
    (0.29, "a quarter of a level"),
    (0.42, "a third of a level"),
    (0.58, "half a level"),
    (0.71, "two thirds of a level"),
    (0.88, "three quarters of a level"),
    (1.17, "one level"),
    (1.38, "a level and a quarter"),
    (1.75, "a level and a half"),
    (2.25, "two levels"),
)
"""Upper end of each amount in levels, and its words: about half-way to the next (arithmetic)."""

MOST = "more than two levels"


def amount_words(levels: float) -> str:
    """A size, whatever its sign.

    >>> amount_words(-0.34), amount_words(0.52), amount_words(0.01), amount_words(3)
    ('a third of a level', 'half a level', 'next to nothing', 'more than two levels')
    """
    size = abs(levels)
    return next((words for most, words in AMOUNTS if size < most), MOST)


def about_words(levels: float) -> str:
    """A size with "about" where it is an amount.

    >>> about_words(0.34), about_words(0.0)
    ('about a third of a level', 'next to nothing')
    """
    words = amount_words(levels)
    return words if words in (AMOUNTS[0][1], MOST) else f"about {words}"


def likely_words(low: float, high: float) -> str:
    """An interval of sizes as the end of a sentence, without the sign that the sentence has said.

    An interval on both sides of zero is not a size: it "could be chance".

    >>> likely_words(0.1, 0.52), likely_words(-0.1, 0.4)
    ('likely between a tenth and half a level', 'could be chance')
    >>> likely_words(-0.6, -0.25), likely_words(0.3, 0.35)
    ('likely between a quarter and two thirds of a level', 'likely about a third of a level')
    """
    if crosses_zero(low, high):
        return "could be chance"
    least, most = sorted((amount_words(low), amount_words(high)), key=_size)
    if least == most:
        return f"likely about {most}"
    if most.endswith(("of a level", "half a level")):
        least = least.removesuffix(" of a level")
    return f"likely between {least} and {most}"


def crosses_zero(low: float, high: float) -> bool:
    """True when an interval does not tell up from down."""
    return low <= 0 <= high


def figure(levels: float) -> str:
    """The exact figure, for where a page is opened further.

    >>> figure(0.339), figure(-0.02), figure(1)
    ('0.3', '0.0', '1.0')
    """
    words = f"{levels:.1f}"
    return "0.0" if words == "-0.0" else words


def signed_figure(levels: float) -> str:
    """The exact figure with its sign.

    >>> signed_figure(0.34), signed_figure(-0.26), signed_figure(0.01)
    ('+0.3', '-0.3', '0.0')
    """
    words = figure(levels)
    return f"+{words}" if float(words) > 0 else words


def interval_figures(points: float, low: float, high: float) -> str:
    """A figure with its interval in figures.

    >>> interval_figures(0.34, 0.1, 0.6)
    '+0.3 levels (95 in 100: +0.1 to +0.6)'
    """
    return (
        f"{signed_figure(points)} levels "
        f"(95 in 100: {signed_figure(low)} to {signed_figure(high)})"
    )


def level_between(level: float, names: dict[int, str]) -> str:
    """A mean level as words: the level itself, or between two.

    >>> names = {1: "Beginning", 2: "Developing", 3: "Secure", 4: "Extending"}
    >>> level_between(3, names), level_between(2.5, names), level_between(2.9, names)
    ('Secure', 'between Developing and Secure', 'Secure')
    """
    nearest = round(level)
    if abs(level - nearest) <= NEAR_A_LEVEL:
        return names[nearest]
    return f"between {names[int(level)]} and {names[int(level) + 1]}"


NEAR_A_LEVEL = 0.25
"""A mean this near a level is told as the level (our choice: half of the way to half-way)."""


def _size(words: str) -> float:
    """The order of amounts by their words."""
    return next((most for most, said in AMOUNTS if said == words), float("inf"))
