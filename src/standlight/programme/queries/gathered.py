"""All read takes of one check laid on its measures: what troubles which section where. Pure.

Each take says of each measure it plays whether something there is worth another listen, one
criterion at a time (`kept_places`). Takes are counted, with Wilson's 95 percent interval (1927);
no take and no person is named, and nothing is ranked but measures. What was not read is not
counted: no zero stands for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

FEWEST_TAKES = 3
"""Fewer takes than this say nothing of a section, and could point at a person."""

INTERVAL_Z = 1.959964
MOST_PLACES = 5
"""So many places are named for the whole group: what fits a rehearsal (our choice)."""

_SHADES = 4


@dataclass(frozen=True, slots=True)
class GroupTake:
    """One read take: its ``section``, its ``passage`` (any key), and where it is in trouble.

    ``measures`` are those it plays, ``troubles`` those worth another listen by criterion, all
    0-based; a criterion that could not be read in this take is no key of ``troubles``.
    """

    section: str
    passage: int
    measures: frozenset[int]
    troubles: Mapping[str, frozenset[int]]


@dataclass(frozen=True, slots=True)
class Count:
    """``troubled`` of ``takes`` takes, with the share's 95 percent interval ``low`` to ``high``."""

    troubled: int
    takes: int

    @property
    def interval(self) -> tuple[float, float]:
        """Wilson's interval of the share, 0..1."""
        return wilson(self.troubled, self.takes)

    @property
    def shade(self) -> int:
        """0 to 4: none, up to a quarter, half, three quarters, more."""
        return -(-_SHADES * self.troubled // self.takes) if self.takes else 0

    @property
    def words(self) -> str:
        """Count and interval in words.

        >>> Count(3, 8).words
        '3 of 8 takes (likely 14 to 69 percent)'
        >>> Count(0, 0).words
        'no take'
        """
        if not self.takes:
            return "no take"
        low, high = (round(100 * share) for share in self.interval)
        return f"{self.troubled} of {self.takes} takes (likely {low} to {high} percent)"


@dataclass(frozen=True, slots=True)
class SectionLine:
    """One criterion of a section: a `Count` a measure, and one for the takes with any trouble."""

    criterion: str
    anywhere: Count
    counts: tuple[Count, ...]


@dataclass(frozen=True, slots=True)
class SectionPicture:
    """A section on one passage: ``measures`` in order, a line a criterion; none if too few.

    ``unread`` are the criteria asked of enough takes and read in too few of them.
    """

    section: str
    passage: int
    takes: int
    measures: tuple[int, ...]
    lines: tuple[SectionLine, ...]
    unread: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TroubledPlace:
    """A measure and a criterion with the most trouble in a passage of a section."""

    section: str
    passage: int
    criterion: str
    measure: int
    count: Count


def wilson(hits: int, count: int) -> tuple[float, float]:
    """95 percent interval of the share ``hits / count`` (Wilson 1927); all of 0..1 for none.

    >>> [round(edge, 3) for edge in wilson(5, 10)]
    [0.237, 0.763]
    """
    if not count:
        return 0.0, 1.0
    share, z2 = hits / count, INTERVAL_Z**2
    middle = (share + z2 / (2 * count)) / (1 + z2 / count)
    reach = INTERVAL_Z / (1 + z2 / count)
    reach *= (share * (1 - share) / count + z2 / (4 * count * count)) ** 0.5
    return max(0.0, middle - reach), min(1.0, middle + reach)


def section_pictures(
    takes: Iterable[GroupTake], criteria: Sequence[str]
) -> tuple[SectionPicture, ...]:
    """A picture for each section and passage, in the order in which they first come.

    ``criteria`` are keys of those asked that name places.
    """
    groups: dict[tuple[str, int], list[GroupTake]] = {}
    for take in takes:
        groups.setdefault((take.section, take.passage), []).append(take)
    return tuple(
        _picture(section, passage, group, criteria)
        for (section, passage), group in groups.items()
    )


def most_troubled(
    pictures: Iterable[SectionPicture], most: int = MOST_PLACES
) -> tuple[TroubledPlace, ...]:
    """Places by the lower end of their interval, so that few takes must agree to be named.

    One place a section and criterion; only where at least two takes are troubled.
    """
    places = []
    for picture in pictures:
        for line in picture.lines:
            measure, count = max(
                zip(picture.measures, line.counts, strict=True),
                key=lambda pair: (pair[1].interval[0], -pair[0]),
            )
            if count.troubled > 1:
                places.append(
                    TroubledPlace(picture.section, picture.passage, line.criterion, measure, count)
                )
    places.sort(key=lambda place: -place.count.interval[0])
    return tuple(places[:most])


def _picture(
    section: str, passage: int, takes: Sequence[GroupTake], criteria: Sequence[str]
) -> SectionPicture:
    """Counts of one section on one passage, or none with too few takes."""
    measures = tuple(sorted({measure for take in takes for measure in take.measures}))
    if len(takes) < FEWEST_TAKES or not measures:
        return SectionPicture(section, passage, len(takes), measures, ())
    lines, unread = [], []
    for criterion in criteria:
        read = [take for take in takes if criterion in take.troubles]
        if len(read) < FEWEST_TAKES:
            unread.append(criterion)
        else:
            lines.append(_line(criterion, read, measures))
    return SectionPicture(section, passage, len(takes), measures, tuple(lines), tuple(unread))


def _line(
    criterion: str, takes: Sequence[GroupTake], measures: Sequence[int]
) -> SectionLine:
    """One criterion's counts over the takes in which it was read."""
    counts = tuple(
        Count(
            sum(measure in take.troubles[criterion] for take in takes),
            sum(measure in take.measures for take in takes),
        )
        for measure in measures
    )
    anywhere = Count(sum(bool(take.troubles[criterion]) for take in takes), len(takes))
    return SectionLine(criterion, anywhere, counts)
