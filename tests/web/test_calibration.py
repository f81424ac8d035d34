"""The pages of anchor takes and calibration: who may, what they hide, what they tell."""

import pytest
from django.urls import reverse

from standlight.programme.actions.calibration import agree_on, begin_calibration
from standlight.programme.actions.desk import rate
from standlight.programme.models import AnchorTake, Calibration
from tests.programme.desk_scene import ALL_THREE, more_clarinets, send
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db

FORM = {f"level-{key}": value for key, value in ALL_THREE.items()}
WHY = "The long notes end early."


@pytest.fixture
def turns(scene, cast):
    turns = [send(scene, one) for one in (cast.musician, *more_clarinets(scene, 2))]
    for turn in turns:
        rate(cast.director, turn, ALL_THREE)
    return turns


def test_every_page_is_for_the_directors_of_the_group_and_a_calibration_for_its_own(
    client, cast, scene, turns
):
    agree_on(cast.director, turns[0], ALL_THREE, WHY)
    begun = begin_calibration(cast.second_director, scene.check)
    pages = [
        reverse("anchors", args=[scene.check.pk]),
        reverse("anchor", args=[scene.check.pk, turns[0].pk]),
        reverse("calibration", args=[scene.check.pk]),
    ]
    own = [
        reverse("calibration-hear", args=[begun.pk, 1]),
        reverse("calibration-near", args=[begun.pk]),
    ]
    drop = reverse("anchor-drop", args=[scene.check.pk, turns[0].pk])
    for account in (cast.musician.account, cast.outsider_director, cast.outsider_musician.account):
        sign_in(client, account)
        assert {client.get(page).status_code for page in pages + own} == {404}
        assert {client.post(page, FORM).status_code for page in (*pages[1:], own[0], drop)} == {404}
    sign_in(client, cast.director)
    assert {client.get(page).status_code for page in pages} == {200}
    assert {client.get(page).status_code for page in own} == {404}
    assert AnchorTake.objects.count() == 1
    client.logout()
    assert {client.get(page).status_code for page in pages + own} == {302}


def test_a_take_becomes_an_anchor_and_a_plain_take_again(client, cast, scene, turns):
    sign_in(client, cast.director)
    address = reverse("anchor", args=[scene.check.pk, turns[0].pk])
    assert "Dana Whitlock: Intonation developing" in client.get(address).content.decode()
    slip = client.post(address, {**FORM, "reason": ""}).content.decode()
    assert "say what one hears" in slip
    page = client.post(address, {**FORM, "reason": WHY}, follow=True).content.decode()
    assert WHY in page
    assert WHY in client.get(address).content.decode()
    client.post(reverse("anchor-drop", args=[scene.check.pk, turns[0].pk]))
    assert not AnchorTake.objects.exists()


def test_others_levels_are_not_shown_to_agree_on_before_ones_own(client, cast, scene, turns):
    sign_in(client, cast.second_director)
    address = reverse("anchor", args=[scene.check.pk, turns[0].pk])
    page = client.get(address).content.decode()
    assert "your own levels at the Desk" in page
    assert "Dana Whitlock:" not in page
    assert client.post(address, {**FORM, "reason": WHY}).status_code == 200
    assert not AnchorTake.objects.exists()


def test_anchor_takes_are_heard_without_name_level_or_reason_until_the_end(
    client, cast, scene, turns
):
    for turn in turns:
        agree_on(cast.director, turn, ALL_THREE, WHY)
    sign_in(client, cast.second_director)
    answer = client.post(reverse("calibration", args=[scene.check.pk]))
    begun = Calibration.objects.get()
    hidden = [WHY, *(turn.musician.family_name for turn in turns), " checked"]
    for place in (1, 2, 3):
        assert answer.url == reverse("calibration-hear", args=[begun.pk, place])
        page = client.get(answer.url).content.decode()
        assert f"Anchor take {place} of 3" in page
        assert not [word for word in hidden if word in page]
        near = client.get(reverse("calibration-near", args=[begun.pk]))
        assert near.status_code == 302
        missing = client.post(answer.url, {"level-rhythm": "2"}).content.decode()
        assert "a level is missing" in missing
        assert 'value="2" data-key="2" checked' in missing
        answer = client.post(answer.url, {**FORM, "level-rhythm": "2"})
    page = client.get(answer.url).content.decode()
    assert "6 of 9 levels came out as agreed" in page
    assert "you gave developing, agreed was secure" in page
    assert WHY in page


def test_the_raters_page_tells_the_last_calibration_and_leads_to_other_ears(
    client, cast, scene, turns
):
    sign_in(client, cast.director)
    before = client.get(reverse("raters")).content.decode()
    assert "Calibration of" not in before
    assert reverse("anchors", args=[scene.check.pk]) in before
    assert reverse("guests") in before
    agree_on(cast.director, turns[0], ALL_THREE, WHY)
    client.post(reverse("calibration", args=[scene.check.pk]))
    client.post(reverse("calibration-hear", args=[Calibration.objects.get().pk, 1]), FORM)
    after = client.get(reverse("raters")).content.decode()
    assert "3 of 3 levels as agreed" in after
    sign_in(client, cast.second_director)
    assert "levels as agreed" not in client.get(reverse("raters")).content.decode()


def test_without_an_anchor_the_page_says_what_to_do(client, cast, scene, turns):
    sign_in(client, cast.director)
    page = client.get(reverse("calibration", args=[scene.check.pk])).content.decode()
    assert "No take of this group has agreed levels yet." in page
    said = client.post(reverse("calibration", args=[scene.check.pk])).content.decode()
    assert "there is no anchor take yet" in said
