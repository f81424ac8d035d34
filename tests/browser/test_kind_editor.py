"""A director makes a kind in the browser and gives it out; a musician fills it in, with no code."""

import pytest

from standlight.kinds import KINDS
from standlight.programme.models import Assignment, KindEdition
from standlight.programme.queries.kinds import kind_in
from tests.browser.axe import violations
from tests.browser.conftest import DESK, PHONE, until

TOUCH_PX = 44


def director(visitor, size):
    page = visitor.open("director", size=size).new_page()
    visitor.sign_in_director(page)
    return page


def fits(page):
    """Nothing runs out of the page sideways, and axe finds nothing."""
    room, wide = page.evaluate("[innerWidth, document.scrollingElement.scrollWidth]")
    assert wide <= room, page.url
    assert violations(page) == (), page.url


def make_sound_walk(page):
    """Type a kind from nothing: two questions, the second of them a choice of answers."""
    page.goto("/work/kinds/")
    page.get_by_role("link", name="Make a new kind").click()
    page.get_by_label("Name", exact=True).fill("Sound walk")
    page.get_by_label("What is it for?").fill("Walk and listen. Then tell us.")
    page.get_by_label("When in the year").select_option(label="Listening and judging")
    page.get_by_label("Question 1", exact=True).fill("What did you hear first?")
    page.get_by_role("button", name="Add a question").click()
    second = page.get_by_label("Question 2", exact=True)
    until(page, lambda: second.evaluate("one => one === document.activeElement"))
    page.keyboard.type("How loud was it?")
    page.locator("[id='s1.q2.type']").select_option(label="One of several")
    page.locator("[id='s1.q2.options']").fill("Soft\nIn between\nLoud")


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "laptop"])
def test_a_thirteenth_kind_is_made_given_out_and_filled_in(visitor, cast, size):
    page = director(visitor, size)
    make_sound_walk(page)
    preview = page.locator("#preview")
    preview.get_by_text("In between").wait_for()
    assert preview.get_by_text("What did you hear first?").count() == 1
    fits(page)
    page.get_by_role("button", name="Keep this kind").first.click()
    page.get_by_text("Sound walk is kept. It can be given out now.").wait_for()
    kind = kind_in(KindEdition.objects.get(key="sound_walk"))
    assert "sound_walk" not in KINDS
    assert [(one.key, one.type) for one in kind.steps[0].fields] == [
        ("what_did_you_hear_first", "short"), ("how_loud_was_it", "choice"),
    ]  # fmt: skip

    page.goto("/work/give/")
    page.get_by_role("link", name="Concert Band").click()
    page.get_by_role("link", name="Sound walk").click()
    assert page.get_by_label("Title").input_value() == "Sound walk"
    page.get_by_label("Any time this year").check()
    fits(page)
    page.get_by_role("button", name="Make the draft").click()
    page.get_by_role("button", name="Publish").click()
    page.get_by_text("Published: the musicians see it now.").wait_for()
    fits(page)
    assert page.locator("summary", has_text="Mina Okafor").get_by_text("not begun").is_visible()
    given = Assignment.objects.get()

    mine = visitor.open("musician", size=PHONE).new_page()
    visitor.sign_in(mine, cast.musician)
    assert mine.get_by_role("heading", name="Sound walk").is_visible()
    mine.get_by_role("link", name="Begin").click()
    mine.locator("[data-sheet-save]").wait_for(state="hidden")  # it saves by itself from now on
    mine.get_by_label("What did you hear first?").fill("A truck, then a bird.")
    mine.get_by_label("In between").check()
    mine.get_by_role("button", name="Send").click()
    sheet = until(mine, lambda: given.sheets.filter(sent_at__isnull=False).first())
    assert sheet.answers["what_did_you_hear_first"] == "A truck, then a bird."
    assert sheet.answers["how_loud_was_it"] == "in_between"
    page.reload()
    row = page.locator("summary", has_text="Mina Okafor")
    assert row.get_by_text("sent, waits for you").is_visible()


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "laptop"])
def test_pages_fit_and_can_be_touched_at_both_widths(visitor, cast, size):
    page = director(visitor, size)
    page.goto(f"/work/give/{cast.band.pk}/skill_project/")
    page.get_by_label("Any time this year").check()
    page.get_by_role("button", name="Make the draft").click()
    page.get_by_text("The draft is made").wait_for()
    one = page.url.removesuffix("/").split("/")[-1]
    for address in ("/work/", f"/work/give/?ensemble={cast.band.pk}", f"/work/{one}/",
                    f"/work/give/{cast.band.pk}/skill_project/", f"/work/{one}/form/",
                    "/work/kinds/", "/work/kinds/new/",
                    "/work/kinds/of/skill_project/"):  # fmt: skip
        page.goto(address)
        fits(page)
        low = page.eval_on_selector_all(
            "main button, main summary, main select, main textarea, main .button,"
            " main input:not([type=hidden]):not([type=checkbox]):not([type=radio]), label.choice",
            "all => all.filter(one => one.checkVisibility())"
            ".map(one => [one.getBoundingClientRect().height, one.outerHTML.slice(0, 120)])"
            f".filter(([high]) => high < {TOUCH_PX - 0.5})",
        )
        assert not low, (address, low[:3])


