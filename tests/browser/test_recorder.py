"""Recording in a real browser: nothing is lost by a bad network, a reload or a killed browser.

The microphone plays a spliced take of real clarinet notes (shared data, credit in
tests/browser/CREDITS.md).
"""

import numpy as np
import pytest

from standlight.programme import store
from standlight.programme.models import Remark, Take, Turn
from standlight.workshop.decoding import decode
from tests.browser.conftest import as_wav, until
from tests.hearing_scene import RECORDING
from tests.web.scene import publish


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    return as_wav(RECORDING, tmp_path_factory.mktemp("sound") / "take.wav")


@pytest.fixture
def check(cast):
    """A fast tempo, so that the count-in is short."""
    return publish(cast, tempo_qpm=200)


def record(page, seconds, *, keep=True):
    """Count-in, ``seconds`` of recording, stop, and keep."""
    page.click("[data-record]")
    page.get_by_text("Recording. Press the button when you are done.").wait_for()
    page.wait_for_timeout(int(seconds * 1000))
    page.click("[data-record]")
    page.locator("[data-fresh]").wait_for(state="visible")
    if keep:
        page.get_by_role("button", name="Keep this take").click()


def open_check(visitor, context, musician, check):
    """Sign in and open the check; a killed Chromium has forgotten a cookie of this minute."""
    page = context.pages[0]
    visitor.sign_in(page, musician)
    page.goto(f"/my/check/{check.pk}/")
    page.locator("[data-recorder]").wait_for(state="visible")
    return page


def drop_some(context, every=3):
    """Abort each third request to the uploads; how many were dropped is counted in a list."""
    seen, dropped = [], []

    def perhaps(route):
        seen.append(route.request.url)
        if len(seen) % every == 0:
            dropped.append(route.request.url)
            route.abort()
        else:
            route.continue_()

    context.route("**/upload/**", perhaps)
    return dropped


def whole_take():
    return Take.objects.filter(state=Take.WHOLE).first()


def loudness(take):
    recording = decode(store.fetch(take.digest))
    return recording.seconds, float(np.sqrt(np.mean(recording.samples**2)))


def test_a_recording_arrives_through_a_bad_network_and_is_sent(visitor, cast, check, sound):
    context = visitor.open(sound=sound)
    page = open_check(visitor, context, cast.musician, check)
    dropped = drop_some(context)
    record(page, 4.5)
    take = until(page, whole_take)
    seconds, rms = loudness(take)
    assert 4.0 < seconds < 7.0
    assert rms > 0.005, "the take is silent"
    assert dropped, "no request was dropped"
    assert take.media_type.startswith("audio/webm")
    for processing in ("echoCancellation", "noiseSuppression", "autoGainControl"):
        assert take.settings[processing] is False
    assert "deviceId" not in take.settings
    page.select_option("#spot-first", label="34")
    page.fill("#spot-words", "I messed up the fast part")
    page.fill("#words", "second try")
    page.get_by_role("button", name="Send this take").click()
    page.get_by_text("Your director hears it next.").wait_for()
    turn = Turn.objects.get()
    assert turn.sent_at and turn.words == "second try" and turn.way == Turn.WEB
    assert Take.objects.get().chosen
    assert Remark.objects.get().first_measure == 1


def test_what_is_not_kept_never_leaves_the_device(visitor, cast, check, sound):
    context = visitor.open(sound=sound)
    page = open_check(visitor, context, cast.musician, check)
    uploads = []
    page.on("request", lambda request: "/upload/" in request.url and uploads.append(request.url))
    record(page, 1.5, keep=False)
    page.get_by_role("button", name="Let it go").click()
    page.locator("[data-fresh]").wait_for(state="hidden")
    page.reload()
    page.locator("[data-recorder]").wait_for(state="visible")
    page.wait_for_timeout(500)
    assert page.locator("[data-fresh]").is_hidden()
    assert not uploads
    assert not Take.objects.exists()


def test_without_network_a_reload_shows_the_page_and_the_queue_and_it_arrives_later(
    visitor, cast, check, sound
):
    context = visitor.open(sound=sound)
    page = open_check(visitor, context, cast.musician, check)
    until(page, lambda: page.evaluate(
        "async () => (await (await caches.open('standlight-kept-1')).keys())"
        ".some((kept) => kept.url.includes('/my/check/'))"
    ))  # fmt: skip
    context.set_offline(True)
    record(page, 2.5)
    page.get_by_text("still to send").wait_for()
    page.get_by_role("button", name="Send this take").click()
    page.get_by_text("Your turn is on its way.").wait_for()
    page.reload()
    page.get_by_text("still to send").wait_for()
    page.get_by_text("Your turn is on its way.").wait_for()
    assert page.locator("img").first.evaluate("(img) => img.complete && img.naturalWidth > 0")
    assert not Take.objects.exists()
    context.set_offline(False)
    until(page, lambda: Turn.objects.filter(sent_at__isnull=False).exists())
    assert loudness(whole_take())[0] > 2.0


