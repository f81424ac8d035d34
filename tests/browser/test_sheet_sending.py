"""A musician presses Send at a bad moment, in a real browser: the order is never lost."""

from standlight.programme.models import Sheet
from tests.browser.conftest import until
from tests.browser.test_sheet import box, open_sheet
from tests.programme.sheet_scene import CHOOSING, EVERYTHING, give

TWENTY_AT_ONCE = """async () => {
    const { shelf } = await import("/static/sheet-shelf.js");
    const kept = await shelf;
    const key = ["one", "a"];
    const started = { draft: "one", question: "a", count: 0 };
    const more = (row = started) => ({ ...row, count: row.count + 1 });
    const works = Array.from({ length: 20 }, () => kept.change("answers", key, more));
    const told = (await Promise.all(works)).map((row) => row.count);
    const row = await kept.get("answers", key);
    await kept.change("answers", key, () => null);
    return [kept.durable, told, row.count, await kept.get("answers", key) === undefined];
}"""


def test_send_pressed_while_a_recording_goes_up_is_carried_out_after_it(visitor, cast):
    given = give(cast, EVERYTHING)
    context = visitor.open()
    page = open_sheet(visitor, context, cast, given, "all")
    held = []
    context.route("**/sound/**", lambda route: held.append(route))
    place = page.locator('[data-question="recording"]')
    place.get_by_role("button", name="Record").click()
    page.get_by_text("Recording.", exact=True).wait_for()
    page.wait_for_timeout(800)
    place.get_by_role("button", name="Stop").click()
    until(page, lambda: held)
    page.get_by_role("button", name="Send", exact=True).click()
    page.get_by_text("Sending.", exact=True).wait_for()
    until(page, lambda: page.evaluate(
        """async () => {
            const { shelf } = await import("/static/sheet-shelf.js");
            return (await (await shelf).drafts()).some((one) => one.send);
        }"""
    ))  # fmt: skip
    held[0].continue_()
    # Other questions are open, and the school says so because it was asked to take the sheet.
    page.get_by_text("Not sent yet. Look at what is still open below.").wait_for()
    assert "sound" in Sheet.objects.get().answers["recording"]


def test_the_form_and_the_queue_write_the_same_row_and_lose_nothing(visitor, cast):
    page = open_sheet(visitor, visitor.open(), cast, give(cast, CHOOSING))
    assert page.evaluate(TWENTY_AT_ONCE) == [True, list(range(1, 21)), 20, True]


def test_the_shelf_in_memory_keeps_the_same_promise(visitor, cast):
    context = visitor.open()
    context.add_init_script("indexedDB.open = () => { throw new Error('no disk here') }")
    page = open_sheet(visitor, context, cast, give(cast, CHOOSING))
    box(page, "a").fill("kept in memory")
    until(page, lambda: Sheet.objects.filter(answers__a="kept in memory").exists())
    assert page.evaluate(TWENTY_AT_ONCE) == [False, list(range(1, 21)), 20, True]
