"""Today's page: who reads it, and what a new school sees."""

import pytest
from django.urls import reverse

from standlight.programme.models import Ensemble
from tests.programme.desk_scene import make_scene, send
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db


def test_today_is_for_directors_and_shows_each_only_their_own_groups(client, cast):
    make_scene(cast)
    address = reverse("today")
    assert client.get(address).status_code == 302
    for account in (cast.musician.account, cast.outsider_musician.account):
        sign_in(client, account)
        assert client.get(address).status_code == 404
    sign_in(client, cast.second_director)
    second = client.get(address).content.decode()
    assert "Concert Band" in second
    assert "Mixed Choir" not in second
    sign_in(client, cast.outsider_director)
    assert "Lamp Tune" not in client.get(address).content.decode()


def test_each_group_has_its_three_lists_in_order(client, cast):
    send(make_scene(cast), cast.musician, ago=2)
    sign_in(client, cast.director)
    text = client.get(reverse("today")).content.decode()
    places = [text.index(words) for words in (
        "Period 3, Concert Band, 42 minutes", "Needed now", "1 of 2 sent", "Theo Lindqvist",
        "Waiting for you", "1 to answer", "the oldest for 2 days", "Worth working on",
    )]
    assert places == sorted(places)


def test_a_school_without_an_ensemble_is_told_where_to_start(client, cast):
    Ensemble.objects.all().delete()
    sign_in(client, cast.director)
    assert "There is no ensemble yet. Start under" in client.get(reverse("today")).content.decode()