def test_a_browser_killed_while_sending_delivers_when_it_is_opened_again(
    visitor, cast, check, sound
):
    context = visitor.open(sound=sound)
    page = open_check(visitor, context, cast.musician, check)
    context.route("**/upload/**", lambda route: route.abort())
    record(page, 3.5)
    page.get_by_text("still to send").wait_for()
    visitor.kill()
    assert not Take.objects.exists()
    page = open_check(visitor, visitor.open(sound=sound), cast.musician, check)
    seconds, _ = loudness(until(page, whole_take))
    assert seconds > 3.0


def test_a_browser_killed_while_recording_loses_at_most_the_piece_in_the_making(
    visitor, cast, check, sound
):
    context = visitor.open(sound=sound)
    page = open_check(visitor, context, cast.musician, check)
    page.click("[data-record]")
    page.get_by_text("Recording. Press the button when you are done.").wait_for()
    page.wait_for_timeout(4200)
    visitor.kill()
    page = open_check(visitor, visitor.open(sound=sound), cast.musician, check)
    page.get_by_role("button", name="Keep this take").click()
    seconds, _ = loudness(until(page, whole_take))
    # The recorder began before the count-in ended, so at least three whole seconds are here.
    assert seconds > 3.0


def test_at_a_station_sending_signs_out_and_nothing_of_the_musician_stays(
    visitor, cast, check, sound
):
    context = visitor.open(sound=sound)
    page = context.pages[0]
    visitor.sign_in_director(page)
    page.goto("/station/")
    page.get_by_role("button", name="Make this browser a station").click()
    page.fill("#id_username", cast.musician.account.sign_in)
    page.fill("#id_password", "2468")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/my/")
    page.goto(f"/my/check/{check.pk}/")
    record(page, 1.5)
    page.get_by_role("button", name="Send this take").click()
    page.get_by_text("Thank you!").wait_for()
    until(page, lambda: Turn.objects.filter(sent_at__isnull=False, way=Turn.STATION).exists())
    assert "Mina" not in page.content()
    page.go_back()
    page.wait_for_load_state()
    assert "Measures 33" not in page.content()
    left = page.evaluate(
        "async () => { const { shelf } = await import('/static/upload-queue-shelf.js');"
        " const kept = await shelf;"
        " const rows = [await kept.all('takes'), await kept.all('turns')];"
        " return [...rows, (await caches.keys()).length]; }"
    )
    assert left == [[], [], 0]


def test_the_check_page_is_light(visitor, cast, check):
    """Without fonts, at most 120 kB: three seconds on a 400 kbit/s line (our own budget)."""
    context = visitor.open()
    page = context.pages[0]
    visitor.sign_in(page, cast.musician)
    sizes = {}
    page.on("response", lambda answer: sizes.update({answer.url: len(answer.body())}))
    page.goto(f"/my/check/{check.pk}/", wait_until="load")
    weight = sum(size for url, size in sizes.items() if not url.endswith(".woff2"))
    assert len(sizes) > 5
    assert weight < 120_000, sizes


def test_the_tempo_and_the_page_run_without_a_breach_of_the_content_policy(visitor, cast):
    check = publish(cast, musician=cast.singer, group=cast.choir, asks_self_rating=True)
    context = visitor.open()
    page = context.pages[0]
    breaches = []
    page.on("console", lambda said: said.type == "error" and breaches.append(said.text))
    visitor.sign_in(page, cast.singer)
    page.goto(f"/my/check/{check.pk}/")
    page.click("[data-hear-tone]")
    page.get_by_role("button", name="Hear the tempo").click()
    page.locator(".count .now", has_text="2").wait_for()
    page.get_by_role("button", name="Check the sound level").click()
    page.get_by_text("Play or sing your loudest note.").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert breaches == []


SEND_AT_THE_LAST_MOMENT = """async () => {
    const { shelf } = await import("/static/upload-queue-shelf.js");
    const { drain, sendTurn } = await import("/static/upload-queue.js");
    const kept = await shelf, all = kept.all;
    let asked = 0, late = null;
    // The fourth question of a round is the last: which turns are still to send.
    kept.all = async (store) => {
        const rows = await all(store);
        const turn = { owner: "somebody", take: "a-take", permit: "a-permit", told: {} };
        asked += 1;
        if (asked === 4) late = sendTurn(turn);
        if (asked === 4) await new Promise((resolve) => setTimeout(resolve, 300));
        return rows;
    };
    await drain();
    await late;
    return asked;
}"""


def test_a_turn_that_is_kept_while_the_queue_ends_is_sent_too(visitor, cast, check):
    context = visitor.open()
    page = open_check(visitor, context, cast.musician, check)
    page.wait_for_load_state("networkidle")
    sent = []
    context.route(
        "**/upload/a-take/send", lambda route: sent.append(route) or route.fulfill(json={})
    )
    assert page.evaluate(SEND_AT_THE_LAST_MOMENT) >= 4
    until(page, lambda: sent, seconds=5.0)
