"""One shared computer: marked by a director, card after card, nothing stays."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from standlight.programme.models import Take, Turn
from tests.web.scene import publish, sign_in, wav

pytestmark = pytest.mark.django_db


@pytest.fixture
def station(client, cast):
    """A browser that the director has made a station."""
    sign_in(client, cast.director)
    client.post(reverse("station-begin"))
    return client


def card(client, musician):
    form = {"username": musician.account.sign_in, "password": "2468", "next": reverse("my-part")}
    return client.post(reverse("sign-in"), form, follow=True)


def test_making_a_station_signs_the_director_out(client, cast):
    sign_in(client, cast.director)
    answer = client.post(reverse("station-begin"), follow=True)
    assert "_auth_user_id" not in client.session
    page = answer.content.decode()
    assert "Sign in with your card" in page
    assert "Dana" not in page


def test_only_a_director_makes_or_ends_a_station(client, cast, settings):
    for account in (cast.musician.account, cast.outsider_musician.account):
        sign_in(client, account)
        for name in ("station-begin", "station-end"):
            assert client.post(reverse(name)).status_code == 404
        assert client.get(reverse("station")).status_code == 404
    client.logout()
    for name in ("station-begin", "station-end"):
        assert client.post(reverse(name)).status_code == 302
        assert client.get(reverse(name))["Location"] == reverse("station")
    assert client.get(reverse("station"))["Location"] == reverse("sign-in")
    assert client.get(reverse("station-thanks")).status_code == 404


def test_a_musician_sends_at_the_station_and_is_signed_out_with_nothing_left(station, cast):
    check = publish(cast)
    page = card(station, cast.musician).content.decode()
    assert "Mina" in page and "Sign out: next musician" in page
    brought = SimpleUploadedFile("take.wav", wav(), content_type="audio/wav")
    kept = station.post(reverse("my-file", args=[check.pk]), {"take": brought}, follow=True)
    assert "Keep-Offline" not in kept.headers
    take = Take.objects.get()
    thanks = station.post(
        reverse("my-send", args=[check.pk]), {"take": str(take.key)}, follow=True
    )
    page = thanks.content.decode()
    assert "Thank you" in page and "Next musician" in page
    assert "Mina" not in page and "Okafor" not in page
    assert "_auth_user_id" not in station.session
    assert Turn.objects.get().way == Turn.STATION
    assert station.get(reverse("my-check", args=[check.pk])).status_code == 302
    assert "Theo" in card(station, cast.second_musician).content.decode()


def test_signing_out_at_a_station_leads_back_to_the_card_page(station, cast):
    card(station, cast.musician)
    answer = station.post(reverse("sign-out"), follow=True)
    assert answer.redirect_chain[-1][0] == reverse("station")
    assert "Sign in with your card" in answer.content.decode()


def test_a_wrong_pin_at_a_station_gets_a_sentence(station, cast):
    form = {"username": cast.musician.account.sign_in, "password": "0000"}
    page = station.post(reverse("sign-in"), form).content.decode()
    assert "do not go together" in page
    assert "Station" in page


def test_a_director_ends_the_station(station, cast):
    sign = {"username": "director", "password": "stand-lamp-7", "next": reverse("station")}
    page = station.post(reverse("sign-in"), sign, follow=True).content.decode()
    assert "This browser is a station." in page
    page = station.post(reverse("station-end"), follow=True).content.decode()
    assert "Make this browser a station" in page
    station.post(reverse("sign-out"))
    assert station.get(reverse("station"))["Location"] == reverse("sign-in")


def test_only_an_ordinary_browser_may_keep_a_check_for_a_moment_without_network(client, cast):
    check = publish(cast)
    sign_in(client, cast.musician.account)
    assert client.get(reverse("my-check", args=[check.pk]))["Keep-Offline"] == "yes"
