"""The year plan: what is hard holds, what gives is told, what stands stays, and hours add up."""

from dataclasses import replace
from datetime import date, timedelta
from math import ceil

import pytest

from standlight.errors import StandlightError
from standlight.planning.season import plan_as_it_stands, plan_season
from standlight.planning.season_calendar import quiet_weeks, weeks_of
from standlight.planning.season_items import items_of
from standlight.planning.season_values import Change, Holding, SeasonCycle, Span
from tests.planning.season_makers import day, year

CONCERT_WEEKS = (8, 17, 26, 33)


@pytest.fixture(scope="module")
def planned():
    asked = year()
    return asked, plan_season(asked)


def of(plan, holding, group="g0"):
    return [one for one in plan.items if one.item.holding == holding and one.item.group == group]


def test_every_item_has_one_open_week_and_a_school_day_in_it(planned):
    asked, plan = planned
    assert len(plan.items) == len(items_of(asked)[0]) > 100
    for one in plan.items:
        week = plan.weeks[one.week]
        assert one.due_on in week.open_days
        assert week.monday <= one.due_on < week.monday + timedelta(days=7)
        assert one.week not in (12, 19)


def test_nothing_new_is_due_in_a_concerts_or_festivals_week(planned):
    # Common practice, no source: nothing new in the concert week.
    asked, _ = planned
    asked = replace(asked, festivals=(("g0", day(22, 2)), ("g1", day(23, 0))))
    plan = plan_season(asked)
    assert quiet_weeks(asked, plan.weeks, "g0") == {*CONCERT_WEEKS, 22}
    # A festival on a Monday has its last rehearsals in the week before.
    assert quiet_weeks(asked, plan.weeks, "g1") == {*CONCERT_WEEKS, 22, 23}
    new = {"playing_check", "score_study", "listening_map", "adjudication", "skill_project",
           "background_note", "music_and_me", "finds", "year_reflection"}  # fmt: skip
    for one in plan.items:
        if one.item.kind in new:
            assert one.week not in quiet_weeks(asked, plan.weeks, one.item.group)


def test_two_checks_a_cycle_one_early_and_one_about_two_weeks_before_the_concert(planned):
    # Common practice, no source.
    _, plan = planned
    for group in ("g0", "g1"):
        late, early = of(plan, "late_check", group), of(plan, "early_check", group)
        study = of(plan, "study", group)
        assert len(late) == len(early) == len(study) == 4
        for before, first, second, ends in zip(study, early, late, CONCERT_WEEKS, strict=True):
            assert before.week < first.week <= second.week - 3
            assert 1 <= ends - second.week <= 3


def test_a_reflection_is_due_within_three_days_or_on_the_next_school_day(planned):
    # Common practice, no source. The concerts are on Thursdays: the Friday is within three days.
    _, plan = planned
    for one, ends in zip(of(plan, "reflection"), CONCERT_WEEKS, strict=True):
        assert one.due_on == day(ends, 4)
    asked = year(groups=1, concerts=(11,))
    friday = replace(asked.cycles[0], concert_on=day(11, 4))
    # The week after is closed: the next school day is the Monday after it.
    (late,) = of(plan_season(replace(asked, cycles=(friday,))), "reflection")
    assert late.due_on == day(13, 0)


def test_check_ins_come_every_two_to_four_weeks_and_acts_twice_a_cycle(planned):
    # Common practice, no source.
    _, plan = planned
    for group in ("g0", "g1"):
        for ends in range(4):
            cycle = f"{group}c{ends}"
            acts = [one.week for one in of(plan, "acts", group) if one.item.cycle == cycle]
            assert len(acts) == 2
            assert acts[1] - acts[0] >= 3
            check_ins = [one for one in of(plan, "check_in", group) if one.item.cycle == cycle]
            for one, after in zip(check_ins, check_ins[1:], strict=False):
                told = {note.code for note in after.notes}
                apart = after.week - one.week
                assert 2 <= apart <= 4 or told & {"too_near", "too_late"}


def test_an_anchor_comes_again_sixty_days_later_and_the_year_is_looked_back_on_in_time(planned):
    _, plan = planned
    for group in ("g0", "g1"):
        first, again = of(plan, "anchor", group)
        assert (again.due_on - first.due_on).days >= 60
        assert first.week <= 6
        (last,) = of(plan, "year", group)
        assert 31 <= last.week <= 34


