"""What planning needs to know of a piece: its measures, its parts and where each part plays. Pure.

Measures are counted from 0 as everywhere inside the house; ``printed`` says what stands on paper.
"""

from __future__ import annotations

from dataclasses import dataclass

from standlight.errors import StandlightError

USUAL_MEASURE_SECONDS = 2.5
"""A measure whose length nobody knows: four beats at 96 (our choice)."""


@dataclass(frozen=True, slots=True)
class OutlinePart:
    """One part: its ``key``, its ``section`` and the measures (0-based) in which it sounds."""

    key: str
    section: str
    plays: frozenset[int]


@dataclass(frozen=True, slots=True)
class Outline:
    """Measures and parts of one piece.

    ``printed`` holds one number a measure, as printed; ``movement_starts`` the first measures of
    later movements, which no spot crosses; ``seconds`` the length of each measure, or nothing.

    >>> tune = Outline(("1", "2", "3"), (OutlinePart("fl1", "Flute", frozenset({0, 2})),))
    >>> tune.n_measures, tune.sections, tune.seconds_of(0, 2)
    (3, ('Flute',), 7.5)
    """

    printed: tuple[str, ...]
    parts: tuple[OutlinePart, ...]
    movement_starts: tuple[int, ...] = ()
    seconds: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        """Refuse an outline without measures or parts, and parts that play beyond its end."""
        if not self.printed or not self.parts:
            raise StandlightError("a piece without measures or parts cannot be planned")
        if len({part.key for part in self.parts}) < len(self.parts):
            raise StandlightError("two parts have one key", where="the outline of the piece")
        if self.seconds and len(self.seconds) != self.n_measures:
            raise StandlightError(
                f"{len(self.seconds)} lengths for {self.n_measures} measures",
                slip="one length a measure, or none",
            )
        for part in self.parts:
            beyond = [m for m in part.plays if not 0 <= m < self.n_measures]
            if beyond:
                raise StandlightError(
                    f"part {part.key} plays in measure index {min(beyond)}",
                    where=f"a piece of {self.n_measures} measures",
                    slip="counted from 1?",
                )

    @property
    def n_measures(self) -> int:
        """How many measures the piece has."""
        return len(self.printed)

    @property
    def sections(self) -> tuple[str, ...]:
        """Sections in the order of the score."""
        return tuple(dict.fromkeys(part.section for part in self.parts))

    def seconds_of(self, first: int, last: int) -> float:
        """How long measures ``first`` to ``last`` take."""
        if not self.seconds:
            return USUAL_MEASURE_SECONDS * (last - first + 1)
        return float(sum(self.seconds[first : last + 1]))

    def nearest(self, measure: int) -> int:
        """The measure of the piece that is nearest to an index that may lie outside."""
        return min(max(measure, 0), self.n_measures - 1)
