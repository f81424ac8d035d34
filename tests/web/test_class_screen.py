"""The class's screen: spots called out, kept without names, counted, taken back."""

import re

import pytest
from django.urls import reverse

from standlight.kinds import KINDS
from standlight.programme.models import PaperLength, Piece, Remark
from standlight.programme.queries.class_screen import class_screen, spot_asked
from tests.programme.sheet_scene import CHOOSING, give, ode

pytestmark = pytest.mark.django_db


@pytest.fixture
def piece(cast):
    return ode(cast)


@pytest.fixture
def remarks(cast, piece):
    """A rehearsal remark given out to the band about the piece."""
    return give(cast, "rehearsal_remark", piece_pk=piece.pk)


def call_out(client, given, **cells):
    return client.post(reverse("class-screen", args=[given.pk]), cells, follow=True)


def test_a_spot_that_is_called_out_is_kept_counted_and_has_no_musicians_name(
    client, cast, remarks, piece
):
    client.force_login(cast.director)
    page = client.get(reverse("class-screen", args=[remarks.pk])).content.decode()
    assert "Wrong notes" in page and "Nothing yet." in page
    for _ in range(2):
        call_out(client, remarks, piece=piece.pk, first="34", what="Wrong notes")
    text = call_out(client, remarks, piece=piece.pk, first="33", last="34", what="It went well")
    assert b"2 times" in text.content and b"Measures 33 to 34" in text.content
    assert Remark.objects.filter(said_in_class=True, sheet=None, author=cast.director).count() == 3
    assert [one.times for one in class_screen(remarks).said] == [2, 1]
    call_out(client, remarks, piece=piece.pk, take_back="yes")
    assert [one.times for one in class_screen(remarks).said] == [2]


def test_slips_are_told_and_nothing_is_kept(client, cast, remarks, piece):
    client.force_login(cast.director)
    for cells, words in (
        ({"first": "999", "what": "Wrong notes"}, b"measure 999 is not in"),
        ({"first": "", "what": "Wrong notes"}, b"measure 0 is not in"),
        ({"first": "33", "what": "<script>"}, b"choose what happened there"),
    ):
        assert words in call_out(client, remarks, piece=piece.pk, **cells).content
    assert not Remark.objects.filter(said_in_class=True).exists()


def test_on_paper_a_measure_beyond_the_piece_is_told_with_the_nearest(
    client, cast, remarks, piece
):
    Piece.objects.filter(pk=piece.pk).update(measures=[])
    client.force_login(cast.director)
    for length, nearest in ((None, b"measure 2000 is the nearest"), (64, b"measure 64 is the")):
        if length:
            PaperLength.objects.create(piece=piece, measures=length)
        cells = {"piece": piece.pk, "first": "1", "last": "9" * 17, "what": "Wrong notes"}
        said = call_out(client, remarks, **cells)
        assert nearest in said.content
    assert not Remark.objects.filter(said_in_class=True).exists()
    call_out(client, remarks, piece=piece.pk, first="64", what="Wrong notes")
    assert Remark.objects.get(said_in_class=True).last_measure == 63
    assert client.get(reverse("today")).status_code == 200


def test_enter_without_a_choice_keeps_nothing_asks_for_it_and_leaves_the_measures(
    client, cast, remarks, piece
):
    client.force_login(cast.director)
    # An empty choice is what Enter sends without script, see the browser's test
    cells = {"piece": piece.pk, "first": "33", "last": "34", "what": ""}
    said = call_out(client, remarks, **cells).content.decode()
    assert "Tap what happened there." in said
    assert re.search(r'name="first"[^>]*value="33"', said)
    assert re.search(r'name="last"[^>]*value="34"', said)
    assert not Remark.objects.filter(said_in_class=True).exists()
    form = said[said.index('class="class-screen"') :]
    assert re.search(r'<button[^>]*type="submit"[^>]*>', form)[0].count('value=""') == 1


def test_only_directors_of_the_ensemble_meet_it_and_only_where_a_spot_is_asked(
    client, cast, remarks
):
    address = reverse("class-screen", args=[remarks.pk])
    for account in (cast.musician.account, cast.outsider_director, cast.outsider_musician.account):
        client.force_login(account)
        assert client.get(address).status_code == 404
        assert client.post(address, {"first": "1", "what": "Wrong notes"}).status_code == 404
    other = give(cast, CHOOSING)
    client.force_login(cast.director)
    assert client.get(reverse("class-screen", args=[other.pk])).status_code == 404
    assert b"one screen for all" in client.get(reverse("assignment", args=[remarks.pk])).content
    assert b"one screen for all" not in client.get(reverse("assignment", args=[other.pk])).content
    assert spot_asked(KINDS["finds"]) is None