def test_the_same_seed_gives_the_same_plan(planned):
    asked, plan = planned
    assert plan_season(asked) == plan


def test_minutes_of_a_week_are_those_of_its_items_and_of_its_school_days(planned):
    asked, plan = planned
    for index, week in enumerate(plan.weeks):
        own = [one.item for one in plan.items if one.week == index]
        assert plan.minutes[index] == sum(item.review_minutes for item in own)
        assert week.review_minutes == round(asked.review_minutes * len(week.open_days) / 5)
    check = of(plan, "early_check")[0].item
    assert check.review_minutes == ceil(0.75 * 50)


def lose(asked, plan, week):
    """The request after a week is lost, with the plan that stood."""
    monday = plan.weeks[week].monday
    lost = Span(monday, monday + timedelta(days=4), "lost")
    stands = tuple((one.item.key, plan.weeks[one.week].monday) for one in plan.items)
    calendar = replace(asked.calendar, closed=(*asked.calendar.closed, lost))
    return replace(asked, calendar=calendar, before=stands)


@pytest.mark.parametrize("week", [5, 14, 24])
def test_after_a_lost_week_most_stay_and_nothing_is_left_in_it(planned, week):
    asked, plan = planned
    again = plan_season(lose(asked, plan, week))
    had_to = sum(one.week == week for one in plan.items)
    assert had_to > 0
    assert again.compared == len(plan.items)
    assert again.kept >= 0.85 * again.compared
    stayed = sum(a.week == b.week for a, b in zip(plan.items, again.items, strict=True))
    assert stayed == again.kept <= again.compared - had_to
    for one, was in zip(again.items, plan.items, strict=True):
        assert one.week != week
        moved = [note for note in one.notes if note.code == "moved"]
        assert bool(moved) == (one.week != was.week)
        assert not moved or moved[0].was == plan.weeks[was.week].monday


def test_nothing_moves_where_nothing_was_lost(planned):
    asked, plan = planned
    stands = tuple((one.item.key, plan.weeks[one.week].monday) for one in plan.items)
    again = plan_season(replace(asked, before=stands))
    assert again.kept == again.compared == len(plan.items)


def test_a_pin_holds_against_every_wish_but_not_against_a_closed_week(planned):
    asked, plan = planned
    key = of(plan, "late_check")[0].item.key
    pinned = plan_season(replace(asked, pins=((key, day(3)),)))
    one = next(one for one in pinned.items if one.item.key == key)
    assert (one.week, one.pinned) == (3, True)
    assert any(note.code == "outside" for note in one.notes)
    closed = plan_season(replace(asked, pins=((key, day(12)),)))
    one = next(one for one in closed.items if one.item.key == key)
    assert one.week != 12
    assert not one.pinned
    assert [note.code for note in one.notes] == ["pin_closed"]


def test_an_item_whose_span_is_closed_is_told_and_hinders_nothing(planned):
    asked, _ = planned
    closed = Span(day(9), day(16, 6), "closed")
    plan = plan_season(replace(asked, calendar=replace(asked.calendar, closed=(closed,))))
    left = [one for one in plan.items if one.week is None]
    assert {note.code for one in left for note in one.notes} == {"unplaced"}
    assert {one.item.cycle for one in left} == {"g0c1", "g1c1"}
    assert all(one.due_on is None for one in left)


def test_a_draw_and_fewer_minutes_make_an_item_lighter(planned):
    asked, plan = planned
    key = of(plan, "late_check")[0].item.key
    for change, minutes in (
        (Change(key, share=0.5), ceil(0.75 * 25)),
        (Change(key, review_minutes=0.5), 25),
    ):
        items, _ = items_of(replace(asked, changes=(change,)))
        assert next(item for item in items if item.key == key).review_minutes == minutes


def test_standards_are_counted_and_a_missing_one_says_what_would_serve_it(planned):
    asked, _ = planned
    fewer = tuple(one for one in asked.holdings if one.kind != "finds")
    plan = plan_season(
        replace(asked, holdings=fewer, standards=("S-playing_check", "S-finds", "S-none"))
    )
    found = {(one.group, one.standard): one for one in plan.coverage}
    assert len(found[("g0", "S-playing_check")].items) == 10
    assert found[("g0", "S-finds")].items == ()
    assert found[("g0", "S-finds")].kinds == ("finds",)
    assert found[("g1", "S-none")].kinds == ()


