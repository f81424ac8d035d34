"""From what a year should hold to items: weeks each may have, and where it would best be. Pure.

Hard is only what nobody would bend: a closed or dead week, the week of a concert for anything new,
the span an item belongs to, the last week for the year's reflection. All else is a wish with a
cost, so that a plan always comes out, with a note on what had to give.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from math import ceil

from standlight.errors import StandlightError
from standlight.planning.season_calendar import (
    LEAST_OPEN_DAYS,
    SCHOOL_DAYS,
    is_open,
    quiet_weeks,
    week_index,
    weeks_of,
)
from standlight.planning.season_defaults import FAR_APART_DAYS, REFLECTION_DAYS
from standlight.planning.season_values import (
    AFTER_CONCERT,
    AGAIN,
    ANCHOR,
    APART,
    BEFORE_CONCERT,
    BEFORE_LAST,
    CYCLE,
    EARLY,
    LATE,
    MIDDLE,
    NOT_TOO_FAR,
    ORDER,
    PERIOD,
    SPREAD,
    YEAR,
    Change,
    Gap,
    Holding,
    Item,
    SeasonCycle,
    SeasonGroup,
    SeasonRequest,
    Week,
    WorkKind,
    heard_of,
)

Window = tuple[int, int, int]
"""First and last week that fit a wish, and the best one, as indexes."""


def _slot(first: int, last: int, place: int, of: int) -> Window:
    """The ``place``-th of ``of`` equal stretches of a span."""
    length = last - first + 1
    low, high = first + place * length // of, first + (place + 1) * length // of - 1
    return low, max(low, high), (low + max(low, high)) // 2


def _anchor(first: int, last: int, place: int, of: int) -> Window:
    """The first early, the others in the later stretches of a span."""
    if place == 0:
        return first, first + min(5, (last - first) // 3), first + 2
    low, _, _ = _slot(first, last, place, of)
    high = last - 3 if place == of - 1 else low + (last - first) // of
    return min(low + 3, high), high, (low + high) // 2


WINDOWS: dict[str, Callable[[int, int, int, int], Window]] = {
    EARLY: lambda a, b, n, of: (a, a + max(2, (b - a) // 3), a + 1),
    BEFORE_CONCERT: lambda a, b, n, of: (b - 3, b - 1, b - 2),
    SPREAD: _slot,
    MIDDLE: lambda a, b, n, of: (a + (b - a) // 4, b - (b - a) // 4, (a + b) // 2),
    LATE: lambda a, b, n, of: ((a + b + 1) // 2, b - 1, (a + b + 1) // 2 + 1),
    ANCHOR: _anchor,
    AFTER_CONCERT: lambda a, b, n, of: (b, b, b),
    BEFORE_LAST: lambda a, b, n, of: (b - 4, b - 1, b - 2),
}
"""From a span's first and last week, and which of how many, to the wished window."""


@dataclass(frozen=True, slots=True)
class _Stretch:
    """A span of one group in weeks: its key, first and last index, and its cycle."""

    key: str
    first: int
    last: int
    cycle: SeasonCycle | None = None


def items_of(request: SeasonRequest) -> tuple[tuple[Item, ...], tuple[Gap, ...]]:
    """All items of a request in the order of groups and holdings, and their distances.

    Raises `StandlightError` where a holding names a kind that is not there.
    """
    weeks = weeks_of(request.calendar, request.review_minutes)
    kinds = {kind.key: kind for kind in request.kinds}
    changes = {change.item: change for change in request.changes}
    missing = {holding.kind for holding in request.holdings} - set(kinds)
    if missing:
        raise StandlightError(
            f"no kind of work is called {min(missing)}", slip="a kind that was put away?"
        )
    items: list[Item] = []
    gaps: list[Gap] = []
    for group in request.groups:
        quiet = quiet_weeks(request, weeks, group.key)
        for span in (CYCLE, PERIOD, YEAR):
            holdings = [one for one in request.holdings if one.span == span]
            for stretch in _stretches(request, weeks, group, span):
                made = {
                    holding.key: list(
                        _items(request, weeks, group, stretch, holding,
                               kinds[holding.kind], quiet, changes)
                    )
                    for holding in holdings
                }  # fmt: skip
                for holding in holdings:
                    items += made[holding.key]
                    gaps += _gaps(holding, made)
    return tuple(items), tuple(gaps)


