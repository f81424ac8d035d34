"""The button on a check's page that asks the same passage again."""

import datetime

import pytest
from django.utils import timezone

from standlight.programme.models import PlayingCheck
from tests.programme.desk_scene import make_scene

pytestmark = pytest.mark.django_db

SENTENCE = "The same passage again is what shows growth."


@pytest.fixture
def scene(cast):
    return make_scene(cast)


def address(scene):
    return f"/checks/{scene.check.pk}/again/"


def due(weeks=6):
    return {"due_on": (timezone.localdate() + datetime.timedelta(weeks=weeks)).isoformat()}


def test_the_page_says_why_and_offers_a_day_six_weeks_after_the_first(client, cast, scene):
    client.force_login(cast.director)
    page = client.get(f"/checks/{scene.check.pk}/").content.decode()
    day = scene.check.due_on + datetime.timedelta(weeks=6)
    assert SENTENCE in page and "Ask this passage again" in page
    assert f'name="due_on" type="date" value="{day.isoformat()}"' in page
    PlayingCheck.objects.update(due_on=timezone.localdate() - datetime.timedelta(weeks=40))
    page = client.get(f"/checks/{scene.check.pk}/").content.decode()
    day = timezone.localdate() + datetime.timedelta(weeks=1)
    assert f'id="again-on" name="due_on" type="date" value="{day.isoformat()}"' in page


def test_a_draft_does_not_offer_to_be_asked_again(client, cast, scene):
    PlayingCheck.objects.update(published_at=None)
    client.force_login(cast.director)
    assert SENTENCE not in client.get(f"/checks/{scene.check.pk}/").content.decode()


def test_the_form_makes_a_draft_and_opens_it(client, cast, scene):
    client.force_login(cast.second_director)
    answer = client.post(address(scene), due(), follow=True)
    made = PlayingCheck.objects.exclude(pk=scene.check.pk).get()
    assert answer.redirect_chain[-1][0] == f"/checks/{made.pk}/"
    page = answer.content.decode()
    assert "Lamp Tune check, again" in page and "The musicians do not see it yet" in page
    assert "The same passages, as a draft." in page
    assert made.made_by == cast.second_director
    client.force_login(cast.musician.account)
    assert made.title not in client.get("/my/").content.decode()


@pytest.mark.parametrize(
    ("cells", "slip"),
    [({}, "is no day"), ({"due_on": "soon"}, "is no day"), (due(-1), "has already passed")],
)
def test_a_day_that_is_none_or_has_passed_is_said_and_nothing_is_made(
    client, cast, scene, cells, slip
):
    client.force_login(cast.director)
    answer = client.post(address(scene), cells, follow=True)
    assert answer.redirect_chain[-1][0] == f"/checks/{scene.check.pk}/"
    assert slip in answer.content.decode()
    assert PlayingCheck.objects.count() == 1


def test_nobody_else_reaches_it_and_it_is_asked_for_by_a_form_alone(client, cast, scene):
    for account in (
        cast.musician.account, cast.singer.account, cast.outsider_musician.account,
        cast.outsider_director,
    ):
        client.force_login(account)
        assert client.post(address(scene), due()).status_code == 404
    client.force_login(cast.director)
    assert client.get(address(scene))["Location"] == f"/checks/{scene.check.pk}/"
    client.logout()
    assert client.post(address(scene), due())["Location"].startswith("/sign-in/")
    assert PlayingCheck.objects.count() == 1
