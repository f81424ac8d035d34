"""The pages of groups: made by a form, changed by hand, printed with names alone."""

import re

import pytest
from django.urls import reverse

from standlight.programme.actions import groups as acts
from standlight.programme.actions.desk import rate
from standlight.programme.models import Grouping, GroupWish
from tests.programme.desk_scene import ALL_THREE, make_scene, send
from tests.programme.group_scene import made, numbers, twelve
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def people(cast):
    return twelve(cast)


def text(reply):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", reply.content.decode()))


def choices_on(reply):
    """Name to the value of its choice in the form that lets two change places."""
    found = re.findall(r'<option value="([^"]*)">([^<]*)</option>', reply.content.decode())
    return {name: value for value, name in found}


def form(cast, **more):
    sections = [cast.clarinets.pk, cast.snares.pk]
    return {"size": "4", "parts": "mixed", "section": sections, "with_roles": "yes", **more}


def test_the_form_makes_a_draft_without_who_is_absent(client, cast, people):
    sign_in(client, cast.director)
    address = reverse("groups-make", args=[cast.band.pk])
    page = client.get(address)
    assert "Different parts in each group" in text(page)
    reply = client.post(address, form(cast, absent=[people["Abel"].pk], title="  Before   Friday "))
    grouping = Grouping.objects.get()
    assert reply["Location"] == reverse("grouping", args=[cast.band.pk, grouping.pk])
    assert (grouping.title, grouping.kept_at, grouping.by_levels) == ("Before Friday", None, False)
    assert grouping.seats.count() == 13, "twelve and the cast's two, less one"
    assert "Not kept yet." in text(client.get(reply["Location"]))


def test_what_was_typed_stays_when_no_groups_can_be_made(client, cast, people):
    sign_in(client, cast.director)
    address = reverse("groups-make", args=[cast.band.pk])
    reply = client.post(address, form(cast, section=[], size="5", title="Mine"))
    assert "No groups were made: groups need two musicians at least" in text(reply)
    page = reply.content.decode()
    assert 'value="5"' in page
    assert 'value="Mine"' in page
    assert not Grouping.objects.exists()
    for size in ("1", "", "x", "-3", "999999999999999999999"):
        assert "cannot be made" in text(client.post(address, form(cast, size=size)))


def test_a_question_of_another_ensemble_is_no_question(client, cast, people):
    sign_in(client, cast.director)
    client.post(reverse("groups-make", args=[cast.band.pk]), form(cast, question="1:all:choice"))
    assert Grouping.objects.get().assignment is None


def test_keep_swap_share_and_remove(client, cast, people):
    sign_in(client, cast.director)
    grouping = made(cast, people.values())
    keys = [cast.band.pk, grouping.pk]
    of = numbers(grouping)
    other = next(name for name in of if of[name] != of["Abel"])
    places = choices_on(client.get(reverse("grouping", args=keys)))
    both = {"one": places["Abel Quist"], "other": places[f"{other} Quist"]}
    page = client.post(reverse("grouping-swap", args=keys), both, follow=True)
    assert f"Abel Quist and {other} Quist have changed places." in text(page)
    assert numbers(grouping)["Abel"] == of[other]
    page = client.post(reverse("grouping-swap", args=keys), both, follow=True)
    assert f"Abel Quist sits in group {of[other]} by now" in text(page)
    assert numbers(grouping)["Abel"] == of[other], "a second tap does not undo the first"
    same = {"one": places["Abel Quist"], "other": places["Abel Quist"]}
    page = client.post(reverse("grouping-swap", args=keys), same, follow=True)
    assert "two musicians are needed" in text(page)
    page = client.post(reverse("grouping-keep", args=keys), {"title": "The march"}, follow=True)
    assert "The groups are kept." in text(page)
    client.post(reverse("grouping-share", args=keys), {"shown": "yes"})
    assert Grouping.objects.get().shared_at is not None
    sign_in(client, people["Abel"].account)
    mine = text(client.get(reverse("my-groups")))
    assert "The march" in mine
    assert f"You are in group {of[other]}" in mine
    sign_in(client, cast.director)
    client.post(reverse("grouping-drop", args=keys))
    assert not Grouping.objects.exists()


