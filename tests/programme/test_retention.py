"""The sound of old takes goes; what people said of it stays."""

import datetime

import pytest
from django.urls import reverse
from django.utils import timezone
from django_q.models import Schedule

from standlight.programme import jobs, pieces, store
from standlight.programme.actions.retention import remove_expired_sound
from standlight.programme.models import GivenLevel, Take, Turn
from tests.hearing_scene import clarinet_check

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def turn(cast):
    return Turn.objects.create(
        check_row=clarinet_check(cast), musician=cast.musician, sent_at=timezone.now()
    )


def take_of(turn, age_days, sound=b"sound", state=Take.HEARD, number=1):
    digest = store.keep(sound)
    take = Take.objects.create(
        turn=turn, state=state, digest=digest, playback_digest=digest, number=number, chosen=True
    )
    started = timezone.now() - datetime.timedelta(days=age_days)
    Take.objects.filter(key=take.key).update(started_at=started)
    return take


def test_the_sound_of_an_old_take_is_removed_and_its_levels_stay(cast, turn, settings, client):
    settings.STANDLIGHT_KEEP_TAKES_DAYS = 30
    take = take_of(turn, 31)
    digest = take.digest
    GivenLevel.objects.create(turn=turn, criterion="rhythm", value="3", rater=cast.director)
    assert remove_expired_sound(timezone.now()) == 1
    take.refresh_from_db()
    assert (take.state, take.digest, take.playback_digest) == (Take.REMOVED, "", "")
    assert not store.path_of(digest).exists()
    assert GivenLevel.objects.count() == 1
    client.force_login(cast.director, backend="django.contrib.auth.backends.ModelBackend")
    assert client.get(reverse("take-sound", args=[take.key])).status_code == 404
    page = client.get(reverse("desk-turn", args=[turn.check_row_id, turn.pk]))
    assert page.status_code == 200
    assert "Removed after the time the school has set" in page.content.decode()


def test_a_take_within_its_time_stays_and_so_do_bytes_it_shares(turn, settings):
    settings.STANDLIGHT_KEEP_TAKES_DAYS = 30
    old, young = take_of(turn, 31), take_of(turn, 29, number=2)
    assert old.digest == young.digest
    assert remove_expired_sound(timezone.now()) == 1
    young.refresh_from_db()
    assert young.state == Take.HEARD
    assert store.fetch(young.digest) == b"sound"


def test_a_take_that_never_became_whole_is_given_up_when_its_permit_is_long_over(turn):
    take = take_of(turn, 16, state=Take.ARRIVING)
    pieces.put(take.key, 0, b"piece")
    fresh = take_of(turn, 13, state=Take.ARRIVING, number=2)
    assert remove_expired_sound(timezone.now()) == 1
    assert list(Take.objects.all()) == [fresh]
    assert pieces.bytes_so_far(take.key) == 0


def test_a_second_run_finds_nothing_more(turn, settings):
    settings.STANDLIGHT_KEEP_TAKES_DAYS = 30
    take_of(turn, 31)
    assert jobs.remove_expired_sound() == "removed 1"
    assert jobs.remove_expired_sound() == "removed 0"


def test_the_errand_is_asked_for_every_day_once():
    jobs.schedule_daily()
    jobs.schedule_daily()
    row = Schedule.objects.get(func=jobs.EXPIRE)
    assert row.schedule_type == Schedule.DAILY
