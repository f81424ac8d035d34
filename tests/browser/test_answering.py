"""An answer by keys: a line on its measures, a few spoken seconds; the musician hears it."""

import os

import pytest

from standlight.programme.actions.desk import keep_line, rate
from standlight.programme.models import Answer, KeptAnswer, MusicianPlan
from tests.browser.axe import violations
from tests.browser.conftest import DESK, PHONE, until
from tests.browser.desk_takes import two_turns
from tests.programme.desk_scene import ALL_THREE

SHOTS = os.environ.get("STANDLIGHT_SHOTS", "")
"""A folder for pictures of the pages, for whoever wants to look at them."""


def shoot(page, name):
    if SHOTS:
        page.screenshot(path=f"{SHOTS}/{name}.png", full_page=True)


@pytest.fixture
def turns(cast):
    """Two sent takes with sound, levels on the first, and a bank with a fill-in."""
    both = two_turns(cast)
    for place, level, criterion, text in (
        ("next_step", 2, "intonation", "{measures}: sing each note before you play it."),
        ("next_step", None, "intonation", "Listen down to the low clarinets."),
        ("next_step", 3, "rhythm", "Count the rests aloud."),
        ("next_step", None, "rhythm", "Tap your foot at {tempo}."),
        ("strategy", 2, "intonation", "Long tones with a drone, {measures}."),
        ("strength", 4, "notes", "{name}, every note is there."),
    ):
        keep_line(cast.director, criterion=criterion, place=place, level=level, text=text)
    return both


def no_sideways(page):
    return page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_a_line_follows_its_measures_and_what_is_spoken_reaches_the_musician(
    visitor, cast, turns
):
    rate(cast.director, turns[0], ALL_THREE)
    page = visitor.open(size=DESK).pages[0]
    visitor.sign_in_director(page)
    page.goto(f"/desk/{turns[0].check_row_id}/{turns[0].pk}/")
    page.get_by_role("heading", name="Answer").wait_for()
    shoot(page, "desk-answer-1280")
    page.keyboard.press("a")
    step = page.locator("#next_step")
    assert step.input_value() == "Measures 33 to 36: sing each note before you play it."
    page.select_option("#answer-first", label="34")
    assert step.input_value() == "Measure 34: sing each note before you play it."
    step.fill("Sing first.")
    page.select_option("#answer-last", label="36")
    assert step.input_value() == "Sing first."
    page.locator("#answer-last").blur()
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("v")
    page.get_by_text("s left.").wait_for()
    page.wait_for_timeout(1500)
    page.keyboard.press("v")
    page.get_by_text("Recorded. It goes with the answer.").wait_for()
    shoot(page, "desk-voice-1280")
    assert not violations(page)
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Theo Lindqvist").wait_for()
    sent = Answer.objects.get()
    assert (sent.next_step, sent.first_measure, sent.last_measure) == ("Sing first.", 1, 3)
    assert 0.8 < sent.voice.seconds < 10
    phone = visitor.open("phone", size=PHONE).pages[0]
    visitor.sign_in(phone, cast.musician)
    phone.goto(f"/my/came-back/{turns[0].pk}/")
    until(phone, lambda: phone.evaluate("document.querySelector('audio').duration") > 0.5)
    assert phone.locator(".passage .narrow-music .measure").count() == 4
    assert phone.locator(".passage .narrow-music .measure.beside").count() == 1
    shoot(phone, "came-back-390")
    assert no_sideways(phone)
    assert not violations(phone)
    phone.locator("#line1").fill("Sing it in the shower")
    phone.get_by_role("button", name="Keep my plan").click()
    phone.get_by_text("Your plan is kept.").wait_for()
    assert MusicianPlan.objects.get().lines == ["Sing it in the shower"]
    phone.set_viewport_size(DESK)
    shoot(phone, "came-back-1280")


def test_what_is_kept_by_enter_through_an_evening_goes_out_together(visitor, cast, turns):
    for turn in turns:
        rate(cast.director, turn, ALL_THREE)
    page = visitor.open(size=PHONE).pages[0]
    visitor.sign_in_director(page)
    page.goto(f"/desk/{turns[0].check_row_id}/order/")
    page.get_by_role("button", name="Keep all answers from now on").click()
    page.goto(f"/desk/{turns[0].check_row_id}/order/")
    page.get_by_role("button", name="Send each answer at once again").wait_for()
    page.goto(f"/desk/{turns[0].check_row_id}/{turns[0].pk}/")
    shoot(page, "desk-answer-390")
    assert no_sideways(page)
    page.keyboard.press("a")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Theo Lindqvist").wait_for()
    until(page, lambda: KeptAnswer.objects.count() == 1)
    assert not Answer.objects.exists()
    page.keyboard.press("a")
    page.keyboard.press("Enter")
    page.get_by_text("2 answers kept, not sent").wait_for()
    page.goto(f"/desk/{turns[0].check_row_id}/{turns[0].pk}/")
    page.locator("#next_step").fill("This one cannot wait.")
    page.get_by_role("button", name="Send this one now").click()
    page.get_by_role("link", name="1 answer kept, not sent").wait_for()
    assert Answer.objects.get().next_step == "This one cannot wait."
    page.get_by_role("link", name="1 answer kept, not sent").click()
    page.get_by_role("heading", name="Kept answers").wait_for()
    shoot(page, "kept-390")
    assert no_sideways(page)
    assert not violations(page)
    page.get_by_role("button", name="Send the ticked answers").first.click()
    page.get_by_text("1 answer is sent.").wait_for()
    assert Answer.objects.count() == 2
    assert not KeptAnswer.objects.exists()
