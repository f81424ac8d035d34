"""The Musicians place: what it shows, what it takes in, and to whom it is open."""

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from standlight.programme.models import (
    Account,
    Ensemble,
    Musician,
    Piece,
    PlayingCheck,
    Section,
    Turn,
)

pytestmark = pytest.mark.django_db

ROSTER = b"""roster_id,given_name,family_name,grade,ensemble,section,instrument
2001,Ines,Roth,6,Concert Band,Flute,
2002,=HYPERLINK,Quist,6,Concert Band,Clarinet,
2003,Lu,Tran,99,Concert Band,Clarinet,
"""


def pages(cast):
    """Every address of this place: (path, what a post to it holds or None for a page)."""
    band, seat = cast.band.pk, cast.musician.seats.get().pk
    return [
        ("/musicians/", None),
        ("/musicians/?names=hidden", None),
        ("/musicians/roster/", None),
        ("/musicians/roster/empty.csv", None),
        ("/musicians/roster/present.csv", None),
        ("/musicians/add/", None),
        (f"/musicians/{cast.musician.pk}/", None),
        ("/musicians/ensembles/add/", None),
        (f"/musicians/ensembles/{band}/", None),
        ("/musicians/cards/", None),
        ("/musicians/roster/", {}),
        ("/musicians/roster/confirm/", {}),
        ("/musicians/add/", {"section": cast.clarinets.pk}),
        (f"/musicians/{cast.musician.pk}/", {}),
        (f"/musicians/{cast.musician.pk}/seat/", {"section": cast.snares.pk}),
        (f"/musicians/seats/{seat}/", {"section": cast.snares.pk}),
        ("/musicians/ensembles/add/", {}),
        (f"/musicians/ensembles/{band}/", {}),
        (f"/musicians/ensembles/{band}/sections/", {}),
        (f"/musicians/sections/{cast.clarinets.pk}/", {"move": "later"}),
        ("/musicians/cards/", {"whose": f"one-{cast.musician.pk}"}),
    ]


def ask(client, path, cells):
    return client.get(path) if cells is None else client.post(path, cells)


def own(path, cast):
    """Paths that hold a row of the cast's band, which a stranger must not reach."""
    return bool(re.search(r"/\d+/", path))


def test_signed_out_every_address_leads_to_the_sign_in_page(client, cast):
    for path, cells in pages(cast):
        answer = ask(client, path, cells)
        assert answer.status_code == 302, path
        assert answer["Location"].startswith("/sign-in/"), path


@pytest.mark.parametrize("who", ["musician", "singer", "outsider_musician"])
def test_no_musician_finds_any_of_these_pages(client, cast, who):
    client.force_login(getattr(cast, who).account)
    for path, cells in pages(cast):
        assert ask(client, path, cells).status_code == 404, path


def test_both_directors_of_the_band_open_every_page(client, cast):
    for account in (cast.director, cast.second_director):
        client.force_login(account)
        for path, cells in pages(cast):
            if cells is None:
                assert client.get(path).status_code == 200, path


def test_an_outsider_director_reaches_no_row_of_this_school(client, cast):
    client.force_login(cast.outsider_director)
    for path, cells in pages(cast):
        if own(path, cast):
            assert ask(client, path, cells).status_code == 404, path
    page = client.get("/musicians/").content.decode()
    assert "Okafor" not in page
    assert "1002" not in client.get("/musicians/roster/present.csv").content.decode()
    before = list(Account.objects.order_by("pk").values_list("password", flat=True))
    for whose in (
        f"one-{cast.musician.pk}", f"section-{cast.clarinets.pk}", f"ensemble-{cast.band.pk}"
    ):  # fmt: skip
        assert client.post("/musicians/cards/", {"whose": whose}).status_code == 404
    assert (
        client.post("/musicians/add/", {"section": cast.clarinets.pk}).status_code == 404
    )
    assert list(Account.objects.order_by("pk").values_list("password", flat=True)) == before


def test_the_second_director_does_not_reach_the_choir(client, cast):
    client.force_login(cast.second_director)
    assert client.get(f"/musicians/{cast.singer.pk}/").status_code == 404
    assert client.get(f"/musicians/ensembles/{cast.choir.pk}/").status_code == 404
    answer = client.post(
        f"/musicians/{cast.musician.pk}/seat/", {"section": cast.sopranos.pk}
    )
    assert answer.status_code == 404
    assert "Mixed Choir" not in client.get("/musicians/").content.decode()


def test_a_roster_is_looked_at_first_and_taken_in_when_the_director_knows(client, cast):
    client.force_login(cast.director)
    file = SimpleUploadedFile("autumn.csv", ROSTER, content_type="text/csv")
    page = client.post("/musicians/roster/", {"roster": file}).content.decode()
    assert "autumn.csv: nothing is saved yet" in page
    assert "Row 4" in page and "grade “99”" in page
    assert "Concert Band: Flute (Flute), 1 musician" in page
    assert not Musician.objects.filter(roster_id="2001").exists()
    said = client.post("/musicians/roster/confirm/", follow=True).content.decode()
    assert "nothing was taken in" in said
    client.post("/musicians/roster/confirm/", {"leave_out_known": "yes"})
    assert Musician.objects.filter(roster_id="2001").exists()
    assert Section.objects.filter(ensemble=cast.band, name="Flute").exists()
    again = client.post("/musicians/roster/confirm/", follow=True).content.decode()
    assert "no roster waiting" in again


