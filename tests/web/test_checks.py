"""Checks on the web: made, moved, published, printed, shown on the wall."""

import datetime
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from standlight.programme.actions import checks, folder
from standlight.programme.models import CheckPassage, PlayingCheck
from tests.programme.test_checks import facts
from tests.programme.test_folder import score_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def piece(cast):
    folder.confirm_owns_music(cast.director)
    return folder.add_score(cast.director, cast.band, score_of(), name="two.musicxml")


@pytest.fixture
def check(cast, piece):
    return checks.make_check(cast.director, piece, facts())


@pytest.fixture
def paper(cast):
    piece = folder.add_paper_piece(cast.director, cast.band, title="Old March")
    return checks.make_check(cast.director, piece, facts(), printed="33 to 40")


@pytest.fixture(autouse=True)
def quick_engraver(monkeypatch):
    """The real engraver is tried in its own room and in one test of the programme."""
    monkeypatch.setattr(
        "standlight.workshop.engrave_many", lambda some, **k: ["<svg><g/></svg>"] * len(some)
    )


def form(**more):
    due = (timezone.localdate() + datetime.timedelta(5)).isoformat()
    return {"title": "March", "criteria": ["tone", "rhythm", "notes"], "tempo": "90",
            "due_on": due, **more}  # fmt: skip


def pages(check):
    """Every address of this place: (path, what a post to it holds or None for a page)."""
    pk, passage = check.pk, check.passages.first().pk
    return [
        ("/checks/", None),
        (f"/checks/make/{check.piece_id}/", None),
        (f"/checks/{pk}/", None),
        (f"/checks/{pk}/print/", None),
        (f"/checks/{pk}/print/?by=musician", None),
        (f"/checks/{pk}/print.pdf?by=musician", None),
        (f"/checks/{pk}/launch/", None),
        (f"/checks/{pk}/place/", None),
        (f"/checks/{pk}/place/?first=0&last=3", None),
        (f"/checks/{pk}/?open={passage}", None),
        (f"/checks/passages/{passage}/", None),
        (f"/checks/passages/{passage}/?first=0&last=3", None),
        (f"/checks/passages/{passage}/substitute/", None),
        (f"/checks/passages/{passage}/music/", None),
        (f"/checks/make/{check.piece_id}/", form()),
        (f"/checks/{pk}/", form(title="Changed")),
        (f"/checks/{pk}/same-place/", {"first": 0, "last": 1}),
        (f"/checks/{pk}/where/", {"printed": "letter C"}),
        (f"/checks/{pk}/publish/", {}),
        (f"/checks/{pk}/model-take/", {}),
        (f"/checks/{pk}/nearest/", {}),
        (f"/checks/{pk}/keep-places/", {}),
        (f"/checks/passages/{passage}/", {"first": 0, "last": 1}),
        (f"/checks/passages/{passage}/substitute/", {"how": "paper", "printed": "page 1"}),
    ]


def ask(client, path, cells):
    return client.get(path) if cells is None else client.post(path, cells)


def test_signed_out_every_address_leads_to_the_sign_in_page(client, cast, check):
    for path, cells in pages(check):
        assert ask(client, path, cells)["Location"].startswith("/sign-in/"), path


@pytest.mark.parametrize("who", ["musician", "singer", "outsider_musician"])
def test_no_musician_finds_any_of_these_pages(client, cast, check, who):
    client.force_login(getattr(cast, who).account)
    for path, cells in pages(check):
        assert ask(client, path, cells).status_code == 404, path


def test_both_directors_of_the_band_open_every_page(client, cast, check):
    for account in (cast.director, cast.second_director):
        client.force_login(account)
        for path, cells in pages(check):
            if cells is None:
                assert client.get(path).status_code == 200, path


def test_an_outsider_director_reaches_no_check_of_this_school(client, cast, check):
    client.force_login(cast.outsider_director)
    for path, cells in pages(check):
        if path != "/checks/":
            assert ask(client, path, cells).status_code == 404, path
    assert "March" not in client.get("/checks/").content.decode()
    check.refresh_from_db()
    assert check.title == "March" and check.published_at is None
    assert PlayingCheck.objects.count() == 1


