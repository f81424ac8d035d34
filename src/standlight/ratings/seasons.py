"""School years seen in the days of the takes: what was heard between two long holidays. Pure.

A straight line through several years, and a holiday, says little of the last of them: what a
section did in a year is asked of that year.
"""

from __future__ import annotations

from collections.abc import Sequence

from standlight.ratings.given import DIRECTOR, GivenRating

HOLIDAY_DAYS = 60.0
"""Days without one take that part two school years: our choice; between the longest holiday in
a school year and the summer's."""


def seasons(given: Sequence[GivenRating]) -> tuple[tuple[GivenRating, ...], ...]:
    """The rows of each school year that has a director's level, the earliest first.

    >>> rows = [GivenRating("s", "e", "x", "Flute", "t", f"k{day}", day, day, "tone", "a", 2)
    ...         for day in (1.0, 40.0, 200.0)]
    >>> [[row.day for row in season] for season in seasons(rows)]
    [[1.0, 40.0], [200.0]]
    """
    days = sorted({row.day for row in given if row.rater_class == DIRECTOR})
    begins = [
        day for place, day in enumerate(days)
        if place == 0 or day - days[place - 1] > HOLIDAY_DAYS
    ]  # fmt: skip
    ends = [*begins[1:], *[float("inf")][: len(begins)]]
    return tuple(
        tuple(row for row in given if begin <= row.day < end)
        for begin, end in zip(begins, ends, strict=True)
    )
