"""Pictures and readings where they are seen: the Desk after the levels, the musician's answer."""

import pytest
from django.urls import reverse
from django.utils import timezone

from standlight.programme.actions.desk import rate
from standlight.programme.models import Answer, CommentLine, Report
from standlight.programme.queries.desk import desk_page
from standlight.programme.queries.my_part import came_back
from tests.programme.desk_scene import ALL_THREE, make_scene, note, read

pytestmark = pytest.mark.django_db

NOTES = 11
"""Notes of the scene's tune."""


@pytest.fixture
def scene(cast):
    return make_scene(cast, notation=True)


def hear(turn, *, late=(), notes=NOTES):
    """A report of the second edition: every note, two lines, one place."""
    report = read(
        turn,
        notes=[note(i, asynchrony_ms=90.0 if i in late else 0.0) for i in range(notes)],
        spots=[("rhythm", 1, 1, "Measure 34: one entry a little late.")] if late else [],
    )
    report.body["tempo_curve"] = [
        {"quarters": float(q), "tempo_qpm": 96.0 + (12.0 if q > 10 else 0.0), "se_qpm": 0.5,
         "stretch": 0}
        for q in range(16)
    ]  # fmt: skip
    report.body["loudness_line"] = [
        {"quarters": float(q), "loudness_lu": 0.0, "stretch": 0} for q in range(16)
    ]
    report.save()
    return report


def answer(cast, turn):
    Answer.objects.create(turn=turn, next_step="Keep the beat.", written_by=cast.director)
    turn.answered_at = timezone.now()
    turn.save()


def test_pictures_are_hidden_until_the_levels_are_saved(cast, turn):
    hear(turn)
    assert desk_page(cast.director, turn).readings is None
    rate(cast.director, turn, ALL_THREE)
    lines = desk_page(cast.director, turn).readings.lines
    assert [line.heading for line in lines] == ["Tempo"]  # the check asks for no dynamics
    assert lines[0].picture.startswith("<svg")
    assert "(108)" in lines[0].words and "(" not in lines[0].plain


def test_the_picture_belongs_to_what_the_check_asks(cast, scene, turn):
    hear(turn)
    scene.check.criteria = ["dynamics", "notes"]
    scene.check.save()
    turn.refresh_from_db()
    rate(cast.director, turn, {"dynamics": "3", "notes": "3"})
    assert [line.heading for line in desk_page(cast.director, turn).readings.lines] == ["Loudness"]


def test_a_report_of_the_first_edition_has_no_picture_and_breaks_nothing(cast, turn):
    read(turn, notes=[note(i) for i in range(NOTES)])
    rate(cast.director, turn, ALL_THREE)
    readings = desk_page(cast.director, turn).readings
    assert readings.lines == () and readings.silent == ""
    answer(cast, turn)
    assert came_back(cast.musician.account, turn).heard.lines == ()


def test_a_passage_that_was_moved_since_has_no_picture(cast, turn):
    hear(turn, notes=NOTES - 2)
    rate(cast.director, turn, ALL_THREE)
    assert desk_page(cast.director, turn).readings.lines == ()


def test_the_answer_shows_places_marks_and_pictures_in_plain_words(client, cast, turn):
    hear(turn, late=(4,))
    rate(cast.director, turn, ALL_THREE)
    answer(cast, turn)
    heard = came_back(cast.musician.account, turn).heard
    assert heard.places == ("Measure 34: one entry a little late.",)
    assert heard.marked and "+90" in heard.music
    client.force_login(cast.musician.account)
    page = client.get(reverse("my-answer", args=[turn.pk])).content.decode()
    assert "It is not your level." in page
    assert "Measure 34: one entry a little late." in page
    # the scene's engraved tune is numbered from 1
    assert "Slowest in measure 1, fastest in measure 3." in page
    assert ' style=' not in page.split('<details class="heard">')[1].split("</details>")[0]


def test_a_note_that_went_on_is_drawn_and_explained_only_where_there_is_one(client, cast, turn):
    answer(cast, turn)
    report = hear(turn)
    client.force_login(cast.musician.account)
    address = reverse("my-answer", args=[turn.pk])
    assert "dashed line" not in client.get(address).content.decode()
    report.body["prolonged"] = [4]
    report.save()
    html = client.get(address).content.decode()
    assert "note 5: went on longer than written, held or played twice" in html
    assert "A dashed line after a note: it went on too long, held or played twice." in html
    rate(cast.director, turn, ALL_THREE)
    client.force_login(cast.director)
    desk = client.get(reverse("desk-turn", args=[turn.check_row_id, turn.pk])).content.decode()
    assert "a dashed line after a note is one that went on too long." in desk
    # the music has other notes by now: nothing of the report is drawn, so nothing is explained
    report.body["notes"] = report.body["notes"][:5]
    report.save()
    assert "dashed line" not in client.get(address).content.decode()


def test_a_take_that_nobody_read_says_nothing(cast, turn):
    answer(cast, turn)
    assert came_back(cast.musician.account, turn).heard is None


def test_a_refused_take_tells_why_and_shows_no_place(cast, turn):
    read(turn, verdicts=["The recording is too noisy to read."])
    answer(cast, turn)
    heard = came_back(cast.musician.account, turn).heard
    assert heard.verdicts == ("The recording is too noisy to read.",)
    assert (heard.places, heard.lines, heard.music) == ((), (), "")


def test_strategies_come_from_the_directors_own_bank_alone(cast, turn):
    CommentLine.objects.all().delete()
    hear(turn, late=(4,))
    rate(cast.director, turn, ALL_THREE)
    assert not any(desk_page(cast.director, turn).offers.values())
    answer(cast, turn)
    page = came_back(cast.musician.account, turn)
    assert page.strategy.words == ""
    assert Report.objects.count() == 1
