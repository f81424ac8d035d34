"""Hours by arithmetic, ways out that add up, and faults of a calendar with their nearest fix."""

from dataclasses import replace
from datetime import timedelta
from math import ceil

import pytest

from standlight.errors import StandlightError
from standlight.planning.season import plan_season, season_faults
from standlight.planning.season_calendar import FAULTS
from standlight.planning.season_hours import minutes_by_week, unavoidable
from standlight.planning.season_items import items_of
from standlight.planning.season_values import (
    OPTIONS,
    Change,
    Holding,
    Item,
    SeasonCycle,
    Span,
    Week,
)
from tests.planning.season_makers import day, year


def item(key, weeks, minutes):
    return Item(key, "g", "k", "h", "", 1, 1, "spread", tuple(weeks), (weeks[0], weeks[-1]),
                weeks[0], minutes, 0, 10, minutes / 10)  # fmt: skip


def open_weeks(n, minutes):
    return [Week(k + 1, day(k), (day(k),), True, minutes) for k in range(n)]


def test_what_must_lie_within_must_fit_within():
    items = [item("a", (1,), 50), item("b", (1, 2), 40), item("c", (0, 1, 2), 100)]
    # Weeks 1 and 2 hold a and b; only all three weeks must hold c too: 190 of 180.
    (found,) = unavoidable(items, open_weeks(3, 60))
    assert (found.first, found.last, found.needed, found.available) == (0, 2, 190, 180)
    assert found.items == ("c", "a", "b")
    (found,) = unavoidable([*items, item("d", (1,), 15)], open_weeks(3, 60))
    assert (found.first, found.last, found.needed, found.available) == (1, 1, 65, 60)
    assert unavoidable(items, open_weeks(3, 64)) == ()


def test_a_proof_is_a_proof_for_every_way_to_fill_the_weeks():
    from itertools import product

    items = [item("a", (0, 1), 30), item("b", (0, 1), 30), item("c", (1, 2), 30)]
    for room in (20, 30, 44, 45, 60):
        proofs = unavoidable(items, open_weeks(3, room))
        fits = any(
            all(sum(30 for week in way if week == k) <= room for k in range(3))
            for way in product((0, 1), (0, 1), (1, 2))
        )
        if proofs:
            assert not fits


@pytest.fixture(scope="module")
def overloaded():
    """Both groups' concerts on one Thursday: two reflections of 63 minutes on one Friday."""
    asked = year(hours=1.5, holdings=(Holding("reflection", "concert_reflection",
                                              when="after_concert"),))  # fmt: skip
    return asked, plan_season(asked)


def test_an_overloaded_week_is_told_with_its_hours_before_any_search(overloaded):
    _, plan = overloaded
    assert [(one.first, one.last) for one in plan.overloads] == [(w, w) for w in (8, 17, 26, 33)]
    for one in plan.overloads:
        assert (one.needed, one.available, one.unavoidable) == (2 * ceil(1.25 * 50), 90, True)
        assert len(one.items) == 2


def test_every_way_out_that_is_called_enough_is_enough(overloaded):
    asked, plan = overloaded
    seen = set()
    for overload in plan.overloads:
        for option in overload.options:
            seen.add(option.code)
            assert option.code in OPTIONS
            assert option.enough == (option.minutes <= overload.available)
            own = next(one.item for one in plan.items if one.item.key == option.item)
            others = overload.needed - own.review_minutes
            if option.code == "draw":
                change = Change(option.item, share=option.n / option.of)
                assert option.minutes == others + ceil(1.25 * option.n)
            elif option.code == "shorten":
                change = Change(option.item, review_minutes=option.each_to)
                assert option.minutes == others + ceil(option.each_to * 50 - 1e-9)
            else:
                monday = plan.weeks[option.to_week].monday
                moved = plan_season(replace(asked, pins=((option.item, monday),)))
                assert moved.minutes[overload.first] == option.minutes
                assert moved.minutes[option.to_week] == option.minutes_there
                assert option.minutes_there <= plan.weeks[option.to_week].review_minutes
                continue
            lighter = plan_season(replace(asked, changes=(change,)))
            assert lighter.minutes[overload.first] == option.minutes
    assert seen == {"draw", "shorten", "move"}
    first = plan.overloads[0].options
    assert [one.enough for one in first] == sorted((one.enough for one in first), reverse=True)


def test_a_way_out_that_does_not_reach_says_so():
    asked = year(hours=0.5, holdings=(Holding("reflection", "concert_reflection",
                                              when="after_concert"),))  # fmt: skip
    overload = plan_season(asked).overloads[0]
    assert overload.needed == 126
    assert overload.options
    assert not any(one.enough for one in overload.options)
    assert all(one.minutes > overload.available for one in overload.options)