def _stretches(
    request: SeasonRequest, weeks: tuple[Week, ...], group: SeasonGroup, span: str
) -> Iterator[_Stretch]:
    """The spans of one sort that a group has, inside the year."""
    last_week = len(weeks) - 1
    if span == YEAR:
        yield _Stretch("year", 0, last_week)
    elif span == PERIOD:
        for number, period in enumerate(request.calendar.periods, start=1):
            first, last = week_index(weeks, period.first), week_index(weeks, period.last)
            yield _Stretch(f"period-{number}", max(0, first), min(last_week, last))
    else:
        for cycle in request.cycles:
            if cycle.group == group.key and cycle.concert_on is not None:
                # Begun after Wednesday, a cycle has its first whole week in the next one.
                late = cycle.starts_on.weekday() > SCHOOL_DAYS - LEAST_OPEN_DAYS
                first = week_index(weeks, cycle.starts_on) + late
                last = week_index(weeks, cycle.concert_on)
                yield _Stretch(cycle.key, max(0, first), min(last_week, last), cycle)


def _items(
    request: SeasonRequest,
    weeks: tuple[Week, ...],
    group: SeasonGroup,
    stretch: _Stretch,
    holding: Holding,
    kind: WorkKind,
    quiet: frozenset[int],
    changes: dict[str, Change],
) -> Iterator[Item]:
    """The items that one holding has in one span."""
    times = holding.times
    if holding.every_weeks:
        times = (stretch.last - stretch.first) // holding.every_weeks
    for place in range(times):
        key = f"{group.key}/{stretch.key}/{holding.key}/{place + 1}"
        change = changes.get(key, Change(key, holding.share))
        due_on, allowed = None, _allowed(weeks, stretch, holding, kind, quiet)
        if holding.when == AFTER_CONCERT:
            due_on, allowed = _after_concert(request, weeks, stretch)
        low, high, target = (
            WINDOWS[holding.when](stretch.first, stretch.last, place, times)
            if due_on is None
            else (allowed[0], allowed[0], allowed[0])
        )
        low, high = max(low, stretch.first), max(min(high, stretch.last), stretch.first)
        each = kind.review_minutes if change.review_minutes is None else change.review_minutes
        yield Item(
            key=key,
            group=group.key,
            kind=kind.key,
            holding=holding.key,
            cycle=stretch.cycle.key if stretch.cycle else "",
            number=place + 1,
            of=times,
            when=holding.when,
            weeks=allowed,
            wished=(min(low, high), high),
            target=min(max(target, low), high),
            review_minutes=ceil(each * heard_of(change.share, group.musicians) - 1e-9),
            musician_minutes=round(kind.musician_minutes),
            musicians=group.musicians,
            review_each=each,
            share=change.share,
            due_on=due_on,
        )


def _allowed(
    weeks: tuple[Week, ...],
    stretch: _Stretch,
    holding: Holding,
    kind: WorkKind,
    quiet: frozenset[int],
) -> tuple[int, ...]:
    """Weeks that nobody would forbid an item."""
    last = stretch.last - (holding.when == BEFORE_LAST)
    return tuple(
        week for week in range(stretch.first, last + 1)
        if weeks[week].takes_work and (kind.in_rehearsal or week not in quiet)
    )  # fmt: skip


def _after_concert(
    request: SeasonRequest, weeks: tuple[Week, ...], stretch: _Stretch
) -> tuple[date | None, tuple[int, ...]]:
    """The day within three days after the concert, else the next school day; none in the holidays.

    A reflection that comes a fortnight after the concert is still better than none, so the next
    school day stands in, however far it is.
    """
    concert = stretch.cycle.concert_on if stretch.cycle else None
    if concert is None:
        return None, ()
    within = [concert + timedelta(days=n) for n in range(REFLECTION_DAYS, 0, -1)]
    left = (request.calendar.last_day - concert).days
    later = [concert + timedelta(days=n) for n in range(REFLECTION_DAYS + 1, left + 1)]
    for day in (*within, *later):
        if is_open(request.calendar, day):
            return day, (week_index(weeks, day),)
    return None, ()


def _gaps(holding: Holding, made: dict[str, list[Item]]) -> Iterator[Gap]:
    """Distances inside a holding's items, and to what they follow."""
    items = made[holding.key]
    for one, after in pairwise(items):
        if holding.when == ANCHOR:
            yield Gap(one.key, after.key, ceil(FAR_APART_DAYS / 7), None, AGAIN)
        else:
            yield Gap(one.key, after.key, max(1, holding.least_gap), None, APART)
        if holding.most_gap:
            yield Gap(one.key, after.key, 0, holding.most_gap, NOT_TOO_FAR)
    before = made.get(holding.after, [])
    if items and before:
        least = holding.least_gap if len(items) == 1 else 0
        yield Gap(before[-1].key, items[0].key, max(1, least), None, ORDER)
