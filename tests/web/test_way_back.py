"""Whoever opens or reloads what a form was sent to comes to the page where the form stands."""

import re

import pytest
from django.urls import URLResolver, get_resolver, resolve, reverse

from standlight.web.way_back import page_above
from tests.programme.desk_scene import make_scene, send
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db

KEY = "00000000-0000-4000-8000-000000000001"
ANY = {"int": "1", "uuid": KEY, "str": "x", "slug": "x"}


def addresses(patterns=None, before=""):
    """Every address of the product, with any keys in it."""
    for pattern in get_resolver().url_patterns if patterns is None else patterns:
        whole = before + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from addresses(pattern.url_patterns, whole)
        else:
            yield "/" + re.sub(r"<(?:(\w+):)?\w+>", lambda found: ANY[found[1] or "str"], whole)


@pytest.mark.parametrize("who", ["director", "musician", ""])
def test_no_address_that_takes_a_form_shows_a_bare_refusal_when_it_is_opened(client, cast, who):
    if who:
        sign_in(client, cast.director if who == "director" else cast.musician.account)
    led = []
    for address in addresses():
        reply = client.get(address)
        assert reply.status_code != 405 or reply["Allow"] != "POST", address
        up = reply.headers.get("Location", "")
        if up and address != up and address.startswith(up):
            assert resolve(up) and client.get(up).status_code != 405, address
            led.append(address)
    assert len(led) >= {"director": 40, "musician": 5, "": 3}[who]


@pytest.mark.parametrize(
    ("form", "page"),
    [
        (("live-draw", 1), ("live-check", 1)),
        (("live-absent", 1, 2), ("live-check", 1)),
        (("check-again", 3), ("check", 3)),
        (("check-tries", 3), ("check", 3)),
        (("own-version", 4), ("passage-move", 4)),
        (("marks-export", 1, 2), ("marks-period", 1, 2)),
        (("marks-change", 1, 2, 3), ("marks-one", 1, 2, 3)),
        (("desk-when",), ("desk-kept",)),
        (("desk-levels", 1, 2), ("desk-turn", 1, 2)),
        (("take-start", KEY), ("desk",)),
        (("my-send", 1), ("my-check", 1)),
        (("sign-out",), ("home",)),
    ],
)
def test_the_nearest_address_above_is_the_page_of_the_form(form, page):
    assert page_above(reverse(form[0], args=form[1:])) == reverse(page[0], args=page[1:])


def test_a_form_itself_is_taken_as_before_and_a_wrong_way_is_still_refused(client, cast):
    scene = make_scene(cast)
    sign_in(client, cast.director)
    draw = reverse("live-draw", args=[scene.check.pk])
    assert "drawn=yes" in client.post(draw, {"count": "2"})["Location"]
    assert client.head(draw)["Location"] == reverse("live-check", args=[scene.check.pk])
    assert client.put(draw).status_code == 405


def test_who_had_been_signed_out_meanwhile_comes_to_the_page_after_signing_in(client, cast):
    turn = send(make_scene(cast), cast.musician)
    sent = reverse("desk-levels", args=[turn.check_row_id, turn.pk])
    asked = client.post(sent, {"rhythm": "3"})["Location"]
    assert asked.startswith("/sign-in/?next=")
    sign_in(client, cast.director)
    assert client.get(sent)["Location"] == reverse("desk-turn", args=[turn.check_row_id, turn.pk])
    # Whose it is not is told no more than of a page that there never was.
    sign_in(client, cast.outsider_director)
    reply = client.get(sent, follow=True)
    assert reply.status_code == 404
