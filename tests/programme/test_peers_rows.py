"""Who sees which row of hearing each other, and what becomes of them when somebody leaves."""

import datetime

import pytest
from django.utils import timezone

from standlight.programme.actions.leaving import forget_musician
from standlight.programme.actions.peers import decide
from standlight.programme.actions.retention import remove_expired_sound
from standlight.programme.models import PeerConsent, PeerHearing, PeerLevel, PeerLine
from tests.programme.peers_scene import hears, make_round

pytestmark = pytest.mark.django_db


def test_a_musician_sees_their_own_rows_and_no_level_or_word_of_others(cast):
    row, people = make_round(cast)
    hearing = hears(row, people[0])
    owner, listener = hearing.turn.musician, people[0]
    for model in (PeerHearing, PeerLevel, PeerLine):
        assert model.objects.visible_to(listener.account).exists(), model
        for nobody in (owner, cast.singer, cast.outsider_musician):
            assert not model.objects.visible_to(nobody.account).exists(), model
        assert model.objects.visible_to(cast.director).exists()
        assert not model.objects.visible_to(cast.outsider_director).exists()
    assert [one.musician for one in PeerConsent.objects.visible_to(owner.account)] == [owner]


@pytest.mark.django_db(transaction=True)
def test_who_is_removed_goes_with_all_they_said_and_all_that_was_said_of_them(cast):
    row, people = make_round(cast)
    gone = people[0]
    for one in people:
        for _ in range(2):
            hears(row, one)
    forget_musician(cast.director, gone, gone.roster_id)
    left = PeerHearing.objects.all()
    assert left.exists()
    assert not left.filter(listener=gone.pk).exists()
    assert not left.filter(turn__musician=gone.pk).exists()
    assert set(PeerLine.objects.values_list("hearing", flat=True)) == {one.pk for one in left}
    assert PeerConsent.objects.count() == 3


def test_lines_nobody_passed_on_go_when_the_sound_does_and_passed_ones_stay(cast, settings):
    row, people = make_round(cast)
    hearing = hears(row, people[0])
    well, to_try = hearing.lines.all()
    decide(cast.director, row, [well.pk], passed=True)
    age = datetime.timedelta(settings.STANDLIGHT_KEEP_TAKES_DAYS)
    remove_expired_sound(timezone.now() + age - datetime.timedelta(1))
    assert PeerLine.objects.count() == 2
    remove_expired_sound(timezone.now() + age + datetime.timedelta(1))
    assert [line.pk for line in PeerLine.objects.all()] == [well.pk]
    assert to_try.pk != well.pk
    assert hearing.levels.count() == 2