def test_print_screen_and_the_musicians_page_hold_names_and_no_reason_wish_or_level(
    client, cast, people
):
    scene = make_scene(cast)
    for one in people.values():
        rate(cast.director, send(scene, one), ALL_THREE)
    acts.add_wish(cast.director, cast.band, people["Abel"].pk, people["Cleo"].pk, True)
    grouping = made(cast, people.values(), parts="same")
    acts.keep(grouping, "Sectionals")
    acts.share(grouping, True)
    sign_in(client, cast.director)
    keys = [cast.band.pk, grouping.pk]
    open_page = text(client.get(reverse("grouping", args=keys)))
    assert "on the same part" in open_page.lower()
    pages = [text(client.get(reverse(name, args=keys))) for name in ("grouping-print",
             "grouping-screen")]  # fmt: skip
    sign_in(client, people["Abel"].account)
    pages.append(text(client.get(reverse("my-groups"))))
    for page in pages:
        assert "Sectionals" in page
        for word in ("apart", "same part", "level", "whole ensemble", "clarinet", "percussion"):
            assert word not in page.lower(), word
    for page in pages[:2]:
        assert all(f"{name} Quist" in page for name in people)


def test_a_wish_is_made_and_given_up_and_names_are_only_of_the_ensemble(client, cast, people):
    sign_in(client, cast.director)
    address = reverse("group-wishes", args=[cast.band.pk])
    assert cast.singer.name not in text(client.get(address))
    pair = {"one": people["Abel"].pk, "other": people["Bibi"].pk, "way": "together"}
    page = client.post(address, pair, follow=True)
    assert "Abel Quist and Bibi Quist" in text(page)
    wish = GroupWish.objects.get()
    assert not wish.apart
    reply = client.post(address, {"one": people["Abel"].pk, "other": ""}, follow=True)
    assert "a wish needs two musicians" in text(reply)
    client.post(reverse("group-wish-drop", args=[cast.band.pk, wish.pk]))
    assert not GroupWish.objects.exists()


def test_where_wishes_cannot_hold_one_press_leads_to_the_form_with_the_nearest_size(
    client, cast, people
):
    four = [people[name].pk for name in ("Abel", "Bibi", "Cleo", "Duri")]
    for n, one in enumerate(four):
        for other in four[n + 1 :]:
            acts.add_wish(cast.director, cast.band, one, other, True)
    grouping = made(cast, people.values())
    sign_in(client, cast.director)
    page = client.get(reverse("grouping", args=[cast.band.pk, grouping.pk])).content.decode()
    assert "Make groups of 3" in page
    address = f"{reverse('groups-make', args=[cast.band.pk])}?size=3"
    assert address in page
    assert 'value="3"' in client.get(address).content.decode()


def test_a_second_director_of_the_band_shares_its_groups_and_another_sees_none(
    client, cast, people
):
    grouping = made(cast, people.values())
    sign_in(client, cast.second_director)
    assert grouping.title in text(client.get(reverse("groups")))
    assert client.get(reverse("grouping", args=[cast.band.pk, grouping.pk])).status_code == 200
    # The right grouping under a wrong ensemble is no address.
    assert client.get(reverse("grouping", args=[cast.choir.pk, grouping.pk])).status_code == 404
    sign_in(client, cast.outsider_director)
    assert grouping.title not in text(client.get(reverse("groups")))


def test_the_number_of_queries_does_not_grow_with_musicians(
    client, cast, people, django_assert_max_num_queries
):
    grouping = made(cast, people.values())
    sign_in(client, cast.director)
    with django_assert_max_num_queries(22):
        client.get(reverse("grouping", args=[cast.band.pk, grouping.pk]))
