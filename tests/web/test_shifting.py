"""The page of ranges, own versions set there, and the question about an octave."""

import re

import pytest
from django.urls import reverse

from standlight.programme import store
from standlight.programme.actions import folder
from standlight.programme.actions.shifting import set_own_version
from standlight.programme.models import OwnVersion, Part, Seat
from standlight.programme.queries.shifting import ranges_page
from tests.cast import add_musician
from tests.scores import real
from tests.web import scene
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def check(cast):
    """Sopranos on G4 to D5, in G; Ada's comfortable range ends at C5."""
    check = scene.publish(cast, musician=cast.singer, group=cast.choir)
    Seat.objects.filter(musician=cast.singer).update(comfort_low_midi=60, comfort_high_midi=72)
    other = add_musician(cast.programme, cast.sopranos, "1004", "Bea", "Lind")
    check.passages.get().part.castings.create(
        seat=Seat.objects.get(musician=other), piece=check.piece
    )
    return check


def addresses(check, cast):
    """(path, what a post to it holds or None for a page)."""
    passage, seat = check.passages.get().pk, Seat.objects.get(musician=cast.singer).pk
    return [
        (f"/checks/{check.pk}/ranges/", None),
        (f"/checks/passages/{passage}/own-version/",
         {"musician": cast.singer.pk, "semitones": "-12"}),
        (f"/checks/passages/{passage}/own-version/", {"whole_part": "yes", "semitones": "-2"}),
        (f"/checks/passages/{passage}/singing-range/",
         {"seat": seat, "lowest": "G3", "highest": "D5"}),
    ]  # fmt: skip


def ask(client, address, cells):
    return client.get(address) if cells is None else client.post(address, cells)


def test_nobody_but_the_group_s_director_gets_in(cast, check, client):
    for account in (cast.second_director, cast.outsider_director, cast.singer.account):
        sign_in(client, account)
        for address, cells in addresses(check, cast):
            assert ask(client, address, cells).status_code == 404, address
    client.logout()
    for address, cells in addresses(check, cast):
        assert ask(client, address, cells).status_code == 302
    assert not OwnVersion.objects.exists()
    assert Seat.objects.get(musician=cast.singer).comfort_high_midi == 72


def test_the_page_says_what_lies_outside_and_one_button_sets_what_fits(cast, check, client):
    sign_in(client, cast.director)
    address = f"/checks/{check.pk}/ranges/"
    text = client.get(address).content.decode()
    # D5 is MIDI 74 and stands twice in the tune, for a beat at 96: 0.625 s each.
    assert "2 notes (1.2 s) above this singer&#x27;s comfortable range (C5): " in text
    assert "a whole step lower fits" in text and "Set a whole step lower, 1 flat" in text
    assert "costs a singer nothing" in text
    passage = check.passages.get().pk
    answer = client.post(
        f"/checks/passages/{passage}/own-version/",
        {"musician": cast.singer.pk, "semitones": "0", "fitting": "-2"}, follow=True,
    )  # fmt: skip
    text = answer.content.decode()
    assert "Ada Okafor: a whole step lower." in text and "comfortable range (C5)" not in text
    assert OwnVersion.objects.get().semitones == -2


def test_the_musician_is_told_that_it_costs_nothing(cast, check, client):
    sign_in(client, cast.singer.account)
    address = reverse("my-check", args=[check.pk])
    assert "costs you nothing: sing" not in client.get(address).content.decode()
    set_own_version(cast.director, check.passages.get(), cast.singer, -12)
    text = client.get(address).content.decode()
    assert "This passage is set an octave lower for you. That costs you nothing: sing" in text


def test_a_whole_part_is_set_and_taken_back(cast, check, client):
    sign_in(client, cast.director)
    address = f"/checks/passages/{check.passages.get().pk}/own-version/"
    client.post(address, {"whole_part": "yes", "semitones": "-12"})
    assert OwnVersion.objects.filter(semitones=-12).count() == 2
    client.post(address, {"whole_part": "yes", "semitones": "0"})
    assert not OwnVersion.objects.exists()
    assert client.post(address, {"whole_part": "yes", "semitones": "40"}).status_code == 404


def test_a_range_is_marked_by_names_and_a_slip_is_said(cast, check, client):
    sign_in(client, cast.director)
    address = f"/checks/passages/{check.passages.get().pk}/singing-range/"
    seat = Seat.objects.get(musician=cast.singer)
    client.post(address, {"seat": seat.pk, "lowest": "bb3", "highest": "", "voice_changing": "yes"})
    seat.refresh_from_db()
    # B flat 3 is MIDI 58 (General MIDI numbering, C4 = 60).
    assert (seat.comfort_low_midi, seat.comfort_high_midi) == (58, None)
    assert seat.voice_changing
    for cells, says in (
        ({"lowest": "H3", "highest": "D5"}, "is no pitch"),
        ({"lowest": "D5", "highest": "G3"}, "above the highest"),
    ):
        text = client.post(address, {"seat": seat.pk, **cells}, follow=True).content.decode()
        assert says in text
    seat.refresh_from_db()
    assert seat.comfort_low_midi == 58


