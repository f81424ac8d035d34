"""The sound at the Desk in a real browser: loops, speed, another take, the next take beforehand."""

import pytest

from standlight.programme.actions.desk import keep_line
from standlight.programme.models import TakeStart
from tests.browser.conftest import until
from tests.browser.desk_takes import give_sound
from tests.browser.test_desk_keys import open_desk
from tests.programme.desk_scene import make_scene, more_clarinets, note, read, send

QUARTERS = [0, 1, 2, 3, 4, 6, 8, 9, 10, 11, 12]


@pytest.fixture
def turns(cast):
    """Three clarinettists with sound; the first has sent twice, at two tempos."""
    scene = make_scene(cast, notation=True)
    before = send(scene, cast.musician)
    first = send(scene, cast.musician, attempt=2)
    others = [send(scene, person) for person in more_clarinets(scene, 2)]
    give_sound(first_note_s=0.5)
    read(before, notes=[note(n, onset_s=0.5 + q / 2) for n, q in enumerate(QUARTERS)])
    read(first, notes=[note(n, onset_s=0.4 + q / 4) for n, q in enumerate(QUARTERS)])
    keep_line(cast.director, criterion="intonation", place="next_step", level=2, text="Drone")
    return first, *others


def sound(page, which="sound"):
    return page.evaluate(
        f"(() => {{ const s = document.querySelector('[data-{which}]');"
        " return { paused: s.paused, at: s.currentTime, rate: s.playbackRate,"
        " pitch: s.preservesPitch, src: s.src, address: s.dataset.address }; })()"
    )


def heard_for(page, seconds, which="sound"):
    """Where the sound was, ten times a second."""
    return [
        (page.wait_for_timeout(100), sound(page, which)["at"])[1] for _ in range(int(seconds * 10))
    ]


def test_a_measure_pressed_on_the_music_goes_round_and_a_second_press_ends_it(visitor, turns):
    page = open_desk(visitor)
    box = page.locator(".wide-music g.measure").nth(1).bounding_box()
    spot = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.click(*spot)
    assert page.locator("[data-loop-measure]").input_value() == "1"
    until(page, lambda: not sound(page)["paused"])
    places = heard_for(page, 3)
    assert min(places) > 1.2
    assert max(places) < 2.6  # measure 2 sounds from 1.4 to 2.4 s
    assert any(later < sooner for sooner, later in zip(places, places[1:], strict=False))
    assert page.locator(".wide-music .looped").count() == 1
    page.mouse.click(*spot)
    assert page.locator(".looped").count() == 0
    until(page, lambda: sound(page)["at"] > 2.8)


def test_the_speed_changes_by_keys_keeps_the_pitch_and_stays_for_the_next_take(visitor, turns):
    page = open_desk(visitor)
    page.keyboard.press(",")
    page.keyboard.press(",")
    page.keyboard.press(",")
    assert (sound(page)["rate"], sound(page)["pitch"]) == (0.75, True)
    page.get_by_role("link", name="Next, leave this for later").click()
    page.wait_for_url(f"**/{turns[1].pk}/**")
    until(page, lambda: sound(page)["rate"] == 0.75)
    for _ in range(4):
        page.keyboard.press(".")
    assert sound(page)["rate"] == 1.25


def test_the_other_take_goes_on_at_the_same_measure(visitor, turns):
    page = open_desk(visitor)
    for _ in range(3):
        page.keyboard.press("]")
    assert page.locator("[data-loop-measure]").input_value() == "2"
    page.keyboard.press("e")
    until(page, lambda: not sound(page, "earlier-sound")["paused"])
    assert sound(page)["paused"]
    places = heard_for(page, 2.5, "earlier-sound")
    assert min(places) > 4.3
    assert max(places) < 6.8  # there measure 3 sounds from 4.5 to 6.5 s
    page.get_by_role("button", name="Back to this take").click()
    until(page, lambda: not sound(page)["paused"])
    assert sound(page, "earlier-sound")["paused"]


def test_the_next_take_is_there_before_it_is_asked_for_and_plays_on_while_its_page_comes(
    visitor, turns
):
    page = open_desk(visitor)
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    for key in "2", "3", "3", "Enter":
        page.keyboard.press(key)
    page.get_by_text("Your levels").wait_for()
    page.keyboard.press("a")
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/{turns[1].pk}/**")
    until(page, lambda: not sound(page)["paused"])
    now = sound(page)
    assert now["src"].startswith("blob:")
    assert str(turns[1].takes.get().key) in now["address"]
    until(page, lambda: sound(page)["at"] > 1.5)
    assert page.locator("[data-sound]").count() == 1


def test_a_start_set_on_the_page_is_kept(visitor, turns):
    page = open_desk(visitor)
    page.locator(".player summary").click()
    page.fill("#take-start", "3.5")
    page.get_by_role("button", name="Keep", exact=True).click()
    until(page, lambda: TakeStart.objects.filter(seconds=3.5).exists())
    until(page, lambda: sound(page)["at"] >= 3.5)
    page.reload()
    assert page.locator("[data-sound]").get_attribute("data-start") == "3.5"
