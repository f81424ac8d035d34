"""Places to hear again in a real browser: by key, by press, and what is told when a save fails."""

import pytest
from django.urls import reverse

from standlight.programme.actions.desk import rate
from standlight.programme.models import GivenLevel, Turn
from tests.browser.conftest import PHONE, until
from tests.browser.desk_takes import give_sound
from tests.browser.test_desk_keys import open_desk
from tests.browser.test_desk_player import QUARTERS, sound
from tests.programme.desk_scene import make_scene, note, read, send

LEVELS = {"intonation": "3", "rhythm": "4", "notes": "3"}


@pytest.fixture
def turn(cast):
    """A turn with three entries early in the third measure, which sounds from 4.5 s."""
    turn = send(make_scene(cast, notation=True), cast.musician)
    give_sound(first_note_s=0.5)
    early = (6, 7, 8)
    read(
        turn,
        notes=[
            note(n, onset_s=0.5 + q / 2, asynchrony_ms=-180.0 if n in early else 0.0)
            for n, q in enumerate(QUARTERS)
        ],
        spots=[("intonation", 1, 1, "Measure 34: one note sharp.")],
    )
    return turn


def test_a_key_plays_from_the_place_and_shows_it_on_the_music_and_changes_no_level(
    visitor, cast, turn
):
    rate(cast.director, turn, LEVELS)
    page = open_desk(visitor)
    page.goto(reverse("desk-turn", args=[turn.check_row_id, turn.pk]))
    page.get_by_text("Three entries are about 180 ms early").wait_for()
    page.keyboard.press("u")
    until(page, lambda: 4.0 < sound(page)["at"] < 6.0 and not sound(page)["paused"])
    assert page.locator(".wide-music .here").count() == 4
    page.keyboard.press("i")
    until(page, lambda: 2.0 < sound(page)["at"] < 3.9)
    assert page.locator(".wide-music .here").count() == 2
    standing = GivenLevel.objects.filter(retired_at=None).values_list("criterion", "value")
    assert dict(standing) == LEVELS
    page.set_viewport_size(PHONE)
    for link in page.locator("[data-jump]").all():
        box = link.bounding_box()
        assert box["height"] >= 44 and box["x"] + box["width"] <= PHONE["width"]


def test_a_save_on_a_turn_that_was_taken_away_is_told_and_clears_nothing(visitor, turn):
    page = open_desk(visitor)
    for _ in LEVELS:
        page.keyboard.press("3")
    Turn.objects.all().delete()
    page.keyboard.press("Enter")
    page.get_by_text("This take is no longer here.").wait_for()
    assert page.locator("[data-criterion] input:checked").count() == len(LEVELS)
