"""A guest's pages: what opens for whom, and what never stands on them."""

import datetime

import pytest
from django.urls import reverse
from django.utils import timezone

from standlight.programme import store
from standlight.programme.actions.desk import rate
from standlight.programme.actions.guests import ask_guest, close_link, token_of
from standlight.programme.dates import date_words
from standlight.programme.models import GuestLevel, GuestLink, Remark, Turn
from tests.programme.desk_scene import ALL_THREE, make_scene, more_clarinets, send
from tests.web.scene import sign_in, wav

pytestmark = pytest.mark.django_db

FORM = {f"level-{key}": value for key, value in ALL_THREE.items()}


@pytest.fixture
def scene(cast):
    return make_scene(cast)


@pytest.fixture
def turns(scene, cast):
    people = [cast.musician, cast.second_musician, *more_clarinets(scene, 2)]
    turns = [send(scene, one, words="Secret words of mine", self_levels={"rhythm": 4})
             for one in people]  # fmt: skip
    digest = store.keep(wav())
    for turn in turns:
        turn.takes.update(playback_digest=digest)
    return turns


@pytest.fixture
def link(cast, scene, turns):
    given = [turn.pk for turn in turns[:3]]
    return ask_guest(cast.director, scene.check, given, label="Guest Quill", days=3,
                     note="Listen for the ends of notes")  # fmt: skip


def pages_of(link):
    token = token_of(link)
    yield reverse("guest", args=[token])
    for take in link.takes.all():
        yield reverse("guest-hear", args=[token, take.place])


def test_nothing_of_a_guests_pages_tells_who_plays_or_what_anybody_wrote(client, cast, turns, link):
    Remark.objects.create(
        piece=turns[0].check_row.piece, turn=turns[0], author=cast.director, first_measure=0,
        last_measure=0, words="A remark of the director",
    )  # fmt: skip
    rate(cast.director, turns[0], ALL_THREE)
    people = [turn.musician for turn in turns]
    told = [one.given_name for one in people] + [one.family_name for one in people]
    told += [one.account.sign_in for one in people] + ["Secret words", "A remark", "Guest Quill"]
    for address in pages_of(link):
        page = client.get(address)
        assert page.status_code == 200
        text = page.content.decode()
        assert not [word for word in told if word in text]
        assert not [one.roster_id for one in people if one.roster_id in text]
        assert "checked" not in text.replace("not_shown\" data-key=\"n\" checked", "")


def test_a_guests_pages_link_to_nothing_but_themselves_and_static_files(client, link):
    import re

    token = token_of(link)
    inside = (f"/guest/{token}/", "/static/", "#")
    for address in pages_of(link):
        text = client.get(address).content.decode()
        found = re.findall(r'(?:href|src|action)="([^"]*)"', text)
        assert found
        assert not [one for one in found if not one.startswith(inside)]


def test_the_page_says_who_asks_and_until_when(client, link):
    page = client.get(next(pages_of(link))).content.decode()
    assert "Dana Whitlock asks for your ear" in page
    until = timezone.localtime(link.expires_at)
    assert f"{date_words(until)}, 23:59" in page
    assert "Listen for the ends of notes" in page
    assert GuestLink.objects.get().opened_at is not None


def test_levels_lead_from_take_to_take_and_then_to_thanks(client, link):
    token = token_of(link)
    at = reverse("guest-hear", args=[token, 1])
    for place in (2, 3):
        answer = client.post(at, FORM)
        at = reverse("guest-hear", args=[token, place])
        assert answer.url == at
    answer = client.post(at, FORM, follow=True)
    assert "All done. Thank you." in answer.content.decode()
    assert GuestLevel.objects.count() == 9
    assert 'value="2" data-key="2" checked' in client.get(at).content.decode()


def test_a_missing_level_is_named_and_the_others_are_kept(client, link):
    address = reverse("guest-hear", args=[token_of(link), 1])
    page = client.post(address, {"level-rhythm": "3"}).content.decode()
    assert "No level yet: Intonation, " in page
    assert GuestLevel.objects.get().criterion == "rhythm"
    bad = client.post(address, {**FORM, "level-rhythm": "9"}).content.decode()
    assert "is not between 1 and 4" in bad
    assert GuestLevel.objects.count() == 1


def test_the_sound_of_assigned_takes_is_played_in_ranges_and_no_other(client, cast, turns, link):
    token = token_of(link)
    whole = client.get(reverse("guest-sound", args=[token, 1]))
    assert whole.status_code == 200
    part = client.get(reverse("guest-sound", args=[token, 1]), headers={"Range": "bytes=0-9"})
    assert (part.status_code, part.content) == (206, whole.content[:10])
    assert client.get(reverse("guest-sound", args=[token, 4])).status_code == 404
    assert client.get(reverse("guest-hear", args=[token, 0])).status_code == 404
    key = turns[0].takes.get().key
    assert client.get(reverse("take-sound", args=[key])).status_code == 302


def test_a_take_removed_while_the_page_is_open_is_told_and_the_others_stay(client, turns, link):
    token = token_of(link)
    client.post(reverse("guest-hear", args=[token, 1]), FORM)
    link.takes.get(place=2).turn.delete()
    answer = client.post(reverse("guest-hear", args=[token, 2]), FORM)
    assert answer.status_code == 404
    assert "not here any more" in answer.content.decode()
    assert reverse("guest", args=[token]) in answer.content.decode()
    assert GuestLevel.objects.count() == 3
    assert "levels given" in client.get(reverse("guest", args=[token])).content.decode()


