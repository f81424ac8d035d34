"""The Desk's order, codes for names, the break and the start of a take: pages and posts."""

import datetime

import pytest
from django.urls import reverse
from django.utils import timezone

from standlight.programme.actions.sitting import choose_order, went_on
from standlight.programme.models import DeskSitting, GivenLevel, SecondHearing, TakeStart
from standlight.programme.queries.desk_orders import code_of
from tests.programme.desk_scene import ALL_THREE, more_clarinets, send
from tests.programme.test_desk_orders import evening  # noqa: F401
from tests.web.scene import of_turn, sign_in
from tests.web.test_desk import levels, shut_out

pytestmark = pytest.mark.django_db


def addresses(turn):
    check = turn.check_row_id
    return [
        ("get", reverse("desk-order", args=[check])),
        ("post", reverse("desk-order", args=[check])),
        ("post", reverse("desk-rested", args=[check])),
        ("post", reverse("take-start", args=[turn.takes.get().key])),
    ]


def test_the_pages_of_a_sitting_are_shut_to_everyone_but_the_bands_directors(client, cast, turn):
    for method, address in addresses(turn):
        client.logout()
        assert getattr(client, method)(address).status_code == 302
        for account in shut_out(cast):
            sign_in(client, account)
            assert getattr(client, method)(address).status_code == 404, (account, address)
    assert not DeskSitting.objects.exists()
    assert not TakeStart.objects.exists()


def test_an_order_is_chosen_by_a_form_and_the_next_take_is_shown(client, cast, turn):
    sign_in(client, cast.director)
    address = reverse("desk-order", args=[turn.check_row_id])
    assert "One criterion at a time" in client.get(address).content.decode()
    sent = client.post(address, {"order": "criterion", "names": "codes"}, follow=True)
    row = DeskSitting.objects.get()
    assert (row.order, row.blind, row.account) == ("criterion", True, cast.director)
    assert sent.redirect_chain[-1][0] == of_turn("desk-turn", turn) + f"?s={row.pk}"
    page = sent.content.decode()
    assert page.count("<fieldset class=\"criterion\"") == 1
    assert code_of(row.seed, turn.musician_id) in page
    bad = client.post(address, {"order": "loudest"}).content.decode()
    assert "no order of takes" in bad


@pytest.mark.parametrize("rated", [False, True])
def test_with_codes_the_whole_page_and_its_title_hold_no_name(client, cast, scene, turn, rated):
    choose_order(cast.director, scene.check, order="shuffled", blind=True)
    sign_in(client, cast.director)
    if rated:
        client.post(of_turn("desk-levels", turn), levels(**ALL_THREE))
    page = client.get(of_turn("desk-turn", turn)).content.decode()
    assert ("Your levels" in page) == rated
    for name in (cast.musician.given_name, cast.musician.family_name, cast.musician.roster_id):
        assert f">{name}" not in page
        assert f" {name}" not in page


def test_one_criterion_at_a_time_moves_on_after_each_level(client, cast, scene, turn):
    other = send(scene, more_clarinets(scene, 1)[0])
    row = choose_order(cast.director, scene.check, order="criterion", blind=False)
    sign_in(client, cast.director)
    seen = []
    where = client.get(reverse("desk-check", args=[scene.check.pk])).url
    for criterion in scene.check.criteria:
        for _ in range(2):
            pk = int(where.split("?")[0].split("/")[-2])
            seen.append(pk)
            # A level for another row than the one that is asked is not taken.
            sent = {f"level-{key}": "2" for key in scene.check.criteria}
            where = client.post(
                reverse("desk-levels", args=[scene.check.pk, pk]) + f"?s={row.pk}", sent
            ).url
            assert set(
                GivenLevel.objects.filter(turn=pk).values_list("criterion", flat=True)
            ) == set(scene.check.criteria[: scene.check.criteria.index(criterion) + 1])
    assert sorted(seen) == sorted([turn.pk, other.pk] * 3)
    assert "Your levels" in client.get(where).content.decode()


def test_the_break_is_proposed_in_the_foot_and_put_aside(client, cast, scene, turn):
    went_on(cast.director, scene.check)
    now = timezone.now()
    DeskSitting.objects.update(rested_at=now - datetime.timedelta(minutes=31), last_at=now)
    sign_in(client, cast.director)
    assert "31 minutes without a break" in client.get(of_turn("desk-turn", turn)).content.decode()
    client.post(reverse("desk-rested", args=[scene.check.pk]))
    assert "without a break" not in client.get(of_turn("desk-turn", turn)).content.decode()


def test_where_a_take_begins_is_kept_and_what_is_no_second_is_not(client, cast, turn):
    sign_in(client, cast.director)
    address = reverse("take-start", args=[turn.takes.get().key])
    assert client.post(address, {"seconds": "here"}).status_code == 302
    assert client.post(address, {"seconds": "nan"}).status_code == 422
    assert client.post(address, {"seconds": "99"}).status_code == 422
    assert not TakeStart.objects.exists()
    client.post(address, {"seconds": "2.5"})
    assert 'data-start="2.5"' in client.get(of_turn("desk-turn", turn)).content.decode()


def test_a_repeat_looks_like_any_take_and_is_told_only_afterwards(
    client, cast, scene, evening  # noqa: F811
):
    row = choose_order(cast.director, scene.check, order="section", blind=False)
    again = next(turn for turn in evening if turn.pk == row.again[0][0])
    sign_in(client, cast.director)
    address = of_turn("desk-turn", again) + f"?s={row.pk}"
    page = client.get(address).content.decode()
    assert "checked" not in page
    for word in ("Your levels", "answered", "again", "second time"):
        assert word not in page
    sent = client.post(
        of_turn("desk-levels", again) + f"?s={row.pk}", levels(**ALL_THREE), follow=True
    )
    assert SecondHearing.objects.get().turn == again
    assert "a second time" in sent.content.decode()
    assert sent.content.decode().index("a second time") > sent.content.decode().index('id="desk"')


def test_every_address_of_a_sitting_has_the_same_shape(client, cast, scene, evening):  # noqa: F811
    row = choose_order(cast.director, scene.check, order="section", blind=False)
    sign_in(client, cast.director)
    first = client.get(reverse("desk-check", args=[scene.check.pk]))
    page = client.get(first.url).content.decode()
    assert first.url.endswith(f"?s={row.pk}")
    assert page.count(f"?s={row.pk}") >= 3
