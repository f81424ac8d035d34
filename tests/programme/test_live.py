"""Heard live at the stand: turns without takes, all of a group or none."""

import datetime

import pytest
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as some

from standlight.criteria import CRITERIA
from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions.answers import answer_turn
from standlight.programme.actions.desk import rate
from standlight.programme.actions.live import (
    HeardAtStand,
    draw_for,
    hear_again,
    hear_live,
    tell_absent,
)
from standlight.programme.drawing import MOST_AT_ONCE, draw
from standlight.programme.models import Draw, GivenLevel, HeardAgain, Musician, Take, Turn
from standlight.programme.queries.desk import desk_page
from standlight.programme.queries.live import again_line, group_of, heard_live, live_page, pot_of
from standlight.programme.queries.my_part import came_back
from standlight.programme.queries.standing import turns_of
from tests.programme.desk_scene import ALL_THREE, more_clarinets, send

pytestmark = pytest.mark.django_db


def test_a_live_turn_has_levels_and_no_take_and_waits_for_its_next_step(cast, scene):
    (turn,) = hear_live(cast.director, scene.check, [HeardAtStand(cast.musician, 1, ALL_THREE)])
    assert (turn.way, turn.answered_at) == (Turn.LIVE, None)
    assert turn.sent_at is not None
    assert not Take.objects.exists()
    assert desk_page(cast.director, turn).saved


def test_a_next_step_at_the_stand_answers_at_once(cast, scene):
    heard = HeardAtStand(cast.musician, 1, ALL_THREE, "Count the rests")
    (turn,) = hear_live(cast.director, scene.check, [heard])
    assert turn.answer.next_step == "Count the rests"


def test_the_same_form_sent_twice_is_one_turn(cast, scene):
    for _ in range(2):
        hear_live(cast.director, scene.check, [HeardAtStand(cast.musician, 1, ALL_THREE)])
    assert Turn.objects.count() == 1
    assert GivenLevel.objects.count() == 3


def test_one_bad_row_keeps_none_of_the_group(cast, scene):
    good = HeardAtStand(cast.musician, 1, ALL_THREE)
    with pytest.raises(StandlightError):
        hear_live(
            cast.director,
            scene.check,
            [good, HeardAtStand(cast.second_musician, 1, {"notes": "9"})],
        )
    assert not Turn.objects.exists()


def test_a_try_that_came_in_as_a_recording_is_not_written_over(cast, scene):
    send(scene, cast.musician)
    with pytest.raises(NotAllowed, match="recording came in"):
        hear_live(cast.director, scene.check, [HeardAtStand(cast.musician, 1, ALL_THREE)])
    assert not GivenLevel.objects.exists()


def test_a_musician_without_a_level_makes_no_turn_and_a_lone_next_step_is_questioned(cast, scene):
    assert hear_live(cast.director, scene.check, [HeardAtStand(cast.musician, 1, {})]) == []
    with pytest.raises(StandlightError, match="without a level"):
        hear_live(cast.director, scene.check, [HeardAtStand(cast.musician, 1, {}, "Count")])
    assert not Turn.objects.exists()


def test_more_than_eight_at_once_and_an_unpublished_check_are_refused(cast, scene):
    many = [HeardAtStand(p, 1, ALL_THREE) for p in more_clarinets(scene, MOST_AT_ONCE + 1)]
    with pytest.raises(StandlightError, match="at most 8"):
        hear_live(cast.director, scene.check, many)
    scene.check.published_at = None
    with pytest.raises(NotAllowed, match="not published"):
        hear_live(cast.director, scene.check, many[:1])


def test_who_is_asked_next_leaves_out_those_heard_and_those_never_asked(cast, scene):
    one, two, neither = more_clarinets(scene, 3)
    Musician.objects.filter(pk=neither.pk).update(way=Musician.NEITHER)
    rate(cast.director, send(scene, one), ALL_THREE)
    assert group_of(scene.check, section=None, size=8) == [
        cast.musician.pk, two.pk, cast.second_musician.pk,
    ]
    assert group_of(scene.check, section=cast.snares.pk, size=8) == [cast.second_musician.pk]
    page = live_page(cast.director, scene.check, [])
    assert (page.to_hear, page.asked) == (3, 4)


