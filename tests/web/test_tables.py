"""The pages of ranges, grades and weights: who opens them, what is marked, what goes back."""

import html
import re

import pytest

from standlight.programme.actions.tables import keep_table
from standlight.programme.models import EditedTable, Ensemble
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db

ADDRESSES = ("/folder/tables/", "/folder/tables/ranges/", "/folder/tables/grades/",
             "/folder/tables/weights/")  # fmt: skip
NOT_LEAD = "the lead director changes them"


def page_of(answer):
    return html.unescape(answer.content.decode())


def fields_of(page):
    """What a browser would send of the big form as it stands."""
    sent = {}
    for tag in re.findall(r"<input [^>]*>", page):
        name, value = (re.search(f'{one}="([^"]*)"', tag) for one in ("name", "value"))
        if name and ":" in name[1] and ('type="text"' in tag or " checked" in tag):
            sent[name[1]] = value[1]
    for name, inside in re.findall(r'<select name="([^"]*)".*?>(.*?)</select>', page, re.S):
        sent[name] = re.search(r'value="([^"]*)" selected', inside)[1]
    for name, text in re.findall(r'<textarea name="([^"]*)"[^>]*>(.*?)</textarea>', page, re.S):
        sent[name] = text
    return sent


def test_signed_out_every_address_leads_to_the_sign_in_page(client, cast):
    for address in ADDRESSES:
        for answer in (client.get(address), client.post(address, {"weight:key": "2"})):
            assert answer["Location"].startswith("/sign-in/"), address


def test_no_musician_finds_these_pages(client, cast):
    for who in (cast.musician, cast.singer, cast.outsider_musician):
        sign_in(client, who.account)
        for address in ADDRESSES:
            assert client.get(address).status_code == 404, address
            assert client.post(address, {"weight:key": "2"}).status_code == 404, address
    assert not EditedTable.objects.exists()


def test_every_director_reads_them_and_only_the_lead_changes_them(client, cast):
    for account, may in ((cast.director, True), (cast.second_director, False)):
        sign_in(client, account)
        for address in ADDRESSES:
            page = page_of(client.get(address))
            assert ("<fieldset disabled>" not in page) is may, address
            assert (NOT_LEAD in page) is not may
    answer = client.post("/folder/tables/weights/", {"weight:key": "2"}, follow=True)
    assert NOT_LEAD in page_of(answer) and "Not saved" in page_of(answer)
    keep_table(cast.director, "weights", {"key": {"weight": 2}})
    client.post("/folder/tables/weights/", {"put_all_back": "yes"})
    assert EditedTable.objects.get().rows == {"key": {"weight": 2.0}}
    page = page_of(client.get("/folder/tables/weights/"))
    assert "changed; ships as 1" in page and "by you" not in page and "put_" not in page
    assert client.get("/folder/tables/colours/").status_code == 404


def test_an_outsider_s_tables_are_their_own(client, cast):
    keep_table(cast.director, "weights", {"key": {"weight": 2}})
    sign_in(client, cast.outsider_director)
    assert "Everything is as it ships" in page_of(client.get("/folder/tables/weights/"))
    client.post("/folder/tables/weights/", {"put_all_back": "yes"})
    assert EditedTable.objects.get().programme == cast.programme


def test_a_form_sent_as_it_stands_changes_nothing(client, cast):
    sign_in(client, cast.director)
    for address, n_fields in zip(ADDRESSES[1:], (47 * 6, 25, 16), strict=True):
        sent = fields_of(page_of(client.get(address)))
        assert len(sent) >= n_fields, address
        answer = client.post(address, sent, follow=True)
        assert "no cells of your own" in page_of(answer)
    assert not EditedTable.objects.exists()


