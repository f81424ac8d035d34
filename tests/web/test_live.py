"""The live form's page: who may, what is kept."""

import pytest
from django.urls import reverse

from standlight.programme.models import GivenLevel, Turn
from tests.programme.desk_scene import ALL_THREE, make_scene
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(cast):
    return make_scene(cast)


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
    kept = f'name="level-{cast.musician.pk}-intonation" value="2" aria-label="Developing" checked'
    assert kept in page
    assert not Turn.objects.exists()


def test_a_draw_goes_into_the_address_so_that_a_reload_shows_the_same_people(client, cast, scene):
    sign_in(client, cast.director)
    answer = client.get(address(scene), {"draw": "yes", "size": "2"})
    assert answer.status_code == 302
    assert "who=" in answer.url
    one, other = (client.get(answer.url).content.decode() for _ in range(2))
    assert one.count('class="stand"') == other.count('class="stand"') == 2


def test_nobody_left_is_said_with_the_way_on(client, cast, scene):
    sign_in(client, cast.director)
    page = client.post(
        address(scene), form(cast.musician, cast.second_musician), follow=True
    ).content.decode()
    assert "has been heard or has sent a take" in page
