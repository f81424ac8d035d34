"""The page of divided parts: who gets in, what it offers, what a press does."""

import pytest
from django.urls import reverse
from django.utils import timezone

from standlight.programme import store
from standlight.programme.models import OwnVersion, Turn
from tests.divisi_makers import two_voices
from tests.hearing_scene import TUNE, clarinet_check, more_clarinets
from tests.test_listening import ABOVE
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def check(cast):
    """The clarinets, three of them, on a passage in two voices."""
    check = clarinet_check(cast)
    both = two_voices(ABOVE, TUNE, instrument="Clarinet in Bb")
    check.passages.update(notation_digest=store.keep(both))
    more_clarinets(cast, check, 2)
    return check


def posted(check):
    return f"/checks/passages/{check.passages.get().pk}/lines/"


def test_nobody_but_the_group_s_director_gets_in(cast, check, client):
    address = f"/checks/{check.pk}/lines/"
    for account in (cast.outsider_director, cast.musician.account, cast.singer.account):
        sign_in(client, account)
        assert client.get(address).status_code == 404
        assert client.post(posted(check), {"plan": "lower"}).status_code == 404
    client.logout()
    assert client.get(address).status_code == 302
    assert client.post(posted(check), {"plan": "lower"}).status_code == 302
    assert not OwnVersion.objects.exists()


def test_the_page_offers_halves_everyone_and_each(cast, check, client):
    sign_in(client, cast.director)
    text = client.get(f"/checks/{check.pk}/lines/").content.decode()
    for words in ("First 2 upper, last 1 lower", "All upper", "All lower", "Player Number 1",
                  "Keep these lines", "rated by ear", "<svg"):  # fmt: skip
        assert words in text, words
    assert text.count('value="upper" checked') == 3


def test_the_check_s_page_leads_there_only_where_something_divides(cast, check, client):
    sign_in(client, cast.director)
    address = reverse("check", args=[check.pk])
    text = client.get(address).content.decode()
    assert "1 part divides here (Clarinet)" in text and f"/checks/{check.pk}/lines/" in text
    check.passages.update(notation_digest=store.keep(
        two_voices(TUNE, TUNE, instrument="Clarinet in Bb")))  # fmt: skip
    assert "divides here" not in client.get(address).content.decode()
    text = client.get(f"/checks/{check.pk}/lines/").content.decode()
    assert "No part of this check divides" in text


def test_halves_in_one_press_then_one_by_one(cast, check, client):
    sign_in(client, cast.director)
    text = client.post(posted(check), {"plan": "halves"}, follow=True).content.decode()
    assert "the first half of the names has the upper line, the rest the lower" in text
    last = check.piece.parts.get().castings.order_by("pk").last().seat.musician
    assert [(one.musician, one.line) for one in OwnVersion.objects.all()] == [(last, "lower")]
    cells = {f"line-{last.pk}": "upper", f"line-{cast.musician.pk}": "all", "line-x": "lower"}
    client.post(posted(check), cells)
    assert [(one.musician, one.line) for one in OwnVersion.objects.all()] == [
        (cast.musician, "all")
    ]


def test_a_slip_is_said_and_an_unknown_plan_is_no_page(cast, check, client):
    sign_in(client, cast.director)
    assert client.post(posted(check), {"plan": "thirds"}).status_code == 404
    cells = {f"line-{cast.musician.pk}": "second"}
    assert "no line of a part" in client.post(posted(check), cells, follow=True).content.decode()
    cells = {f"line-{cast.singer.pk}": "lower"}
    assert "not have this part" in client.post(posted(check), cells, follow=True).content.decode()
    assert not OwnVersion.objects.exists()


def test_who_has_sent_is_shown_and_cannot_be_changed(cast, check, client):
    Turn.objects.create(check_row=check, musician=cast.musician, sent_at=timezone.now())
    sign_in(client, cast.director)
    text = client.get(f"/checks/{check.pk}/lines/").content.decode()
    assert "Upper line. Already sent, so it stays." in text
    assert f'name="line-{cast.musician.pk}"' not in text


def test_the_musician_reads_it_in_plain_words(cast, check, client):
    sign_in(client, cast.director)
    client.post(posted(check), {"plan": "lower"})
    sign_in(client, cast.musician.account)
    text = client.get(reverse("my-check", args=[check.pk])).content.decode()
    assert "You play the lower line." in text and "is set" not in text


def test_the_printed_page_of_a_musician_says_it(cast, check, client):
    sign_in(client, cast.director)
    client.post(posted(check), {f"line-{cast.musician.pk}": "lower"})
    text = client.get(f"/checks/{check.pk}/print/?by=musician").content.decode()
    assert text.count("Your own version, lower line") == 1
