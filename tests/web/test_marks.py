"""The pages of Marks: who may, the table, the file."""

import datetime

import pytest
from django.urls import reverse
from django.utils import timezone

from standlight.programme.actions.desk import rate
from standlight.programme.models import MarkingPeriod, Turn
from tests.programme.desk_scene import ALL_THREE, make_scene, send
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(cast):
    return make_scene(cast, days_to_due=-1)


@pytest.fixture
def period(cast):
    today = timezone.localdate()
    return MarkingPeriod.objects.create(
        programme=cast.programme, name="Period 1", starts_on=today - datetime.timedelta(9),
        ends_on=today,
    )


def excuse_address(scene, period, musician):
    return reverse("marks-excuse", args=[period.pk, scene.check.pk, musician.pk])


def test_pages_and_posts_are_shut_to_everyone_but_the_ensembles_directors(
    client, cast, scene, period
):
    pages = [
        ("get", reverse("marks-period", args=[cast.band.pk, period.pk])),
        ("get", reverse("marks-file", args=[cast.band.pk, period.pk])),
        ("post", excuse_address(scene, period, cast.musician)),
    ]
    for method, address in pages:
        client.logout()
        assert getattr(client, method)(address).status_code == 302
        for account in (
            cast.musician.account, cast.singer.account, cast.outsider_director,
            cast.outsider_musician.account,
        ):
            sign_in(client, account)
            assert getattr(client, method)(address).status_code == 404, address
    for address in (reverse("marks"), reverse("marks-add-period")):
        sign_in(client, cast.musician.account)
        assert client.post(address).status_code == 404
        client.logout()
        assert client.post(address).status_code == 302
    assert not Turn.objects.exists()
    sign_in(client, cast.second_director)
    assert client.get(pages[0][1]).status_code == 200
    choir = reverse("marks-period", args=[cast.choir.pk, period.pk])
    assert client.get(choir).status_code == 404


def test_a_mark_unfolds_its_reason_in_place_and_the_policy_is_stated(client, cast, scene, period):
    rate(cast.director, send(scene, cast.musician), ALL_THREE)
    sign_in(client, cast.director)
    page = client.get(reverse("marks"), follow=True).content.decode()
    assert "<strong>3.00</strong> Secure" in page
    assert "The mark is" not in page
    assert "The mean of the 3 criteria is 3.00, on levels 1 to 4." in page
    assert "A mark needs 3 levels or more." in page
    words = client.get(reverse("marks-period", args=[cast.band.pk, period.pk]) + "?levels=words")
    assert "Developing, Secure, Extending" in words.content.decode()


def test_the_file_comes_as_csv_with_a_name(client, cast, scene, period):
    sign_in(client, cast.director)
    answer = client.get(reverse("marks-file", args=[cast.band.pk, period.pk]))
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert 'filename="marks-concert-band-period-1.csv"' in answer["Content-Disposition"]
    assert answer.content.startswith(b"\xef\xbb\xbfroster_id,family_name,given_name")


def test_excuse_and_ask_again_from_the_unfolded_reason(client, cast, scene, period):
    sign_in(client, cast.director)
    address = excuse_address(scene, period, cast.musician)
    assert "excused" in client.post(address, {"excused": "yes"}, follow=True).content.decode()
    assert Turn.objects.get().excused
    client.post(address, {"excused": "no"})
    assert not Turn.objects.get().excused
    assert client.post(excuse_address(scene, period, cast.singer)).status_code == 404


def test_a_period_is_added_and_opened_and_a_slip_is_said(client, cast):
    sign_in(client, cast.director)
    assert "Add the first marking period" in client.get(reverse("marks")).content.decode()
    days = {"name": "Autumn", "starts_on": "2026-09-01", "ends_on": "2026-08-01"}
    assert "were the two swapped?" in (
        client.post(reverse("marks-add-period"), days).content.decode()
    )
    assert "its first and its last day" in (
        client.post(reverse("marks-add-period"), {**days, "ends_on": "2026-02-31"}).content.decode()
    )
    answer = client.post(reverse("marks-add-period"), {**days, "ends_on": "2026-10-31"})
    period = MarkingPeriod.objects.get()
    assert answer.url == reverse("marks-period", args=[cast.band.pk, period.pk])
