"""The weeks of a school year, and what is wrong with a calendar, each fault with its nearest fix.

Nothing is guessed: a calendar with a fault gets no plan but a list of faults, each a code with
the values that would mend it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from standlight.planning.season_values import (
    SeasonCalendar,
    SeasonCycle,
    SeasonGroup,
    SeasonRequest,
    Week,
)

SCHOOL_DAYS = 5
LEAST_OPEN_DAYS = 3
"""A week with fewer school days takes no work that is due (common practice, no source)."""

SHORT_CYCLE_WEEKS = 5
"""Below this two playing checks with three weeks between them do not fit before a concert."""

MONDAY_AND_TUESDAY = 1
"""Up to this weekday a concert has its last rehearsals in the week before: that is its week too."""

NO_DATE, BEFORE_START, OVERLAP, OUT_OF_YEAR, CLOSED_CONCERT, NO_HOURS, NO_WEEKS, NO_CYCLE = (
    "no_date", "before_start", "overlap", "out_of_year", "closed_concert", "no_hours", "no_weeks",
    "no_cycle",
)  # fmt: skip
SHORT, NOBODY = "short", "nobody"
FAULTS = {
    NO_DATE: "a cycle has no concert day; `day` would be the last Thursday before what follows",
    BEFORE_START: "a concert lies before its cycle begins; `day` would be eight weeks earlier",
    OVERLAP: "a cycle begins before the concert of `other`; it could begin on `day`",
    OUT_OF_YEAR: "a concert lies outside of the school year; `day` is the nearest school day",
    CLOSED_CONCERT: "a concert lies on a closed day; `day` is the nearest school day",
    NO_HOURS: "no review minutes a week; the work needs about `minutes` in each open week",
    NO_WEEKS: "no week of the year is open",
    NO_CYCLE: "the group has no concert cycle",
    SHORT: "a cycle has `weeks` weeks, which is short for two playing checks",
    NOBODY: "the group has no musicians yet: its work takes no time of review",
}
"""Faults and, at the end, remarks that do not hinder a plan."""

HINDERING = frozenset({NO_DATE, BEFORE_START, OVERLAP, OUT_OF_YEAR, NO_HOURS, NO_WEEKS})
"""Faults with which no plan is drawn up."""


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong: a key of ``FAULTS``, where, and what would mend it."""

    code: str
    group: str = ""
    cycle: str = ""
    other: str = ""
    day: date | None = None
    minutes: int = 0
    weeks: int = 0

    @property
    def hinders(self) -> bool:
        """Whether no plan can be drawn up before it is mended."""
        return self.code in HINDERING


def monday_of(day: date) -> date:
    """The Monday of a day's week.

    >>> monday_of(date(2026, 11, 26))
    datetime.date(2026, 11, 23)
    """
    return day - timedelta(days=day.weekday())


def weeks_of(calendar: SeasonCalendar, review_minutes: int) -> tuple[Week, ...]:
    """Every week of the year; a short week has its share of the ``review_minutes``.

    >>> year = SeasonCalendar(date(2026, 8, 31), date(2026, 9, 11))
    >>> [(week.number, len(week.open_days), week.review_minutes) for week in weeks_of(year, 300)]
    [(1, 5, 300), (2, 5, 300)]
    """
    weeks, monday = [], monday_of(calendar.first_day)
    while monday <= calendar.last_day:
        days = tuple(
            day for day in (monday + timedelta(days=n) for n in range(SCHOOL_DAYS))
            if is_open(calendar, day)
        )  # fmt: skip
        dead = any(monday <= span.last and monday + timedelta(days=4) >= span.first
                   for span in calendar.dead)  # fmt: skip
        weeks.append(
            Week(
                len(weeks) + 1,
                monday,
                days,
                len(days) >= LEAST_OPEN_DAYS and not dead,
                round(review_minutes * len(days) / SCHOOL_DAYS),
            )
        )
        monday += timedelta(days=7)
    return tuple(weeks)


def is_open(calendar: SeasonCalendar, day: date) -> bool:
    """Whether school is held on ``day``."""
    return (
        day.weekday() < SCHOOL_DAYS
        and calendar.first_day <= day <= calendar.last_day
        and not any(day in span for span in calendar.closed)
    )


