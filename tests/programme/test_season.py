"""The year in rows: drawn up in a child, kept after a lost week, moved by hand, given out."""

from datetime import UTC, date, datetime, timedelta

import pytest
from icalendar import Calendar

from standlight.errors import NotAllowed, StandlightError
from standlight.planning import FAULTS, HOLDINGS, MINUTES, NOTES, WHEN, Fault, Note, plan_season
from standlight.programme.actions import season as acts
from standlight.programme.models import (
    ConcertCycle,
    MarkingPeriod,
    PlayingCheck,
    SeasonDays,
    SeasonItem,
    SeasonPlan,
)
from standlight.programme.queries.season import season_calendar, season_page
from standlight.programme.queries.season_item import item_page
from standlight.programme.queries.season_request import plan_of, season_request
from standlight.programme.queries.season_words import (
    HOLDING_WORDS,
    ITEM_NAMES,
    WHEN_WORDS,
    fault_words,
    note_words,
)
from standlight.programme.season_child import drawn_up
from standlight.programme.season_terms import SeasonTerms, holdings_of, terms_of, typed_terms
from tests.programme.season_scene import FIRST, LAST, begun, drawn
from tests.web.scene import paper

pytestmark = pytest.mark.django_db


def test_the_child_draws_up_what_this_process_would(cast):
    plan = begun(cast)
    request = season_request(plan, FIRST, redraw=True)
    assert drawn_up(request) == plan_season(request)


def test_the_child_says_what_hinders_in_a_sentence(cast):
    plan = begun(cast)
    SeasonPlan.objects.update(review_minutes=0)
    plan.refresh_from_db()
    with pytest.raises(StandlightError, match="no plan yet: no_hours"):
        drawn_up(season_request(plan, FIRST))


def test_drawing_up_writes_a_week_for_every_piece_of_work(cast):
    plan = drawn(cast)
    assert plan.drawn_at is not None
    kept = {row.key: row.monday for row in plan.items.all()}
    searched = plan_season(season_request(plan, FIRST))
    assert kept == {one.item.key: searched.weeks[one.week].monday for one in searched.items}
    page = season_page(plan, FIRST)
    assert page.n_items == len(kept) == sum(
        len(cell.items) for week in page.weeks for cell in week.cells
    )
    assert page.groups == ("Concert Band", "Mixed Choir")
    assert not page.gone


def test_a_lost_week_moves_what_lay_in_it_and_keeps_most(cast):
    plan = drawn(cast)
    before = {row.key: row.monday for row in plan.items.all()}
    full = max(set(before.values()), key=list(before.values()).count)
    year = acts.lose_week(plan, full, FIRST)
    after = {row.key: row for row in plan.items.all()}
    moved = {key for key, row in after.items() if row.monday != before[key]}
    assert moved >= {key for key, monday in before.items() if monday == full}
    assert year.kept == len(before) - len(moved) >= 0.85 * len(before)
    assert all(after[key].moves == (key in moved) for key in after)
    # It takes place after all: the days go, and those weeks can be used again.
    acts.drop_days(plan.days.get(sort=SeasonDays.LOST))
    assert season_request(plan, FIRST).calendar.closed == ()


def test_a_week_is_not_lost_when_no_plan_can_be_drawn_up(cast):
    plan = drawn(cast)
    SeasonPlan.objects.update(review_minutes=0)
    plan.refresh_from_db()
    before = {row.key: row.monday for row in plan.items.all()}
    with pytest.raises(StandlightError, match="no plan yet"):
        acts.lose_week(plan, FIRST + timedelta(weeks=3), FIRST)
    assert not plan.days.exists()
    assert {row.key: row.monday for row in plan.items.all()} == before


def test_a_move_made_while_the_plan_is_drawn_up_keeps_its_week(cast, monkeypatch):
    plan = drawn(cast)
    item = plan.items.filter(key__endswith="/music/1").first()
    to = item.monday + timedelta(weeks=2)

    def meanwhile(request):
        year = drawn_up(request)
        acts.move_item(SeasonItem.objects.get(pk=item.pk), to, FIRST)
        return year

    monkeypatch.setattr(acts, "drawn_up", meanwhile)
    acts.lose_week(plan, item.monday, FIRST)
    assert plan.items.get(pk=item.pk).monday == to


