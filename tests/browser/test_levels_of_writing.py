"""Levels of written work in a browser: given by key, read with their sentence, made by hand."""

import os
from pathlib import Path

import pytest

from standlight.kinds import KINDS, data_of
from standlight.programme.models import KindEdition, SheetLevel
from standlight.programme.queries.kinds import kind_in
from tests.browser.axe import violations
from tests.browser.conftest import DESK, PHONE, until
from tests.browser.test_kind_editor import director, fits
from tests.programme.reading_scene import assignment_of, sheet_of
from tests.programme.test_sittings import known, practise

NOTE = KINDS["background_note"]
SHOTS = os.environ.get("STANDLIGHT_SHOTS", "")
"""A folder for pictures of the pages, for whoever wants to look at them."""


def shot(page, name):
    if SHOTS:
        page.screenshot(path=Path(SHOTS) / f"{name}.png", full_page=True)


def test_levels_go_by_key_show_their_sentence_and_come_back_with_the_reply(visitor, cast):
    given = assignment_of(cast, data_of(NOTE), title="Notes on the Ode")
    sheet = sheet_of(given, cast.musician, step="note", note="A song of the sea.", checks=["own"])
    rows = NOTE.rows_at("note")
    desk = director(visitor, DESK)
    desk.goto(f"/desk/reading/{given.pk}/{sheet.pk}/")
    assert desk.locator("[data-criterion] legend").all_inner_texts() == [row.name for row in rows]
    assert desk.get_by_text(rows[0].descriptors[2]).is_visible()
    shot(desk, "desk")
    desk.keyboard.press("3")
    desk.keyboard.press("0")
    desk.get_by_label("About what you read").fill("I can hear the sea.")
    desk.locator("[data-send]").click()
    desk.wait_for_url(f"**/desk/reading/{given.pk}/all/")
    kept = dict(SheetLevel.objects.values_list("criterion", "value"))
    assert kept == {rows[0].key: "3", rows[1].key: "not_shown"}

    phone = visitor.open("phone", size=PHONE).pages[0]
    visitor.sign_in(phone, cast.musician)
    phone.goto(f"/my/work/sheet/{sheet.pk}/")
    phone.get_by_text(rows[0].descriptors[2]).wait_for()
    assert phone.get_by_text("not shown in this answer").is_visible()
    fits(phone)
    assert violations(phone) == ()
    shot(phone, "came-back")


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "laptop"])
def test_known_takes_lie_beside_the_groups_one_table_a_take(visitor, cast, size):
    given = assignment_of(cast, data_of(KINDS["adjudication"]))
    for number, take in enumerate(("first", "second"), start=1):
        practise(given, cast.musician, number, take, "2")
        practise(given, cast.second_musician, number, take, "4")
    known(given, cast.second_director, 1, "first", "3")
    page = director(visitor, size)
    page.goto(f"/desk/reading/{given.pk}/together/practice/?prompt=tuning")
    page.get_by_role("heading", name="Own, group and director: The first").wait_for()
    assert page.get_by_role("heading", name="director: The second").count() == 0
    assert page.get_by_text("Still waiting for a director's own sheet: The second.").is_visible()
    assert page.get_by_role("row", name="Tuning").first.inner_text().split("\t")[-1] == "Secure"
    fits(page)
    assert violations(page) == ()
    shot(page, f"together-{size['width']}")


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "laptop"])
def test_a_row_of_levels_is_made_in_the_editor(visitor, cast, size):
    page = director(visitor, size)
    page.goto("/work/kinds/of/finds/")
    page.get_by_role("button", name="Add a row of levels").click()
    name = page.get_by_label("Row 1: its name")
    until(page, lambda: name.evaluate("one => one === document.activeElement"))
    name.fill("Ears")
    page.get_by_label("What you look for, as a question").fill("What was heard?")
    for level, said in (("Beginning", "Nothing."), ("Developing", "A little."),
                        ("Secure", "A place."), ("Extending", "A place, and why.")):  # fmt: skip
        page.get_by_label(level, exact=True).fill(said)
    fits(page)
    assert violations(page) == ()
    shot(page, f"editor-{size['width']}")
    page.get_by_role("button", name="Keep this kind").first.click()
    page.get_by_text("Finds is kept.").wait_for()
    (row,) = kind_in(KindEdition.objects.filter(key="finds").order_by("edition").last()).rubric
    assert (row.name, row.descriptors[3]) == ("Ears", "A place, and why.")
