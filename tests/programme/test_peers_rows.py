"""Who sees which row of hearing each other, and what becomes of them when somebody leaves."""

import datetime
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection
from django.utils import timezone

from standlight.programme.actions.leaving import forget_musician
from standlight.programme.actions.peers import (
    PeerSaid,
    SentMeanwhile,
    decide,
    hand_next,
    send_hearing,
)
from standlight.programme.actions.retention import remove_expired_sound
from standlight.programme.models import PeerConsent, PeerHearing, PeerLevel, PeerLine
from tests.programme.peers_scene import LEVELS, hears, make_round, plays

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


@pytest.mark.django_db(transaction=True)
def test_two_windows_that_ask_at_once_are_handed_one_and_the_same_take(cast):
    row, people = make_round(cast, 5)

    def ask(listener):
        try:
            return hand_next(listener, row).pk
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as windows:
        asked = [windows.submit(ask, people[n % 2]) for n in range(8)]
        found = [one.result() for one in asked]
    assert len(set(found)) == PeerHearing.objects.count() == 2
    assert {one.place for one in PeerHearing.objects.all()} == {1}


@pytest.mark.django_db(transaction=True)
def test_two_windows_that_send_at_once_leave_one_whole_answer(cast):
    row, people = make_round(cast)
    hearing = plays(row, people[0])

    def send(word):
        said = PeerSaid(levels=LEVELS, well=word, first_measure=0, to_try=f"{word} too")
        try:
            send_hearing(hearing, said, "")
        except SentMeanwhile:
            return None
        finally:
            connection.close()
        return word

    with ThreadPoolExecutor(4) as windows:
        kept = [one for one in windows.map(send, ("One", "Two", "Three", "Four")) if one]
    assert len(kept) == 1
    assert [line.words for line in hearing.lines.all()] == [kept[0], f"{kept[0]} too"]
    assert hearing.levels.count() == 2
