"""From yesterday's remarks to the podium page in a real browser; a tablet without network."""

import datetime
import json

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from standlight.programme.actions import rehearse as acts
from standlight.programme.models import PlannedBlock, PlannedRehearsal, PodiumRemark, Remark
from tests.browser.axe import violations
from tests.browser.conftest import DESK, PHONE, until
from tests.programme.rehearse_scene import RehearseScene
from tests.programme.sheet_scene import give
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


ROWS = """() => new Promise((resolve) => {
  const request = indexedDB.open("standlight-podium", 1);
  request.onupgradeneeded = () => request.result.createObjectStore("acts", { keyPath: "key" });
  request.onsuccess = () => {
    const base = request.result;
    const asked = base.transaction(["acts"]).objectStore("acts").getAll();
    asked.onsuccess = () => { base.close(); resolve(asked.result); };
  };
})"""


def rows_on(page):
    """What the browser keeps of the podium, whoever's it is."""
    return page.evaluate(ROWS)


def press_done(page):
    """Press Done on the block that is shown; it is kept once the next one is shown."""
    key = page.locator("[data-block]:visible").get_attribute("data-block")
    block = page.locator(f"[data-block='{key}']")
    block.get_by_role("button", name="Done", exact=True).click()
    block.wait_for(state="hidden")


def session_of(context, account):
    """Sign somebody else in on the same device, as another page of it would."""
    client = Client()
    client.force_login(account)
    kept = client.cookies[settings.SESSION_COOKIE_NAME].value
    (old,) = (one for one in context.cookies() if one["name"] == settings.SESSION_COOKIE_NAME)
    context.add_cookies([{**old, "value": kept}])


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
    press_done(page)
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
    press_done(page)
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


def test_signing_out_takes_the_page_away_at_once_and_asks_about_what_is_not_sent(
    visitor, cast, scene, plan
):
    context, page = at(visitor, TABLET, "rehearse-podium", plan.pk)
    page.get_by_text("Works without network").wait_for()
    context.route("**/send/", lambda route: route.abort())
    press_done(page)
    page.get_by_text("1 kept on this tablet").wait_for()
    page.goto(reverse("rehearse"))
    asked = []
    page.once("dialog", lambda dialog: (asked.append(dialog.message), dialog.dismiss()))
    page.get_by_role("button", name="Sign out").first.click()
    until(page, lambda: asked)
    assert "not sent yet" in asked[0]
    assert len(rows_on(page)) == 1
    page.once("dialog", lambda dialog: dialog.accept())
    page.get_by_role("button", name="Sign out").first.click()
    page.wait_for_url("**/sign-in/**")
    assert page.evaluate("caches.keys()") == []
    assert rows_on(page) == []
    assert not plan.blocks.filter(state="done").exists()


def test_signing_out_with_network_sends_what_waits_and_asks_nothing(visitor, cast, scene, plan):
    context, page = at(visitor, TABLET, "rehearse-podium", plan.pk)
    context.route("**/send/", lambda route: route.abort())
    press_done(page)
    page.get_by_text("1 kept on this tablet").wait_for()
    page.goto(reverse("rehearse"))
    context.unroute("**/send/")
    page.get_by_role("button", name="Sign out").first.click()
    page.wait_for_url("**/sign-in/**")
    assert plan.blocks.get(key="warm_up").state == "done"
    assert rows_on(page) == []