def test_a_singer_without_a_marked_range_is_measured_by_the_voice(cast, check):
    Seat.objects.update(comfort_low_midi=None, comfort_high_midi=None)
    (part,) = ranges_page(check).parts
    # The voice table has Soprano from C4 to G5; the tune lies inside.
    assert {singer.range_words for singer in part.singers} == {
        "none marked; Soprano is usually C4 to G5"
    }
    assert (part.shown, part.n_outside, part.span_words) == ((), 0, "G4 to D5")


def test_a_move_that_does_not_yet_help_still_names_the_one_that_would(cast, check):
    set_own_version(cast.director, check.passages.get(), cast.singer, -1)
    (part,) = ranges_page(check).parts
    ada = next(one for one in part.singers if one.musician_pk == cast.singer.pk)
    assert ada.set_words == "a half step lower, 6 sharps"
    assert ada.flag.endswith("a whole step lower fits") and ada.fitting.semitones == -2


def test_players_are_not_on_the_page_of_ranges(cast):
    band = scene.publish(cast)
    assert ranges_page(band).parts == ()


def test_the_page_takes_few_queries_however_many_sing(cast, check, django_assert_max_num_queries):
    part = check.passages.get().part
    for n in range(12):
        singer = add_musician(cast.programme, cast.sopranos, f"20{n:02}", "Singer", f"N{n}")
        part.castings.create(seat=Seat.objects.get(musician=singer), piece=check.piece)
    with django_assert_max_num_queries(5):
        assert len(ranges_page(check).parts[0].singers) == 14


def test_the_piece_page_asks_about_the_octave_and_keeps_the_answer(cast, client):
    piece = folder.add_score(
        cast.director, cast.choir, real("sullivan_long_day_closes_ttbb.mxl"), name="ttbb.mxl"
    )
    part = Part.objects.get(piece=piece, name="Alto (or 1st Tenor)")
    address = f"/folder/{piece.pk}/octave/"
    for account in (cast.second_director, cast.singer.account):
        sign_in(client, account)
        assert client.post(address, {"part": part.pk, "answer": "lower"}).status_code == 404
    sign_in(client, cast.director)
    text = client.get(f"/folder/{piece.pk}/").content.decode()
    assert "Yes, it sounds an octave lower" in text and "No, it is right" in text
    answer = client.post(address, {"part": part.pk, "answer": "lower"}, follow=True)
    text = answer.content.decode()
    assert "Ab3 to B4" in text and "Yes, it sounds an octave lower" not in text
    part.refresh_from_db()
    assert part.octaves_moved == -1
    text = client.post(address, {"part": part.pk, "answer": "right"}, follow=True).content.decode()
    assert "Ab4 to B5" in text and "is right as it is written" in text
    text = client.post(address, {"part": part.pk, "answer": "up"}, follow=True).content.decode()
    assert "nothing was asked" in text


def test_a_key_that_is_not_counted_in_sharps_can_be_moved_by_octaves_only(cast, check, client):
    """MusicXML 4.0 knows signatures of single steps (``key-step``): the pages open all the same."""
    passage = check.passages.get()
    sharp = b"<key><key-step>F</key-step><key-alter>1</key-alter></key>"
    odd = re.sub(rb"<key>.*?</key>", sharp, store.fetch(passage.notation_digest), flags=re.DOTALL)
    assert sharp in odd
    passage.notation_digest = store.keep(odd)
    passage.save()
    sign_in(client, cast.director)
    for address in (f"/checks/{check.pk}/", f"/checks/{check.pk}/ranges/",
                    f"/checks/passages/{passage.pk}/substitute/"):  # fmt: skip
        assert client.get(address).status_code == 200, address
    (part,) = ranges_page(check).parts
    assert [one.words for one in part.offers] == [
        "an octave lower", "as written", "an octave higher"
    ]
    # D5 over C5: a whole step lower would fit, but is no offer here.
    (ada,) = part.shown
    assert ada.flag and "a whole step lower" not in ada.flag and ada.fitting is None


@pytest.mark.parametrize("fifths", [8, -30])
def test_a_signature_of_more_than_seven_signs_gives_a_line_without_one(
    cast, check, client, fifths
):
    passage = check.passages.get()
    key = f"<key><fifths>{fifths}</fifths></key>".encode()
    odd = re.sub(rb"<key>.*?</key>", key, store.fetch(passage.notation_digest), flags=re.DOTALL)
    passage.notation_digest = store.keep(odd)
    passage.save()
    sign_in(client, cast.director)
    page = client.get(f"/checks/passages/{passage.pk}/substitute/")
    assert page.status_code == 200 and "time 4/4 key C " in page.content.decode()
