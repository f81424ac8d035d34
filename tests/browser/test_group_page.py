"""The whole group's page at the width of a phone and of a laptop: nothing runs out of it."""

import pytest

from standlight.programme.actions.desk import rate
from tests.browser.conftest import DESK, PHONE
from tests.browser.test_tables_page import signed_in
from tests.programme.desk_scene import ALL_THREE, make_scene, more_clarinets, note, read, send


@pytest.fixture
def check(cast):
    """Eight clarinets, some late in measure 2, some flat in measure 3, one take short of a note."""
    scene = make_scene(cast, notation=True)
    for number, person in enumerate(more_clarinets(scene, 8)):
        notes = [
            note(
                index,
                asynchrony_ms=80.0 if index in (4, 5) and number < 6 else 0.0,
                deviation_cents=-40.0 if index == 6 and number % 3 == 0 else 0.0,
                outcome="missing" if index == 10 and number == 1 else "played",
            )
            for index in range(11)
        ]
        turn = send(scene, person)
        read(turn, notes=notes)
        rate(cast.director, turn, ALL_THREE)
    return scene.check


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "laptop"])
def test_nothing_runs_out_of_the_page_and_the_words_say_what_the_strip_shows(
    visitor, check, size
):
    page = signed_in(visitor, size)
    page.goto(f"/desk/{check.pk}/group/")
    room, wide = page.evaluate("[innerWidth, document.scrollingElement.scrollWidth]")
    assert wide <= room
    cells = page.locator("tr", has_text="Rhythm").locator("td").all_inner_texts()
    assert cells == ["·", "6", "·", "·"]
    page.get_by_text("The same in words").click()
    assert page.get_by_text("measure 2: 6 of 8").is_visible()
    heights = page.eval_on_selector_all("summary", "all => all.map(one => one.clientHeight)")
    assert min(heights) >= (44 if size is PHONE else 24)  # visual.md: targets 44 px on phones