def test_the_second_director_does_not_reach_the_choir_s_checks(client, cast):
    song = folder.add_paper_piece(cast.director, cast.choir, title="Song")
    check = checks.make_check(cast.director, song, facts(), printed="letter A")
    client.force_login(cast.second_director)
    for path, cells in pages(check):
        if path != "/checks/":
            assert ask(client, path, cells).status_code == 404, path


def test_a_check_is_made_with_its_passages_and_published(client, cast, piece):
    client.force_login(cast.director)
    where = client.post(f"/checks/make/{piece.pk}/", form())["Location"]
    page = client.get(where).content.decode()
    assert "Draft." in page and "Clarinet in Bb" in page and "No passage yet" in page
    assert "Mina Okafor" not in page  # names of players are for print only
    client.post(f"{where}publish/")
    assert "Published: the musicians see it." in client.get(where).content.decode()
    assert PlayingCheck.objects.get().published_at is not None


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"criteria": ["tone"]}, "1 criteria are chosen"),
        ({"due_on": "2020-01-01"}, "already passed"),
        ({"due_on": "Friday"}, "is no day"),
        ({"tempo": "fast"}, "is no tempo"),
        ({"tempo": "9000"}, "not between 20 and 400"),
    ],
)
def test_a_slip_in_the_form_is_said_and_what_was_typed_stays(client, cast, piece, more, words):
    client.force_login(cast.director)
    answer = client.post(f"/checks/make/{piece.pk}/", form(title="My March", **more))
    page = answer.content.decode()
    assert answer.status_code == 422 and words in page and "My March" in page
    assert not PlayingCheck.objects.exists()


def test_music_not_drawn_yet_comes_by_itself_or_by_a_link(client, cast, check):
    client.force_login(cast.director)
    row = check.passages.get(part__name="Clarinet in Bb")
    music, opened = f"/checks/passages/{row.pk}/music/", f"/checks/{check.pk}/?open={row.pk}"
    page = client.get(opened).content.decode()
    assert f'hx-get="{music}"' in page and f'href="{music}"' in page
    bare = client.get(music, headers={"HX-Request": "true"}).content.decode()
    assert bare.strip() == "<svg><g/></svg>"
    assert "<html" in client.get(music).content.decode()
    assert f'hx-get="{music}"' not in client.get(opened).content.decode()


def test_a_passage_is_moved_by_its_printed_numbers(client, cast, check):
    client.force_login(cast.director)
    row = check.passages.get(part__name="Clarinet in Bb")
    back = client.post(f"/checks/passages/{row.pk}/", {"first": "2", "last": "5"})
    assert back["Location"] == f"/checks/{check.pk}/?open={row.pk}#passage-{row.pk}"
    assert CheckPassage.objects.get(pk=row.pk).printed == "3 to 6"
    said = client.post(
        f"/checks/passages/{row.pk}/", {"first": "5", "last": "2"}, follow=True
    ).content.decode()
    assert "comes before the first" in said
    said = client.post(
        f"/checks/{check.pk}/same-place/", {"first": "0", "last": "3"}, follow=True
    ).content.decode()
    assert "1 part moved there; 1 part had too little there and did not." in said
    assert set(check.passages.values_list("printed", flat=True)) == {"1 to 4", ""}
    page = client.get(f"/checks/{check.pk}/").content.decode()
    assert "Find anew, but keep the 1 you chose" in page
    client.post(f"/checks/{check.pk}/same-place/", {"propose": "others"})
    assert check.passages.get(part__name="Clarinet in Bb").printed == "1 to 4"
    said = client.post(f"/checks/passages/{row.pk}/", {"first": ""}, follow=True)
    assert "no first and last measure were chosen" in said.content.decode()
    client.post(f"/checks/{check.pk}/same-place/", {"propose": "yes"})
    assert not check.passages.filter(moved_by_hand=True).exists()


