"""Season on a phone and on a laptop: nothing runs out, work is dragged or moved by keyboard."""

import pytest

from standlight.programme.models import SeasonItem
from tests.browser.axe import violations
from tests.browser.conftest import DESK, PHONE, until
from tests.browser.test_tables_page import signed_in
from tests.programme.season_scene import drawn


@pytest.fixture
def year(cast):
    """The cast's year, with hours that some weeks are over."""
    return drawn(cast, minutes=5)


def looks_right(page, size):
    room, wide = page.evaluate("[innerWidth, document.scrollingElement.scrollWidth]")
    assert wide <= room, page.url
    assert violations(page) == (), page.url
    if size is PHONE:
        heights = page.eval_on_selector_all(
            "main button, main input:not([type=radio]):not([type=checkbox]):not([type=hidden]), "
            "main summary, main a.item",
            "all => all.filter(one => one.checkVisibility())"
            ".map(one => one.getBoundingClientRect().height)",
        )
        assert min(heights) >= 44, page.url  # visual.md: targets 44 px on phones


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "laptop"])
def test_the_year_its_calendar_and_a_piece_of_work_fit_the_screen(visitor, year, size):
    page = signed_in(visitor, size)
    for address in ("/season/", "/season/calendar/"):
        page.goto(address)
        looks_right(page, size)
    page.goto("/season/")
    for summary in page.locator("main summary").all():
        if summary.evaluate("one => !one.parentElement.open"):
            summary.click()
    looks_right(page, size)
    page.locator("a.item").first.click()
    page.wait_for_url("**/season/item/**")
    looks_right(page, size)


def test_a_piece_of_work_is_moved_by_keyboard_alone(visitor, year):
    page = signed_in(visitor, DESK)
    item = year.items.filter(key__endswith="/music/1").first()
    page.goto(f"/season/item/{item.pk}/")
    later = page.get_by_role("button", name="Later:")
    for _ in range(40):
        page.keyboard.press("Tab")
        if later.evaluate("one => one === document.activeElement"):
            break
    page.keyboard.press("Enter")
    page.get_by_text("Moved, and kept there.").wait_for()
    assert SeasonItem.objects.get(pk=item.pk).monday > item.monday


def test_dragging_tells_the_hours_before_letting_go_and_moves_after(visitor, year):
    page = signed_in(visitor, DESK)
    page.goto("/season/")
    item = year.items.filter(key__endswith="/music/1").first()
    link = page.locator(f"[data-item='{item.pk}']")
    link.scroll_into_view_if_needed()
    at = int(link.get_attribute("data-at"))
    minutes = int(link.get_attribute("data-minutes"))
    near = [int(week) for week in link.get_attribute("data-weeks").split() if int(week) != at]
    to = min(near, key=lambda week: abs(week - at))
    row = page.locator(f"tr[data-week='{to}']")
    before = int(row.get_attribute("data-minutes"))
    grip, place = link.bounding_box(), row.bounding_box()
    page.mouse.move(grip["x"] + 20, grip["y"] + 8)
    page.mouse.down()
    page.mouse.move(grip["x"] + 40, grip["y"] + 12, steps=4)
    page.mouse.move(place["x"] + 60, place["y"] + place["height"] / 2, steps=10)
    hours = -(-(before + minutes) // 6) / 10
    until(page, lambda: row.locator("[data-hours]").inner_text().startswith(f"{hours:g} of "))
    assert "here" in row.get_attribute("class")
    page.mouse.up()
    page.get_by_text("Moved, and kept there.").wait_for()
    moved = SeasonItem.objects.get(pk=item.pk)
    assert (moved.monday - item.monday).days == 7 * (to - at)
    assert moved.pinned
