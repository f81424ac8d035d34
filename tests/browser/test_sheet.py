"""A sheet in a real browser: no answer is lost by a killed browser, no network or two windows."""

import pytest

from standlight.programme.models import OlderAnswer, Remark, Sheet, SheetSound
from tests.browser.conftest import until
from tests.programme.sheet_scene import CHOOSING, EVERYTHING, give, ode

SENTENCE = "The clarinets carry the tune here and then the hor"


@pytest.fixture
def given(cast):
    return give(cast, CHOOSING)


def open_sheet(visitor, context, cast, given, step="some"):
    page = context.pages[0]
    visitor.sign_in(page, cast.musician)
    page.goto(f"/my/work/{given.pk}/{step}/")
    return page


def box(page, key):
    """The text box of a question, its group unfolded."""
    place = page.locator(f'[data-question="{key}"]')
    details = place.locator("details").first
    if details.count() and details.get_attribute("open") is None:
        details.locator("summary").first.click()
    return place.locator("textarea").first


def kept(page):
    """How many answers this browser still keeps."""
    return page.evaluate(
        """async () => {
            const { shelf } = await import("/static/sheet-shelf.js");
            const found = await shelf;
            let count = 0;
            for (const one of await found.drafts()) {
                count += (await found.inside("answers", one.draft)).length;
            }
            return count;
        }"""
    )


def on_the_shelf(page, words):
    """True when this browser keeps ``words`` in an answer on its own disk."""
    return page.evaluate(
        """async (words) => {
            const { shelf } = await import("/static/sheet-shelf.js");
            const found = await shelf;
            for (const one of await found.drafts()) {
                const rows = await found.inside("answers", one.draft);
                if (rows.some((row) => JSON.stringify(row).includes(words))) return true;
            }
            return false;
        }""",
        words,
    )


def saved(page):
    page.get_by_text("Saved. Nobody reads it until you send it.").wait_for()


def answer(key="a"):
    return (Sheet.objects.first() or Sheet(answers={})).answers.get(key)


def test_what_is_typed_is_at_the_school_within_seconds_and_leaves_the_device(visitor, cast, given):
    page = open_sheet(visitor, visitor.open(), cast, given)
    box(page, "a").press_sequentially(SENTENCE, delay=20)
    until(page, lambda: answer() == SENTENCE, seconds=4)
    saved(page)
    until(page, lambda: kept(page) == 0)
    assert not OlderAnswer.objects.exists()


def test_a_browser_killed_mid_sentence_has_the_sentence_when_it_is_opened_again(
    visitor, cast, given
):
    context = visitor.open()
    context.route("**/save/", lambda route: route.abort())  # nothing gets through before the end
    page = open_sheet(visitor, context, cast, given)
    box(page, "a").press_sequentially(SENTENCE, delay=15)
    until(page, lambda: on_the_shelf(page, SENTENCE))
    visitor.kill()
    assert not Sheet.objects.exists()
    page = open_sheet(visitor, visitor.open(), cast, given)
    until(page, lambda: answer() == SENTENCE)
    until(page, lambda: box(page, "a").input_value() == SENTENCE)
    until(page, lambda: kept(page) == 0)


def test_words_that_another_page_sends_while_the_sheet_is_on_its_way_are_in_it(
    visitor, cast, given
):
    context = visitor.open()
    context.route("**/save/", lambda route: route.abort())
    page = open_sheet(visitor, context, cast, given)
    box(page, "a").press_sequentially(SENTENCE, delay=15)
    until(page, lambda: on_the_shelf(page, SENTENCE))
    visitor.kill()
    context = visitor.open()
    page, held, free = context.pages[0], [], []
    context.route("**/save/", lambda route: route.abort())
    visitor.sign_in(page, cast.musician)
    context.route("**/sheet.js", lambda route: route.continue_() if free else held.append(route))
    page.goto(f"/my/work/{given.pk}/some/", wait_until="commit")
    until(page, lambda: held)
    context.unroute("**/save/")
    other = context.new_page()
    other.goto("/my/")
    until(other, lambda: answer() == SENTENCE)
    until(other, lambda: kept(other) == 0)
    free.append(True)
    for route in held:
        route.continue_()
    until(page, lambda: box(page, "a").input_value() == SENTENCE)
    saved(page)
    assert not OlderAnswer.objects.exists()