def test_a_guest_opens_no_page_of_anybody(client, cast, scene, turns, link):
    client.get(next(pages_of(link)))
    for name, args in (
        ("today", []), ("musicians", []), ("raters", []), ("guests", []), ("marks", []),
        ("guest-link", [link.pk]), ("desk-turn", [scene.check.pk, turns[0].pk]), ("my-part", []),
    ):  # fmt: skip
        answer = client.get(reverse(name, args=args))
        assert answer.status_code == 302
        assert "/sign-in/" in answer.url


def test_a_forged_address_is_nothing_and_so_is_it_for_a_signed_in_musician(client, cast, link):
    token = token_of(link)
    other = ("A" if token[-1] != "A" else "B")
    for bad in (token[:-1] + other, str(link.key), "x"):
        assert client.get(reverse("guest", args=[bad])).status_code == 404
        assert client.post(reverse("guest-hear", args=[bad, 1]), FORM).status_code == 404
        assert client.get(reverse("guest-sound", args=[bad, 1])).status_code == 404
    for account in (cast.musician.account, cast.outsider_musician.account):
        sign_in(client, account)
        for address in pages_of(link):
            assert client.get(address).status_code == 404
    assert not GuestLevel.objects.exists()


def test_a_signed_in_director_looks_at_a_guests_page_but_gives_no_level_there(client, cast, link):
    sign_in(client, cast.director)
    address = reverse("guest-hear", args=[token_of(link), link.takes.first().place])
    assert client.get(address).status_code == 200
    page = client.post(address, FORM).content.decode()
    assert "only the guest gives levels here" in page
    assert not GuestLevel.objects.exists()


@pytest.mark.parametrize(
    ("end", "said"), [("over", "Its time is over."), ("closed", "has closed it.")]
)
def test_an_ended_link_says_so_plays_nothing_and_keeps_nothing(client, link, end, said):
    if end == "closed":
        close_link(link)
    else:
        GuestLink.objects.update(expires_at=timezone.now() - datetime.timedelta(seconds=1))
    token = token_of(link)
    for address in (*pages_of(link), reverse("guest-sound", args=[token, 1])):
        answer = client.get(address)
        assert answer.status_code == 410
        assert said in answer.content.decode()
        assert "<audio" not in answer.content.decode()
    late = client.post(reverse("guest-hear", args=[token, 1]), FORM)
    assert late.status_code == 410
    assert not GuestLevel.objects.exists()


def test_a_guests_pages_are_kept_by_no_cache_and_found_by_no_search(client, link):
    for address in pages_of(link):
        answer = client.get(address)
        assert "no-store" in answer["Cache-Control"]
        assert answer["X-Robots-Tag"] == "noindex"
        assert answer["Referrer-Policy"] == "same-origin"


def test_making_and_closing_a_link_is_for_the_directors_of_the_group(client, cast, scene, link):
    ask, one = reverse("guest-ask", args=[scene.check.pk]), reverse("guest-link", args=[link.pk])
    close = reverse("guest-close", args=[link.pk])
    for account in (cast.musician.account, cast.outsider_director, cast.outsider_musician.account):
        sign_in(client, account)
        assert [client.get(ask).status_code, client.get(one).status_code] == [404, 404]
        assert [client.post(ask).status_code, client.post(close).status_code] == [404, 404]
    assert GuestLink.objects.get().closed_at is None
    sign_in(client, cast.second_director)
    assert token_of(link) in client.get(one).content.decode()
    assert client.post(close).status_code == 302
    page = client.get(one).content.decode()
    assert "Closed " in page
    assert token_of(link) not in page


def test_a_director_makes_a_link_to_all_or_to_ticked_takes(client, cast, scene, turns):
    sign_in(client, cast.director)
    ask = reverse("guest-ask", args=[scene.check.pk])
    fields = {"label": "Guest", "days": "7", "counts_as": "guest"}
    page = client.post(ask, {**fields, "which": "all"}, follow=True).content.decode()
    assert "Works until" in page
    assert GuestLink.objects.first().takes.count() == 4
    client.post(ask, {**fields, "which": "ticked", "turn": [turns[1].pk]})
    assert [one.turn_id for one in GuestLink.objects.first().takes.all()] == [turns[1].pk]
    page = client.post(ask, {**fields, "which": "ticked", "note": "Hello"}).content.decode()
    assert "no take was chosen" in page
    assert 'value="Hello"' in page
    stranger = Turn.objects.create(
        check_row=scene.check, musician=cast.singer, sent_at=None
    )  # fmt: skip
    page = client.post(ask, {**fields, "which": "ticked", "turn": [stranger.pk]}).content.decode()
    assert "cannot be given" in page
    assert GuestLink.objects.count() == 2


def test_a_guests_levels_stand_at_the_desk_only_beside_whole_own_levels(
    client, cast, scene, turns, link
):
    token = token_of(link)
    for take in link.takes.all():
        client.post(reverse("guest-hear", args=[token, take.place]), FORM)
    sign_in(client, cast.director)
    desk = reverse("desk-turn", args=[scene.check.pk, turns[0].pk])
    assert "Guest Quill" not in client.get(desk).content.decode()
    rate(cast.director, turns[0], ALL_THREE)
    assert "Guest Quill, guest: " in client.get(desk).content.decode()