def test_weeks_gone_by_are_never_changed(cast):
    plan = drawn(cast)
    today = FIRST + timedelta(weeks=9, days=2)
    monday = today - timedelta(days=today.weekday())
    gone = {row.key: row.monday for row in plan.items.all() if row.monday < monday}
    assert gone
    acts.draw_up(plan, today, afresh=True)
    for key, was in gone.items():
        assert plan.items.get(key=key).monday == was
    item = plan.items.filter(monday__gte=monday).first()
    with pytest.raises(StandlightError, match="gone by"):
        acts.move_item(item, FIRST, today)
    with pytest.raises(StandlightError, match="cannot be lost"):
        acts.lose_week(plan, FIRST, today)
    page = season_page(plan, today)
    assert len(page.gone) == 9
    assert page.weeks[0].is_now


def test_a_move_by_hand_is_kept_at_the_next_plan(cast):
    plan = drawn(cast)
    item = plan.items.filter(key__endswith="/note/1").first()
    to = item.monday + timedelta(weeks=3)
    acts.move_item(item, to, FIRST)
    assert (item.monday, item.pinned, item.moves) == (to, True, 1)
    acts.draw_up(plan, FIRST)
    item.refresh_from_db()
    assert (item.monday, item.pinned) == (to, True)
    acts.pin_item(item, False)
    assert not plan.items.get(pk=item.pk).pinned
    for wrong in (to + timedelta(days=1), LAST + timedelta(weeks=9)):
        with pytest.raises(StandlightError, match="not in the year"):
            acts.move_item(item, wrong, FIRST)


def test_no_work_is_moved_into_a_closed_week(cast):
    plan = drawn(cast)
    item = plan.items.filter(monday__isnull=False).first()
    acts.add_days(plan, SeasonDays.CLOSED, first=FIRST, last=FIRST + timedelta(days=4))
    with pytest.raises(StandlightError, match="no work can be due"):
        acts.move_item(item, FIRST, FIRST)


def test_each_way_out_of_an_overload_does_what_it_says(cast):
    plan = drawn(cast, minutes=2)
    page = season_page(plan, FIRST)
    ways = [way for over in page.overloads for way in over.ways]
    assert {way.code for way in ways} >= {"shorten"}
    for way in ways:
        item = SeasonItem.objects.get(pk=way.item_pk)
        before = sum(week.minutes for week in season_page(plan, FIRST).weeks)
        if way.code == "shorten":
            acts.lighten_item(item, share=1.0, each=way.each)
            assert sum(week.minutes for week in season_page(plan, FIRST).weeks) <= before
            assert SeasonItem.objects.get(pk=item.pk).share is None


def test_a_cycle_that_cannot_stand_is_refused_with_the_nearest_fix(cast):
    plan = begun(cast)

    def cycle(starts, concert, group=cast.band):
        days = (None if one is None else FIRST + timedelta(days=one) for one in (starts, concert))
        starts_on, concert_on = days
        return acts.set_cycle(cast.director, plan, group, None, name="Spring concert",
                              starts_on=starts_on, concert_on=concert_on)  # fmt: skip

    with pytest.raises(StandlightError, match="there is no concert day. Thursday"):
        cycle(120, None)
    # The scene's first concert is on day 60: the day after it would do.
    with pytest.raises(StandlightError, match="begins before the concert of Winter concert"):
        cycle(50, 130)
    with pytest.raises(StandlightError, match="before the first rehearsal"):
        cycle(130, 120)
    with pytest.raises(StandlightError, match="outside of the school year"):
        cycle(130, 4000)
    assert ConcertCycle.objects.filter(ensemble=cast.band).count() == 1
    made = cycle(70, 150)
    changed = acts.set_cycle(
        cast.director, plan, cast.band, made, name="May concert",
        starts_on=made.starts_on, concert_on=made.concert_on + timedelta(7),
    )  # fmt: skip
    assert changed.pk == made.pk
    with pytest.raises(NotAllowed):
        acts.set_cycle(cast.second_director, plan, cast.choir, None, name="x",
                       starts_on=FIRST, concert_on=FIRST)  # fmt: skip


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"starts_on": None}, "first and its last day"),
        ({"ends_on": FIRST - timedelta(1)}, "ends before it begins"),
        ({"ends_on": FIRST + timedelta(900)}, "longer than a school year"),
        ({"hours": -1}, "hours a week"),
        ({"hours": 200}, "hours a week"),
    ],
)
def test_a_year_that_cannot_be_is_refused_in_a_sentence(cast, values, said):
    asked = {"starts_on": FIRST, "ends_on": LAST, "hours": 5} | values
    with pytest.raises(StandlightError, match=said):
        acts.begin_plan(cast.director, **asked)
    assert plan_of(cast.director) is None


