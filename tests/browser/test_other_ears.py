"""A guest's pages and calibration in a browser: by keys, on a phone, and nobody shut out."""

import pytest
from django.urls import reverse

from standlight.programme import store
from standlight.programme.actions.calibration import agree_on
from standlight.programme.actions.desk import rate
from standlight.programme.actions.guests import ask_guest, token_of
from standlight.programme.models import Calibration, GuestLevel
from tests.browser.axe import violations
from tests.browser.conftest import DESK, PHONE
from tests.browser.test_growth_pages import fits
from tests.browser.test_tables_page import signed_in
from tests.programme.desk_scene import ALL_THREE, make_scene, more_clarinets, send
from tests.web.scene import wav


@pytest.fixture
def turns(cast):
    scene = make_scene(cast, notation=True)
    turns = [send(scene, one) for one in (cast.musician, *more_clarinets(scene, 1))]
    digest = store.keep(wav())
    for turn in turns:
        turn.takes.update(playback_digest=digest)
        rate(cast.director, turn, ALL_THREE)
        agree_on(cast.director, turn, ALL_THREE, "The long notes end early.")
    return turns


def looked_at(page, address):
    page.goto(address)
    page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
    assert fits(page), address
    assert violations(page) == (), address


def three_levels(page):
    for key in ("2", "n", "4"):
        page.keyboard.press(key)
    with page.expect_navigation():
        page.keyboard.press("Enter")


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "laptop"])
def test_a_guest_hears_and_rates_by_keys_on_pages_that_shut_nobody_out(
    visitor, cast, turns, size
):
    check = turns[0].check_row
    link = ask_guest(cast.director, check, [turn.pk for turn in turns], label="Guest", days=3)
    first = reverse("guest", args=[token_of(link)])
    page = visitor.open(size=size).new_page()
    looked_at(page, first)
    looked_at(page, f"{first}1/")
    three_levels(page)
    assert page.url.endswith(f"{first}2/")
    three_levels(page)
    assert page.url.endswith(first)
    assert "All done" in page.inner_text("main")
    given = GuestLevel.objects.order_by("pk").values_list("value", flat=True)
    assert list(given) == ["2", "not_shown", "4"] * 2


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "laptop"])
def test_a_director_calibrates_by_keys_on_pages_that_shut_nobody_out(visitor, cast, turns, size):
    check = turns[0].check_row
    link = ask_guest(cast.director, check, [turns[0].pk], label="Guest", days=3)
    page = signed_in(visitor, size)
    for name, args in (
        ("raters", []), ("guests", []), ("guest-ask", [check.pk]), ("guest-link", [link.pk]),
        ("anchors", [check.pk]), ("anchor", [check.pk, turns[0].pk]), ("calibration", [check.pk]),
    ):  # fmt: skip
        looked_at(page, reverse(name, args=args))
    page.get_by_role("button", name="Begin").click()
    page.wait_for_url("**/calibration/of/*/1/")
    looked_at(page, page.url)
    three_levels(page)
    three_levels(page)
    done = Calibration.objects.get()
    assert done.done_at is not None
    looked_at(page, reverse("calibration-near", args=[done.pk]))
    assert "4 of 4 levels came out as agreed" in page.inner_text("main")
