"""The reading Desk by keys alone, what is kept when it is left, and pages that fit a phone."""

from pathlib import Path

import pytest

from standlight.kinds import KINDS, data_of
from standlight.programme import store
from standlight.programme.actions.replies import keep_reply_line
from standlight.programme.models import Reply, Sheet, SheetLevel
from standlight.programme.queries.kinds import kind_in
from standlight.workshop import playback_copy
from tests.browser.axe import violations
from tests.browser.conftest import DESK, PHONE, until
from tests.cast import add_musician
from tests.programme.reading_scene import assignment_of, own_sheet, piece_of, sheet_of

LONG = "The horns fade like a lamp that is carried out of a room. " * 12


@pytest.fixture
def given(cast):
    """Six sheets, the oldest first; lines in the bank for this kind of work."""
    given = assignment_of(cast)
    people = [cast.musician, cast.second_musician] + [
        add_musician(cast.programme, cast.clarinets, f"30{n}", name, "Vale")
        for n, name in enumerate(("Ines", "Jonah", "Kira", "Leo"))
    ]
    for ago, musician in zip(range(9, 3, -1), people, strict=True):
        sheet_of(given, musician, ago=ago, story=LONG, mood="calm", sure=4,
                 place={"measure": 12, "words": "the top"},
                 sources=[{"name": "The score", "use": "letter C"}])  # fmt: skip
    kind = kind_in(given.kind)
    keep_reply_line(cast.director, kind, "strength", "You say what you hear and where.")
    keep_reply_line(cast.director, kind, "next_step", "Name one measure next time.")
    return given


def signed_in(visitor, size=DESK):
    page = visitor.open(size=size).pages[0]
    visitor.sign_in_director(page)
    return page


def names(page):
    return page.locator("h1").inner_text().split("\n")[0]


def test_five_sheets_are_read_rated_and_answered_by_keys_alone(visitor, cast, given):
    page = signed_in(visitor)
    page.goto(f"/desk/reading/{given.pk}/")
    readers = ["Mina Okafor", "Theo Lindqvist", "Ines Vale", "Jonah Vale", "Kira Vale"]
    for number, name in enumerate(readers, start=1):
        page.get_by_role("heading", name=name).wait_for()
        for key in (str(number % 4 + 1), "0", "s"):
            page.keyboard.press(key)
        if number % 2:
            page.keyboard.press("a")
        page.keyboard.press("Enter")
    page.get_by_role("heading", name="Leo Vale").wait_for()
    page.keyboard.press("r")
    page.keyboard.type("Read with care")
    page.keyboard.press("Enter")
    page.get_by_text("Everything that was sent here has been opened.").wait_for()
    assert Reply.objects.filter(words="You say what you hear and where.").count() == 5
    assert Reply.objects.filter(next_step="Name one measure next time.").count() == 3
    assert Reply.objects.get(sheet__author__shown_name="Leo Vale").words == "Read with care"
    given_levels = SheetLevel.objects.filter(criterion="heard").order_by("pk")
    assert [row.value for row in given_levels] == ["2", "3", "4", "1", "2"]
    assert SheetLevel.objects.filter(criterion="words", value="not_shown").count() == 5


def test_next_back_and_the_list_by_keys_leave_nothing_behind(visitor, cast, given):
    page = signed_in(visitor)
    page.goto(f"/desk/reading/{given.pk}/")
    page.get_by_role("heading", name="Mina Okafor").wait_for()
    page.keyboard.press("3")
    page.keyboard.press("r")
    page.keyboard.type("Half a line")
    page.keyboard.press("Escape")
    page.keyboard.press("n")
    page.get_by_role("heading", name="Theo Lindqvist").wait_for()
    until(page, lambda: SheetLevel.objects.filter(criterion="heard", value="3").exists())
    assert not Reply.objects.exists()
    page.keyboard.press("p")
    page.get_by_role("heading", name="Mina Okafor").wait_for()
    assert page.input_value("#words") == "Half a line"
    assert page.locator("input[name=level-heard]:checked").get_attribute("value") == "3"
    page.keyboard.press("l")
    page.get_by_role("heading", name="Letter on the Ode").wait_for()
    assert page.url.endswith("/all/")
    assert Sheet.objects.filter(opened_at__isnull=False).count() == 2