def test_days_that_cannot_be_are_refused_in_a_sentence(cast):
    plan = begun(cast)
    for sort, first, last, said in (
        ("closed", None, None, "no first day"),
        ("closed", FIRST, FIRST - timedelta(1), "before the first"),
        ("closed", LAST + timedelta(9), None, "outside of the year"),
        ("festival", FIRST, None, "which ensemble"),
        ("else", FIRST, None, "what these days are"),
    ):
        with pytest.raises(StandlightError, match=said):
            acts.add_days(plan, sort, first=first, last=last)
    assert not plan.days.exists()


def test_work_made_from_the_plan_is_due_on_the_planned_day(cast):
    plan = drawn(cast)
    item = plan.items.get(key=f"{cast.band.pk}/year/music/1")
    page = item_page(item, FIRST)
    made = acts.give_out_item(
        cast.director, item, title="Where it comes from", due_on=page.due_on, piece_pk=None
    )
    assert (made.kind.key, made.due_on, made.published_at) == (
        "music_and_me", page.due_on, None,
    )  # fmt: skip
    assert made.starts_on <= made.due_on
    assert item_page(SeasonItem.objects.get(pk=item.pk), FIRST).made.title == "Where it comes from"
    with pytest.raises(NotAllowed, match="already"):
        acts.give_out_item(cast.director, item, title="x", due_on=page.due_on, piece_pk=None)
    # What work came of stays, even when the year holds it no longer.
    acts.set_terms(plan, SeasonTerms({"music": 0}))
    acts.draw_up(plan, FIRST)
    assert plan.items.filter(pk=item.pk).exists()
    assert not plan.items.filter(key=f"{cast.band.pk}/year/music/2").exists()


def test_a_check_can_be_tied_to_its_own_ensembles_items_only(cast):
    plan = drawn(cast)
    item = plan.items.filter(key__contains="late_check", ensemble=cast.band).first()
    mine, other = paper(cast), paper(cast, group=cast.choir)
    acts.tie_check(item, mine)
    assert item_page(SeasonItem.objects.get(pk=item.pk), FIRST).made.title == mine.title
    with pytest.raises(NotAllowed):
        acts.tie_check(item, other)
    assert PlayingCheck.objects.count() == 2


def test_a_growth_check_leads_to_the_check_whose_passage_it_asks_again(cast):
    plan = drawn(cast)
    first, again = (plan.items.get(key=f"{cast.band.pk}/year/anchor/{n}") for n in (1, 2))
    assert item_page(again, FIRST).again_of is None
    check = paper(cast)
    acts.tie_check(first, check)
    assert item_page(again, FIRST).again_of.pk == check.pk
    assert item_page(first, FIRST).again_of is None


def test_the_calendar_file_says_what_the_page_says_to_an_independent_reader(cast):
    plan = drawn(cast)
    acts.add_days(plan, SeasonDays.CLOSED, first=FIRST + timedelta(14), name="Fair; two days, off")
    at = datetime(2026, 9, 1, 12, tzinfo=UTC)
    data = season_calendar(plan, FIRST, at)
    events = [part for part in Calendar.from_ical(data).walk() if part.name == "VEVENT"]
    by_title = {}
    for event in events:
        by_title.setdefault(str(event["SUMMARY"]), []).append(event["DTSTART"].dt)
    days = {
        f"{cell.group}: {item.name} due": item.due_on
        for week in season_page(plan, FIRST).weeks for cell in week.cells for item in cell.items
    }  # fmt: skip
    for title, day in days.items():
        assert day in by_title[title]
    assert by_title["Concert Band: Winter concert"] == [cast.cycle.concert_on]
    assert by_title["Fair; two days, off"] == [FIRST + timedelta(14)]
    # Names last: a file of a plan with a moved item moves its event and doubles none.
    item = plan.items.first()
    acts.move_item(item, item.monday + timedelta(7), FIRST)
    again = [part for part in Calendar.from_ical(season_calendar(plan, FIRST, at)).walk()
             if part.name == "VEVENT"]  # fmt: skip
    assert {str(one["UID"]) for one in again} == {str(one["UID"]) for one in events}
    assert sum(int(one["SEQUENCE"]) for one in again) == 1


