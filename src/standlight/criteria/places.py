"""Places in a passage as a musician says them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from standlight.score.values import Passage

VALUE_NAMES: dict[Fraction, str] = {
    Fraction(4): "whole notes",
    Fraction(3): "dotted half notes",
    Fraction(2): "half notes",
    Fraction(3, 2): "dotted quarter notes",
    Fraction(1): "quarter notes",
    Fraction(3, 4): "dotted eighth notes",
    Fraction(2, 3): "triplet quarter notes",
    Fraction(1, 2): "eighth notes",
    Fraction(1, 3): "triplet eighth notes",
    Fraction(1, 4): "sixteenth notes",
    Fraction(1, 6): "triplet sixteenth notes",
    Fraction(1, 8): "thirty-second notes",
}
"""Written values in quarters, as they are called; tied-over lengths have no name of their own."""

MOST_NAMED = 3
"""More measures than this are counted, not named: nobody listens again in more (our choice)."""


def printed(passage: Passage, measure: int) -> str:
    """The printed number of a measure, or its count from 1 where nothing is printed."""
    if measure < len(passage.measures):
        return passage.measures[measure].printed
    return str(measure + 1)


def where(passage: Passage, measures: Sequence[int]) -> str:
    """One or more measures in words: "in measure 4", "in measures 4, 7 and 9"."""
    numbers = [printed(passage, measure) for measure in measures]
    if len(numbers) == 1:
        return f"in measure {numbers[0]}"
    return f"in measures {', '.join(numbers[:-1])} and {numbers[-1]}"


def where_if_few(passage: Passage, indexes: Iterable[int]) -> str:
    """`where` the notes ``indexes`` are, a space before it; empty for none, or too many to name."""
    measures = sorted({passage.notes[index].measure for index in indexes})
    return f" {where(passage, measures)}" if 1 <= len(measures) <= MOST_NAMED else ""
