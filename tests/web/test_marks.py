"""The pages of Marks: who may, the table, the policy, closing, changing, the files."""

import datetime

import pytest
from django.urls import reverse
from django.utils import timezone

from standlight.programme.actions.desk import rate
from standlight.programme.models import (
    MarkChange,
    MarkExport,
    MarkingPeriod,
    PeriodMarks,
    PostedMark,
    Turn,
)
from standlight.programme.queries.marks import period_page
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


def at(name, cast, period, *more):
    return reverse(name, args=[cast.band.pk, period.pk, *more])


def excuse_address(scene, period, musician):
    return reverse("marks-excuse", args=[period.pk, scene.check.pk, musician.pk])


def close(client, cast, period, **more):
    state = period_page(cast.band, period).state
    return client.post(
        at("marks-close", cast, period), {"seen": state, "looked": "yes", **more}, follow=True
    ).content.decode()


def test_pages_and_posts_are_shut_to_everyone_but_the_ensembles_directors(
    client, cast, scene, period
):
    pages = [
        ("get", at("marks-period", cast, period)),
        ("get", at("marks-file", cast, period)),
        ("get", at("marks-policy", cast, period)),
        ("get", at("marks-pages", cast, period)),
        ("get", at("marks-one", cast, period, cast.musician.pk)),
        ("post", at("marks-policy", cast, period)),
        ("post", at("marks-close", cast, period)),
        ("post", at("marks-export", cast, period)),
        ("post", at("marks-change", cast, period, cast.musician.pk)),
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
    assert not Turn.objects.exists() and not PeriodMarks.objects.exists()
    sign_in(client, cast.second_director)
    for method, address in pages[:5]:
        assert getattr(client, method)(address).status_code == 200, address
    choir = reverse("marks-period", args=[cast.choir.pk, period.pk])
    assert client.get(choir).status_code == 404
    stranger = at("marks-one", cast, period, cast.singer.pk)
    assert client.get(stranger).status_code == 404


def test_a_mark_unfolds_its_reason_in_place_and_the_policy_is_stated(client, cast, scene, period):
    rate(cast.director, send(scene, cast.musician), ALL_THREE)
    sign_in(client, cast.director)
    page = client.get(reverse("marks"), follow=True).content.decode()
    assert '<strong>Secure</strong> <span class="quiet">3.00</span>' in page
    assert "The mean of the 3 criteria is 3.00, on levels 1 to 4." in page
    assert "A mark needs 3 levels or more." in page
    assert "Open: nothing is final. 1 mark, 1 without; 1 musician to look at first." in page
    words = client.get(at("marks-period", cast, period) + "?levels=words")
    assert "Developing, Secure, Extending" in words.content.decode()


def test_questions_stand_before_the_table_and_lead_to_the_musicians_page(
    client, cast, scene, period
):
    sign_in(client, cast.director)
    page = client.get(at("marks-period", cast, period)).content.decode()
    assert page.index("Look at these first") < page.index("<table")
    one = at("marks-one", cast, period, cast.musician.pk)
    assert page.index(one) < page.index("<table")
    text = client.get(one).content.decode()
    assert "No mark: not enough evidence." in text and "not final yet" in text


def test_the_policy_is_chosen_in_plain_words_and_a_slip_keeps_what_was_typed(
    client, cast, scene, period
):
    sign_in(client, cast.director)
    address = at("marks-policy", cast, period)
    form = client.get(address).content.decode()
    assert "All levels count the same" in form and "3 of 4 is not 75 percent by itself" in form
    wrong = {"policy": "last_n", "last_n_n": "99", "conversion": "percents", "percent_4": "97"}
    said = client.post(address, wrong).content.decode()
    assert "no whole number from 1 to 40" in said and 'value="97"' in said
    assert not PeriodMarks.objects.exists()
    right = {"policy": "last_n", "last_n_n": "2", "by": "criterion"}
    page = client.post(address, right, follow=True).content.decode()
    assert "the newest 2 levels count the same" in page
    assert "the newest 2 levels count the same" in client.get(address).content.decode()


def test_a_table_that_is_the_plain_share_of_four_is_told_beside_the_marks(
    client, cast, scene, period
):
    sign_in(client, cast.director)
    percents = {f"percent_{level}": str(25 * level) for level in range(1, 5)}
    page = client.post(
        at("marks-policy", cast, period),
        {"policy": "mean", "conversion": "percents", **percents}, follow=True,
    ).content.decode()
    assert "Secure becomes 75" in page


def test_closing_from_the_page_a_change_with_its_reason_and_the_files(client, cast, scene, period):
    rate(cast.director, send(scene, cast.musician), ALL_THREE)
    sign_in(client, cast.director)
    assert "has changed since you opened this page" in close(client, cast, period, seen="old")
    assert "say that you have looked" in close(client, cast, period, looked="")
    page = close(client, cast, period)
    assert "Period 1 is closed." in page and "Closed on" in page and "Look at these" not in page
    one = at("marks-one", cast, period, cast.musician.pk)
    change = at("marks-change", cast, period, cast.musician.pk)
    said = client.post(change, {"to": "3.6", "why": ""}).content.decode()
    assert "needs a reason" in said and 'value="3.6"' in said
    said = client.post(change, {"to": "3.6", "why": "Concert"}, follow=True).content.decode()
    assert "from 3.00 Secure to 3.60 Extending" in said and "Concert" in said
    assert MarkChange.objects.count() == 1
    assert "was changed after closing" in client.get(one).content.decode()
    export = at("marks-export", cast, period)
    answer = client.post(export, {"form": "oneroster", "rows": "all"})
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert 'filename="results-concert-band-period-1.csv"' in answer["Content-Disposition"]
    assert answer.content.startswith(b"sourcedId,status,")
    again = client.post(export, {"form": "oneroster", "rows": "new"}).content.decode()
    assert "nothing has changed since the last file" in again
    assert MarkExport.objects.count() == 1
    policy = client.get(at("marks-policy", cast, period)).content.decode()
    assert "its policy stays as it was" in policy


def test_a_period_can_be_closed_beside_the_summary_too_and_a_closed_one_not_again(
    client, cast, scene, period
):
    rate(cast.director, send(scene, cast.musician), ALL_THREE)
    sign_in(client, cast.director)
    page = client.get(at("marks-period", cast, period)).content.decode()
    action = f'action="{at("marks-close", cast, period)}"'
    first, table, last = page.index(action), page.index("<table"), page.rindex(action)
    assert first < table < last
    assert page.count("I have looked at the questions") == 2
    assert action not in close(client, cast, period)


def test_pages_to_print_hold_everyone_and_no_form_to_change(client, cast, scene, period):
    rate(cast.director, send(scene, cast.musician), ALL_THREE)
    sign_in(client, cast.director)
    close(client, cast, period)
    assert PostedMark.objects.count() == 2
    page = client.get(at("marks-pages", cast, period)).content.decode()
    assert page.count('class="one-mark"') == 2
    assert "Change this mark" not in page and "How the mark comes about" in page


def test_the_open_table_comes_as_csv_with_a_name_that_says_it_is_not_closed(
    client, cast, scene, period
):
    sign_in(client, cast.director)
    answer = client.get(at("marks-file", cast, period))
    assert 'filename="marks-concert-band-period-1-not-closed.csv"' in answer["Content-Disposition"]
    assert answer.content.startswith(b"\xef\xbb\xbfroster_id,family_name,given_name")


def test_excuse_and_ask_again_from_the_musicians_page(client, cast, scene, period):
    sign_in(client, cast.director)
    address = excuse_address(scene, period, cast.musician)
    assert "excused" in client.post(address, {"excused": "yes"}, follow=True).content.decode()
    assert Turn.objects.get().excused
    client.post(address, {"excused": "no"})
    assert not Turn.objects.get().excused
    assert client.post(excuse_address(scene, period, cast.singer)).status_code == 404
    send(scene, cast.second_musician)
    late = excuse_address(scene, period, cast.second_musician)
    assert "sent already" in client.post(late, {"excused": "yes"}).content.decode()


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
