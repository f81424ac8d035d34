"""Growth, Raters and the figures' page in a browser: nobody is shut out, nothing runs out."""

import pytest

from tests.browser.axe import violations
from tests.browser.conftest import DESK, PHONE
from tests.browser.test_tables_page import signed_in
from tests.programme.desk_scene import make_scene
from tests.programme.study_scene import grow, line, own_view
from tests.web.test_raters import rate_all, whole_study


@pytest.fixture
def study(cast):
    """A study with every part, and growth of the clarinettist across a change of instrument."""
    scene = make_scene(cast)
    rate_all(scene, cast.director, cast.second_director)
    made = whole_study(cast, scene)
    lines = [
        line(cast.musician, 2, 3, 3), line(cast.musician, 2, 2, 3, criterion="rhythm"),
        line(cast.musician, 1, 2, 2, start=120.5, instrument="Baritone saxophone",
             state="could_be_chance", because="pooled_only"),
    ]  # fmt: skip
    grow(made, cast.musician, cast.band, *lines, self_views=[own_view(cast.musician, "kinder")])
    return made


def opened(page, address):
    """The page with everything that unfolds unfolded."""
    page.goto(address)
    page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")


def fits(page):
    room, wide = page.evaluate("[innerWidth, document.scrollingElement.scrollWidth]")
    return wide <= room


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "laptop"])
def test_a_directors_pages_of_growth_and_raters(visitor, cast, study, size):
    page = signed_in(visitor, size)
    addresses = (
        "/raters/", "/raters/tasks/", "/raters/twice/", "/figures/", "/musicians/",
        f"/musicians/{cast.musician.pk}/",
    )  # fmt: skip
    for address in addresses:
        opened(page, address)
        assert fits(page), address
        assert violations(page) == (), address


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "laptop"])
def test_a_musicians_own_growth(visitor, cast, study, size):
    page = visitor.open(size=size).new_page()
    visitor.sign_in(page, cast.musician)
    page.get_by_role("link", name="My growth").click()
    opened(page, "/my/growth/")
    assert fits(page)
    assert violations(page) == ()
    words = page.locator(".growth-picture").first.locator("text")
    heights = words.evaluate_all("all => all.map(one => one.getBoundingClientRect().height)")
    assert min(heights) >= 11  # words of a picture are no smaller than small print
    right = page.locator(".growth-picture").first.evaluate(
        "one => one.getBoundingClientRect().right"
    )
    ends = words.evaluate_all("all => all.map(one => one.getBoundingClientRect().right)")
    assert max(ends) <= right + 1


def test_names_and_their_marks_vanish_together_at_a_key(visitor, cast, study):
    page = signed_in(visitor, DESK)
    page.goto("/musicians/")
    mark = page.locator("svg.slope")
    assert mark.count() == 1 and mark.first.is_visible()
    page.keyboard.press("h")
    assert not mark.first.is_visible()
    assert not page.get_by_text("The line beside a name is growth").is_visible()
