"""The check page in a request: lines, one part opened, a look, one place, substitutes."""

import re

import pytest

from standlight.programme.actions import checks
from standlight.programme.models import CheckPassage
from tests.programme.test_checks import facts
from tests.programme.test_substitutes import CHOSEN, band_check, row_of
from tests.several_parts import PARTS, REST, several_parts

pytestmark = pytest.mark.django_db
HX = {"HX-Request": "true"}


@pytest.fixture(autouse=True)
def quick_engraver(monkeypatch):
    """The real engraver is tried in its own room."""
    monkeypatch.setattr(
        "standlight.workshop.engrave_many", lambda some, **k: ["<svg><g/></svg>"] * len(some)
    )


@pytest.fixture
def check(cast, client):
    client.force_login(cast.director)
    return band_check(cast)


def text(client, address, **more):
    return client.get(address, **more).content.decode()


def words_of(page):
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def test_the_page_says_how_fair_it_is_and_what_demand_is(client, check):
    page = text(client, f"/checks/{check.pk}/")
    words = words_of(page)
    fair = "2 parts have a passage that asks about the same (demand 51 of 100). 2 have none."
    assert fair in words
    assert "What is demand?" in words and "notes a second" in words
    assert page.count('<g class="mark">') == 2 and "<title>Flute, 51</title>" in page
    assert " style=" not in page


def test_each_part_stands_on_one_line_and_opens_with_and_without_scripts(client, check):
    row = row_of(check, "Flute")
    page = text(client, f"/checks/{check.pk}/")
    assert f'hx-get="/checks/passages/{row.pk}/"' in page and row.reason in words_of(page)
    bare = text(client, f"/checks/passages/{row.pk}/", headers=HX)
    whole = text(client, f"/checks/passages/{row.pk}/")
    assert "<html" not in bare and "<html" in whole
    for one in bare, whole, text(client, f"/checks/{check.pk}/?open={row.pk}"):
        assert one.count('role="slider"') == 2 and "Move its ends" in one
        assert f"Play {row.alternatives[0]['printed']} instead" in one
    assert 'aria-valuetext="measure 5, letter A"' in whole


def test_a_look_answers_with_demand_reason_and_a_new_skyline(client, check):
    row = row_of(check, "Flute")
    address = f"/checks/passages/{row.pk}/look/?first=0&last=5"
    page = text(client, address, headers=HX)
    words = words_of(page)
    assert "Measures 1 to 6 : demand" in words
    assert "Shows rhythm, dynamics and articulation amply" in words
    assert f'id="bars-{row.pk}"' in page and 'hx-swap-oob="true"' in page
    assert "Play 1 to 6" in words and CheckPassage.objects.get(pk=row.pk) == row
    without = client.get(address)
    assert without["Location"] == f"/checks/passages/{row.pk}/?first=0&last=5#ends-{row.pk}"
    page = text(client, without["Location"].partition("#")[0])
    assert "Play 1 to 6" in page and '<option value="5" selected>' in page


@pytest.mark.parametrize("span", ["first=5&last=2", "first=0&last=99"])
def test_a_look_at_no_measures_is_said_and_not_an_error(client, check, span):
    row = row_of(check, "Flute")
    page = client.get(f"/checks/passages/{row.pk}/look/?{span}", headers=HX)
    assert page.status_code == 200 and "slip" in page.content.decode()
    assert client.get(f"/checks/passages/{row.pk}/?{span}").status_code == 200
    assert client.get(f"/checks/passages/{row.pk}/look/", headers=HX).status_code == 404
    assert client.get(f"/checks/{check.pk}/place/?{span}", follow=True).status_code == 200


def test_a_look_at_a_rest_says_so(client, check):
    row = row_of(check, "Clarinet in Bb")
    page = text(client, f"/checks/passages/{row.pk}/look/?first=8&last=11", headers=HX)
    assert "rests throughout" in page


def test_parts_without_have_their_nearest_place_one_press_away(client, check):
    row = row_of(check, "Snare drum")
    page = text(client, f"/checks/{check.pk}/")
    assert "Play 9 to 16" in page and "dynamics not at all" in page
    client.post(f"/checks/passages/{row.pk}/", {"first": 8, "last": 15})
    assert row_of(check, "Snare drum").printed == "9 to 16"
    client.post(f"/checks/{check.pk}/nearest/")
    assert not row_of(check, "Trumpet in Bb").printed  # it has none


def test_one_place_for_all_is_seen_then_used(client, check):
    page = text(client, f"/checks/{check.pk}/place/?first=8&last=11")
    words = words_of(page)
    assert "2 parts play there; 2 rest or have too little." in words
    assert "Use it for all 2 who play there" in words
    assert "Clarinet in Bb (rests)" in words
    assert 'href="?first=4&amp;last=7"' in page  # letter A
    said = client.post(
        f"/checks/{check.pk}/same-place/", {"first": 8, "last": 11}, follow=True
    ).content.decode()
    assert "2 parts moved there; 2 parts had too little there and did not." in said
    assert row_of(check, "Clarinet in Bb").printed == "1 to 8"
    page = text(client, f"/checks/{check.pk}/place/?first=8&last=11")
    assert words_of(page).count("plays it now") == 2


