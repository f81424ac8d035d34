"""A musician reads nothing of their growth that a take not answered yet would tell."""

from dataclasses import replace

import pytest
from django.utils import timezone

from standlight.programme.models import MusicianGrowth, Turn
from standlight.programme.queries.studies import NOT_SHOWN, growth_of
from tests.programme.desk_scene import send
from tests.programme.study_scene import grow, line, make_study, own_view

pytestmark = pytest.mark.django_db


def growing(cast, turns):
    """The musician's rising line over the takes, kept with a view of themself that rests on all."""
    takes = [f"t{turn.pk}" for turn in turns]
    lines = [
        replace(row, points=tuple(replace(point, take=take) for point, take in
                                  zip(row.points, takes, strict=True)))
        for row in (line(cast.musician, *([2] * len(takes)), criterion="rhythm"),)
    ]  # fmt: skip
    view = own_view(cast.musician, "kinder", takes=takes)
    grow(make_study(cast.programme), cast.musician, cast.band, *lines, self_views=[view])


def own(cast):
    (seen,) = growth_of(cast.musician.account, cast.musician)
    (found,) = seen.lines
    return found["state"], found["unpooled"] is not None, len(found["points"]), len(seen.self_views)


def test_neither_direction_nor_own_view_is_told_while_a_take_under_them_is_not_answered(
    cast, scene
):
    turns = [
        send(scene, cast.musician, attempt=n, ago=30 - n, answered_at=timezone.now())
        for n in (1, 2, 3)
    ]
    growing(cast, turns)
    assert own(cast) == ("rising", True, 3, 1)
    Turn.objects.filter(pk=turns[2].pk).update(answered_at=None)
    assert own(cast) == (NOT_SHOWN, False, 2, 0)
    (directors,) = growth_of(cast.director, cast.musician)
    assert (directors.lines[0]["state"], len(directors.self_views)) == ("rising", 1)
    Turn.objects.filter(pk=turns[2].pk).update(way=Turn.LIVE)
    assert own(cast) == (NOT_SHOWN, False, 2, 0)
    Turn.objects.filter(pk=turns[2].pk).update(answered_at=timezone.now())
    assert own(cast) == ("rising", True, 3, 1)


def test_a_try_that_gave_way_to_an_answered_one_hides_its_point_alone(cast, scene):
    turns = [
        send(scene, cast.musician, attempt=n, ago=30 - n, answered_at=answered)
        for n, answered in ((1, timezone.now()), (2, None), (3, timezone.now()))
    ]
    growing(cast, turns)
    assert own(cast) == ("rising", True, 2, 1)


def test_a_view_kept_before_it_was_known_on_what_it_rests_waits_with_any_take(cast, scene):
    turn = send(scene, cast.musician, answered_at=timezone.now())
    growing(cast, [turn])
    row = MusicianGrowth.objects.get()
    for view in row.body["self_views"]:
        del view["takes"]
    row.save()
    assert own(cast)[3] == 1
    send(scene, cast.musician, attempt=2)
    assert own(cast)[3] == 0
