"""The Folder: pieces come in by three ways, parts change in place, to whom it is open."""

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from standlight.programme.actions import folder
from standlight.programme.models import Casting, ConcertCycle, Piece
from tests.midi_makers import midi_of
from tests.programme.test_folder import ENTITIES, score_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def piece(cast):
    return folder.add_score(cast.director, cast.band, score_of(), name="two.musicxml")


def pages(cast, piece):
    """Every address of this place: (path, what a post to it holds or None for a page)."""
    return [
        ("/folder/", None),
        ("/folder/add/", None),
        ("/folder/add/?how=line", None),
        ("/folder/add/?how=paper", None),
        ("/folder/cycles/add/", None),
        (f"/folder/{piece.pk}/", None),
        ("/folder/add/", {"ensemble": cast.band.pk, "how": "paper", "title": "x"}),
        ("/folder/cycles/add/", {"ensemble": cast.band.pk}),
        (f"/folder/{piece.pk}/change/", {"title": "Changed"}),
        (f"/folder/{piece.pk}/cast/", {"seat": cast.musician.seats.get().pk}),
        (f"/folder/{piece.pk}/cast-again/", {}),
    ]


def ask(client, path, cells):
    return client.get(path) if cells is None else client.post(path, cells)


def test_signed_out_every_address_leads_to_the_sign_in_page(client, cast, piece):
    for path, cells in pages(cast, piece):
        assert ask(client, path, cells)["Location"].startswith("/sign-in/"), path


@pytest.mark.parametrize("who", ["musician", "singer", "outsider_musician"])
def test_no_musician_finds_any_of_these_pages(client, cast, piece, who):
    client.force_login(getattr(cast, who).account)
    for path, cells in pages(cast, piece):
        assert ask(client, path, cells).status_code == 404, path


def test_both_directors_of_the_band_open_every_page(client, cast, piece):
    for account in (cast.director, cast.second_director):
        client.force_login(account)
        for path, cells in pages(cast, piece):
            if cells is None:
                assert client.get(path).status_code == 200, path


def test_an_outsider_director_reaches_no_piece_of_this_school(client, cast, piece):
    client.force_login(cast.outsider_director)
    for path, cells in pages(cast, piece):
        if cells is not None or re.search(r"/\d+/", path):
            assert ask(client, path, cells).status_code == 404, path
    assert "Two" not in client.get("/folder/").content.decode()
    piece.refresh_from_db()
    assert piece.title == "Two" and Piece.objects.count() == 1


def test_the_second_director_does_not_reach_the_choir_s_music(client, cast):
    song = folder.add_paper_piece(cast.director, cast.choir, title="Song")
    client.force_login(cast.second_director)
    assert client.get(f"/folder/{song.pk}/").status_code == 404
    answer = client.post("/folder/add/", {"ensemble": cast.choir.pk, "how": "paper", "title": "x"})
    assert answer.status_code == 404


def test_a_score_comes_in_once_the_school_has_said_that_it_owns_it(client, cast):
    client.force_login(cast.director)
    cells = {"ensemble": cast.band.pk, "how": "score", "cycle": cast.cycle.pk}
    file = SimpleUploadedFile("two.musicxml", score_of())
    refused = client.post("/folder/add/", {**cells, "score": file})
    assert refused.status_code == 422 and "owns the music" in refused.content.decode()
    assert not Piece.objects.exists()
    file.seek(0)
    where = client.post("/folder/add/", {**cells, "score": file, "owns_music": "yes"})["Location"]
    page = client.get(where).content.decode()
    assert "Bb3 to Eb4" in page and "12 measures, 2 parts" in page
    assert Piece.objects.get().cycle == cast.cycle
    file.seek(0)
    assert client.post("/folder/add/", {**cells, "score": file}).status_code == 302


@pytest.mark.parametrize(
    ("data", "words"),
    [(b"%PDF-1.4", "not XML"), (ENTITIES, "entities"), (b"MThd\x00\x00", "MIDI file")],
)
def test_a_bad_score_gets_its_sentence_and_what_was_typed_stays(client, cast, data, words):
    folder.confirm_owns_music(cast.director)
    client.force_login(cast.director)
    file = SimpleUploadedFile("bad.xml", data)
    cells = {"ensemble": cast.band.pk, "how": "score", "title": "My own title", "score": file}
    answer = client.post("/folder/add/", cells)
    page = answer.content.decode()
    assert answer.status_code == 422 and words in page
    assert "My own title" in page and not Piece.objects.exists()
    assert client.post("/folder/add/", {**cells, "score": ""}).status_code == 422