def test_an_interval_of_several_weeks_is_told_where_no_plan_can_hold_it():
    asked = year(groups=1, musicians=100, hours=1.0)
    plan = plan_season(asked)
    items, _ = items_of(asked)
    proofs = unavoidable(items, plan.weeks)
    assert proofs
    for proof in proofs:
        inside = [one for one in plan.items if proof.first <= one.week <= proof.last]
        minutes = minutes_by_week(inside, len(plan.weeks))
        over = [w for w in range(proof.first, proof.last + 1)
                if minutes[w] > plan.weeks[w].review_minutes]  # fmt: skip
        assert over
        told = [one for one in plan.overloads
                if one.first <= proof.last and one.last >= proof.first]  # fmt: skip
        assert told


def faults_of(asked, code):
    return [fault for fault in season_faults(asked) if fault.code == code]


def with_cycles(*cycles, **more):
    asked = year(groups=1, **more)
    return replace(asked, cycles=tuple(
        SeasonCycle(f"c{n}", "g0", f"c{n}", starts, concert)
        for n, (starts, concert) in enumerate(cycles)
    ))  # fmt: skip


def test_a_cycle_without_a_concert_day_is_offered_the_last_thursday_before_the_next():
    asked = with_cycles((day(0), None), (day(10), day(18, 3)))
    (fault,) = faults_of(asked, "no_date")
    assert (fault.cycle, fault.day, fault.hinders) == ("c0", day(9, 3), True)
    with pytest.raises(StandlightError, match="no_date"):
        plan_season(asked)
    mended = with_cycles((day(0), fault.day), (day(10), day(18, 3)))
    assert not any(fault.hinders for fault in season_faults(mended))


def test_overlapping_cycles_are_offered_the_day_after_the_concert():
    asked = with_cycles((day(0), day(8, 3)), (day(7), day(16, 3)))
    (fault,) = faults_of(asked, "overlap")
    assert (fault.cycle, fault.other, fault.day) == ("c1", "c0", day(8, 4))
    mended = with_cycles((day(0), day(8, 3)), (fault.day, day(16, 3)))
    assert season_faults(mended) == ()


def test_zero_hours_are_offered_hours_that_hold_the_year():
    asked = replace(year(), review_minutes=0)
    (fault,) = faults_of(asked, "no_hours")
    needed = sum(item.review_minutes for item in items_of(asked)[0])
    open_weeks = sum(week.takes_work for week in plan_season(year()).weeks)
    assert fault.minutes % 30 == 0
    assert 0 <= fault.minutes * open_weeks - needed < 30 * open_weeks
    mended = replace(asked, review_minutes=fault.minutes)
    assert not any(fault.hinders for fault in season_faults(mended))


@pytest.mark.parametrize(
    ("cycle", "code", "fixed"),
    [
        ((day(10), day(8, 3)), "before_start", day(0)),
        ((day(0), day(40, 3)), "out_of_year", day(35, 4)),
        ((day(0), day(12, 3)), "closed_concert", day(13, 0)),
    ],
)
def test_a_concert_in_no_place_is_offered_the_nearest_that_is_one(cycle, code, fixed):
    (fault,) = faults_of(with_cycles(cycle), code)
    assert fault.day == fixed


def test_a_year_that_is_closed_throughout_is_told():
    asked = year(groups=1)
    closed = (Span(asked.calendar.first_day, asked.calendar.last_day, "closed"),)
    calendar = replace(asked.calendar, closed=closed)
    (fault,) = faults_of(replace(asked, calendar=calendar), "no_weeks")
    assert fault.hinders


def test_what_only_wants_a_look_hinders_no_plan():
    asked = with_cycles((day(0), day(2, 3)))
    codes = {fault.code: fault for fault in season_faults(replace(asked, groups=asked.groups))}
    assert codes["short"].weeks == 3
    assert not codes["short"].hinders
    assert plan_season(asked).items
    nobody = season_faults(year(groups=1, musicians=0, concerts=()))
    assert {fault.code for fault in nobody} == {"nobody", "no_cycle"}
    assert plan_season(year(groups=1, musicians=0, concerts=())).items


def test_every_fault_has_a_sentence_in_the_table():
    asked = with_cycles((day(10), day(8, 3)), (day(11), None), (day(5), day(60)))
    for fault in season_faults(replace(asked, review_minutes=0)):
        assert fault.code in FAULTS


def test_a_span_that_ends_before_it_begins_is_refused():
    with pytest.raises(StandlightError, match="ends before it begins"):
        Span(day(1), day(1) - timedelta(days=1), "break")
