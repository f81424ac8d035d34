"""Heard live at the stand: turns without takes, all of a group or none."""

import random

import pytest

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions.desk import rate
from standlight.programme.actions.live import MOST_AT_ONCE, HeardAtStand, hear_live
from standlight.programme.models import GivenLevel, Musician, Take, Turn
from standlight.programme.queries.desk import desk_page
from standlight.programme.queries.live import draw_of, group_of, live_page
from tests.programme.desk_scene import ALL_THREE, make_scene, more_clarinets, send

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(cast):
    return make_scene(cast)


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
    page = live_page(scene.check, [])
    assert (page.to_hear, page.asked) == (3, 4)


def test_a_draw_takes_each_open_musician_about_equally_often(cast, scene):
    more_clarinets(scene, 2)
    chance = random.Random(7)
    drawn = [draw_of(scene.check, size=1, chance=chance)[0] for _ in range(400)]
    counts = [drawn.count(pk) for pk in set(drawn)]
    # Four people, 100 expected each, standard deviation 8.7: five of them to either side.
    assert len(counts) == 4
    assert all(56 <= count <= 144 for count in counts)


def test_the_form_says_where_each_part_plays_and_which_try_it_would_be(cast, scene):
    send(scene, cast.musician)
    page = live_page(scene.check, [cast.second_musician.pk, cast.musician.pk, 999999])
    assert [(row.passage, row.attempt) for row in page.rows] == [
        ("letter B", 1), ("measures 33 to 36", 2),
    ]


def test_somebody_of_another_ensemble_is_not_on_the_form(cast, scene):
    assert live_page(scene.check, [cast.singer.pk]).rows == ()
