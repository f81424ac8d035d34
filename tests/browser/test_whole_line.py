"""The whole line in a real browser: a score loaded, a check published, a real performance
recorded by the musician, heard by the machine, rated and answered by keys, and exported.

The microphone plays real clarinet notes joined to a tune whose pitches and onsets are known
exactly (shared data, credit in tests/browser/CREDITS.md); nothing here is told to the reader.
"""

import csv
import datetime
import io

import pytest
from django.urls import reverse
from django.utils import timezone

from standlight.criteria import CRITERIA
from standlight.programme import jobs
from standlight.programme.models import MarkingPeriod, PlayingCheck, Report, Take, Turn
from standlight.score import line_to_musicxml
from tests.browser.conftest import DESK, PHONE, as_wav, until
from tests.hearing_scene import RECORDING, TUNE

CHOSEN = ("intonation", "rhythm", "notes")


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    return as_wav(RECORDING, tmp_path_factory.mktemp("line") / "take.wav", lead_s=1.0)


def test_from_a_score_to_an_exported_mark(visitor, cast, sound, tmp_path):
    today = timezone.localdate()
    day = datetime.timedelta(days=1)
    MarkingPeriod.objects.create(
        programme=cast.programme,
        name="Autumn",
        starts_on=today - 30 * day,
        ends_on=today + 30 * day,
    )
    score = tmp_path / "tune.musicxml"
    score.write_bytes(line_to_musicxml(TUNE, instrument="Clarinet in Bb", title="Tune"))

    desk = visitor.open("director", size=DESK).pages[0]
    visitor.sign_in_director(desk)
    desk.goto(f"/folder/add/?how=score&ensemble={cast.band.pk}")
    desk.set_input_files("#score", str(score))
    desk.fill("#title", "Tune")
    if desk.locator("[name=owns_music]").count():
        desk.check("[name=owns_music]")
    desk.get_by_role("button", name="Add it").click()
    desk.get_by_role("link", name="Make a check").click()
    for criterion in CRITERIA:
        desk.set_checked(f"[name=criteria][value={criterion}]", criterion in CHOSEN)
    desk.fill("#tempo", "84")
    desk.fill("#due_on", str(today + 2 * day))
    desk.get_by_role("button", name="Make the draft and find passages").click()
    desk.get_by_role("button", name="Publish").click()
    desk.get_by_role("link", name="Hear takes").wait_for()
    check = PlayingCheck.objects.get()
    assert set(check.criteria) == set(CHOSEN)

    phone = visitor.open("musician", sound=sound, size=PHONE).pages[0]
    visitor.sign_in(phone, cast.musician)
    phone.goto(f"/my/check/{check.pk}/")
    phone.click("[data-record]")
    phone.get_by_text("Recording. Press the button when you are done.").wait_for()
    phone.wait_for_timeout(15_000)
    phone.click("[data-record]")
    phone.get_by_role("button", name="Keep this take").click()
    take = until(phone, lambda: Take.objects.filter(state=Take.WHOLE).first())
    phone.get_by_role("button", name="Send this take").click()
    phone.get_by_text("Your director hears it next.").wait_for()

    assert jobs.listen_to_take(str(take.key)) == "heard"
    body = Report.objects.get().body
    played = [note for note in body["notes"] if note["outcome"] == "played"]
    # The microphone begins with the page, so the take may have lost its first notes.
    assert len(played) >= 8, body["verdicts"]
    heard = [note["deviation_cents"] for note in played if note["deviation_cents"] is not None]
    assert max(abs(cents) for cents in heard) < 50

    desk.goto(f"/desk/{check.pk}/")
    desk.get_by_role("heading", name="Mina Okafor").wait_for()
    for _ in CHOSEN:
        desk.keyboard.press("3")
    desk.keyboard.press("Enter")
    desk.get_by_text("Your levels").wait_for()
    desk.locator("textarea[name=next_step], input[name=next_step]").fill("Breathe before letter A")
    desk.locator("[name=next_step]").press("Enter")
    until(desk, lambda: Turn.objects.get().answered_at)

    phone.goto(reverse("my-answer", args=[Turn.objects.get().pk]))
    phone.get_by_text("Breathe before letter A").first.wait_for()

    period = MarkingPeriod.objects.get()
    answer = desk.request.get(f"/marks/{cast.band.pk}/{period.pk}/marks.csv")
    assert answer.ok
    rows = list(csv.DictReader(io.StringIO(answer.body().decode("utf-8-sig"))))
    ours = next(row for row in rows if "1001" in row.values())
    assert "Okafor" in " ".join(ours.values())
    assert any("Secure" in cell or cell.strip() in {"3", "3.0"} for cell in ours.values())