def test_a_name_that_is_a_formula_leaves_guarded(client, cast):
    client.force_login(cast.director)
    client.post("/musicians/roster/", {"roster": SimpleUploadedFile("a.csv", ROSTER)})
    client.post("/musicians/roster/confirm/", {"leave_out_known": "yes"})
    written = client.get("/musicians/roster/present.csv").content.decode("utf-8-sig")
    assert "'=HYPERLINK" in written and ",=HYPERLINK" not in written


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"PK\x03\x04spreadsheet", "spreadsheet, not a CSV file"),
        (b"name,grade\nMina,7\n", "no column roster_id, given_name, family_name, ensemble and"),
        (b"\x00\x01\x02", "not a text file"),
    ],
)
def test_a_file_that_is_no_roster_gets_a_sentence(client, cast, data, words):
    client.force_login(cast.director)
    answer = client.post("/musicians/roster/", {"roster": SimpleUploadedFile("a.csv", data)})
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert client.post("/musicians/roster/").status_code == 422


def test_hidden_names_are_not_on_the_page_at_all(client, cast):
    client.force_login(cast.director)
    shown = client.get("/musicians/").content.decode()
    hidden = client.get("/musicians/?names=hidden").content.decode()
    assert "Okafor" in shown
    assert "Okafor" not in hidden and "Clarinet 1" in hidden


def test_one_quiet_mark_stands_where_something_waits(client, cast):
    client.force_login(cast.director)
    assert "sent, not answered" not in client.get("/musicians/").content.decode()
    piece = Piece.objects.create(ensemble=cast.band, title="March")
    check = PlayingCheck.objects.create(
        ensemble=cast.band, piece=piece, title="March", criteria=["tone"], tempo_qpm=90,
        due_on=timezone.localdate(), made_by=cast.director,
    )  # fmt: skip
    turn = Turn.objects.create(
        check_row=check, musician=cast.musician, sent_at=timezone.now()
    )
    page = client.get("/musicians/").content.decode()
    assert page.count("sent, not answered") == 1
    turn.answered_at = timezone.now()
    turn.save()
    assert "sent, not answered" not in client.get("/musicians/").content.decode()


def test_the_sheet_shows_each_card_once_with_a_square_and_no_inline_style(client, cast):
    client.force_login(cast.director)
    answer = client.post("/musicians/cards/", {"whose": f"ensemble-{cast.band.pk}"})
    page = answer.content.decode()
    assert page.count('class="card"') == 2
    assert page.count("<svg") == 2
    assert "style=" not in page and "<style" not in page
    assert "no-store" in answer["Cache-Control"]
    pins = re.findall(r"PIN <b>(\d{4})</b>", page)
    account = Account.objects.get(pk=cast.musician.account_id)
    assert account.check_password(pins[0])
    assert pins[0] not in client.get("/musicians/cards/").content.decode()


def test_only_those_without_a_card_get_one_when_so_chosen(client, cast):
    client.force_login(cast.director)
    cast.singer.account.set_unusable_password()
    cast.singer.account.save()
    page = client.post("/musicians/cards/", {"whose": "without"}).content.decode()
    assert page.count('class="card"') == 1 and "Ada Okafor" in page


def test_a_musician_is_added_changed_and_moved_by_hand(client, cast):
    client.force_login(cast.director)
    cells = {
        "section": cast.clarinets.pk, "roster_id": "2009", "given_name": "Bo",
        "family_name": "Quist", "grade": "8", "way": "live_only",
        "accommodation": "May take it at 60",
    }  # fmt: skip
    assert client.post("/musicians/add/", {**cells, "grade": "x"}).status_code == 422
    made_at = client.post("/musicians/add/", cells)["Location"]
    made = Musician.objects.get(roster_id="2009")
    assert made_at == f"/musicians/{made.pk}/"
    assert "May take it at 60" in client.get(made_at).content.decode()
    seat = made.seats.get()
    client.post(f"/musicians/seats/{seat.pk}/", {"section": cast.snares.pk})
    seat.refresh_from_db()
    assert seat.section == cast.snares
    client.post(f"/musicians/seats/{seat.pk}/", {"leave": "yes"})
    seat.refresh_from_db()
    assert seat.left_on is not None
    assert client.post(made_at, {**cells, "family_name": ""}).status_code == 422


def test_an_ensemble_and_its_sections_are_made_by_hand(client, cast):
    client.force_login(cast.director)
    cells = {"name": "Jazz", "kind": "band", "period_number": "0", "period_minutes": "45"}
    where = client.post("/musicians/ensembles/add/", cells)["Location"]
    jazz = Ensemble.objects.get(name="Jazz")
    assert cast.director in jazz.directors.all()
    client.post(f"{where}sections/", {"name": "Trumpets", "instrument": "Trumpet in C"})
    section = jazz.sections.get()
    client.post(
        f"/musicians/sections/{section.pk}/", {"name": "Trumpet", "instrument": "Trumpet in C"}
    )
    section.refresh_from_db()
    assert section.name == "Trumpet"
    refused = client.post(where, {**cells, "kind": "duo"}, follow=True).content.decode()
    assert "not band, choir or strings" in refused
