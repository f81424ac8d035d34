"""The addresses that takes come in by: permits, answers, order, repeats, limits."""

import json
from uuid import uuid4

import pytest
from django.core import signing
from django.test import Client

from standlight.programme.actions import takes
from standlight.programme.models import Take, Turn
from standlight.web.musician import permits
from standlight.web.musician.permits import Permit, read_permit
from tests.web.scene import publish

pytestmark = pytest.mark.django_db


@pytest.fixture
def check(cast):
    return publish(cast)


@pytest.fixture
def permit(cast, check):
    return Permit(cast.musician.pk, check.pk, 1).signed()


@pytest.fixture
def signed_out():
    """A browser that checks cross-site tokens and has no session."""
    return Client(enforce_csrf_checks=True)


def put(client, place, data, permit):
    if isinstance(data, dict):
        data = json.dumps(data)
    headers = {"Upload-Permit": permit} if permit else {}
    return client.put(place, data, content_type="application/octet-stream", headers=headers)


def end(n):
    return {
        "n_pieces": n,
        "media_type": "audio/webm;codecs=opus",
        "settings": {"sampleRate": 48000, "deviceId": "secret", "odd": {"deep": 1}},
        "number": 1,
    }


def test_a_take_arrives_with_the_permit_alone_signed_out(signed_out, check, permit):
    key = uuid4()
    for number in (2, 0, 1, 1):
        answer = put(signed_out, f"/upload/{key}/{number}", b"piece %d" % number, permit)
        assert answer.status_code == 200
        assert answer.json() == {"kept": number}
    assert put(signed_out, f"/upload/{key}/whole", end(3), permit).json() == {"missing": []}
    take = Take.objects.get(key=key)
    assert take.state == Take.WHOLE
    assert take.media_type == "audio/webm;codecs=opus"
    assert take.settings == {"sampleRate": 48000}
    sent = put(signed_out, f"/upload/{key}/send", {"words": "hi", "self_levels": {}}, permit)
    assert sent.json() == {"sent": True}
    assert Turn.objects.get().sent_at is not None


def test_the_missing_numbers_are_told(signed_out, permit):
    key = uuid4()
    put(signed_out, f"/upload/{key}/1", b"b", permit)
    assert put(signed_out, f"/upload/{key}/whole", end(3), permit).json() == {"missing": [0, 2]}


def test_the_same_number_with_other_bytes_answers_409(signed_out, permit):
    key = uuid4()
    put(signed_out, f"/upload/{key}/0", b"one", permit)
    answer = put(signed_out, f"/upload/{key}/0", b"two", permit)
    assert answer.status_code == 409
    assert "other bytes" in answer.json()["error"]


def test_a_piece_over_the_limit_answers_413(signed_out, permit, monkeypatch):
    monkeypatch.setattr(takes, "LARGEST_PIECE_BYTES", 4)
    assert put(signed_out, f"/upload/{uuid4()}/0", b"12345", permit).status_code == 413
    assert not Take.objects.exists()


def test_without_a_permit_or_with_a_changed_one_nothing_comes_in(signed_out, permit):
    for word in ("", "nonsense", permit[:-2] + "xx", signing.dumps([1, 1, 1, 0])):
        for place in ("0", "whole", "send"):
            assert put(signed_out, f"/upload/{uuid4()}/{place}", b"{}", word).status_code == 403
    assert not Take.objects.exists()


def test_an_old_permit_is_refused_with_the_way_out(signed_out, permit, monkeypatch):
    monkeypatch.setattr(permits, "VALID_SECONDS", -1)
    answer = put(signed_out, f"/upload/{uuid4()}/0", b"x", permit)
    assert answer.status_code == 403
    assert "older than two weeks" in answer.json()["error"]


def test_a_foreign_permit_opens_no_take_of_somebody_else(signed_out, cast, check, permit):
    key = uuid4()
    put(signed_out, f"/upload/{key}/0", b"mine", permit)
    foreign = Permit(cast.second_musician.pk, check.pk, 1).signed()
    other_school = Permit(cast.outsider_musician.pk, check.pk, 1).signed()
    for word in (foreign, other_school):
        assert put(signed_out, f"/upload/{key}/1", b"x", word).status_code == 403
        assert put(signed_out, f"/upload/{key}/whole", end(1), word).status_code == 403
        assert put(signed_out, f"/upload/{key}/send", {}, word).status_code == 403
        gone = signed_out.delete(f"/upload/{key}", headers={"Upload-Permit": word})
        assert gone.status_code == 403
    assert put(signed_out, f"/upload/{uuid4()}/0", b"x", other_school).status_code == 403
    assert Take.objects.get().state == Take.ARRIVING


def test_a_signed_in_person_without_the_permit_gets_nothing(client, cast, permit):
    client.force_login(cast.director, backend="django.contrib.auth.backends.ModelBackend")
    assert put(client, f"/upload/{uuid4()}/0", b"x", "").status_code == 403


def test_nothing_can_be_read_by_a_permit(signed_out, permit):
    key = uuid4()
    put(signed_out, f"/upload/{key}/0", b"x", permit)
    for place in (f"/upload/{key}", f"/upload/{key}/0", f"/upload/{key}/whole"):
        answer = signed_out.get(place, headers={"Upload-Permit": permit})
        assert answer.status_code == 405


@pytest.mark.parametrize(
    "told",
    [
        b"not json",
        b"[1]",
        {"n_pieces": -1, "media_type": "audio/webm"},
        {"n_pieces": "many", "media_type": "audio/webm"},
        {"n_pieces": True, "media_type": "audio/webm"},
        {"n_pieces": 1, "media_type": "text/html"},
        {"n_pieces": 1},
    ],
)
def test_a_broken_ending_answers_400_with_a_sentence(signed_out, permit, told):
    key = uuid4()
    put(signed_out, f"/upload/{key}/0", b"x", permit)
    answer = put(signed_out, f"/upload/{key}/whole", told, permit)
    assert answer.status_code == 400
    assert answer.json()["error"]
    assert Take.objects.get().state == Take.ARRIVING


def test_a_take_is_let_go_by_its_permit_and_again_without_harm(signed_out, permit):
    key = uuid4()
    put(signed_out, f"/upload/{key}/0", b"x", permit)
    for _ in range(2):
        answer = signed_out.delete(f"/upload/{key}", headers={"Upload-Permit": permit})
        assert answer.status_code == 200
    assert not Take.objects.exists()


def test_a_turn_from_a_station_says_so(signed_out, cast, check):
    word, key = Permit(cast.musician.pk, check.pk, 1, at_station=True).signed(), uuid4()
    put(signed_out, f"/upload/{key}/0", b"x", word)
    put(signed_out, f"/upload/{key}/whole", end(1), word)
    put(signed_out, f"/upload/{key}/send", {"spot_first": 0, "spot_words": "here"}, word)
    assert Turn.objects.get().way == Turn.STATION


def test_a_permit_reads_as_it_was_signed():
    permit = Permit(3, 4, 2, at_station=True)
    assert read_permit(permit.signed()) == permit
