"""From yesterday's remarks to the podium page in a real browser; a tablet without network."""

import datetime

import pytest
from django.urls import reverse
from django.utils import timezone

from standlight.programme.actions import rehearse as acts
from standlight.programme.models import PlannedBlock, PlannedRehearsal, PodiumRemark, Remark
from tests.browser.axe import violations
from tests.browser.conftest import DESK, PHONE, until
from tests.programme.rehearse_scene import RehearseScene
from tests.workshop.test_pages import pages_in

TABLET = {"width": 820, "height": 1180}


@pytest.fixture
def scene(cast):
    cast.cycle.concert_on = timezone.localdate() + datetime.timedelta(16)
    cast.cycle.save()
    made = RehearseScene(cast)
    made.takes("Clarinet", 6)
    made.said("Flute", 4, 24, 25, words="It was out of tune. I will try: Sing it")
    return made


@pytest.fixture
def plan(scene):
    return acts.draw_up(
        scene.cast.director, scene.cast.band, timezone.localdate(), 42, [scene.piece]
    )


def at(visitor, size, name, *args):
    context = visitor.open(size=size)
    page = context.pages[0]
    visitor.sign_in_director(page)
    page.goto(reverse(name, args=args))
    if name == "rehearse-podium":
        page.get_by_role("button", name="Next").wait_for()
    return context, page


def fits(page, size):
    return page.evaluate("document.documentElement.scrollWidth") <= size["width"]


def test_a_director_goes_from_remarks_to_the_podium_page_in_a_few_presses(visitor, cast, scene):
    page = visitor.open(size=DESK).pages[0]
    visitor.sign_in_director(page)
    presses = []

    def press(role, name, within=page):
        presses.append(name)
        within.get_by_role(role, name=name, exact=True).click()

    press("link", "Rehearse", page.get_by_role("navigation", name="Places"))
    press("link", "Lamp Tune")
    spot = page.locator(".spots li").first
    assert "Measures 11 to 12" in spot.inner_text()
    assert "Clarinet: 6 of 6 takes" in spot.inner_text()
    page.get_by_label("Measure", exact=True).fill("33")
    page.get_by_label("to (if longer)").fill("36")
    page.get_by_label("In a few words").fill("Flutes cover the tune")
    press("button", "Keep the remark")
    page.get_by_text("Your remark is kept").wait_for()
    press("link", "Rehearse", page.locator("main"))
    press("button", "Draw up the plan", page.locator("section.group").first)
    page.get_by_text("The plan is drawn up").wait_for()
    blocks = page.locator(".block")
    assert blocks.count() >= 4
    for text in blocks.all_inner_texts():
        assert "Why: " in text
    assert "a director remarked on it once" in page.locator(".blocks").inner_text()
    press("link", "Podium page")
    page.get_by_role("button", name="Next").wait_for()
    assert page.locator("[data-block]:visible").count() == 1
    assert len(presses) == 6
    plan = PlannedRehearsal.objects.get()
    assert sum(block.minutes for block in plan.blocks.all()) == cast.band.period_minutes
    assert not any(
        person.given_name in page.content() for people in scene.people.values() for person in people
    )


def test_at_the_podium_one_tap_keeps_a_remark_on_the_blocks_measures(visitor, cast, scene, plan):
    _, page = at(visitor, TABLET, "rehearse-podium", plan.pk)
    page.get_by_role("button", name="Next").click()
    assert page.locator("[data-block]:visible h2").inner_text() == "Measures 11 to 12"
    page.locator("[data-block]:visible").get_by_role("button", name="count aloud").click()
    page.get_by_text("Kept: Measures 11 to 12: count aloud").wait_for()
    until(page, lambda: PodiumRemark.objects.exists())
    said = PodiumRemark.objects.select_related("remark").get()
    assert (said.remark.first_measure, said.remark.last_measure) == (10, 11)
    assert (said.strategy, said.plan) == ("count", plan)
    page.locator("[data-block]:visible").get_by_role("button", name="Not done").click()
    until(page, lambda: plan.blocks.filter(state="not_done", kind="work").exists())
    assert page.locator("[data-block]:visible h2").inner_text() != "Measures 11 to 12"


def test_a_tablet_without_network_keeps_taps_and_remarks_and_sends_them_once(
    visitor, cast, scene, plan
):
    context, page = at(visitor, TABLET, "rehearse-podium", plan.pk)
    page.get_by_text("Works without network").wait_for()
    context.set_offline(True)
    page.locator("[data-block]:visible").get_by_role("button", name="Done", exact=True).click()
    page.locator("[data-block]:visible").get_by_role("button", name="rhythm", exact=True).click()
    page.get_by_text("2 kept on this tablet").wait_for()
    page.reload()
    page.get_by_text("2 kept on this tablet").wait_for()
    warm_up = page.locator("[data-block=warm_up]")
    assert warm_up.get_attribute("data-state") == "done"
    assert page.locator("[data-block]:visible").get_attribute("data-block") != "warm_up"
    assert not Remark.objects.filter(author=cast.director).exists()
    context.set_offline(False)
    until(page, lambda: Remark.objects.filter(author=cast.director).exists())
    until(page, lambda: page.locator("[data-waiting]").inner_text() == "")
    assert PlannedBlock.objects.get(plan=plan, key="warm_up").state == "done"
    page.reload()
    page.locator("[data-said-list] li").wait_for()
    assert Remark.objects.filter(author=cast.director).count() == 1


