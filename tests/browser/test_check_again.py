"""Asking the same passage again on a phone: whole at its width, and no smaller than a thumb."""

from standlight.programme.models import PlayingCheck
from tests.browser.conftest import PHONE
from tests.programme.desk_scene import make_scene

TOUCH_PX = 44
"""WCAG 2.2, success criterion 2.5.5: a target of 44 by 44 CSS pixels."""


def test_on_a_phone_a_director_asks_the_same_passage_again(live_server, visitor, cast):
    check = make_scene(cast).check
    page = visitor.open(size=PHONE).pages[0]
    visitor.sign_in_director(page)
    page.goto(f"/checks/{check.pk}/")
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    button = page.get_by_role("button", name="Ask this passage again")
    for target in (button, page.locator("#again-on")):
        box = target.bounding_box()
        assert box["height"] >= TOUCH_PX and box["width"] >= TOUCH_PX
        assert box["x"] >= 0 and box["x"] + box["width"] <= PHONE["width"]
    button.click()
    page.get_by_role("heading", name="Lamp Tune check, again").wait_for()
    assert PlayingCheck.objects.exclude(pk=check.pk).get().published_at is None
    assert not visitor.slips
