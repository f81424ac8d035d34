"""Groups and talks on a phone and on a laptop: nothing runs out, and one page is one page."""

import datetime
import re

import pytest
from django.utils import timezone

from standlight.programme.actions import groups as group_acts
from standlight.programme.actions import talks as talk_acts
from standlight.programme.models import Grouping
from tests.browser.conftest import DESK, PHONE
from tests.browser.test_marks_page import looks_right
from tests.browser.test_tables_page import signed_in
from tests.cast import add_musician
from tests.programme.group_scene import made, twelve
from tests.programme.talk_scene import acts_sheets, project
from tests.programme.test_talks_held import full_scene

PAGE_OF_PDF = re.compile(rb"/Type\s*/Page\b")


@pytest.fixture
def people(cast):
    """Twelve more musicians, kept and shared groups with a wish that a swap has broken."""
    people = twelve(cast)
    group_acts.add_wish(cast.director, cast.band, people["Abel"].pk, people["Cleo"].pk, True)
    grouping = made(cast, people.values())
    seats = {seat.musician_id: seat.number for seat in grouping.seats.all()}
    beside = next(pk for pk, number in seats.items() if number == seats[people["Cleo"].pk]
                  and pk != people["Cleo"].pk)  # fmt: skip
    group_acts.swap(
        grouping,
        *(group_acts.Sits(pk, seats[pk]) for pk in (people["Abel"].pk, beside)),
    )
    group_acts.keep(grouping, "The march: who has the tune, and what do the others do with it?")
    group_acts.share(grouping, True)
    return people


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_the_pages_of_groups_fit_and_axe_finds_nothing(visitor, cast, people, size):
    page = signed_in(visitor, size)
    one = f"/groups/{cast.band.pk}/{Grouping.objects.get().pk}/"
    pages = ("/groups/", f"/groups/{cast.band.pk}/", f"/groups/{cast.band.pk}/wishes/", one,
             f"{one}print/", f"{one}screen/")  # fmt: skip
    for address in pages:
        page.goto(address)
        for summary in page.query_selector_all("main details > summary"):
            summary.click()
        looks_right(page, size)


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_the_pages_of_talks_fit_and_axe_finds_nothing(visitor, cast, people, size):
    acts_sheets(cast, {"ready": "always", "marks": "always"},
                {"ready": "seldom", "marks": "seldom"})  # fmt: skip
    project(cast, (2, 2))
    day = timezone.localdate()
    step = [("Play it slowly", day)]
    talk_acts.note(cast.director, cast.band, cast.musician, day, "The run", step)
    talk_acts.ask(cast.musician, cast.band, "about the solo, " * 12 + "x" * 300)
    talk_acts.rest_rule(cast.director, cast.band, cast.musician, "missing",
                        day + datetime.timedelta(9))  # fmt: skip
    page = signed_in(visitor, size)
    one = f"/talks/{cast.band.pk}/{cast.musician.pk}/"
    for address in ("/talks/", "/talks/rules/", "/talks/notes/", one, f"{one}print/"):
        page.goto(address)
        for summary in page.query_selector_all("main details > summary"):
            summary.click()
        looks_right(page, size)


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_a_musicians_groups_and_talks_fit_and_axe_finds_nothing(visitor, cast, people, size):
    abel = people["Abel"]
    day = timezone.localdate()
    talk_acts.note(cast.director, cast.band, abel, day, "The run", [("Play it slowly", day)])
    talk_acts.ask(abel, cast.band, "about the solo")
    page = visitor.open(size=size).new_page()
    visitor.sign_in(page, abel)
    for address in ("/my/groups/", "/my/talks/"):
        page.goto(address)
        looks_right(page, size)
    page.get_by_role("button", name="I did this").click()
    page.get_by_text("Done. Your director sees it.").wait_for()


def test_the_fullest_page_of_a_talk_prints_on_one_sheet_of_either_paper(visitor, cast):
    full_scene(cast)
    page = signed_in(visitor, DESK)
    page.goto(f"/talks/{cast.band.pk}/{cast.musician.pk}/print/")
    for paper in ("Letter", "A4"):
        margin = dict.fromkeys(("top", "bottom", "left", "right"), "15mm")
        printed = page.pdf(format=paper, margin=margin)
        assert len(PAGE_OF_PDF.findall(printed)) == 1, paper


def test_groups_of_a_large_band_print_on_one_sheet(visitor, cast):
    people = twelve(cast)
    more = [
        add_musician(cast.programme, cast.clarinets, f"9{n:03}", f"Bartholomew{n}", "Longfellow")
        for n in range(52)
    ]
    grouping = made(cast, [*people.values(), *more])
    page = signed_in(visitor, DESK)
    page.goto(f"/groups/{cast.band.pk}/{grouping.pk}/print/")
    printed = page.pdf(format="Letter", margin=dict.fromkeys(("top", "bottom"), "15mm"))
    assert len(PAGE_OF_PDF.findall(printed)) == 1