def test_a_midi_file_comes_in_and_the_page_says_that_no_music_is_shown(client, cast):
    folder.confirm_owns_music(cast.director)
    client.force_login(cast.director)
    clarinet = ("", 71, False, [(beat * 480, 480, 58 + beat % 5) for beat in range(32)])
    file = SimpleUploadedFile("Lantern walk.mid", midi_of(clarinet))
    cells = {"ensemble": cast.band.pk, "how": "score", "score": file}
    page = client.get(client.post("/folder/add/", cells)["Location"]).content.decode()
    row = Piece.objects.get()
    assert row.from_midi and row.title == "Lantern walk"
    assert [measure["printed"] for measure in row.measures] == [str(n) for n in range(1, 9)]
    part = row.parts.get()
    assert (part.instrument, part.lowest_midi, part.highest_midi) == ("Clarinet in Bb", 58, 62)
    assert row.castings.filter(seat__section=cast.clarinets).exists()
    assert "no music to show" in page and "8 measures, 1 part" in page
    assert "1 part from MIDI" in client.get("/folder/").content.decode()


def test_a_score_with_notation_says_nothing_of_midi(client, cast, piece):
    client.force_login(cast.director)
    assert not piece.from_midi
    assert "MIDI" not in client.get(f"/folder/{piece.pk}/").content.decode()


def test_a_typed_line_with_a_slip_is_kept_in_its_field(client, cast):
    client.force_login(cast.director)
    cells = {
        "ensemble": cast.band.pk, "how": "line", "title": "Warm-up", "instrument": "Clarinet in Bb",
        "line": "C4 q Z9 q",
    }  # fmt: skip
    answer = client.post("/folder/add/", cells)
    assert answer.status_code == 422 and "C4 q Z9 q" in answer.content.decode()
    where = client.post("/folder/add/", {**cells, "line": "C4 h D4 h"})["Location"]
    page = client.get(where).content.decode()
    assert "As it was typed" in page and "C4 h D4 h" in page


def test_a_part_changes_in_place_with_scripts_and_by_a_page_without(client, cast, piece):
    client.force_login(cast.director)
    seat, snare = cast.musician.seats.get(), piece.parts.get(name="Snare drum")
    where, cells = f"/folder/{piece.pk}/cast/", {"seat": seat.pk, "part": snare.pk}
    row = client.post(where, cells, headers={"HX-Request": "true"}).content.decode()
    assert row.strip().startswith("<li") and "saved" in row and "<html" not in row
    assert Casting.objects.get(seat=seat).part == snare
    back = client.post(where, {"seat": seat.pk, "part": ""})
    assert back["Location"] == f"/folder/{piece.pk}/#seat-{seat.pk}"
    assert not Casting.objects.filter(seat=seat).exists()
    assert "1 musician has no part yet" in client.get(f"/folder/{piece.pk}/").content.decode()


def test_a_part_or_seat_of_another_school_is_not_found(client, cast, piece):
    client.force_login(cast.director)
    stranger = cast.outsider_musician.seats.get()
    where = f"/folder/{piece.pk}/cast/"
    assert client.post(where, {"seat": stranger.pk}).status_code == 404
    cells = {"seat": cast.musician.seats.get().pk, "part": 999999}
    assert client.post(where, cells).status_code == 404


def test_a_piece_is_changed_and_removed(client, cast, piece):
    client.force_login(cast.director)
    where = f"/folder/{piece.pk}/change/"
    client.post(where, {"title": "Two tunes", "composer": "Anon", "credit": "CC0", "cycle": ""})
    piece.refresh_from_db()
    assert (piece.title, piece.credit, piece.cycle) == ("Two tunes", "CC0", None)
    refused = client.post(where, {"title": " "}, follow=True).content.decode()
    assert "needs a title" in refused
    client.post(where, {"remove": "yes"})
    assert not Piece.objects.exists()


def test_a_concert_cycle_is_made_and_a_day_that_is_none_gets_a_sentence(client, cast):
    client.force_login(cast.director)
    cells = {"ensemble": cast.choir.pk, "name": "Spring", "starts_on": "2027-01-11"}
    answer = client.post("/folder/cycles/add/", {**cells, "concert_on": "soon"})
    assert answer.status_code == 422 and "is no day" in answer.content.decode()
    client.post("/folder/cycles/add/", {**cells, "concert_on": "2027-04-20"})
    assert ConcertCycle.objects.get(ensemble=cast.choir).name == "Spring"
    assert "Apr 20" in client.get("/folder/").content.decode()


def test_no_page_holds_an_inline_style_or_script(client, cast, piece):
    client.force_login(cast.director)
    for path, cells in pages(cast, piece):
        if cells is None:
            page = client.get(path).content.decode()
            assert not re.search(r"\sstyle=|<style|<script>|\son[a-z]+=", page), path