def test_weeks_that_ask_too_much_of_a_musician_are_told():
    plan = plan_season(year(groups=1, musician_minutes=20))
    asked = {}
    for one in plan.items:
        asked[one.week] = asked.get(one.week, 0) + one.item.musician_minutes
    assert {(one.week, one.minutes) for one in plan.heavy} == {
        (week, minutes) for week, minutes in asked.items() if minutes > 20
    }
    assert plan.heavy


def test_a_kind_that_is_not_there_is_refused_by_name():
    with pytest.raises(StandlightError, match="no kind of work is called singing_day"):
        plan_season(year(holdings=(Holding("x", "singing_day"),)))


def test_a_year_without_work_or_with_an_empty_group_is_a_plan_too():
    empty = plan_season(year(groups=1, holdings=()))
    assert empty.items == ()
    assert empty.proved
    nobody = plan_season(year(groups=1, musicians=0))
    assert set(nobody.minutes) == {0}


def test_weeks_count_school_days_and_short_weeks_take_no_work():
    asked = year()
    calendar = replace(asked.calendar, closed=(Span(day(4, 1), day(4, 3), "fair"),))
    weeks = weeks_of(calendar, 300)
    assert len(weeks) == 36
    assert [week.number for week in weeks] == list(range(1, 37))
    assert (len(weeks[4].open_days), weeks[4].takes_work, weeks[4].review_minutes) == (
        2, False, 120,
    )  # fmt: skip
    assert weeks[19].review_minutes == 300
    assert not weeks[19].takes_work


def test_cycles_of_one_group_do_not_bind_another():
    asked = year(groups=2)
    one = SeasonCycle("g1x", "g1", "spring", date(2027, 1, 11), date(2027, 3, 11))
    cycles = (*(cycle for cycle in asked.cycles if cycle.group == "g0"), one)
    plan = plan_season(replace(asked, cycles=cycles))
    assert {item.item.cycle for item in plan.items if item.item.group == "g1"} == {"", "g1x"}


def test_a_plan_read_as_it_stands_tells_what_the_search_told(planned):
    asked, plan = planned
    stands = {one.item.key: plan.weeks[one.week].monday for one in plan.items}
    read = plan_as_it_stands(asked, stands)
    assert read.items == plan.items
    assert (read.minutes, read.overloads, read.heavy) == (plan.minutes, plan.overloads, plan.heavy)


def test_a_plan_moved_by_hand_tells_what_gave_way(planned):
    asked, plan = planned
    stands = {one.item.key: plan.weeks[one.week].monday for one in plan.items}
    check, note, acts = (of(plan, one)[0].item.key for one in ("late_check", "note", "acts"))
    stands |= {check: day(8), note: day(12)}
    del stands[acts]
    read = {one.item.key: one for one in plan_as_it_stands(asked, stands).items}
    # A check in the concert's week, a note in a closed one, acts that have no week yet.
    assert read[check].notes[0].code == "quiet"
    assert read[note].notes[0].code == "closed_now"
    assert (read[acts].week, [one.code for one in read[acts].notes]) == (None, ["waiting"])


def test_in_a_year_that_has_begun_what_lay_before_stays_and_nothing_new_goes_there(planned):
    asked, plan = planned
    today = day(11, 2)
    later = plan_season(replace(lose(asked, plan, 13), not_before=today))
    for one, was in zip(later.items, plan.items, strict=True):
        assert one.week == was.week if was.week < 11 else one.week >= 11
    # Drawn up for the first time in the eleventh week: what was only for the weeks before is left.
    fresh = plan_season(replace(asked, not_before=today))
    gone = [one for one in fresh.items if one.week is None]
    assert {note.code for one in gone for note in one.notes} == {"gone"}
    assert all(one.item.wished[1] < 11 for one in gone)
    assert all(one.week >= 11 for one in fresh.items if one.week is not None)
    assert {one.item.cycle for one in gone} >= {"g0c0", "g1c0"}


def test_a_cycle_that_begins_late_in_a_week_has_its_first_work_in_the_next():
    asked = year(groups=1, concerts=(12,))
    for weekday, first in ((0, 2), (2, 2), (3, 3), (5, 3)):
        cycle = replace(asked.cycles[0], starts_on=day(2, weekday), concert_on=day(11, 3))
        items, _ = items_of(replace(asked, cycles=(cycle,)))
        assert min(item.weeks[0] for item in items if item.cycle) == first
