"""Hidden repeats: which takes are heard again, and what is kept of it."""

import datetime

import pytest
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions.desk import rate
from standlight.programme.actions.second_hearings import hear_again
from standlight.programme.models import GivenLevel, SecondHearing, StudyErrand, Take
from standlight.programme.queries.second_hearings import A_DAY, MOST_DAYS, second_hearings_due
from tests.programme.desk_scene import ALL_THREE, more_clarinets, send

pytestmark = pytest.mark.django_db

NOON = timezone.make_aware(datetime.datetime(2026, 11, 20, 12))


@pytest.fixture
def turns(cast, scene):
    """Six takes that the lead rated whole a day before noon."""
    turns = [send(scene, person) for person in more_clarinets(scene, 6)]
    for turn in turns:
        rated(cast.director, turn)
    return turns


def rated(account, turn, *, hours=24, levels=ALL_THREE, minutes=0):
    rate(account, turn, levels)
    at = NOON - datetime.timedelta(hours=hours, minutes=-minutes)
    GivenLevel.objects.filter(turn=turn, rater=account).update(given_at=at)


def due(account, **more):
    return second_hearings_due(account, now=more.pop("now", NOON), **more)


def test_two_of_the_own_rated_takes_are_chosen_and_the_same_all_day(cast, turns):
    chosen = due(cast.director)
    assert len(chosen) == A_DAY == 2
    assert set(chosen) <= {turn.pk for turn in turns}
    assert due(cast.director, now=NOON + datetime.timedelta(hours=6)) == chosen


def test_over_days_every_take_has_its_turn(cast, turns):
    days = [NOON + datetime.timedelta(days=number) for number in range(50)]
    chosen = {pk for day in days for pk in due(cast.director, now=day)}
    assert chosen == {turn.pk for turn in turns}


def test_what_was_done_today_counts_and_is_not_chosen_again(cast, turns, monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: NOON)
    first, second = due(cast.director)
    hear_again(cast.director, next(one for one in turns if one.pk == first), ALL_THREE)
    assert due(cast.director) == (second,)
    hear_again(cast.director, next(one for one in turns if one.pk == second), ALL_THREE)
    assert due(cast.director) == ()
    tomorrow = due(cast.director, now=NOON + datetime.timedelta(days=1))
    assert len(tomorrow) == 2 and not {first, second} & set(tomorrow)


def test_what_was_rated_just_now_partly_or_by_another_is_not_chosen(cast, scene):
    people = more_clarinets(scene, 3)
    rated(cast.director, send(scene, people[0]), hours=1)
    rated(cast.director, send(scene, people[1]), levels={"rhythm": "2"})
    rated(cast.second_director, send(scene, people[2]))
    assert due(cast.director) == ()
    assert len(due(cast.second_director)) == 1


def test_a_take_without_sound_or_heard_live_is_not_chosen(cast, scene):
    people = more_clarinets(scene, 2)
    rated(cast.director, send(scene, people[0], take=False, way="live"))
    rated(cast.director, send(scene, people[1], state=Take.REMOVED))
    assert due(cast.director) == ()


def test_levels_given_with_the_readings_in_view_are_for_those_alone_who_always_rate_so(
    cast, turns
):
    GivenLevel.objects.update(after_readings=True)
    assert due(cast.director) == ()
    cast.director.readings_before_rating = True
    assert len(due(cast.director)) == 2


def test_beside_a_check_with_other_criteria_none_stands_out(cast, scene, turns):
    assert len(due(cast.director, like=scene.check)) == 2
    scene.check.criteria = ["tone", "rhythm", "notes"]
    assert due(cast.director, like=scene.check) == ()


def test_an_ensemble_that_is_not_directed_any_more_is_left_alone(cast, scene):
    rated(cast.second_director, send(scene, cast.musician))
    assert len(due(cast.second_director)) == 1
    cast.band.directors.remove(cast.second_director)
    assert due(cast.second_director) == ()


def test_a_take_of_long_ago_is_not_chosen(cast, turns):
    assert due(cast.director, now=NOON + datetime.timedelta(days=MOST_DAYS - 2)) != ()
    assert due(cast.director, now=NOON + datetime.timedelta(days=MOST_DAYS)) == ()


def test_choosing_takes_two_queries(cast, turns, django_assert_num_queries):
    with django_assert_num_queries(2):
        due(cast.director)


def test_the_second_levels_stand_beside_the_first_which_stay(cast, turns, monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: NOON)
    again = {"intonation": "2", "rhythm": "4", "notes": "not_heard"}
    kept = hear_again(cast.director, turns[0], again)
    assert kept.levels == again and kept.first_levels == ALL_THREE
    assert kept.done_at == NOON and kept.first_at == NOON - datetime.timedelta(hours=24)
    standing = GivenLevel.objects.filter(turn=turns[0], retired_at__isnull=True)
    assert {row.criterion: row.value for row in standing} == ALL_THREE
    assert StudyErrand.objects.get(programme=cast.programme).asked_at is not None


def test_minutes_count_from_the_first_level_after_a_pause(cast, scene, monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: NOON)
    turns = [send(scene, person) for person in more_clarinets(scene, 4)]
    for turn, minutes in zip(turns[:3], (-120, 0, 20), strict=True):
        rated(cast.director, turn, minutes=minutes)
    rated(cast.director, turns[3], hours=0, minutes=-10)
    kept = hear_again(cast.director, turns[2], ALL_THREE)
    assert kept.first_minute == pytest.approx(20)
    assert kept.again_minute == pytest.approx(10)


def test_the_same_form_sent_twice_is_one_hearing(cast, turns):
    first = hear_again(cast.director, turns[0], ALL_THREE)
    assert hear_again(cast.director, turns[0], {"rhythm": "1"}) == first
    assert SecondHearing.objects.get().levels == ALL_THREE


def test_only_what_was_rated_the_first_time_is_rated_again_and_with_levels(cast, scene, turns):
    with pytest.raises(NotAllowed, match="no level for 'rhythm'"):
        hear_again(cast.second_director, turns[0], {"rhythm": "2"})
    with pytest.raises(StandlightError, match="no level was given"):
        hear_again(cast.director, turns[0], {})
    with pytest.raises(StandlightError, match="level"):
        hear_again(cast.director, turns[0], {"rhythm": "5"})
    assert not SecondHearing.objects.exists()