def test_the_editor_works_without_scripts(visitor, cast):
    page = director(visitor, DESK)
    page.route("**/static/**/*.js", lambda route: route.abort())
    make_sound_walk_plain(page)
    page.get_by_role("button", name="Keep this kind").first.click()
    page.get_by_text("Sound walk is kept.").wait_for()
    assert kind_in(KindEdition.objects.get(key="sound_walk")).steps[0].fields[1].type == "choice"


def make_sound_walk_plain(page):
    """The same, where every press loads the page again."""
    page.goto("/work/kinds/new/")
    page.get_by_label("Name", exact=True).fill("Sound walk")
    page.get_by_label("What is it for?").fill("Walk and listen. Then tell us.")
    page.get_by_label("Question 1", exact=True).fill("What did you hear first?")
    page.get_by_role("button", name="Add a question").click()
    page.get_by_label("Question 2", exact=True).fill("How loud was it?")
    assert page.get_by_label("Question 1", exact=True).input_value() == "What did you hear first?"
    page.locator("[id='s1.q2.type']").select_option(label="One of several")
    page.locator("[id='s1.q2.options']").fill("Soft\nLoud")


def test_faults_stand_where_they_are_and_leaving_asks_first(visitor, cast):
    page = director(visitor, DESK)
    make_sound_walk(page)
    page.locator("[id='s1.q2.options']").fill("Only one")
    page.get_by_role("button", name="Keep this kind").first.click()
    page.get_by_role("alert").get_by_text("Not kept yet: 1 thing to mend.").wait_for()
    there = page.locator("[id='s1.q2']")
    assert there.get_by_text("has 1 answers to choose from").is_visible()
    assert page.get_by_label("Name", exact=True).input_value() == "Sound walk"
    page.get_by_label("Name", exact=True).press_sequentially("!")
    asked = []
    page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.dismiss()))
    page.get_by_role("link", name="Kinds of work").click()
    until(page, lambda: asked)
    assert asked == ["beforeunload"] and "/new/" in page.url


def test_a_browser_that_dies_offers_what_was_typed(visitor, cast):
    page = director(visitor, DESK)
    make_sound_walk(page)
    page.wait_for_timeout(700)  # the editor rests 400 ms before it keeps what is typed
    visitor.kill("director")
    page = director(visitor, DESK)
    page.goto("/work/kinds/new/")
    assert page.get_by_label("Name", exact=True).input_value() == ""
    page.get_by_role("button", name="Put it back").click()
    page.locator("[id='s1.q2.prompt']").wait_for(state="attached")
    assert page.get_by_label("Name", exact=True).input_value() == "Sound walk"
    assert page.locator("[id='s1.q2.options']").input_value() == "Soft\nIn between\nLoud"
    page.get_by_role("button", name="Keep this kind").first.click()
    page.get_by_text("Sound walk is kept.").wait_for()
    page.goto("/work/kinds/new/")
    assert page.locator("[data-draft-offer]").is_hidden()