def test_what_is_typed_before_the_script_begins_is_kept_and_sent(visitor, cast, given):
    context = visitor.open()
    held, released = [], []
    context.route(
        "**/sheet.js", lambda route: route.continue_() if released else held.append(route)
    )
    page = context.pages[0]
    visitor.sign_in(page, cast.musician)
    page.goto(f"/my/work/{given.pk}/some/", wait_until="commit")
    page.locator('[data-question="a"]').wait_for(state="attached")
    box(page, "a").fill(SENTENCE)
    until(page, lambda: held)
    assert not Sheet.objects.exists()
    for route in held:
        route.continue_()
    until(page, lambda: answer() == SENTENCE)


def test_early_words_stand_after_those_that_come_back(visitor, cast, given):
    context = visitor.open()
    context.route("**/save/", lambda route: route.abort())
    page = open_sheet(visitor, context, cast, given)
    box(page, "a").press_sequentially(SENTENCE, delay=15)
    until(page, lambda: on_the_shelf(page, SENTENCE))
    visitor.kill()
    context = visitor.open()
    # The page one lands on sends what waits: the sheet would be served with the words in it.
    context.route("**/save/", lambda route: route.abort())
    held, released = [], []
    context.route(
        "**/sheet.js", lambda route: route.continue_() if released else held.append(route)
    )
    page = context.pages[0]
    visitor.sign_in(page, cast.musician)
    page.goto(f"/my/work/{given.pk}/some/", wait_until="commit")
    page.locator('[data-question="a"]').wait_for(state="attached")
    box(page, "a").fill("And then?")
    until(page, lambda: held)
    context.unroute("**/save/")
    released.append(True)  # the store of pages asks for the script too, before or after
    for route in held:
        route.continue_()
    until(page, lambda: answer() == f"{SENTENCE}\nAnd then?")


def test_typing_offline_survives_a_reload_and_is_saved_when_the_network_is_back(
    visitor, cast, given
):
    context = visitor.open()
    page = open_sheet(visitor, context, cast, given)
    until(page, lambda: page.evaluate("caches.match(location.href).then(Boolean)"))
    context.set_offline(True)
    box(page, "b").press_sequentially("written in the cellar", delay=10)
    page.get_by_text("Kept on this device; sent when there is network.").wait_for()
    page.reload()
    assert box(page, "b").input_value() == "written in the cellar"
    assert not Sheet.objects.exists()
    context.set_offline(False)
    until(page, lambda: answer("b") == "written in the cellar")
    saved(page)


def test_two_windows_tell_of_each_other_and_nothing_is_lost(visitor, cast, given):
    context = visitor.open()
    first = open_sheet(visitor, context, cast, given)
    second = context.new_page()
    second.goto(first.url)
    box(first, "a").fill("from the first window")
    saved(first)
    box(second, "a").fill("from the second window")
    told = second.locator("[data-clash]:visible")
    told.wait_for()
    assert "from the first window" in told.inner_text()
    assert answer() == "from the second window"
    assert OlderAnswer.objects.get().answer == "from the first window"
    box(first, "b").fill("another question")
    until(first, lambda: answer("b") == "another question")
    assert answer() == "from the second window"
    assert not first.locator("[data-clash]:visible").count()


def test_a_windows_own_sentence_never_clashes_with_itself(visitor, cast, given):
    context = visitor.open()
    page = open_sheet(visitor, context, cast, given)
    dropped = []

    def lose_some(route):
        """Every second save arrives and its answer is lost."""
        dropped.append(1)
        if len(dropped) % 2:
            route.fetch()
            route.abort()
        else:
            route.continue_()

    context.route("**/save/", lose_some)
    for word in SENTENCE.split():
        box(page, "a").press_sequentially(f"{word} ", delay=15)
        page.wait_for_timeout(350)
    until(page, lambda: answer() == f"{SENTENCE} ")
    assert len(dropped) > 2
    assert not OlderAnswer.objects.exists()
    assert not page.locator("[data-clash]:visible").count()


def test_signing_out_sends_first_and_leaves_no_text_behind(visitor, cast, given):
    page = open_sheet(visitor, visitor.open(), cast, given)
    box(page, "a").fill("just before I leave")
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/")
    assert answer() == "just before I leave"
    assert kept(page) == 0


def test_choices_count_live_and_what_is_open_is_told_in_place(visitor, cast, given):
    page = open_sheet(visitor, visitor.open(), cast, given)
    state = page.locator("[data-some-state]")
    box(page, "a").fill("one")
    assert state.inner_text() == "1 answered, 1 more to go."
    page.get_by_role("button", name="Send").click()
    page.get_by_text("Choose 1 more to answer.").wait_for()
    box(page, "c").fill("two")
    assert state.inner_text() == "2 answered. That is all."
    box(page, "b").fill("three")
    assert state.inner_text() == "3 answered: 1 too many. Empty 1."
    box(page, "b").fill("")
    page.get_by_role("button", name="Send").click()
    page.wait_for_url(f"**/my/work/{given.pk}/")
    assert Sheet.objects.get().sent_at is not None
    until(page, lambda: kept(page) == 0)


