"""Halves in one press on a phone, one name changed by thumb, and what the musician then sees."""

import re

from standlight.programme import store
from standlight.programme.models import OwnVersion
from standlight.score import cut_passage, read_passage
from tests.browser.conftest import PHONE
from tests.hearing_scene import clarinet_check, more_clarinets
from tests.scores import real

THUMB_PX = 44
"""WCAG 2.2, success criterion 2.5.5: a target of 44 by 44 CSS pixels."""


def test_a_string_section_is_divided_on_a_phone(cast, visitor):
    """Beach, op. 32, second movement: the first violins, measures 169 to 176, "divisi"."""
    check = clarinet_check(cast)
    check.piece.parts.update(name="Violin 1", instrument="Violin")
    cut = cut_passage(real("beach_op32_2.mxl"), 16, 168, 175)
    check.passages.update(notation_digest=store.keep(cut), printed="169 to 176")
    others = more_clarinets(cast, check, 4)
    page = visitor.open("director", size=PHONE).new_page()
    visitor.sign_in_director(page)
    page.goto(f"/checks/{check.pk}/")
    page.get_by_role("link", name="Divisi: upper, lower or all").click()
    page.get_by_role("button", name="First 3 upper, last 2 lower").click()
    page.get_by_text("the rest the lower").wait_for()
    heights = page.locator(".divisi label").evaluate_all(
        "all => all.map(one => one.getBoundingClientRect().height)"
    )
    assert len(heights) == 15 and min(heights) >= THUMB_PX
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    page.get_by_role("group", name=others[0].name).get_by_label("all").check()
    page.get_by_role("button", name="Keep these lines").click()
    page.get_by_text("lines kept").wait_for()
    assert {one.musician_id: one.line for one in OwnVersion.objects.all()} == {
        others[0].pk: "all", others[2].pk: "lower", others[3].pk: "lower",
    }  # fmt: skip
    mine = visitor.open("mine", size=PHONE).new_page()
    visitor.sign_in(mine, others[3])
    mine.goto(f"/my/check/{check.pk}/")
    assert mine.get_by_text("You play the lower line.").is_visible()
    lower = read_passage(cut_passage(real("beach_op32_2.mxl"), 16, 168, 175, line="lower"))
    svg = mine.request.get(mine.locator("picture img").evaluate("one => one.currentSrc")).text()
    assert set(re.findall(r'id="(n\d+)"', svg)) == {f"n{at}" for at in range(len(lower.notes))}
