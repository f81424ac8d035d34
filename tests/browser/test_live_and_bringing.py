"""One at the stand by keys and by thumb; a folder of files and a split in a real browser."""

import pytest
from django.urls import reverse

from standlight.programme.models import Arrival, GivenLevel, LongRecording, Turn
from tests.browser.axe import violations
from tests.browser.conftest import DESK, PHONE, until
from tests.programme.desk_scene import more_clarinets
from tests.web.scene import wav
from tests.workshop.test_decoding import made
from tests.workshop.test_long_takes import row


def opened(visitor, size, name, *args):
    page = visitor.open(size=size).pages[0]
    visitor.sign_in_director(page)
    page.goto(reverse(name, args=args))
    return page


def test_two_musicians_are_heard_by_keys_alone(visitor, cast, scene):
    page = opened(visitor, DESK, "live-check", scene.check.pk)
    page.keyboard.press("Space")
    until(page, lambda: page.locator("[data-clock]").inner_text() != "0:00")
    for key in "2", "ArrowUp", "3", "n", "4":
        page.keyboard.press(key)
    page.keyboard.press("Enter")
    page.get_by_text("Kept: Mina Okafor.").wait_for()
    assert dict(GivenLevel.objects.values_list("criterion", "value")) == {
        "intonation": "3", "rhythm": "not_shown", "notes": "4",
    }  # fmt: skip
    for key in "1", "1", "1", "Enter":
        page.keyboard.press(key)
    page.get_by_text("has been heard or has sent a take").wait_for()
    assert Turn.objects.count() == 2


def test_on_a_phone_each_level_is_one_tap_of_a_thumbs_size_and_space_does_not_save(
    visitor, cast, scene
):
    page = opened(visitor, PHONE, "live-check", scene.check.pk)
    presses = page.locator(".press")
    assert all(box.bounding_box()["height"] >= 44 for box in presses.all())
    for place in (0, 6, 12):
        presses.nth(place).click()
    page.keyboard.press("Space")
    assert not Turn.objects.exists()
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Kept: Mina Okafor.").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    assert violations(page) == ()


def test_files_go_one_by_one_and_a_bad_one_is_told(visitor, cast, scene, tmp_path):
    names = ["Mina Okafor.wav", "theo.wav", "notes.wav"]
    contents = [wav(0.5), wav(0.6), b"only words in here, no sound " * 9]
    for name, data in zip(names, contents, strict=True):
        (tmp_path / name).write_bytes(data)
    page = opened(visitor, PHONE, "bring-in", scene.check.pk)
    page.set_input_files("#files", [tmp_path / name for name in names])
    page.get_by_role("button", name="Bring them in").click()
    page.get_by_text("notes.wav: this is a text file").wait_for()
    page.get_by_role("link", name="To the recordings that are here").click()
    page.get_by_role("button", name="Keep 2 takes").wait_for()
    assert all(Arrival.objects.values_list("file_time", flat=True))
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    assert violations(page) == ()
    page.get_by_role("button", name="Keep 2 takes").click()
    page.get_by_text("2 takes kept").wait_for()
    assert set(Turn.objects.values_list("musician", flat=True)) == {
        cast.musician.pk, cast.second_musician.pk,
    }  # fmt: skip


def test_a_part_is_split_where_its_sound_stands(visitor, cast, scene, tmp_path):
    more_clarinets(scene, 1)
    (tmp_path / "class.wav").write_bytes(made("wav", "pcm_s16le", row()))
    page = opened(visitor, DESK, "bring-in", scene.check.pk)
    page.set_input_files("#long", tmp_path / "class.wav")
    page.get_by_role("button", name="Bring it in and cut it").click()
    page.get_by_role("button", name="Keep 3 takes").wait_for()
    first = LongRecording.objects.get().spans.first()
    line = page.locator(f"#row-{first.pk}")
    line.get_by_text("Split or move the ends").click()
    line.locator("audio").evaluate(
        "sound => new Promise(done => { sound.onseeked = done; sound.preload = 'auto';"
        " sound.load(); sound.onloadedmetadata = () => { sound.currentTime = 7; }; })"
    )
    line.get_by_role("button", name="Split here").click()
    page.get_by_text("4 parts").wait_for()
    first.refresh_from_db()
    assert first.end_s == pytest.approx(7.0, abs=0.2)
    assert violations(page) == ()
