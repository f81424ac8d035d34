"""The sound of a take: for whom, and in byte ranges (RFC 9110, section 14.2)."""

import datetime

import pytest
from django.urls import reverse

from standlight.programme import store
from standlight.programme.models import Piece, PlayingCheck, Take, Turn

pytestmark = pytest.mark.django_db

SOUND = bytes(range(100))


@pytest.fixture
def take(cast):
    piece = Piece.objects.create(ensemble=cast.band, title="Paper piece")
    check = PlayingCheck.objects.create(
        ensemble=cast.band, piece=piece, title="Check", criteria=["rhythm"], tempo_qpm=80,
        due_on=datetime.date(2026, 11, 6), made_by=cast.director,
    )
    turn = Turn.objects.create(check_row=check, musician=cast.musician)
    return Take.objects.create(
        turn=turn, state=Take.HEARD, digest=store.keep(SOUND), playback_digest=store.keep(SOUND)
    )


def get(client, account, take, **headers):
    client.force_login(account, backend="django.contrib.auth.backends.ModelBackend")
    return client.get(reverse("take-sound", args=[take.key]), headers=headers)


def test_the_owner_and_the_ensembles_directors_hear_a_take(client, cast, take):
    for account in (cast.director, cast.second_director, cast.musician.account):
        answer = get(client, account, take)
        assert answer.status_code == 200
        assert answer.content == SOUND


def test_nobody_else_hears_it_or_learns_that_it_exists(client, cast, take):
    for account in (
        cast.second_musician.account, cast.singer.account, cast.outsider_director,
        cast.outsider_musician.account,
    ):
        assert get(client, account, take).status_code == 404


def test_signed_out_is_sent_to_sign_in(client, take):
    assert client.get(reverse("take-sound", args=[take.key])).status_code == 302


@pytest.mark.parametrize(
    ("asked", "content_range", "part"),
    [
        ("bytes=0-9", "bytes 0-9/100", SOUND[:10]),
        ("bytes=90-", "bytes 90-99/100", SOUND[90:]),
        ("bytes=-5", "bytes 95-99/100", SOUND[95:]),
        ("bytes=95-500", "bytes 95-99/100", SOUND[95:]),
    ],
)
def test_a_range_gives_just_those_bytes(client, cast, take, asked, content_range, part):
    answer = get(client, cast.director, take, Range=asked)
    assert answer.status_code == 206
    assert answer["Content-Range"] == content_range
    assert answer.content == part


def test_a_range_outside_is_refused_with_the_length(client, cast, take):
    answer = get(client, cast.director, take, Range="bytes=100-200")
    assert answer.status_code == 416
    assert answer["Content-Range"] == "bytes */100"


def test_a_form_that_is_no_byte_range_gets_the_whole(client, cast, take):
    assert get(client, cast.director, take, Range="items=0-1").content == SOUND
