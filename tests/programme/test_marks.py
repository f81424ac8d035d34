"""A marking period: who is where in the table, what counts, and the file for the school."""

import datetime
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions.desk import rate
from standlight.programme.actions.marks import add_period, excuse
from standlight.programme.marking_terms import Terms
from standlight.programme.models import MarkingPeriod, Musician, PlayingCheck, Turn
from standlight.programme.queries.marks import period_page, present_period
from standlight.programme.queries.marks_works import gather
from standlight.programme.queries.standing import seats_of, standing, turns_of
from tests.programme.desk_scene import ALL_THREE, make_scene, more_clarinets, send

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(cast):
    return make_scene(cast, days_to_due=-2)


def row_of(page, musician):
    return next(row for row in page.rows if row.musician_pk == musician.pk)


def test_rows_stand_in_roster_order_and_the_newest_rated_try_counts(cast, scene, period):
    rate(cast.director, send(scene, cast.musician), dict.fromkeys(ALL_THREE, "1"))
    rate(cast.director, send(scene, cast.musician, attempt=2), ALL_THREE)
    send(scene, cast.musician, attempt=3)
    page = period_page(cast.band, period)
    assert [row.family_name for row in page.rows] == ["Lindqvist", "Okafor"]
    row = row_of(page, cast.musician)
    assert row.value == pytest.approx(3.0)
    assert row.cells[0].figures == "2 3 4"
    assert row.cells[0].state == "rated, try 2, a newer try waits"


def test_a_take_of_a_late_evening_counts_on_the_schools_own_day(cast, scene, period):
    turn = send(scene, cast.musician)
    day = timezone.localdate() - datetime.timedelta(10)
    school = ZoneInfo("America/New_York")
    turn.sent_at = datetime.datetime.combine(day, datetime.time(22), school)
    turn.save()
    rate(cast.director, turn, ALL_THREE)
    with timezone.override(school):
        found = gather(cast.band, period, Terms(), timezone.localdate())
    (one,) = found.works[cast.musician.pk]
    assert turn.sent_at.astimezone(datetime.UTC).date() == day + datetime.timedelta(1)
    assert one.work.day == (day - period.starts_on).days


def test_missing_excused_and_not_asked_are_told_apart_and_none_is_a_zero(cast, scene, period):
    excused, late, neither, live = more_clarinets(scene, 4)
    excuse(scene.check, excused, True)
    late.seats.update(joined_on=timezone.localdate())
    Musician.objects.filter(pk=neither.pk).update(way=Musician.NEITHER)
    Musician.objects.filter(pk=live.pk).update(way=Musician.LIVE_ONLY)
    page = period_page(cast.band, period)
    said = {row.roster_id: row.cells[0].state for row in page.rows}
    assert said["1001"] == "missing"
    assert said[excused.roster_id] == "excused"
    assert said[late.roster_id] == said[neither.roster_id] == "not asked"
    assert said[live.roster_id] == "to be heard live"
    assert all(row.value is None and row.word == "no mark" for row in page.rows)
    # Who is heard live only has nothing to send, and no sentence says that something is not sent.
    heard = row_of(page, live)
    assert heard.left_out == ("Left out (to be heard live): Lamp Tune check.",)
    assert [flag.sentence for flag in heard.flags] == ["No level: 1 to be heard live."]
    found = row_of(page, cast.musician)
    assert found.because[0].startswith("No mark: not enough evidence.")
    assert found.left_out == ("Left out (missing): Lamp Tune check.",)


def test_a_turn_heard_live_says_so(cast, scene, period):
    rate(cast.director, send(scene, cast.musician, way=Turn.LIVE, take=False), ALL_THREE)
    assert row_of(period_page(cast.band, period), cast.musician).cells[0].state == (
        "rated, heard live"
    )


def test_only_published_checks_due_in_the_period_are_columns(cast, scene, period):
    today = timezone.localdate()
    for due, published in ((today - datetime.timedelta(40), True), (today, False)):
        PlayingCheck.objects.create(
            ensemble=cast.band, piece=scene.piece, title="Other", criteria=["tone"], tempo_qpm=90,
            due_on=due, made_by=cast.director, published_at=timezone.now() if published else None,
        )
    assert [check.title for check in period_page(cast.band, period).columns] == ["Lamp Tune check"]


def test_excusing_can_be_taken_back_and_a_sent_check_cannot_be_excused(cast, scene, period):
    excuse(scene.check, cast.musician, True)
    excuse(scene.check, cast.musician, False)
    assert row_of(period_page(cast.band, period), cast.musician).cells[0].state == "missing"
    send(scene, cast.second_musician)
    with pytest.raises(NotAllowed, match="sent already"):
        excuse(scene.check, cast.second_musician, True)


def test_a_period_needs_a_name_and_its_days_in_order(cast):
    day = datetime.date(2026, 11, 2)
    for name, first, last in (("", day, day), ("P", None, day), ("P", day, day.replace(day=1))):
        with pytest.raises(StandlightError):
            add_period(cast.director, name=name, starts_on=first, ends_on=last)
    assert not MarkingPeriod.objects.exists()


def test_the_present_period_is_the_one_that_holds_the_day_else_the_last_begun(cast):
    def made(name, first, last):
        return add_period(cast.director, name=name, starts_on=first, ends_on=last)

    assert present_period(cast.director) is None
    autumn = made("Autumn", datetime.date(2026, 9, 1), datetime.date(2026, 10, 31))
    winter = made("Winter", datetime.date(2026, 12, 1), datetime.date(2027, 1, 31))
    assert present_period(cast.director, datetime.date(2026, 10, 1)) == autumn
    assert present_period(cast.director, datetime.date(2026, 11, 15)) == autumn
    assert present_period(cast.director, datetime.date(2027, 3, 1)) == winter
    assert present_period(cast.director, datetime.date(2026, 8, 1)) == autumn


def test_the_table_costs_the_same_number_of_queries_for_any_number_of_musicians(
    cast, scene, period
):
    counts = []
    for _ in range(2):
        for person in more_clarinets(scene, 10):
            rate(cast.director, send(scene, person), ALL_THREE)
        with CaptureQueriesContext(connection) as asked:
            period_page(cast.band, period)
        counts.append(len(asked))
    assert counts[0] == counts[1] <= 7


@pytest.mark.parametrize(
    ("counts", "figures"), [("last", "2 2 2"), ("best", "2 3 4")], ids=["last", "best"]
)
def test_of_several_tries_the_one_counts_that_the_check_says(cast, scene, counts, figures):
    # The first try is better than the second; the third is not rated yet.
    for attempt, levels in enumerate((ALL_THREE, dict.fromkeys(ALL_THREE, "2")), start=1):
        rate(cast.director, send(scene, cast.musician, attempt=attempt), levels)
    send(scene, cast.musician, attempt=3)
    scene.check.try_counts = counts
    seat = next(one for one in seats_of(cast.band) if one.musician_pk == cast.musician.pk)
    turns = turns_of([scene.check])[scene.check.pk, cast.musician.pk]
    today = timezone.localdate()
    rated = standing(seat, scene.check.due_on, today, turns).counting(scene.check)
    assert " ".join(rated.levels[key] for key in scene.check.criteria) == figures