def test_a_changed_cell_is_marked_with_what_ships_and_goes_back_by_its_row(client, cast):
    sign_in(client, cast.director)
    sent = fields_of(page_of(client.get("/folder/tables/ranges/")))
    sent["school_high_midi:Clarinet in Bb"] = "c6"
    sent["grade1_high_midi:Flute"] = "Bb5"
    page = page_of(client.post("/folder/tables/ranges/", sent, follow=True))
    assert "Ranges saved: 2 cells of your own." in page
    # Written C6 sounds B-flat 5 on a B-flat clarinet; E3 to C7 is what ships.
    assert "sounds D3 to Bb5" in page and "changed by you; ships as E3 to C7" in page
    assert "changed by you; ships as Eb4 to C6" in page
    assert page.count('class="own"') == 2 and page.count('name="put_back"') == 2
    sent = fields_of(page) | {"put_back": "Clarinet in Bb"}
    page = page_of(client.post("/folder/tables/ranges/", sent, follow=True))
    assert "1 cell of your own" in page and 'value="C7"' in page and "Eb4 to C6" in page
    page = page_of(client.post("/folder/tables/ranges/", {"put_all_back": "yes"}, follow=True))
    assert "as it ships" in page and not EditedTable.objects.exists()


def test_slips_come_back_all_at_once_and_what_was_typed_stays(client, cast):
    sign_in(client, cast.director)
    sent = fields_of(page_of(client.get("/folder/tables/ranges/")))
    sent |= {
        "school_low_midi:Clarinet in Bb": "C8",
        "school_low_midi:Viola": "X",
        "school_low_midi:Flute": "D4",
    }
    answer = client.post("/folder/tables/ranges/", sent)
    page = page_of(answer)
    assert answer.status_code == 422 and not EditedTable.objects.exists()
    assert "runs from C8 down to C7, at Clarinet in Bb" in page
    assert "'X' is no pitch, at Viola, school range, lowest note" in page
    assert 'href="#row-viola"' in page and 'id="row-viola" class="slipped"' in page
    assert 'value="C8"' in page and 'value="X"' in page and 'value="D4"' in page
    assert "<details open>" in page  # the viola is in no section here
    nothing = dict.fromkeys(fields_of(page_of(client.get("/folder/tables/weights/"))), "0")
    answer = client.post("/folder/tables/weights/", nothing)
    assert answer.status_code == 422 and "no feature counts" in page_of(answer)


def test_grades_and_weights_are_chosen_and_marked(client, cast):
    sign_in(client, cast.director)
    sent = fields_of(page_of(client.get("/folder/tables/grades/")))
    sent |= {"shortest_value_quarters:1": "1", "tuplets:1": "yes", "words:2": "our second year"}
    page = page_of(client.post("/folder/tables/grades/", sent, follow=True))
    assert "ships as eighth notes" in page and "ships as no" in page
    assert "our second year</textarea>" in page and "ships as second-year music" in page
    page = page_of(client.post("/folder/tables/weights/", {"weight:leaps": "0"}, follow=True))
    assert "1 cell of your own" in page and "ships as 1" in page
    assert EditedTable.objects.get(name="weights").rows == {"leaps": {"weight": 0.0}}
    assert client.post("/folder/tables/weights/", {"weight:leaps": "9"}).status_code == 422


def test_stages_of_changing_voices_stand_below_with_their_caution(client, cast):
    sign_in(client, cast.director)
    page = page_of(client.get("/folder/tables/"))
    assert "Boys: midvoice IIA" in page and "D3 to F#4" in page
    assert "Changing voices are not rated on range" in page and "hear each singer" in page


def test_a_group_s_grade_is_set_on_its_form_and_told_beside_the_grades(client, cast):
    sign_in(client, cast.director)
    address = f"/musicians/ensembles/{cast.band.pk}/"
    assert "2: second-year music" in page_of(client.get(address))
    cells = {"name": "Concert Band", "kind": "band", "period_number": "3", "period_minutes": "42"}
    client.post(address, cells | {"music_grade": "2"})
    assert Ensemble.objects.get(pk=cast.band.pk).music_grade == 2
    page = page_of(client.get("/folder/tables/grades/"))
    assert "plays music of grade 2" in page and "has no grade yet" in page
    assert '<option value="2" selected>' in page_of(client.get(address))
    assert "not in the table" in page_of(client.post(address, cells | {"music_grade": "x"},
                                                     follow=True))  # fmt: skip
    client.post(address, cells | {"music_grade": ""})
    assert Ensemble.objects.get(pk=cast.band.pk).music_grade is None
    assert "/folder/tables/" in page_of(client.get("/folder/"))