def test_the_answer_and_the_reply_fit_one_screen_at_a_desk(visitor, cast, given):
    page = signed_in(visitor)
    page.goto(f"/desk/reading/{given.pk}/")
    height = page.evaluate("innerHeight")
    for hook in ("data-send", "data-next"):
        box = page.locator(f"[{hook}]").bounding_box()
        assert box["y"] + box["height"] <= height, hook
    last = page.locator(".answer-one").last.bounding_box()
    assert last["y"] + last["height"] <= height


@pytest.fixture
def study(cast):
    """A score study of the group with the director's own laid over."""
    given = assignment_of(cast, data_of(KINDS["score_study"]), title="Ode, before we play",
                          piece=piece_of(cast, 96))  # fmt: skip
    for n, musician in enumerate((cast.musician, cast.second_musician)):
        sheet_of(given, musician, step="find", hardest=[
            {"at": {"measure": 40 + n, "words": "a leap over the break"}, "why": "leap",
             "plan": "go slow, then join"},
            {"at": {"measure": 77, "words": ""}, "why": "rhythm", "plan": "clap it first"},
        ], ask="Who has the tune at letter D?")  # fmt: skip
    own_sheet(given, cast.director, step="find",
              hardest=[{"at": {"measure": 77, "words": "watch the ties"}, "why": "rhythm"}])
    return given


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "laptop"])
def test_pages_fit_their_width_and_a_thumb_and_axe_finds_nothing(
    visitor, cast, given, study, size
):
    acts = assignment_of(cast, data_of(KINDS["ensemble_acts"]), title="Acts")
    page = signed_in(visitor, size)
    sheet = Sheet.objects.filter(assignment=given).first()
    for address in (
        "", f"{given.pk}/all/", f"{given.pk}/{sheet.pk}/", f"{given.pk}/together/letter/",
        f"{given.pk}/together/letter/?prompt=sure", f"{study.pk}/together/find/?prompt=hardest",
        f"{given.pk}/print/letter/", "search/?q=horns", f"wall/{cast.band.pk}/", "lines/",
        f"{study.pk}/own/find/", f"{acts.pk}/each/acts/",
    ):  # fmt: skip
        page.goto(f"/desk/reading/{address}")
        room, wide = page.evaluate("[innerWidth, document.scrollingElement.scrollWidth]")
        assert wide <= room, address
        assert violations(page) == (), address
        if size is PHONE:
            heights = page.eval_on_selector_all(
                "main form button:not(.aside), main form input[type=text], main form select, "
                "main .level, main .taps label, main label.choice",
                "all => all.filter(one => one.checkVisibility())"
                ".map(one => one.getBoundingClientRect().height)",
            )
            assert min(heights, default=44) >= 44, address


def test_a_moment_of_the_group_plays_from_there_and_a_director_pins_where_it_is(visitor, cast):
    recording = Path(__file__).parent / "clarinet_ode_sd15c_sd30ms.flac"
    digest = store.keep(playback_copy(recording.read_bytes()))
    given = assignment_of(cast, data_of(KINDS["listening_map"]), sound_digest=digest)
    sheet_of(given, cast.musician, step="first", changes=[
        {"at": {"at_s": 3.5, "words": "it opens"}, "what": "louder"}])  # fmt: skip
    page = signed_in(visitor)
    page.goto(f"/desk/reading/{given.pk}/together/first/")
    page.get_by_role("button", name="0:03").click()
    until(page, lambda: page.evaluate("document.querySelector('audio').currentTime") > 3.5)
    page.goto(f"/desk/reading/{given.pk}/own/first/")
    page.evaluate("document.querySelector('audio').currentTime = 7.4")
    until(page, lambda: page.evaluate("document.querySelector('audio').currentTime") > 7)
    page.get_by_role("button", name="Pin here").first.click()
    assert page.locator("[data-clock]").first.input_value() == "0:07"