@pytest.mark.parametrize("of_the_band", [True, False], ids=["also_theirs", "not_theirs"])
def test_another_director_on_the_same_tablet_neither_sends_nor_loses_what_waits(
    visitor, cast, scene, plan, of_the_band
):
    other = cast.second_director if of_the_band else cast.outsider_director
    context, page = at(visitor, TABLET, "rehearse-podium", plan.pk)
    context.route("**/send/", lambda route: route.abort())
    press_done(page)
    page.locator("[data-block]:visible").get_by_role("button", name="rhythm", exact=True).click()
    page.get_by_text("2 kept on this tablet").wait_for()
    session_of(context, other)
    context.unroute("**/send/")
    page.evaluate("dispatchEvent(new Event('online'))")
    page.get_by_text("Sign in again to send what is kept here").wait_for()
    beside = context.new_page()
    beside.goto(reverse("rehearse"))
    assert len(rows_on(page)) == 2
    assert not PodiumRemark.objects.exists()
    assert plan.blocks.get(key="warm_up").state == "open"
    session_of(context, cast.director)
    page.evaluate("dispatchEvent(new Event('online'))")
    until(page, lambda: rows_on(page) == [])
    assert PodiumRemark.objects.get().remark.author == cast.director
    assert plan.blocks.get(key="warm_up").state == "done"


def test_only_what_the_school_says_of_this_director_takes_a_tap_away(visitor, cast, scene, plan):
    context, page = at(visitor, TABLET, "rehearse-podium", plan.pk)
    context.route("**/send/", lambda route: route.abort())
    press_done(page)
    page.get_by_text("1 kept on this tablet").wait_for()
    context.unroute("**/send/")
    own = json.dumps({"owner": cast.director.pk, "error": "Gone."})
    answers = [
        (408, own), (409, own), (413, own), (429, own), (500, own), (503, "x"), (404, "<html>"),
        (404, '{"owner": 0, "error": "x"}'), (400, "{}"), (200, "<html>Welcome to the cafe"),
        (404, own),
    ]  # fmt: skip
    told = []

    def answer(route):
        status, body = answers[len(told)]
        told.append(status)
        route.fulfill(status=status, body=body, content_type="application/json")

    context.route("**/send/", answer)
    for n in range(1, len(answers) + 1):
        assert len(rows_on(page)) == 1, answers[n - 2]
        page.evaluate("dispatchEvent(new Event('online'))")
        until(page, lambda n=n: len(told) == n)
        page.wait_for_timeout(100)
    until(page, lambda: rows_on(page) == [])


def test_one_tap_that_the_school_cannot_take_holds_no_other(visitor, cast, scene, plan):
    context, page = at(visitor, TABLET, "rehearse-podium", plan.pk)
    page.get_by_text("Works without network").wait_for()
    alone = []

    def answer(route):
        taps = json.loads(route.request.post_data)["taps"]
        if any(one["block"] == "warm_up" for one in taps):
            alone.append(len(taps))
            route.fulfill(status=500, body="a slip of ours")
        else:
            route.continue_()

    context.set_offline(True)
    for _ in range(3):
        press_done(page)
    page.get_by_text("3 kept on this tablet").wait_for()
    context.route("**/send/", answer)
    context.set_offline(False)
    until(page, lambda: plan.blocks.filter(state="done").count() == 2)
    until(page, lambda: len(rows_on(page)) == 1)
    assert 3 in alone and 1 in alone
    assert plan.blocks.get(key="warm_up").state == "open"


def test_a_tablet_that_cannot_keep_a_tap_says_so_and_sends_it(visitor, cast, scene, plan):
    context = visitor.open(size=TABLET)
    page = context.pages[0]
    visitor.sign_in_director(page)
    # A full disk: the browser opens its store and then refuses every row
    page.add_init_script(
        "IDBObjectStore.prototype.put = () => { throw new DOMException('', 'QuotaExceededError') }"
    )
    context.route("**/send/", lambda route: route.abort())
    page.goto(reverse("rehearse-podium", args=[plan.pk]))
    press_done(page)
    page.get_by_text("Leave this page open: this tablet could not keep 1.").wait_for()
    assert rows_on(page) == []
    context.unroute("**/send/")
    page.evaluate("dispatchEvent(new Event('online'))")
    until(page, lambda: plan.blocks.filter(state="done", key="warm_up").exists())
    until(page, lambda: page.locator("[data-waiting]").inner_text() == "")