def test_the_form_says_where_each_part_plays_and_which_try_it_would_be(cast, scene):
    send(scene, cast.musician)
    who = [cast.second_musician.pk, cast.musician.pk, 999999]
    page = live_page(cast.director, scene.check, who)
    assert [(row.passage, row.attempt) for row in page.rows] == [
        ("letter B", 1), ("measures 33 to 36", 2),
    ]


def test_somebody_of_another_ensemble_is_not_on_the_form(cast, scene):
    assert live_page(cast.director, scene.check, [cast.singer.pk]).rows == ()


def test_who_follows_goes_round_and_leaves_out_who_is_at_the_stand(cast, scene):
    one, two = more_clarinets(scene, 2)
    order = [cast.musician.pk, one.pk, two.pk, cast.second_musician.pk]
    assert group_of(scene.check, section=None, size=8, after=[one.pk]) == [
        two.pk, cast.second_musician.pk, cast.musician.pk,
    ]  # fmt: skip
    page = live_page(cast.director, scene.check, [order[0]])
    assert [line.name for line in page.following] == [one.name]


# --- drawing by lot ---------------------------------------------------------


@given(
    some.lists(some.integers(1, 30), unique=True, min_size=1),
    some.integers(1, 7),
    some.lists(some.sets(some.integers(0, 6)), min_size=40, max_size=40),
)
def test_over_many_rehearsals_nobody_is_heard_twice_before_everyone_was_once(pot, count, absent):
    last, heard = {}, dict.fromkeys(pot, 0)
    for day, away in enumerate(absent):
        for place, one in enumerate(draw(pot, last, count=count, seed=f"day {day}")):
            if place in away:
                continue  # in the pot again the next day
            heard[one.musician] += 1
            last[one.musician] = one.round
        assert max(heard.values()) - min(heard.values()) <= 1


def test_the_same_day_gives_the_same_names_and_another_day_others():
    pot = list(range(40))
    days = [draw(pot, {}, count=5, seed=f"1 2026-11-{day} 0") for day in (2, 2, 3, 4)]
    assert days[0] == days[1]
    assert len({tuple(one.musician for one in drawn) for drawn in days}) == 3


def test_each_is_drawn_first_about_equally_often():
    firsts = [draw(range(4), {}, count=1, seed=f"day {day}")[0].musician for day in range(400)]
    # Four people, 100 expected each, standard deviation 8.7: five of them to either side.
    assert all(56 <= firsts.count(who) <= 144 for who in range(4))


def drawn_on(scene, day, count):
    return draw_for(scene.check, pot_of(scene.check), count=count, day=day)


def test_absent_ones_return_on_the_next_day_before_anyone_is_drawn_again(cast, scene):
    more_clarinets(scene, 2)
    today = timezone.localdate()
    rows = drawn_on(scene, today, 3)
    absent, heard, late = rows
    tell_absent(absent, True)
    hear_live(cast.director, scene.check, [HeardAtStand(heard.musician, 1, ALL_THREE)])
    assert Draw.objects.get(pk=heard.pk).heard_at is not None
    (more,) = drawn_on(scene, today, 5)
    assert more.musician_id not in {row.musician_id for row in rows}
    tomorrow = today + datetime.timedelta(1)
    names = {row.musician_id for row in drawn_on(scene, tomorrow, 9)}
    assert names == {absent.musician_id, late.musician_id, more.musician_id}
    assert set(Draw.objects.filter(day=tomorrow).values_list("round", flat=True)) == {1}


def test_a_round_goes_on_over_the_ensembles_checks(cast, scene):
    today = timezone.localdate()
    (first,) = drawn_on(scene, today, 1)
    hear_live(cast.director, scene.check, [HeardAtStand(first.musician, 1, ALL_THREE)])
    first_check, scene.check.pk, scene.check._state.adding = scene.check.pk, None, True
    scene.check.save()
    assert scene.check.pk != first_check
    tomorrow = today + datetime.timedelta(1)
    (second,) = drawn_on(scene, tomorrow, 2)
    assert (second.musician_id != first.musician_id, second.round) == (True, 1)
    assert drawn_on(scene, tomorrow, 2) == []
    hear_live(cast.director, scene.check, [HeardAtStand(second.musician, 1, ALL_THREE)])
    (third,) = drawn_on(scene, tomorrow, 2)
    assert (third.musician_id, third.round) == (first.musician_id, 2)


