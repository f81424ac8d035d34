"""How far is far, in one group and period: levels, checks and marks beside their own others. Pure.

What is out of line is asked about before marks are final. Musicians are not equally steady from
class to class, so the distance is taken from the group itself: by Chauvenet's criterion (1863,
from memory; Taylor, An Introduction to Error Analysis, ch. 6) a distance is far where, of as many
as there are, less than half of one would be expected by chance. Never nearer than our own least
distances, so that a very even group is not asked about a level that merely is not its usual one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from statistics import NormalDist, median

from standlight.ratings.marking_values import Work

FEWEST_OTHER_LEVELS = 3
"""Other levels of the same criterion that one level is held against."""

FEWEST_OTHER_CHECKS = 2
"""Other checks that one check is held against."""

LEAST_LEVEL, LEAST_CHECK, LEAST_CHANGE = 2.0, 1.5, 1.0
"""Levels below which nothing is far: our choice, so that half a level's scatter stays quiet."""

FEWEST_DISTANCES = 20
"""Distances below which a group does not tell what is usual in it: our choice."""


@dataclass(frozen=True, slots=True)
class Far:
    """Levels at which one level, one check, one mark beside the last period's is asked about."""

    level: float = LEAST_LEVEL
    check: float = LEAST_CHECK
    change: float = LEAST_CHANGE


@dataclass(frozen=True, slots=True)
class Beside:
    """One level or check beside the middle of its ``n`` others of the same musician."""

    title: str
    criterion: str
    value: float
    middle: float
    n: int

    @property
    def off(self) -> float:
        """Levels above the middle of the others."""
        return self.value - self.middle


def far_in(group: Iterable[Sequence[Work]], changes: Sequence[float] = ()) -> Far:
    """What is far for the musicians of ``group``; ``changes`` are marks minus the last period's.

    >>> steady = [Work(f"Check {n}", "rated", {"tone": "3"}) for n in range(5)]
    >>> far_in([steady] * 10)
    Far(level=2.0, check=1.5, change=1.0)
    """
    levels: list[float] = []
    checks: list[float] = []
    for works in group:
        levels += [one.off for one in levels_beside(works)]
        checks += [one.off for one in checks_beside(works)]
    usual = median(changes) if changes else 0.0
    return Far(
        max(LEAST_LEVEL, chauvenet(levels)),
        max(LEAST_CHECK, chauvenet(checks)),
        max(LEAST_CHANGE, abs(usual) + chauvenet([change - usual for change in changes])),
    )


def chauvenet(off: Sequence[float]) -> float:
    """The distance that less than half of one of ``off`` would reach by chance; 0 with too few.

    By their root mean square and the normal distribution.

    >>> round(chauvenet([1.0, -1.0] * 10), 2)
    2.24
    """
    if len(off) < FEWEST_DISTANCES:
        return 0.0
    spread = (sum(each**2 for each in off) / len(off)) ** 0.5
    return spread * NormalDist().inv_cdf(1 - 1 / (4 * len(off)))


def checks_beside(works: Sequence[Work]) -> Iterator[Beside]:
    """Each check's mean level beside the middle of the musician's other checks."""
    means = [
        (work.title, sum(work.numbers.values()) / len(work.numbers))
        for work in works
        if work.numbers
    ]
    yield from _beside(means, "", FEWEST_OTHER_CHECKS)


def levels_beside(works: Sequence[Work]) -> Iterator[Beside]:
    """Each level beside the middle of the same criterion's other levels."""
    by_criterion: dict[str, list[tuple[str, float]]] = {}
    for work in works:
        for criterion, level in work.numbers.items():
            by_criterion.setdefault(criterion, []).append((work.title, level))
    for criterion, given in by_criterion.items():
        yield from _beside(given, criterion, FEWEST_OTHER_LEVELS)


def _beside(
    given: Sequence[tuple[str, float]], criterion: str, fewest: int
) -> Iterator[Beside]:
    """Each value beside the middle of the others, where there are enough."""
    if len(given) <= fewest:
        return
    for place, (title, value) in enumerate(given):
        others = [other for number, (_, other) in enumerate(given) if number != place]
        yield Beside(title, criterion, value, median(others), len(others))