def quiet_weeks(request: SeasonRequest, weeks: tuple[Week, ...], group: str) -> frozenset[int]:
    """Indexes of the weeks in which a group gets nothing new: of its concerts and festivals."""
    days = [cycle.concert_on for cycle in request.cycles if cycle.group == group]
    days += [day for of, day in request.festivals if of == group]
    found = set()
    for day in days:
        if day is not None:
            index = week_index(weeks, day)
            found |= {index, index - 1} if day.weekday() <= MONDAY_AND_TUESDAY else {index}
    return frozenset(found)


def week_index(weeks: tuple[Week, ...], day: date) -> int:
    """Index of a day's week, 0 for the first; it may lie outside of the year."""
    return (monday_of(day) - weeks[0].monday).days // 7


def calendar_faults(request: SeasonRequest, needed_minutes: int = 0) -> tuple[Fault, ...]:
    """All that is wrong, what hinders first. ``needed_minutes`` are those of the whole year."""
    faults = list(_faults(request, needed_minutes))
    return tuple(sorted(faults, key=lambda fault: not fault.hinders))


def _faults(request: SeasonRequest, needed_minutes: int) -> Iterator[Fault]:
    calendar = request.calendar
    weeks = weeks_of(calendar, request.review_minutes)
    open_weeks = sum(week.takes_work for week in weeks)
    if not open_weeks:
        yield Fault(NO_WEEKS)
    if request.review_minutes <= 0:
        each = -(-needed_minutes // max(1, open_weeks))
        yield Fault(NO_HOURS, minutes=max(30, -(-each // 30) * 30))
    for group in request.groups:
        cycles = sorted(
            (cycle for cycle in request.cycles if cycle.group == group.key),
            key=lambda cycle: (cycle.starts_on, cycle.concert_on or date.max),
        )
        if group.musicians == 0:
            yield Fault(NOBODY, group.key)
        if not cycles:
            yield Fault(NO_CYCLE, group.key)
        yield from _faults_of(calendar, group, cycles)


def _faults_of(
    calendar: SeasonCalendar, group: SeasonGroup, cycles: list[SeasonCycle]
) -> Iterator[Fault]:
    """Faults of one group's cycles, by their beginnings."""
    for place, cycle in enumerate(cycles):
        if cycle.concert_on is None:
            follows = [one.starts_on for one in cycles[place + 1 :]]
            latest = min([*follows, calendar.last_day])
            day = _nearest(calendar, latest - timedelta(days=1), weekday=3)
            yield Fault(NO_DATE, group.key, cycle.key, day=day)
        elif cycle.concert_on < cycle.starts_on:
            day = cycle.concert_on - timedelta(weeks=8)
            yield Fault(BEFORE_START, group.key, cycle.key, day=monday_of(day))
        elif not calendar.first_day <= cycle.concert_on <= calendar.last_day:
            inside = min(max(cycle.concert_on, calendar.first_day), calendar.last_day)
            yield Fault(OUT_OF_YEAR, group.key, cycle.key, day=_nearest(calendar, inside))
        else:
            # A concert on a Saturday is usual; one on a closed weekday is a slip more often.
            if any(cycle.concert_on in span for span in calendar.closed):
                day = _nearest(calendar, cycle.concert_on)
                yield Fault(CLOSED_CONCERT, group.key, cycle.key, day=day)
            weeks = -(-((cycle.concert_on - cycle.starts_on).days + 1) // 7)
            if weeks < SHORT_CYCLE_WEEKS:
                yield Fault(SHORT, group.key, cycle.key, weeks=weeks)
    dated = [one for one in cycles if one.concert_on and one.concert_on >= one.starts_on]
    for one, after in pairwise(dated):
        if after.starts_on <= one.concert_on:
            day = one.concert_on + timedelta(days=1)
            yield Fault(OVERLAP, group.key, after.key, other=one.key, day=day)


def _nearest(calendar: SeasonCalendar, day: date, weekday: int | None = None) -> date | None:
    """The nearest school day, earlier ones first; of a ``weekday`` where one is asked for."""
    length = (calendar.last_day - calendar.first_day).days + 1
    for away in range(length + 1):
        for near in (day - timedelta(days=away), day + timedelta(days=away)):
            if is_open(calendar, near) and weekday in (None, near.weekday()):
                return near
    return None