def test_a_typed_line_is_offered_kept_and_a_slip_keeps_what_was_typed(client, check):
    row = row_of(check, "Trumpet in Bb")
    address = f"/checks/passages/{row.pk}/substitute/"
    assert "time 4/4 key D tempo 96 p ( D" in text(client, address)
    answer = client.post(address, {"how": "line", "line": "C5 q my own D5"})
    assert answer.status_code == 422 and "C5 q my own D5" in answer.content.decode()
    answer = client.post(address, {"how": "line", "line": "C5 q D5 E5 D5 | p C5 w"})
    assert answer["Location"].endswith(f"?open={row.pk}#passage-{row.pk}")
    page = text(client, f"/checks/{check.pk}/?open={row.pk}")
    assert "the typed line" in page and "A typed line." in page
    assert client.post(address, {"how": "dance"}).status_code == 404


def test_new_criteria_offer_to_find_passages_again(client, check):
    cells = {"title": "March", "criteria": ["tone", "rhythm", "notes"], "tempo": "96",
             "due_on": check.due_on.isoformat()}  # fmt: skip
    page = client.post(f"/checks/{check.pk}/", cells, follow=True).content.decode()
    assert "Find passages again for the new criteria" in page and "Keep these places" in page
    client.post(f"/checks/{check.pk}/keep-places/")
    page = text(client, f"/checks/{check.pk}/")
    assert "Find passages again" not in page
    page = client.post(
        f"/checks/{check.pk}/", {**cells, "tempo": "80"}, follow=True
    ).content.decode()
    assert "The tempo or the criteria have changed" in page


def test_once_something_is_sent_nothing_offers_to_move(client, cast, check):
    check.turns.create(musician=cast.musician, sent_at=check.made_at)
    row = row_of(check, "Flute")
    for address in (f"/checks/{check.pk}/?open={row.pk}", f"/checks/passages/{row.pk}/",
                    f"/checks/{check.pk}/place/"):  # fmt: skip
        page = text(client, address)
        assert "have already sent something" in page
        assert "same-place" not in page and 'role="slider"' not in page
        assert f'action="/checks/passages/{row.pk}/"' not in page


def test_a_piece_from_midi_says_that_there_is_no_music_to_show(client, check):
    check.piece.from_midi = True
    check.piece.save()
    row = row_of(check, "Flute")
    assert "came from a MIDI file" in text(client, f"/checks/{check.pk}/")
    opened = text(client, f"/checks/passages/{row.pk}/")
    assert f"Play measures {row.printed} from the printed part." in words_of(opened)
    assert "/music/" not in opened
    client.post(f"/checks/passages/{row.pk}/substitute/", {"how": "line", "line": "C5 w"})
    assert f"/checks/passages/{row.pk}/music/" in text(client, f"/checks/passages/{row.pk}/")


def test_a_lost_score_leaves_the_page_readable(client, check, monkeypatch):
    from standlight.errors import StandlightError
    from standlight.programme.queries import passage_page

    def lost(check):
        raise StandlightError("a kept file is missing")

    monkeypatch.setattr(passage_page, "survey_of", lost)
    row = row_of(check, "Flute")
    assert row.part.name in text(client, f"/checks/{check.pk}/")
    assert client.get(f"/checks/passages/{row.pk}/").status_code == 200
    assert client.get(f"/checks/{check.pk}/place/").status_code == 302


def test_queries_do_not_grow_with_the_parts(
    client, cast, check, django_assert_max_num_queries
):
    with django_assert_max_num_queries(24):
        client.get(f"/checks/{check.pk}/")
    row = row_of(check, "Flute")
    with django_assert_max_num_queries(14):
        client.get(f"/checks/passages/{row.pk}/look/?first=2&last=9", headers=HX)


def test_a_check_without_notation_for_a_part_in_another_check_is_untouched(client, cast, check):
    other = checks.make_check(
        cast.director, check.piece, facts(criteria=CHOSEN, tempo_qpm=96, title="Second")
    )
    before = list(other.passages.values_list("printed", flat=True))
    client.post(f"/checks/{check.pk}/same-place/", {"first": 8, "last": 11})
    assert list(other.passages.values_list("printed", flat=True)) == before


def test_a_drum_with_nothing_to_compare_with_is_not_given_a_number(client, cast):
    """Its strokes are there, so it does not rest; what they ask beside others nobody can say."""
    few = " | ".join([REST] * 14 + ["x h x q x", "x w"])
    parts = tuple((name, few if name == "Snare drum" else line) for name, line in PARTS)
    client.force_login(cast.director)
    check = band_check(cast, several_parts(parts))
    row = row_of(check, "Snare drum")
    look = words_of(text(client, f"/checks/passages/{row.pk}/look/?first=12&last=15", headers=HX))
    assert "demand not known" in look and "rests throughout" not in look
    checks.move_passage(cast.director, row, 12, 15)
    assert row_of(check, "Snare drum").demand is None
    assert "1 plays something whose demand is not known" in text(client, f"/checks/{check.pk}/")
