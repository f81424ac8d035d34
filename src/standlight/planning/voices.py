"""What was heard by the machine, heard by people and said by musicians, as rows. Pure.

Rows name no person: ``take`` and ``who`` are opaque keys, there so that one witness counts once.
"""

from __future__ import annotations

from dataclasses import dataclass

from standlight.errors import StandlightError
from standlight.planning.outline import Outline


@dataclass(frozen=True, slots=True)
class HeardTake:
    """One read take of ``part``: the measures it ``heard`` and its ``troubles`` (aim, measure).

    An aim is the key of a criterion; a measure is troubled when something there is worth another
    listen, by whatever rule the readings have.
    """

    take: str
    part: str
    heard: frozenset[int]
    troubles: tuple[tuple[str, int], ...] = ()

    def __post_init__(self) -> None:
        """Refuse trouble in a measure that was not heard."""
        outside = sorted({measure for _, measure in self.troubles} - self.heard)
        if outside:
            raise StandlightError(
                f"take {self.take} has trouble in measure index {outside[0]}, which it did not hear"
            )


@dataclass(frozen=True, slots=True)
class RatedTake:
    """A person's levels on one take's passage: ``low`` when one is Beginning or Developing.

    ``low_at`` are the measures of the passage that the person's answer names; None is all of it.
    """

    take: str
    part: str
    first: int
    last: int
    low: bool
    low_at: tuple[int, int] | None = None

    def __post_init__(self) -> None:
        """Refuse an answer about measures outside the passage."""
        first, last = self.low_at or (self.first, self.last)
        if self.low_at and not self.first <= first <= last <= self.last:
            raise StandlightError(
                f"take {self.take} is answered on measures {self.low_at}, outside its passage"
            )


@dataclass(frozen=True, slots=True)
class DirectorRemark:
    """A remark from the podium; ``sections`` empty means everybody, ``aim`` may be empty."""

    first: int
    last: int
    sections: tuple[str, ...] = ()
    aim: str = ""


@dataclass(frozen=True, slots=True)
class MusicianRemark:
    """A musician's remark on the own part; ``worry`` is false for “it went well”."""

    who: str
    part: str
    first: int
    last: int
    worry: bool = True
    aim: str = ""


Placed = RatedTake | DirectorRemark | MusicianRemark
"""Rows that speak of measures ``first`` to ``last``."""

NO_MEASURE, TURNED, NO_PART, NO_SECTION = "no_measure", "turned", "no_part", "no_section"
MISPLACED = {
    NO_MEASURE: "the piece has no such measure; the nearest that it has is offered",
    TURNED: "the last measure stands before the first; the other way round is offered",
    NO_PART: "the piece has no such part; nothing can be offered",
    NO_SECTION: "the piece has no such section; nothing can be offered",
}
"""Why a row cannot be laid on the score, with what each code means."""


@dataclass(frozen=True, slots=True)
class Misplaced:
    """A row that was left out: why (a key of ``MISPLACED``), and the measures that may be meant.

    ``first`` and ``last`` are the nearest measures of the piece; None where none can be offered.
    """

    row: HeardTake | Placed
    code: str
    first: int | None
    last: int | None


def misplaced(row: HeardTake | Placed, outline: Outline) -> Misplaced | None:
    """What is wrong with where ``row`` points; None when it can be laid on the score.

    >>> from standlight.planning.outline import OutlinePart
    >>> tune = Outline(("1", "2", "3"), (OutlinePart("fl", "Flute", frozenset({0, 1, 2})),))
    >>> wrong = misplaced(MusicianRemark("a", "fl", 1, 30), tune)
    >>> wrong.code, wrong.first, wrong.last
    ('no_measure', 1, 2)
    """
    if isinstance(row, DirectorRemark):
        if not set(row.sections) <= set(outline.sections):
            return Misplaced(row, NO_SECTION, None, None)
    elif all(part.key != row.part for part in outline.parts):
        return Misplaced(row, NO_PART, None, None)
    first, last = _ends(row, outline)
    near = outline.nearest(first), outline.nearest(last)
    if near != (first, last):
        return Misplaced(row, NO_MEASURE, min(near), max(near))
    if last < first:
        return Misplaced(row, TURNED, last, first)
    return None


def _ends(row: HeardTake | Placed, outline: Outline) -> tuple[int, int]:
    """First and last measure of a row; a take that heard nothing has no wrong place."""
    if not isinstance(row, HeardTake):
        return row.first, row.last
    return (min(row.heard), max(row.heard)) if row.heard else (0, outline.n_measures - 1)