def test_a_remark_takes_six_taps_and_a_sentence_also_without_network(visitor, cast):
    piece = ode(cast)
    given = give(cast, "rehearsal_remark", due_in=1, title="One spot")
    context = visitor.open()
    page = context.pages[0]
    visitor.sign_in(page, cast.musician)
    until(page, lambda: page.evaluate("navigator.serviceWorker.controller !== null"))
    form = f"/my/work/{given.pk}/remark/"
    until(page, lambda: page.evaluate(f"caches.match('{form}').then(Boolean)"))
    until(page, lambda: page.evaluate("caches.match('/static/sheet-pins.js').then(Boolean)"))
    context.set_offline(True)
    taps = []

    def tap(target):
        taps.append(target)
        target.click()

    tap(page.get_by_role("link", name="Begin"))
    page.locator("[data-pad]").wait_for()
    assert page.locator("[data-piece]").input_value() == "Ode"
    pad = page.get_by_role("group", name="Number keys")
    tap(pad.get_by_role("button", name="3", exact=True))
    tap(pad.get_by_role("button", name="4", exact=True))
    tap(page.get_by_label("I lost my place"))
    page.locator('[name="q.spot.more"]').press_sequentially("I looked at my hands.")
    tap(page.get_by_label("Count out loud"))
    tap(page.get_by_role("button", name="Send"))
    page.get_by_text("It is sent when there is network. You can close this page.").wait_for()
    assert len(taps) <= 6 and not Sheet.objects.exists()
    page.goto("/my/")
    page.get_by_text("A page you wrote is kept on this device.").wait_for()
    context.set_offline(False)
    until(page, Remark.objects.exists)
    remark = Remark.objects.get()
    assert (remark.piece, remark.first_measure, remark.last_measure) == (piece, 1, 1)
    assert "I looked at my hands" in remark.words and Sheet.objects.get().sent_at


def test_a_recording_in_a_sheet_is_made_kept_and_played(visitor, cast):
    given = give(cast, EVERYTHING)
    page = open_sheet(visitor, visitor.open(), cast, given, "all")
    place = page.locator('[data-question="recording"]')
    place.get_by_role("button", name="Record").click()
    page.get_by_text("Recording.", exact=True).wait_for()
    page.wait_for_timeout(1500)
    place.get_by_role("button", name="Stop").click()
    page.get_by_text("Your recording is saved.").wait_for()
    sound = SheetSound.objects.get()
    assert Sheet.objects.get().answers["recording"] == {"sound": str(sound.key)}
    assert sound.seconds > 0.8
    page.reload()
    player = page.locator("[data-sound-kept] audio")
    player.evaluate("(one) => one.play()")
    until(page, lambda: player.evaluate("(one) => one.currentTime > 0"))


def test_rows_are_added_without_a_trip_and_saved(visitor, cast):
    given = give(cast, EVERYTHING)
    page = open_sheet(visitor, visitor.open(), cast, given, "all")
    place = page.locator('[data-question="rows"]')
    place.locator("textarea").first.fill("Oboe")
    place.get_by_role("button", name="One more row").click()
    place.locator("textarea").nth(1).fill("Horn")
    until(page, lambda: answer("rows") == [{"name": "Oboe"}, {"name": "Horn"}])
    page.reload()
    assert place.locator("textarea").nth(1).input_value() == "Horn"


def test_a_station_keeps_no_text_on_the_device(visitor, cast, given):
    context = visitor.open()
    page = context.pages[0]
    visitor.sign_in_director(page)
    page.goto("/station/")
    page.get_by_role("button").filter(has_text="station").first.click()
    page.fill("#id_username", cast.musician.account.sign_in)
    page.fill("#id_password", "2468")
    page.locator("main button[type=submit]").first.click()
    page.wait_for_url("**/my/")
    page.goto(f"/my/work/{given.pk}/some/")
    box(page, "a").fill("at the station")
    until(page, lambda: answer() == "at the station")
    names = page.evaluate("indexedDB.databases().then((all) => all.map((one) => one.name))")
    assert "standlight-sheets" not in names
    box(page, "b").fill("and done")
    page.get_by_role("button", name="Send", exact=True).click()
    page.wait_for_url("**/station/thanks/")
    assert Sheet.objects.get().sent_at is not None