def test_a_tap_stands_as_done_only_when_it_is_kept(visitor, cast, scene, plan):
    context = visitor.open(size=TABLET)
    page = context.pages[0]
    visitor.sign_in_director(page)
    # A slow disk: the row is on it half a second after it was put there
    page.add_init_script(
        """const put = IDBObjectStore.prototype.put;
        IDBObjectStore.prototype.put = function (row) {
          const asked = put.call(this, row), until = performance.now() + 500, store = this;
          asked.addEventListener("success", function again() {
            if (performance.now() < until) store.count().onsuccess = again;
          });
          return asked;
        }"""
    )
    context.route("**/send/", lambda route: route.abort())
    page.goto(reverse("rehearse-podium", args=[plan.pk]))
    page.get_by_role("button", name="Next").wait_for()
    page.evaluate(
        """() => {
          const block = document.querySelector("[data-block=warm_up]");
          window.pressed = performance.now();
          new MutationObserver(() => (window.marked = performance.now()))
            .observe(block, { attributeFilter: ["data-state"] });
          block.querySelector("[value=done]").click();
        }"""
    )
    page.locator("[data-block=warm_up][data-state=done]").wait_for(state="attached")
    assert page.evaluate("window.marked - window.pressed") >= 500


@pytest.mark.parametrize("script", [True, False], ids=["script", "no_script"])
def test_enter_keeps_the_words_and_never_a_tag(visitor, cast, scene, plan, script):
    context = visitor.open(size=TABLET)
    page = context.pages[0]
    visitor.sign_in_director(page)
    if not script:
        context.route("**/static/*.js", lambda route: route.abort())
    page.goto(reverse("rehearse-podium", args=[plan.pk]))
    if script:
        page.get_by_role("button", name="Next").click()
    form = page.locator("[data-block^=work]").first.locator("[data-remark]")
    form.get_by_label("Measure").press("Enter")
    page.get_by_text("Tap a word, or write one.").wait_for()
    form.get_by_placeholder("Or a few words").fill("Lovely")
    form.get_by_placeholder("Or a few words").press("Enter")
    until(page, lambda: PodiumRemark.objects.exists())
    row = PodiumRemark.objects.get()
    assert (row.aim, row.strategy, row.remark.words) == ("", "", "Lovely")
    # The keyboard reaches every button that is seen, and the one that only Enter presses never
    buttons = form.get_by_role("button").all_inner_texts()
    assert "rhythm" in buttons and buttons[-1] == "Keep" and buttons.count("Keep") == 1
    form.get_by_label("Who").focus()
    reached = []
    while len(reached) < len(buttons) + 1:
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.textContent"))
    assert [one for one in reached if one] == buttons
    assert violations(page) == ()


@pytest.mark.parametrize("script", [True, False], ids=["script", "no_script"])
def test_enter_on_the_classs_screen_asks_what_happened_and_leaves_the_number(
    visitor, cast, scene, script
):
    given = give(cast, "rehearsal_remark", piece_pk=scene.piece.pk)
    context = visitor.open(size=DESK)
    page = context.pages[0]
    visitor.sign_in_director(page)
    if not script:
        context.route("**/static/*.js", lambda route: route.abort())
    page.goto(reverse("class-screen", args=[given.pk]))
    page.get_by_label("Measure", exact=True).fill("33")
    page.get_by_label("Measure", exact=True).press("Enter")
    page.locator("main p:visible", has_text="Tap what happened there.").wait_for()
    assert page.get_by_label("Measure", exact=True).input_value() == "33"
    assert violations(page) == ()
    assert not Remark.objects.filter(said_in_class=True).exists()
    page.get_by_role("button", name="Wrong notes").click()
    page.get_by_text("Measure 33: Wrong notes.").wait_for()
    assert Remark.objects.get(said_in_class=True).words == "Wrong notes"


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
