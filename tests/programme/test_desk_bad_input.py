"""What may go wrong at the Desk while a page is open: clear words, and nothing is lost."""

import datetime
from threading import Barrier, Thread
from uuid import uuid4

import pytest
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from standlight.programme.actions.answers import answer_turn
from standlight.programme.actions.desk import rate
from standlight.programme.actions.retention import remove_expired_sound
from standlight.programme.models import (
    CheckTerms,
    GivenLevel,
    MarkingPeriod,
    PeriodMarks,
    Seat,
    Take,
    Turn,
)
from standlight.programme.queries.desk import desk_page
from tests.cast import make_cast
from tests.programme.desk_scene import ALL_THREE, make_scene, send
from tests.web.scene import of_turn, sign_in

DAY = datetime.timedelta(days=1)


def standing(turn, rater):
    rows = GivenLevel.objects.filter(turn=turn, rater=rater, retired_at=None)
    return dict(rows.values_list("criterion", "value"))


@pytest.mark.django_db(transaction=True)
def test_two_raters_who_save_the_same_take_at_once_both_keep_their_levels():
    cast = make_cast(datetime.date(2026, 11, 2))
    turn = send(make_scene(cast), cast.musician)
    given = {cast.director: ALL_THREE, cast.second_director: dict.fromkeys(ALL_THREE, "1")}
    together, done = Barrier(2), []

    def save(rater, levels):
        try:
            together.wait()
            rate(rater, Turn.objects.get(pk=turn.pk), levels)
            done.append(levels)
        finally:
            connection.close()

    threads = [Thread(target=save, args=pair) for pair in given.items()]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(done) == 2
    assert {rater.pk: standing(turn, rater) for rater in given} == {
        rater.pk: levels for rater, levels in given.items()
    }
    assert desk_page(cast.director, turn).other_raters[0].startswith("Ruben")


@pytest.mark.django_db(transaction=True)
def test_the_same_rater_in_two_windows_at_once_leaves_one_whole_set_and_loses_no_level():
    cast = make_cast(datetime.date(2026, 11, 2))
    turn = send(make_scene(cast), cast.musician)
    sets = [ALL_THREE, dict.fromkeys(ALL_THREE, "1")]
    together, done = Barrier(2), []

    def save(levels):
        try:
            together.wait()
            rate(cast.director, Turn.objects.get(pk=turn.pk), levels)
            done.append(levels)
        finally:
            connection.close()

    threads = [Thread(target=save, args=(levels,)) for levels in sets]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(done) == 2
    rows = GivenLevel.objects.filter(turn=turn, retired_at=None)
    assert sorted(rows.values_list("criterion", flat=True)) == sorted(ALL_THREE)
    assert standing(turn, cast.director) in sets
    assert GivenLevel.objects.filter(turn=turn).count() == 6


def close(turn, name="Autumn"):
    today = timezone.localdate()
    period = MarkingPeriod.objects.create(
        programme=turn.check_row.ensemble.programme, name=name,
        starts_on=today - 30 * DAY, ends_on=today + 30 * DAY,
    )  # fmt: skip
    return PeriodMarks.objects.create(
        ensemble=turn.check_row.ensemble, period=period, closed_at=timezone.now()
    )


@pytest.mark.django_db
def test_a_level_given_after_the_period_closed_is_kept_and_the_posted_mark_is_said_to_stay(
    client, cast, turn
):
    close(turn)
    sign_in(client, cast.director)
    page = client.get(of_turn("desk-turn", turn)).content.decode()
    assert "Autumn is closed. Your levels are kept. The posted mark stays as it is" in page
    levels = {f"level-{key}": value for key, value in ALL_THREE.items()}
    client.post(of_turn("desk-levels", turn), levels)
    assert standing(turn, cast.director) == ALL_THREE


@pytest.mark.django_db
def test_a_period_that_is_open_or_over_other_days_is_not_spoken_of(cast, turn):
    marks = close(turn)
    PeriodMarks.objects.update(closed_at=None)
    assert desk_page(cast.director, turn).cautions == ()
    PeriodMarks.objects.update(closed_at=timezone.now())
    MarkingPeriod.objects.filter(pk=marks.period_id).update(
        ends_on=turn.check_row.due_on - DAY
    )
    assert desk_page(cast.director, turn).cautions == ()


@pytest.mark.django_db
def test_a_musician_who_left_while_the_page_was_open_is_rated_answered_and_said_to_have_left(
    cast, turn
):
    rate(cast.director, turn, {"rhythm": "3"})
    Seat.objects.filter(musician=cast.musician).update(left_on=timezone.localdate())
    rate(cast.director, turn, ALL_THREE)
    page = desk_page(cast.director, turn)
    assert page.cautions == (
        "This musician is no longer in the group. Levels and answers are kept.",
    )
    assert page.passage  # what was played is still shown
    assert answer_turn(cast.director, turn, next_step="Keep the beat.").next_step
    assert standing(turn, cast.director) == ALL_THREE


@pytest.mark.django_db
def test_a_turn_that_was_taken_away_while_open_is_a_404_and_never_an_error(client, cast, turn):
    addresses = [of_turn(name, turn) for name in ("desk-levels", "desk-answer", "desk-remark")]
    turn.delete()
    sign_in(client, cast.director)
    levels = {f"level-{key}": value for key, value in ALL_THREE.items()}
    for address in addresses:
        assert client.post(address, {**levels, "next_step": "Keep it."}).status_code == 404
    assert not GivenLevel.objects.exists()


@pytest.mark.django_db
def test_a_take_let_go_by_rule_while_open_keeps_its_levels_and_the_page_says_why_it_is_silent(
    client, cast, turn
):
    rate(cast.director, turn, {"rhythm": "3"})
    Take.objects.update(started_at=timezone.now() - 4000 * DAY, digest="", playback_digest="")
    assert remove_expired_sound(timezone.now()) == 1
    sign_in(client, cast.director)
    levels = {f"level-{key}": value for key, value in ALL_THREE.items()}
    client.post(of_turn("desk-levels", turn), levels)
    assert standing(turn, cast.director) == ALL_THREE
    page = client.get(of_turn("desk-turn", turn)).content.decode()
    assert "Removed after the time the school has set: there is nothing to play" in page
    assert client.get(reverse("take-sound", args=[Take.objects.get().key])).status_code == 404


@pytest.mark.django_db
def test_what_came_after_the_window_is_said_once_the_levels_are_given(cast, turn):
    closes = turn.sent_at - 2 * DAY
    CheckTerms.objects.create(check_row=turn.check_row, closes_at=closes)
    assert desk_page(cast.director, turn).cautions == ()
    rate(cast.director, turn, ALL_THREE)
    (said,) = desk_page(cast.director, turn).cautions
    assert "after the time to record was over. It may have been made in time" in said
    CheckTerms.objects.update(closes_at=turn.sent_at + DAY)
    assert desk_page(cast.director, turn).cautions == ()


@pytest.mark.django_db
def test_a_level_that_is_none_and_a_criterion_not_asked_change_nothing(client, cast, turn):
    rate(cast.director, turn, ALL_THREE)
    sign_in(client, cast.director)
    answer = client.post(of_turn("desk-levels", turn), {"level-rhythm": "9"})
    assert "is not between 1 and 4" in answer.content.decode()
    assert standing(turn, cast.director) == ALL_THREE
    assert client.get(reverse("take-sound", args=[uuid4()])).status_code == 404