def test_who_left_is_not_counted_and_another_years_cycle_is_not_planned(cast):
    plan = begun(cast)
    sizes = {group.key: group.musicians for group in season_request(plan, FIRST).groups}
    assert sizes == {str(cast.band.pk): 2, str(cast.choir.pk): 1}
    cast.musician.seats.update(left_on=FIRST - timedelta(1))
    ConcertCycle.objects.create(
        ensemble=cast.band, name="Long ago", starts_on=FIRST - timedelta(400),
        concert_on=FIRST - timedelta(300),
    )  # fmt: skip
    request = season_request(plan, FIRST)
    assert request.groups[0].musicians == 1
    assert [cycle.name for cycle in request.cycles] == ["Winter concert"] * 2


def test_a_director_plans_their_own_ensembles_and_sees_their_own_plan(cast):
    plan = begun(cast)
    other = acts.begin_plan(cast.second_director, starts_on=FIRST, ends_on=LAST, hours=3)
    assert [one.key for one in season_request(other, FIRST).groups] == [str(cast.band.pk)]
    assert plan_of(cast.second_director) == other
    assert plan_of(cast.director) == plan
    assert plan_of(cast.outsider_director) is None
    with pytest.raises(StandlightError, match="planned already"):
        acts.begin_plan(cast.director, starts_on=FIRST, ends_on=LAST, hours=3)


def test_marking_periods_of_the_year_hold_their_finds(cast):
    plan = begun(cast)
    MarkingPeriod.objects.create(
        programme=cast.programme, name="Period 1", starts_on=FIRST, ends_on=FIRST + timedelta(60)
    )
    keys = {one.item.key for one in plan_season(season_request(plan, FIRST)).items}
    assert f"{cast.band.pk}/period-1/finds/1" in keys


def test_terms_that_are_typed_come_back_and_slips_are_told():
    cells = {f"often:{one.key}": "2" for one in HOLDINGS}
    cells |= {f"review:{kind}": "0,5" for kind in MINUTES}
    cells |= {f"asked:{kind}": "10" for kind in MINUTES}
    terms = typed_terms(cells)
    assert terms.minutes["finds"] == (0.5, 10)
    held = {one.key: one for one in holdings_of(terms)}
    assert (held["acts"].times, held["check_in"].every_weeks, held["check_in"].times) == (2, 2, 1)
    assert "acts" not in {one.key for one in holdings_of(typed_terms(cells | {"often:acts": "0"}))}
    for field, value, said in (
        ("often:acts", "many", "no number"), ("often:acts", "99", "out of bounds"),
        ("review:finds", "-1", "out of bounds"), ("asked:finds", "", "no number"),
    ):  # fmt: skip
        with pytest.raises(StandlightError, match=said):
            typed_terms(cells | {field: value})
    assert terms_of({}) == SeasonTerms()


def test_every_code_has_words_without_a_gap():
    assert set(WHEN_WORDS) == set(WHEN)
    assert set(ITEM_NAMES) == set(HOLDING_WORDS) == {one.key for one in HOLDINGS}
    for code in NOTES:
        words = note_words(Note(code, 2, "other", date(2026, 12, 7)), lambda key: "the other one")
        assert words.endswith(".")
        assert "None" not in words
    for code in FAULTS:
        fault = Fault(code, "1", "c1", "c2", date(2026, 12, 7), 120, 3)
        words = fault_words(fault, "Concert Band", "Spring", "Winter")
        assert words.endswith(".")
        assert "None" not in words
