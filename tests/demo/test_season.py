"""The demo's year holds together on whatever day somebody opens it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from standlight.demo.scenario import scenario
from standlight.demo.season import days_off, later_cycles
from standlight.planning import (
    SeasonCalendar,
    SeasonCycle,
    SeasonGroup,
    SeasonRequest,
    Span,
    season_faults,
)
from standlight.programme.models import SeasonDays

A_YEAR = [date(2026, 8, 3) + timedelta(days=days) for days in range(366)]


@pytest.fixture(scope="module")
def demo():
    return scenario(A_YEAR[0])


def request_of(demo, today):
    """The demo's season as it would be asked for on ``today``; its days lie as far from today."""
    moved = today - demo.today
    first, end = demo.year_starts_on + moved, demo.year_ends_on + moved
    concert = demo.concert_on + moved
    cycles = [("Winter concert", demo.cycle_starts_on + moved, concert)]
    cycles += later_cycles(concert, end)
    off = list(days_off(first))
    return SeasonRequest(
        calendar=SeasonCalendar(
            first, end,
            closed=tuple(Span(a, b, name) for sort, a, b, name in off if sort != SeasonDays.DEAD),
            dead=tuple(Span(a, b, name) for sort, a, b, name in off if sort == SeasonDays.DEAD),
        ),
        groups=(SeasonGroup("band", 60),),
        cycles=tuple(SeasonCycle(name, "band", name, starts, on) for name, starts, on in cycles),
        kinds=(),
        holdings=(),
        review_minutes=240,
    )  # fmt: skip


@pytest.mark.parametrize("today", A_YEAR[:7], ids=lambda day: day.strftime("%A"))
def test_the_year_has_three_concerts_and_nothing_that_hinders_a_plan(demo, today):
    asked = request_of(demo, today)
    assert [one.name for one in asked.cycles] == ["Winter concert", "Spring concert",
                                                  "Last concert"]  # fmt: skip
    assert [fault for fault in season_faults(asked) if fault.hinders] == []
    assert {one.concert_on.weekday() for one in asked.cycles[1:]} == {3}


def test_no_day_of_a_year_breaks_the_season(demo):
    broken = [str(day) for day in A_YEAR
              if any(fault.hinders for fault in season_faults(request_of(demo, day)))]  # fmt: skip
    assert broken == []
