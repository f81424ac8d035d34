"""Accommodations that apply by themselves: what to do, never why.

One table of those the tool can act on; anything else stays a sentence (``Musician.accommodation``).
The goal stays the same: none of them changes what is asked for or what a level means.
"""

from __future__ import annotations

from dataclasses import dataclass

MOST_EXTRA_DAYS = 30
"""A later day than this is a plan of its own (our choice)."""


@dataclass(frozen=True, slots=True)
class Accommodation:
    """``label`` is what a director ticks, ``told`` what the musician reads."""

    label: str
    told: str


LARGE_PRINT, SPOKEN, FIRST_LANGUAGE, SHORTER, WRITTEN = (
    "large_print",
    "spoken",
    "first_language",
    "shorter",
    "written",
)
ACCOMMODATIONS = {
    LARGE_PRINT: Accommodation(
        "Larger print, on every page and in the music", "Your pages and your music are larger."
    ),
    SPOKEN: Accommodation(
        "Answers may be spoken instead of written", "You may say an answer instead of writing it."
    ),
    FIRST_LANGUAGE: Accommodation(
        "Answers may be in a first language",
        "You may write in the language that you know best.",
    ),
    SHORTER: Accommodation(
        "Shorter passage: the first half of it", "The first half of a passage is enough for you."
    ),
    WRITTEN: Accommodation(
        "A spoken answer comes with its words in writing",
        "When your director answers by voice, the words are written down for you too.",
    ),
}
"""Every accommodation that a page, a due day or a passage follows by itself, by key."""


def told_of(keys: list[str], extra_days: int) -> tuple[str, ...]:
    """What a musician reads of their accommodations, in the order of the table.

    >>> told_of(["spoken"], 2)
    ('You have 2 more days for everything.', 'You may say an answer instead of writing it.')
    """
    days = "1 more day" if extra_days == 1 else f"{extra_days} more days"
    more = (f"You have {days} for everything.",) if extra_days else ()
    return more + tuple(one.told for key, one in ACCOMMODATIONS.items() if key in keys)
