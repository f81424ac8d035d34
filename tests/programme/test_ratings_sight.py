"""Who sees what was found in the levels: hidden repeats, the study, a musician's growth."""

import datetime

import pytest
from django.contrib.auth.models import AnonymousUser
from django.utils import timezone

from standlight.programme.models import (
    MusicianGrowth,
    RatingsStudy,
    SecondHearing,
    StudyErrand,
)
from tests.programme.desk_scene import send

pytestmark = pytest.mark.django_db


def heard_again(turn, rater):
    return SecondHearing.objects.create(
        turn=turn, rater=rater, first_at=timezone.now() - datetime.timedelta(days=1)
    )


def grown(study, musician, ensemble):
    return MusicianGrowth.objects.create(
        study=study, musician=musician, ensemble=ensemble, body={"lines": [], "self_views": []}
    )


@pytest.fixture
def study(cast):
    return RatingsStudy.objects.create(
        programme=cast.programme, method="1", n_levels=3, state="x", body={}
    )


def everyone_else(cast):
    return (
        cast.outsider_director, cast.outsider_musician.account, cast.singer.account,
        cast.second_musician.account, AnonymousUser(),
    )


def test_a_second_hearing_is_its_rater_s_and_the_lead_s_alone(cast, scene):
    turn = send(scene, cast.musician)
    own = heard_again(turn, cast.second_director)
    leads = heard_again(turn, cast.director)
    assert set(SecondHearing.objects.visible_to(cast.second_director)) == {own}
    assert set(SecondHearing.objects.visible_to(cast.director)) == {own, leads}
    for account in (*everyone_else(cast), cast.musician.account):
        assert not SecondHearing.objects.visible_to(account).exists()


def test_a_study_is_the_directors_of_its_programme_alone(cast, study):
    assert RatingsStudy.objects.visible_to(cast.director).get() == study
    assert RatingsStudy.objects.visible_to(cast.second_director).get() == study
    StudyErrand.objects.create(programme=cast.programme)
    for account in (*everyone_else(cast), cast.musician.account):
        assert not RatingsStudy.objects.visible_to(account).exists()
        assert not StudyErrand.objects.visible_to(account).exists()


def test_growth_is_the_musician_s_and_their_directors_alone(cast, study):
    mina = grown(study, cast.musician, cast.band)
    theo = grown(study, cast.second_musician, cast.band)
    ada = grown(study, cast.singer, cast.choir)
    assert set(MusicianGrowth.objects.visible_to(cast.director)) == {mina, theo, ada}
    assert set(MusicianGrowth.objects.visible_to(cast.second_director)) == {mina, theo}
    assert set(MusicianGrowth.objects.visible_to(cast.musician.account)) == {mina}
    for account in (cast.outsider_director, cast.outsider_musician.account, AnonymousUser()):
        assert not MusicianGrowth.objects.visible_to(account).exists()


def test_with_a_musician_go_their_growth_and_the_second_hearings_of_their_takes(
    cast, scene, study
):
    heard_again(send(scene, cast.musician), cast.director)
    kept = heard_again(send(scene, cast.second_musician), cast.director)
    grown(study, cast.musician, cast.band)
    theo = grown(study, cast.second_musician, cast.band)
    cast.musician.delete()
    assert list(SecondHearing.objects.all()) == [kept]
    assert list(MusicianGrowth.objects.all()) == [theo]
