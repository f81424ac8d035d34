"""The live form's page: who may, what is kept."""

import pytest
from django.urls import reverse

from standlight.programme.models import Draw, GivenLevel, HeardAgain, Turn
from tests.programme.desk_scene import ALL_THREE
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db


def address(scene):
    return reverse("live-check", args=[scene.check.pk])


def form(*people, **more):
    fields = {"musician": [person.pk for person in people], "size": "2", **more}
    for person in people:
        fields[f"attempt-{person.pk}"] = "1"
        fields |= {f"level-{person.pk}-{key}": value for key, value in ALL_THREE.items()}
    return fields


def test_the_form_is_for_the_ensembles_directors_only(client, cast, scene):
    for method in ("get", "post"):
        client.logout()
        assert getattr(client, method)(address(scene)).status_code == 302
        for account in (
            cast.musician.account, cast.singer.account, cast.outsider_director,
            cast.outsider_musician.account,
        ):
            sign_in(client, account)
            assert getattr(client, method)(address(scene)).status_code == 404
    for account in (cast.director, cast.second_director):
        sign_in(client, account)
        assert client.get(address(scene)).status_code == 200
    assert not Turn.objects.exists()


def test_a_group_is_kept_and_the_next_is_shown(client, cast, scene):
    sign_in(client, cast.director)
    page = client.post(address(scene), form(cast.musician), follow=True).content.decode()
    assert "Kept: Mina Okafor." in page
    assert "Theo Lindqvist" in page
    assert Turn.objects.get().way == Turn.LIVE
    assert GivenLevel.objects.count() == 3


def test_musicians_of_other_ensembles_and_schools_cannot_be_slipped_in(client, cast, scene):
    sign_in(client, cast.director)
    client.post(address(scene), form(cast.singer, cast.outsider_musician))
    assert not Turn.objects.exists()


def test_a_slip_brings_the_form_back_with_what_was_tapped(client, cast, scene):
    sign_in(client, cast.director)
    bad = form(cast.musician) | {f"level-{cast.musician.pk}-notes": "7"}
    page = client.post(address(scene), bad).content.decode()
    assert "is not between 1 and 4" in page
    kept = f'name="level-{cast.musician.pk}-intonation" value="2" data-key="2" checked'
    assert kept in page
    assert not Turn.objects.exists()


def test_one_at_the_stand_has_large_buttons_and_says_who_is_next(client, cast, scene):
    sign_in(client, cast.director)
    page = client.get(address(scene)).content.decode()
    assert page.count("data-criterion") == 3
    assert page.count('class="press"') == 18
    assert "Save, next: Theo Lindqvist" in page
    skip = f"{address(scene)}?size=1&amp;who={cast.second_musician.pk}"
    assert f'href="{skip}">Not now</a>' in page
    assert "Save, next: Mina Okafor" in client.get(skip.replace("&amp;", "&")).content.decode()


def test_two_at_once_stand_one_under_the_other(client, cast, scene):
    sign_in(client, cast.director)
    page = client.get(address(scene), {"size": "2"}).content.decode()
    assert page.count('class="stand"') == 2
    assert page.count('class="tap"') == 36


def test_a_draw_is_kept_so_that_a_reload_shows_the_same_people(client, cast, scene):
    sign_in(client, cast.director)
    answer = client.post(reverse("live-draw", args=[scene.check.pk]), {"count": "2"})
    assert answer.url == f"{address(scene)}?size=1&drawn=yes"
    one, other = (client.get(answer.url).content.decode() for _ in range(2))
    drawn = list(Draw.objects.values_list("musician__given_name", flat=True))
    assert len(drawn) == 2
    assert f"<h2>{drawn[0]} " in one
    assert f"<h2>{drawn[0]} " in other
    page = client.post(
        reverse("live-draw", args=[scene.check.pk]), {"count": "2"}, follow=True
    ).content.decode()
    assert "Nobody more can be drawn today" in page


def test_who_is_not_here_is_passed_over_and_can_be_here_after_all(client, cast, scene):
    sign_in(client, cast.director)
    client.post(reverse("live-draw", args=[scene.check.pk]), {"count": "2"})
    first, second = Draw.objects.select_related("musician")
    place = reverse("live-absent", args=[scene.check.pk, first.pk])
    page = client.post(place, {"absent": "yes"}, follow=True).content.decode()
    assert f"<h2>{second.musician.name} " in page
    assert "not here" in page
    page = client.post(place, {"absent": "no"}, follow=True).content.decode()
    assert f"<h2>{first.musician.name} " in page


def test_a_live_turn_is_heard_again_without_its_old_levels_in_view(client, cast, scene):
    sign_in(client, cast.director)
    client.post(address(scene), form(cast.musician))
    turn = Turn.objects.get()
    place = reverse("live-again", args=[scene.check.pk, turn.pk])
    assert f'href="{place}"' in client.get(address(scene)).content.decode()
    page = client.get(place).content.decode()
    assert "checked" not in page
    fields = {f"level-{cast.musician.pk}-intonation": "4", "hearing": "2"}
    for _ in range(2):
        page = client.post(place, fields, follow=True).content.decode()
    assert "The new levels count, the old are on record." in page
    assert HeardAgain.objects.get().earlier["intonation"] == "2"
    assert "heard 2 times" in page
    assert "no level was given" in client.post(place, {"hearing": "3"}).content.decode()


def test_drawing_and_hearing_again_are_for_the_ensembles_directors_only(client, cast, scene):
    sign_in(client, cast.director)
    client.post(address(scene), form(cast.musician))
    client.post(reverse("live-draw", args=[scene.check.pk]), {"count": "1"})
    turn, drawn = Turn.objects.get(), Draw.objects.get()
    places = [
        reverse("live-draw", args=[scene.check.pk]),
        reverse("live-absent", args=[scene.check.pk, drawn.pk]),
        reverse("live-again", args=[scene.check.pk, turn.pk]),
    ]
    for account in (
        cast.musician.account, cast.singer.account, cast.outsider_director,
        cast.outsider_musician.account,
    ):  # fmt: skip
        sign_in(client, account)
        fields = {"count": "1", "absent": "yes", f"level-{cast.musician.pk}-notes": "1"}
        assert {client.post(place, fields).status_code for place in places} == {404}
    client.logout()
    assert {client.post(place).status_code for place in places} == {302}
    assert (Draw.objects.filter(absent=True).count(), HeardAgain.objects.count()) == (0, 0)


def test_nobody_left_is_said_with_the_way_on(client, cast, scene):
    sign_in(client, cast.director)
    page = client.post(
        address(scene), form(cast.musician, cast.second_musician), follow=True
    ).content.decode()
    assert "has been heard or has sent a take" in page