def test_what_was_tapped_before_the_tablet_died_is_sent_when_it_is_opened_again(
    visitor, cast, scene, plan
):
    context, page = at(visitor, TABLET, "rehearse-podium", plan.pk)
    context.route("**/send/", lambda route: route.abort())
    page.locator("[data-block]:visible").get_by_role("button", name="Done", exact=True).click()
    page.get_by_text("1 kept on this tablet").wait_for()
    visitor.kill()
    assert not plan.blocks.filter(state="done").exists()
    again = visitor.open(size=TABLET)
    page = again.pages[0]
    page.goto(reverse("rehearse-podium", args=[plan.pk]))
    if "sign-in" in page.url:
        visitor.sign_in_director(page)
        page.goto(reverse("rehearse-podium", args=[plan.pk]))
    until(page, lambda: plan.blocks.filter(state="done", key="warm_up").exists())


def test_a_remark_on_no_measure_stays_on_the_tablet_with_the_reason(visitor, cast, scene, plan):
    _, page = at(visitor, TABLET, "rehearse-podium", plan.pk)
    page.get_by_role("button", name="Next").click()
    block = page.locator("[data-block]:visible")
    block.get_by_label("Measure").fill("112")
    block.get_by_label("to", exact=True).fill("")
    block.get_by_role("button", name="rhythm", exact=True).click()
    page.get_by_text("Measure 112: rhythm. (measure 112 is not in Lamp Tune").wait_for()
    assert "measure 40 is the nearest" in page.locator("[data-stopped]").inner_text()
    assert not Remark.objects.filter(author=cast.director).exists()


def test_words_for_a_plan_that_is_gone_stay_until_they_are_read(visitor, cast, scene, plan):
    context, page = at(visitor, TABLET, "rehearse-podium", plan.pk)
    context.route("**/send/", lambda route: route.abort())
    page.get_by_role("button", name="Next").click()
    page.locator("[data-block]:visible").get_by_placeholder("Or a few words").fill("Breathe here")
    page.locator("[data-block]:visible").get_by_role("button", name="Keep", exact=True).click()
    page.get_by_text("1 kept on this tablet").wait_for()
    acts.let_go_plan(cast.director, plan)
    other = acts.draw_up(cast.director, cast.band, timezone.localdate(), 30, [scene.piece])
    context.unroute("**/send/")
    page.goto(reverse("rehearse-podium", args=[other.pk]))
    page.get_by_text("Measure 11: Breathe here. (That plan is not there any more.)").wait_for()
    page.reload()
    page.get_by_role("button", name="I have read it").click()
    page.get_by_text("Breathe here").wait_for(state="hidden")
    assert not Remark.objects.filter(author=cast.director).exists()


def test_who_signs_out_leaves_no_page_on_the_tablet(visitor, cast, scene, plan):
    context, page = at(visitor, TABLET, "rehearse-podium", plan.pk)
    page.get_by_text("Works without network").wait_for()
    page.goto(reverse("rehearse"))
    page.get_by_role("button", name="Sign out").first.click()
    page.wait_for_url("**/sign-in/**")
    page.goto(reverse("rehearse-podium", args=[plan.pk]))
    page.wait_for_url("**/sign-in/**")
    until(page, lambda: not page.evaluate("caches.has('standlight-podium-1')"))
    context.set_offline(True)
    with pytest.raises(Exception, match="ERR_"):
        page.goto(reverse("rehearse-podium", args=[plan.pk]))


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_every_page_fits_and_can_be_used_by_everybody(visitor, cast, scene, plan, size):
    _, page = at(visitor, size, "rehearse")
    for name, key in (
        ("rehearse", None), ("rehearse-strip", scene.piece.pk), ("rehearse-plan", plan.pk),
        ("rehearse-print", plan.pk), ("rehearse-podium", plan.pk),
    ):  # fmt: skip
        page.goto(reverse(name, args=[key] if key else []))
        assert fits(page, size), name
        assert violations(page) == (), name
    shown = page.goto(reverse("rehearse-strip", args=[scene.piece.pk]))
    assert shown.status == 200
    assert page.locator(".strip svg").first.is_visible() == (size is DESK)
    assert page.locator(".spots li").first.is_visible()


@pytest.mark.parametrize(("paper", "mm"), [("A4", (210, 297)), ("Letter", (216, 279))])
def test_the_substitutes_page_is_one_page_on_paper(visitor, cast, scene, plan, paper, mm):
    for n in range(3):
        acts.add_own(cast.director, plan, title=f"Own block {n}", minutes=3, how="x " * 110)
    _, page = at(visitor, DESK, "rehearse-print", plan.pk)
    # ISO 216 A4 and ANSI Y14.1 size A, in mm
    (size,) = pages_in(page.pdf(format=paper))
    assert size == pytest.approx(mm, abs=1)
    PlannedBlock.objects.filter(key="own:1").update(how="x " * 6000)
    page.reload()
    assert len(pages_in(page.pdf(format=paper))) > 1, "the count of pages can tell two"
