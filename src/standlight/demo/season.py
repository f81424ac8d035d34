"""The demo's years: each director's calendar with days off, cycles to come and a plan drawn up.

The plan is drawn up as of the first day, so that the weeks gone by have their work; what the demo
has given out is not tied to it.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from django.utils import timezone

from standlight.demo.loading import Loading
from standlight.programme.models import (
    ConcertCycle,
    Ensemble,
    MarkingPeriod,
    SeasonDays,
    SeasonItem,
    SeasonPlan,
)
from standlight.programme.queries.season_request import season_request
from standlight.programme.season_child import drawn_up

HOURS = {"band_choir": 4.0, "strings": 2.5}
"""Hours a week of each director of the demo."""

BREAKS = (
    (SeasonDays.CLOSED, 4, 0, 8, "Autumn days off"),
    (SeasonDays.CLOSED, 16, 0, 11, "Winter break"),
    (SeasonDays.DEAD, 18, 0, 4, "Examinations"),
    (SeasonDays.CLOSED, 29, 0, 4, "Spring break"),
)
"""Sort, week of the year, first weekday, days to the last day, name."""

LATER = (("Spring concert", 3, 11), ("Last concert", 15, 8))
"""Cycles to come: name, whole weeks from the present concert's to that of the first rehearsal,
weeks from there to the concert's. None begins before the week after the concert before it."""

CONCERT_WEEKDAY, FESTIVAL_WEEKDAY = 3, 4
"""Concerts on a Thursday, the festival on a Friday (common practice, no source)."""

FESTIVAL_WEEKS = 9
"""Weeks from the present concert to the demo's festival."""

PERIOD_DAYS = 60


def write_season(loading: Loading) -> None:
    """Write both directors' years."""
    plan = loading.plan
    end = plan.year_ends_on
    _periods(loading, end)
    for group, ensemble in loading.ensembles.items():
        _cycles(ensemble, loading.cycles[group], end)
    for director, account in loading.directors.items():
        year = SeasonPlan.objects.create(
            programme=loading.programme,
            owner=account,
            starts_on=plan.year_starts_on,
            ends_on=end,
            review_minutes=round(HOURS[director] * 60),
        )
        _days(year, list(account.ensembles.all()), plan.concert_on)
        _draw(year)


def _periods(loading: Loading, end: date) -> None:
    """Marking periods after those of the scenario, to the end of the year."""
    last = max(period.ends_on for period in loading.plan.periods)
    number = len(loading.plan.periods)
    while (end - last).days > PERIOD_DAYS // 2:
        number += 1
        first, last = last + timedelta(days=1), min(end, last + timedelta(days=PERIOD_DAYS))
        MarkingPeriod.objects.create(
            programme=loading.programme, name=f"Marking period {number}", starts_on=first,
            ends_on=last,
        )  # fmt: skip


def later_cycles(concert_on: date, end: date) -> Iterator[tuple[str, date, date]]:
    """Name, first day and concert of each cycle after that of ``concert_on``, as far as the year.

    Whatever weekday ``concert_on`` is: weeks are counted from Monday to Monday.
    """
    for name, weeks, length in LATER:
        starts = day_after(concert_on, weeks, 0)
        concert = day_after(starts, length, CONCERT_WEEKDAY)
        if concert < end - timedelta(weeks=1):
            yield name, starts, concert


def days_off(year_starts_on: date) -> Iterator[tuple[str, date, date, str]]:
    """Sort, first day, last day and name of the breaks of a year."""
    for sort, week, weekday, length, name in BREAKS:
        first = day_after(year_starts_on, week, weekday)
        yield sort, first, first + timedelta(days=length), name


def day_after(day: date, weeks: int, weekday: int) -> date:
    """That ``weekday`` (0 Monday) of the week that comes ``weeks`` after the week of ``day``."""
    return day + timedelta(weeks=weeks, days=weekday - day.weekday())


def _cycles(ensemble: Ensemble, present: ConcertCycle, end: date) -> None:
    """The cycles after the present one, as far as the year goes."""
    for name, starts, concert in later_cycles(present.concert_on, end):
        ConcertCycle.objects.create(
            ensemble=ensemble, name=name, starts_on=starts, concert_on=concert
        )


def _days(year: SeasonPlan, ensembles: list[Ensemble], concert_on: date) -> None:
    """Days off, and one ensemble's festival."""
    for sort, first, last, name in days_off(year.starts_on):
        SeasonDays.objects.create(plan=year, sort=sort, first=first, last=last, name=name)
    festival = day_after(concert_on, FESTIVAL_WEEKS, FESTIVAL_WEEKDAY)
    SeasonDays.objects.create(
        plan=year, sort=SeasonDays.FESTIVAL, first=festival, last=festival,
        name="District festival", ensemble=ensembles[-1],
    )  # fmt: skip


def _draw(year: SeasonPlan) -> None:
    """The plan, as it was drawn up on the first day."""
    drawn = drawn_up(season_request(year, year.starts_on))
    SeasonItem.objects.bulk_create(
        SeasonItem(
            plan=year,
            ensemble_id=int(one.item.group),
            key=one.item.key,
            monday=drawn.weeks[one.week].monday if one.week is not None else None,
        )
        for one in drawn.items
    )
    year.drawn_at = timezone.now()
    year.save(update_fields=["drawn_at"])
