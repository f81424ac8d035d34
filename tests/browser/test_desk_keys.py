"""The Desk by keys alone: heard, rated, answered, next; and levels kept when it is left."""

import pytest

from standlight.programme.actions.desk import keep_line
from standlight.programme.models import Answer, GivenLevel
from tests.browser.conftest import DESK, until
from tests.browser.desk_takes import two_turns


@pytest.fixture
def turns(cast):
    """Two turns with sound: the clarinet's on notation, the snare's on paper."""
    both = two_turns(cast)
    keep_line(cast.director, criterion="intonation", place="next_step", level=2, text="Drone")
    return both


def open_desk(visitor):
    page = visitor.open(size=DESK).pages[0]
    visitor.sign_in_director(page)
    page.goto("/desk/")
    return page


def sound_of(page):
    return page.evaluate(
        "(() => { const s = document.querySelector('[data-sound]');"
        " return { paused: s.paused, at: s.currentTime }; })()"
    )


def test_a_take_is_heard_rated_answered_and_the_next_one_plays_by_keys_alone(
    visitor, cast, turns
):
    page = open_desk(visitor)
    if sound_of(page)["paused"]:
        page.keyboard.press("Space")
    until(page, lambda: sound_of(page)["at"] > 1.3)
    assert not sound_of(page)["paused"]
    page.keyboard.press("Space")
    assert sound_of(page)["paused"]
    for key in "1", "ArrowUp", "2", "3", "n":
        page.keyboard.press(key)
    assert page.locator(".reading").count() == 0
    page.keyboard.press("Enter")
    page.get_by_text("Measures 34 to 35: two entries early.").wait_for()
    assert page.locator(".wide-music .reading").count() > 0
    given = dict(GivenLevel.objects.values_list("criterion", "value"))
    assert given == {"intonation": "2", "rhythm": "3", "notes": "not_shown"}
    page.keyboard.press("a")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Theo Lindqvist").wait_for()
    assert page.url.split("?")[0].endswith(f"/{turns[1].pk}/")
    assert Answer.objects.get().next_step == "Drone"
    until(page, lambda: not sound_of(page)["paused"])


def test_levels_given_and_not_saved_are_kept_when_the_desk_is_left(visitor, cast, turns):
    page = open_desk(visitor)
    page.keyboard.press("4")
    page.goto("/today/")
    until(page, lambda: GivenLevel.objects.filter(value="4").exists())
    page.goto(f"/desk/{turns[0].check_row_id}/{turns[0].pk}/")
    assert page.locator("input[name=level-intonation]:checked").get_attribute("value") == "4"
    assert page.locator("[data-active] legend").inner_text() == "Rhythm"


def test_going_back_after_an_answer_shows_the_answered_take_ready_for_keys(visitor, cast, turns):
    page = open_desk(visitor)
    page.keyboard.press("2")
    page.keyboard.press("3")
    page.keyboard.press("3")
    page.keyboard.press("Enter")
    page.get_by_text("Your levels").wait_for()
    page.keyboard.press("a")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Theo Lindqvist").wait_for()
    page.go_back()
    page.get_by_role("heading", name="Mina Okafor").wait_for()
    page.get_by_text("Send changed answer").wait_for()
    page.keyboard.press("w")
    assert page.evaluate("document.activeElement.id") == "next_step"