def test_who_was_heard_cannot_be_told_absent_and_the_count_has_bounds(cast, scene):
    (row,) = drawn_on(scene, timezone.localdate(), 1)
    hear_live(cast.director, scene.check, [HeardAtStand(row.musician, 1, ALL_THREE)])
    tell_absent(Draw.objects.get(pk=row.pk), True)
    assert not Draw.objects.get(pk=row.pk).absent
    for count in (0, 41):
        with pytest.raises(StandlightError, match="between 1 and 40"):
            drawn_on(scene, timezone.localdate(), count)


def test_those_drawn_are_heard_in_the_order_drawn(cast, scene):
    more_clarinets(scene, 3)
    rows = drawn_on(scene, timezone.localdate(), 3)
    tell_absent(rows[1], True)
    assert group_of(scene.check, section=None, size=8, drawn=True) == [
        rows[0].musician_id, rows[2].musician_id,
    ]  # fmt: skip
    page = live_page(cast.director, scene.check, [rows[0].musician_id], drawn=True)
    assert [line.state for line in page.drawn] == ["", "not here", ""]
    assert page.drawn_open == 2


# --- heard again -------------------------------------------------------------


@pytest.fixture
def turn(cast, scene):
    (turn,) = hear_live(cast.director, scene.check, [HeardAtStand(cast.musician, 1, ALL_THREE)])
    return turn


def standing_levels(scene, turn):
    (row,) = turns_of([scene.check])[scene.check.pk, turn.musician_id]
    return row.levels


def test_the_second_hearing_counts_and_the_first_stays_on_record(cast, scene, turn):
    kept = hear_again(cast.director, turn, {"intonation": "3", "rhythm": "3"})
    assert standing_levels(scene, turn) == {"intonation": "3", "rhythm": "3", "notes": "4"}
    assert (kept.earlier, kept.levels) == (ALL_THREE, {"intonation": "3", "rhythm": "3"})
    assert kept.earlier_at == turn.sent_at
    retired = GivenLevel.objects.filter(turn=turn, retired_at__isnull=False)
    assert dict(retired.values_list("criterion", "value")) == {"intonation": "2", "rhythm": "3"}
    assert Turn.objects.count() == 1


def test_another_directors_later_level_of_the_first_hearing_does_not_outlive_the_second(
    cast, scene, turn
):
    rate(cast.second_director, turn, {"intonation": "4"})
    hear_again(cast.director, turn, {"intonation": "2"})
    assert standing_levels(scene, turn)["intonation"] == "2"


def test_the_same_second_hearing_sent_twice_is_one_and_a_third_is_kept_beside_it(cast, turn):
    hearing = again_line(turn).hearing
    for _ in range(2):
        hear_again(cast.director, turn, {"intonation": "3"}, hearing=hearing)
    assert HeardAgain.objects.count() == 1
    assert again_line(turn).hearing == 3
    hear_again(cast.director, turn, {"intonation": "1"}, hearing=3)
    assert [row.earlier["intonation"] for row in HeardAgain.objects.all()] == ["2", "3"]
    (line,) = heard_live(cast.director, turn.check_row)
    assert line.times == "heard 3 times"


def test_a_recorded_turn_cannot_be_heard_again_live_and_no_level_is_no_hearing(cast, scene, turn):
    with pytest.raises(StandlightError, match="no level was given"):
        hear_again(cast.director, turn, {})
    with pytest.raises(NotAllowed, match="heard live"):
        hear_again(cast.director, send(scene, cast.second_musician), ALL_THREE)
    assert not HeardAgain.objects.exists()


def test_the_musician_reads_which_hearing_counts_and_what_was_given_before(cast, scene, turn):
    answer_turn(cast.director, turn, next_step="Count the rests")
    assert came_back(cast.musician.account, turn).heard_again == ()
    hear_again(cast.director, turn, {"intonation": "3", "rhythm": "3"})
    page = came_back(cast.musician.account, turn)
    counts, before = page.heard_again
    assert "That hearing counts. For notes the hearing before counts." in counts.replace(
        CRITERIA["notes"].name.lower(), "notes"
    )
    assert "intonation developing" in before
    assert [line.level for line in page.levels] == ["Secure", "Secure", "Extending"]
