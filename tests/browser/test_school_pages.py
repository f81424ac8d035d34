"""The school's page, all writing and the class's screen: they fit, axe is content, keys work."""

import pytest

from standlight.programme.models import Remark
from tests.browser.axe import violations
from tests.browser.conftest import DESK, PHONE
from tests.browser.test_reading import signed_in
from tests.programme.sheet_scene import give, ode


@pytest.fixture
def remarks(cast):
    return give(cast, "rehearsal_remark", piece_pk=ode(cast).pk)


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_pages_fit_their_width_and_axe_finds_nothing(visitor, cast, remarks, size):
    page = signed_in(visitor, size)
    addresses = (
        "/musicians/school/", "/musicians/writing/", f"/work/{remarks.pk}/screen/",
        f"/musicians/{cast.musician.pk}/",
    )  # fmt: skip
    for address in addresses:
        page.goto(address)
        assert violations(page) == (), address
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= size["width"], address


def test_a_spot_is_three_presses_on_the_classs_screen(visitor, cast, remarks):
    page = signed_in(visitor)
    page.goto(f"/work/{remarks.pk}/screen/")
    page.get_by_role("button", name="3", exact=True).click()
    page.get_by_role("button", name="4", exact=True).click()
    page.get_by_role("button", name="Wrong notes").click()
    page.get_by_text("Measure 34: Wrong notes.").wait_for()
    assert Remark.objects.get().words == "Wrong notes"
