"""Marks on a phone and on a laptop: nothing runs out, a mark opens, a period closes."""

import datetime

import pytest
from django.utils import timezone

from standlight.programme.actions.desk import rate
from standlight.programme.models import MarkingPeriod
from tests.browser.axe import violations
from tests.browser.conftest import DESK, PHONE
from tests.browser.test_tables_page import signed_in
from tests.programme.desk_scene import ALL_THREE, make_scene, more_clarinets, send


@pytest.fixture
def period(cast):
    """A band of eleven: nine rated, two missing."""
    scene = make_scene(cast, days_to_due=-1)
    for number, person in enumerate(more_clarinets(scene, 9)):
        rate(cast.director, send(scene, person), {**ALL_THREE, "notes": str(1 + number % 4)})
    today = timezone.localdate()
    return MarkingPeriod.objects.create(
        programme=cast.programme, name="Period 1", starts_on=today - datetime.timedelta(40),
        ends_on=today,
    )


def looks_right(page, size):
    room, wide = page.evaluate("[innerWidth, document.scrollingElement.scrollWidth]")
    assert wide <= room, page.url
    assert violations(page) == (), page.url
    if size is PHONE:
        heights = page.eval_on_selector_all(
            "main button, main input:not([type=radio]):not([type=checkbox]):not([type=hidden]), "
            "main summary",
            "all => all.filter(one => one.checkVisibility())"
            ".map(one => one.getBoundingClientRect().height)",
        )
        assert min(heights) >= 44, page.url  # visual.md: targets 44 px on phones


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "laptop"])
def test_a_period_is_looked_at_closed_and_a_mark_changed(visitor, cast, period, size):
    page = signed_in(visitor, size)
    table = f"/marks/{cast.band.pk}/{period.pk}/"
    page.goto(table)
    looks_right(page, size)
    mark = page.locator("table.marks details").nth(2)
    mark.locator("summary").click()
    assert mark.get_by_text("In each criterion all levels count the same").is_visible()
    right = mark.locator(".reason").evaluate("one => one.getBoundingClientRect().right")
    assert right <= page.evaluate("innerWidth")
    page.goto(f"{table}policy/")
    looks_right(page, size)
    page.get_by_label("The best few count").check()
    page.get_by_role("button", name="Use this and look at the marks").click()
    assert page.get_by_text("The marks below follow the new policy.").is_visible()
    page.get_by_label("I have looked at the questions above").check()
    page.get_by_role("button", name="Close Period 1").click()
    assert page.get_by_text("Period 1 is closed.").is_visible()
    looks_right(page, size)
    page.locator("table.marks details summary").first.click()
    page.get_by_role("link", name="The whole page, to print").first.click()
    page.get_by_label("New mark, from 1 to 4").wait_for()
    looks_right(page, size)
    page.get_by_label("New mark, from 1 to 4").fill("3.5")
    page.get_by_label("Why").fill("Heard live.")
    page.get_by_role("button", name="Change the mark").click()
    assert page.get_by_text("the change is kept with its reason").is_visible()
    page.goto(table)
    with page.expect_download() as made:
        page.get_by_role("button", name="Make the whole file").last.click()
    assert made.value.suggested_filename == "results-concert-band-period-1.csv"


def test_on_a_phone_today_leads_to_marks_and_out(cast, visitor):
    """The bar of a phone holds four places; nobody may be locked in or out by it."""
    page = visitor.open("director", size=PHONE).new_page()
    visitor.sign_in_director(page)
    page.goto("/today/")
    page.get_by_role("main").get_by_role("link", name="Marks").click()
    page.wait_for_url("**/marks/**")
    page.goto("/today/")
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/**")
    assert page.get_by_label("Password").or_(page.get_by_label("PIN")).first.is_visible()