def test_only_an_opened_part_lists_all_measures(client, cast, check):
    client.force_login(cast.director)
    row = check.passages.get(part__name="Clarinet in Bb")
    folded = client.get(f"/checks/{check.pk}/").content.decode()
    opened = client.get(f"/checks/{check.pk}/?open={row.pk}").content.decode()
    assert f'action="/checks/passages/{row.pk}/look/"' in opened
    assert f'action="/checks/passages/{row.pk}/look/"' not in folded
    assert f'href="/checks/passages/{row.pk}/"' in folded  # opens without scripts too
    assert opened.count("<option") - folded.count("<option") == 2 * 12


def test_the_wall_shows_criteria_levels_and_passages_before_publishing(client, cast, check):
    client.force_login(cast.director)
    page = client.get(f"/checks/{check.pk}/launch/").content.decode()
    for words in ("Is the sound clear", "Beginning", "Extending", "<svg>", "Quarter note 90"):
        assert words in page
    assert "Okafor" not in page


def test_print_holds_a_page_a_part_or_a_page_a_musician_with_the_levels(client, cast, check):
    client.force_login(cast.director)
    by_part = client.get(f"/checks/{check.pk}/print/").content.decode()
    assert by_part.count('class="sheet"') == 1 and "For Mina Okafor" in by_part
    by_musician = client.get(f"/checks/{check.pk}/print/?by=musician").content.decode()
    assert by_musician.count('class="sheet"') == 1
    assert "<strong>Mina Okafor</strong>" in by_musician
    assert by_musician.count('class="levels"') == 1 and "Developing" in by_musician


def test_a_paper_check_is_made_named_and_printed(client, cast):
    piece = folder.add_paper_piece(cast.director, cast.band, title="Old March")
    client.force_login(cast.director)
    refused = client.post(f"/checks/make/{piece.pk}/", form())
    assert refused.status_code == 422 and "name the measures" in refused.content.decode()
    where = client.post(f"/checks/make/{piece.pk}/", form(printed="33 to 40"))["Location"]
    client.post(f"{where}where/", {"section": cast.snares.pk, "printed": "letter B"})
    page = client.get(f"{where}print/").content.decode()
    assert "33 to 40" in page and "letter B" in page and page.count('class="sheet"') == 2
    assert "rated by ear" in client.get(where).content.decode()
    strange = client.post(f"{where}where/", {"section": 999999, "printed": "x"})
    assert strange.status_code == 404


def test_a_model_take_is_kept_and_heard_in_ranges(client, cast, check, monkeypatch):
    client.force_login(cast.director)
    where = f"/checks/{check.pk}/model-take/"
    assert client.get(where).status_code == 404
    said = client.post(where, {"sound": SimpleUploadedFile("a.mp3", b"text")}, follow=True)
    assert "is kept" not in said.content.decode()
    monkeypatch.setattr(checks, "playback_copy", lambda sound: b"fLaC" + sound)
    client.post(where, {"sound": SimpleUploadedFile("a.wav", b"0123456789")})
    answer = client.get(where, headers={"Range": "bytes=4-7"})
    assert (answer.status_code, answer.content) == (206, b"0123")
    assert "How it can sound" in client.get(f"/checks/{check.pk}/launch/").content.decode()


def test_a_draft_is_thrown_away(client, cast, check):
    client.force_login(cast.director)
    client.post(f"/checks/{check.pk}/publish/", {"remove": "yes"})
    assert not PlayingCheck.objects.exists()


def test_a_draft_is_not_on_the_list_as_sent_and_says_so(client, cast, check):
    client.force_login(cast.director)
    page = client.get("/checks/").content.decode()
    assert "draft, musicians do not see it yet" in page
    checks.publish(cast.director, check)
    assert "sent 0 of 2" in client.get("/checks/").content.decode()


def test_no_page_holds_an_inline_style_or_script(client, cast, check):
    client.force_login(cast.director)
    for path, cells in pages(check):
        if cells is None and ".pdf" not in path:
            page = client.get(path).content.decode()
            assert not re.search(r"\sstyle=|<style|<script>|\son[a-z]+=", page), path
