"""The frame of the demo's last school year as tables: pieces, and what was asked when.

Choir and strings only: the musicians of a sixth grade band were not in the band a year ago.
"""

from __future__ import annotations

from dataclasses import dataclass

YEAR_NAME = "Last school year"
YEAR_STARTS_DAYS_AGO, YEAR_DAYS = 445, 270
"""A school year of nine months that ended before the present one began."""

FIRST_CHECK_DAY, LAST_CHECK_DAY = 12, 258
"""Days of the year on which the first and the last check were heard; the others lie between."""

AGAIN_A_CHECK = 9
"""How many takes of a recorded check its director hears a second time, not knowing it."""

AGAIN_DAYS, AGAIN_DAYS_OFF = (3, 56), 2
"""The evening of a second hearing, in days after the check: they lie evenly between these two,
each up to so many days off. Inside the time in which the Desk brings a take again."""

AGAIN_MINUTES = (2.0, 75.0)
"""Minutes of the evening between which a second hearing falls."""

NEW_GRADES = {"choir": 7, "strings": 8}
"""Who sits in this grade now came this year: the lowest grade of each group that had last year."""


@dataclass(frozen=True, slots=True)
class PastPiece:
    """A piece of last year's folder; on paper only."""

    key: str
    group: str
    title: str
    cycle: int


@dataclass(frozen=True, slots=True)
class Asked:
    """One check of last year: ``measures`` as printed; ``recorded`` where takes were kept a while.

    The same piece and measures asked again is a passage that comes back.
    """

    piece: str
    measures: str
    third: str
    recorded: bool = False


CYCLES = (("Winter concert", 0, 90), ("Spring concert", 91, 262))
"""Name, first day and concert day of last year's cycles, in days of that year."""

PAST_PIECES = (
    PastPiece("mill", "choir", "The Mill at First Frost", 0),
    PastPiece("orchard", "choir", "Orchard Rounds", 0),
    PastPiece("letters", "choir", "Letters from the Lighthouse", 1),
    PastPiece("train", "strings", "Slow Train North", 0),
    PastPiece("kites", "strings", "Kites over the Weir", 0),
    PastPiece("dances", "strings", "Dances for a Paper Lantern", 1),
)

ALWAYS_ASKED = ("intonation", "rhythm")
"""Criteria of every check of last year; a third one differs."""

PAST_CHECKS: dict[str, tuple[Asked, ...]] = {
    "choir": (
        Asked("mill", "5 to 20", "tone"),
        Asked("orchard", "1 to 12", "tone"),
        Asked("mill", "21 to 36", "diction"),
        Asked("orchard", "13 to 28", "tone", recorded=True),
        Asked("mill", "37 to 48", "diction"),
        Asked("mill", "5 to 20", "tone"),
        Asked("letters", "9 to 24", "tone", recorded=True),
        Asked("letters", "33 to 44", "diction"),
        Asked("letters", "45 to 60", "tone", recorded=True),
        Asked("orchard", "1 to 12", "tone"),
        Asked("mill", "5 to 20", "tone"),
    ),
    "strings": (
        Asked("train", "1 to 16", "tone"),
        Asked("kites", "9 to 20", "tone"),
        Asked("train", "17 to 32", "articulation"),
        Asked("kites", "21 to 36", "tone", recorded=True),
        Asked("train", "33 to 48", "articulation"),
        Asked("train", "1 to 16", "tone"),
        Asked("dances", "1 to 16", "tone", recorded=True),
        Asked("dances", "25 to 40", "articulation"),
        Asked("dances", "41 to 56", "tone", recorded=True),
        Asked("kites", "9 to 20", "tone"),
        Asked("train", "1 to 16", "tone"),
    ),
}
"""What each group was asked, in order. One passage is asked first, in the middle and last,
another second and second to last; both keep their criteria."""
