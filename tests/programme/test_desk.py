"""The Desk: levels, answers, and what is shown before and after they are saved."""

import datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions.answers import answer_turn
from standlight.programme.actions.desk import (
    keep_line,
    prefer_readings_first,
    rate,
    remark_on_turn,
)
from standlight.programme.models import Answer, CommentLine, GivenLevel, Remark, Take, Turn
from standlight.programme.queries import desk_queue
from standlight.programme.queries.desk import bank_place, desk_page
from tests.programme.desk_scene import ALL_THREE, make_scene, more_clarinets, note, read, send

pytestmark = pytest.mark.django_db


@pytest.fixture
def turn(scene):
    return send(scene, scene.cast.musician, words="I messed up the fast part",
                self_levels={"rhythm": 1})


def standing_levels(turn, rater):
    rows = GivenLevel.objects.filter(turn=turn, rater=rater, retired_at__isnull=True)
    return {row.criterion: row.value for row in rows}


# Levels.


def test_levels_are_rows_one_a_criterion(cast, turn):
    rate(cast.director, turn, ALL_THREE)
    assert standing_levels(turn, cast.director) == ALL_THREE


def test_the_same_levels_again_add_no_row(cast, turn):
    rate(cast.director, turn, ALL_THREE)
    assert rate(cast.director, turn, ALL_THREE) == []
    assert GivenLevel.objects.count() == 3


def test_a_changed_level_retires_the_old_row_and_keeps_it(cast, turn):
    rate(cast.director, turn, ALL_THREE)
    rate(cast.director, turn, {"rhythm": "4"})
    assert standing_levels(turn, cast.director)["rhythm"] == "4"
    old = GivenLevel.objects.get(criterion="rhythm", retired_at__isnull=False)
    assert old.value == "3"


def test_levels_can_be_left_in_the_middle_and_taken_up_again(cast, turn):
    rate(cast.director, turn, {"intonation": "2"})
    page = desk_page(cast.director, turn)
    assert [row.given for row in page.rows] == ["2", "", ""]
    assert not page.saved
    rate(cast.director, turn, {"rhythm": "not_shown", "notes": "not_heard"})
    assert desk_page(cast.director, turn).saved


def test_two_directors_levels_stand_side_by_side(cast, turn):
    rate(cast.director, turn, ALL_THREE)
    rate(cast.second_director, turn, {**ALL_THREE, "notes": "1"})
    assert standing_levels(turn, cast.director)["notes"] == "4"
    assert standing_levels(turn, cast.second_director)["notes"] == "1"


@pytest.mark.parametrize("value", ["0", "5", "", "2.5", "good"])
def test_what_is_no_level_is_refused_in_words(cast, turn, value):
    with pytest.raises(StandlightError, match="not between 1 and 4"):
        rate(cast.director, turn, {"rhythm": value})
    assert GivenLevel.objects.count() == 0


def test_a_criterion_the_check_does_not_ask_is_refused(cast, turn):
    with pytest.raises(NotAllowed, match="does not ask"):
        rate(cast.director, turn, {"tone": "3"})


def test_a_turn_that_was_not_sent_cannot_be_rated_or_answered(cast, scene):
    unsent = Turn.objects.create(check_row=scene.check, musician=cast.musician)
    with pytest.raises(NotAllowed):
        rate(cast.director, unsent, {"rhythm": "3"})
    with pytest.raises(NotAllowed):
        answer_turn(cast.director, unsent, next_step="Count")


def test_levels_given_before_the_readings_are_not_marked_and_later_ones_are(cast, turn):
    read(turn)
    assert not any(row.after_readings for row in rate(cast.director, turn, ALL_THREE))
    assert [row.after_readings for row in rate(cast.director, turn, {"notes": "2"})] == [True]


def test_without_readings_a_changed_level_is_not_marked_as_given_after_them(cast, turn):
    rate(cast.director, turn, ALL_THREE)
    assert [row.after_readings for row in rate(cast.director, turn, {"notes": "2"})] == [False]


def test_with_readings_first_by_preference_every_level_is_marked(cast, turn):
    read(turn)
    prefer_readings_first(cast.director, True)
    assert all(row.after_readings for row in rate(cast.director, turn, ALL_THREE))


# Answers.


def test_only_the_next_step_is_required(cast, turn):
    answer_turn(cast.director, turn, next_step="  Count the rests   aloud ")
    turn.refresh_from_db()
    assert turn.answer.next_step == "Count the rests aloud"
    assert turn.answered_at is not None
    with pytest.raises(StandlightError, match="needs a next step"):
        answer_turn(cast.director, turn, next_step=" ", strength="Fine sound")


def test_an_answer_names_measures_of_the_piece_only(cast, turn):
    kept = answer_turn(cast.director, turn, next_step="Count", last_measure=2)
    assert (kept.first_measure, kept.last_measure) == (2, 2)
    with pytest.raises(StandlightError, match="swapped"):
        answer_turn(cast.director, turn, next_step="Count", first_measure=3, last_measure=1)
    with pytest.raises(StandlightError, match="no such measure"):
        answer_turn(cast.director, turn, next_step="Count", first_measure=4, last_measure=4)


def test_a_line_too_long_is_refused_with_its_length(cast, turn):
    with pytest.raises(StandlightError, match="401 characters"):
        answer_turn(cast.director, turn, next_step="x" * 401)


def test_a_second_answer_replaces_the_first_and_is_unseen_again(cast, turn):
    first = answer_turn(cast.director, turn, next_step="Count")
    Answer.objects.filter(pk=first.pk).update(seen_at=timezone.now())
    answer_turn(cast.director, turn, next_step="Count aloud")
    kept = Answer.objects.get()
    assert (kept.next_step, kept.seen_at) == ("Count aloud", None)


def test_the_musician_sees_levels_once_the_turn_is_answered_and_not_before(cast, turn):
    rate(cast.director, turn, ALL_THREE)
    assert not GivenLevel.objects.visible_to(cast.musician.account).exists()
    answer_turn(cast.director, turn, next_step="Count")
    assert GivenLevel.objects.visible_to(cast.musician.account).count() == 3
    assert not GivenLevel.objects.visible_to(cast.second_musician.account).exists()


def test_a_remark_keeps_the_part_and_needs_words(cast, scene, turn):
    kept = remark_on_turn(cast.director, turn, first_measure=1, last_measure=2, words="Rushed")
    assert (kept.piece, kept.part) == (scene.piece, scene.clarinet)
    with pytest.raises(StandlightError, match="needs words"):
        remark_on_turn(cast.director, turn, first_measure=1, last_measure=2, words="  ")
    assert Remark.objects.count() == 1


def test_the_same_bank_line_is_kept_once(cast):
    fields = {"criterion": "rhythm", "place": "next_step", "level": 2, "text": "Count aloud"}
    keep_line(cast.director, **fields)
    keep_line(cast.director, **fields)
    assert CommentLine.objects.count() == 1
    with pytest.raises(StandlightError):
        keep_line(cast.director, **{**fields, "level": 0})
    with pytest.raises(StandlightError):
        keep_line(cast.director, **{**fields, "criterion": "loudness"})


# What the page shows, and when.


def test_nothing_that_could_anchor_the_ear_is_there_before_the_levels_are_saved(cast):
    turn = send(make_scene(cast, notation=True), cast.musician, self_levels={"rhythm": 1},
                words="I messed up the fast part")
    read(turn, spots=[("rhythm", 1, 2, "Measures 34 to 35: two entries early.")])
    rate(cast.second_director, turn, ALL_THREE)
    before = desk_page(cast.director, turn)
    assert before.readings is None
    assert (before.words, before.other_raters, before.offers) == ("", (), {})
    assert not any(row.own_word for row in before.rows)
    rate(cast.director, turn, ALL_THREE)
    after = desk_page(cast.director, turn)
    assert after.readings.sentences == ("Measures 34 to 35: two entries early.",)
    assert after.words == "I messed up the fast part"
    assert [row.own_word for row in after.rows] == ["", "Beginning", ""]
    assert after.other_raters == (
        "Ruben Asher: Intonation developing, Rhythm secure, Notes extending",
    )


def test_by_preference_the_readings_come_first_but_the_musicians_words_still_do_not(cast):
    turn = send(make_scene(cast, notation=True), cast.musician, words="It was hard")
    read(turn, spots=[("notes", 0, 0, "Measure 33: one note missing.")])
    prefer_readings_first(cast.director, True)
    page = desk_page(cast.director, turn)
    assert page.readings.sentences
    assert page.words == ""


def test_the_sound_starts_a_fifth_of_a_second_before_the_first_note(cast, turn):
    assert desk_page(cast.director, turn).take.start_s == pytest.approx(1.3)


def test_paper_only_refused_unread_and_live_turns_each_say_why_there_are_no_readings(cast, scene):
    paper = send(scene, cast.second_musician)
    read(paper, verdicts=["The room was noisy."])
    unread = send(scene, cast.musician, state=Take.WHOLE)
    refused = send(scene, cast.musician, attempt=2, state=Take.REFUSED)
    read(refused, verdicts=["This is no sound file."])
    live = send(scene, cast.musician, attempt=3, way=Turn.LIVE, take=False)
    said = {}
    for turn in (paper, unread, refused, live):
        rate(cast.director, turn, ALL_THREE)
        page = desk_page(cast.director, turn)
        said[turn.pk] = page.readings.silent
        assert page.saved
        assert not page.readings.marks
    assert "paper only" in said[paper.pk]
    assert "not been read yet" in said[unread.pk]
    assert "could not be decoded" in said[refused.pk]
    assert "Heard live" in said[live.pk]
    assert desk_page(cast.director, refused).readings.verdicts == ("This is no sound file.",)


def test_earlier_takes_of_the_musician_can_be_heard_and_other_peoples_cannot(cast, scene, turn):
    send(scene, cast.second_musician)
    again = send(scene, cast.musician, attempt=2)
    page = desk_page(cast.director, again)
    assert [take.key for take in page.earlier] == [str(turn.takes.get().key)]
    assert page.earlier[0].label.startswith("Try 1, take 1")


def test_a_criterion_the_instrument_cannot_show_starts_at_not_shown(cast, scene):
    page = desk_page(cast.director, send(scene, cast.second_musician))
    chosen = {row.key: [c.value for c in row.choices if c.chosen] for row in page.rows}
    assert chosen == {"intonation": ["not_shown"], "rhythm": [], "notes": []}
    assert [row.fits for row in page.rows] == [False, True, True]


def test_the_bank_offers_lines_for_the_lowest_level_and_praise_for_the_highest(cast, turn):
    for criterion, place, level, text in (
        ("intonation", "next_step", 2, "Match the drone"),
        ("intonation", "next_step", 3, "Too high"),
        ("intonation", "next_step", None, "Listen down"),
        ("rhythm", "next_step", 3, "Other criterion"),
        ("intonation", "strategy", 2, "Long tones with a drone"),
        ("notes", "strength", 4, "Every note is there"),
    ):
        keep_line(cast.director, criterion=criterion, place=place, level=level, text=text)
    rate(cast.director, turn, ALL_THREE)
    offers = desk_page(cast.director, turn).offers
    assert [(o.key, o.text) for o in offers["next_step"]] == [
        ("a", "Match the drone"), ("b", "Listen down"), ("c", "Other criterion"),
    ]
    assert [o.about for o in offers["next_step"]] == [
        "Intonation, developing", "Intonation, developing", "Rhythm, secure",
    ]
    assert [(o.key, o.text) for o in offers["strategy"]] == [("t", "Long tones with a drone")]
    assert [(o.key, o.text) for o in offers["strength"]] == [("s", "Every note is there")]
    assert bank_place(cast.director, turn) == ("intonation", 2)


def test_a_set_without_any_level_offers_nothing(cast, turn):
    rate(cast.director, turn, dict.fromkeys(ALL_THREE, "not_heard"))
    assert desk_page(cast.director, turn).offers == {}
    assert bank_place(cast.director, turn) is None


def test_the_accommodation_is_shown_as_what_to_do(cast, scene):
    cast.musician.accommodation = "May take the passage at 60"
    cast.musician.save()
    assert desk_page(cast.director, send(scene, cast.musician)).accommodation == (
        "May take the passage at 60"
    )


def test_readings_are_drawn_into_the_music_after_saving_and_not_before(cast):
    scene = make_scene(cast, notation=True)
    turn = send(scene, cast.musician)
    read(turn, notes=[note(0, deviation_cents=30.0), *(note(n) for n in range(1, 11))])
    before = desk_page(cast.director, turn)
    assert before.music.startswith("<svg")
    assert "+30" not in before.music
    rate(cast.director, turn, ALL_THREE)
    after = desk_page(cast.director, turn)
    assert "+30" in after.music
    assert "+30" in after.music_narrow


def test_a_report_older_than_the_passage_is_not_drawn_where_it_does_not_fit(cast):
    scene = make_scene(cast, notation=True)
    turn = send(scene, cast.musician)
    read(turn, notes=[note(90, outcome="missing", midi_heard=None, deviation_cents=None)])
    rate(cast.director, turn, ALL_THREE)
    page = desk_page(cast.director, turn)
    assert page.music.startswith("<svg")
    assert page.no_music == "The passage has changed since this take was read."


# The queue.


def test_takes_come_in_section_order_and_only_the_newest_try_of_each_musician(cast, scene):
    snare = send(scene, cast.second_musician)
    send(scene, cast.musician)
    clarinet = send(scene, cast.musician, attempt=2)
    assert desk_queue.queue_of(cast.director, scene.check) == [clarinet.pk, snare.pk]
    page = desk_page(cast.director, clarinet)
    assert (page.foot.left, page.foot.next_pk) == (2, snare.pk)
    assert page.foot.next_take.key == str(snare.takes.get().key)


def test_answered_turns_leave_the_queue_and_the_fullest_check_is_first(cast, scene):
    turn = send(scene, cast.musician)
    assert [row.pk for row in desk_queue.checks_waiting(cast.director)] == [scene.check.pk]
    answer_turn(cast.director, turn, next_step="Count")
    assert desk_queue.queue_of(cast.director, scene.check) == []
    assert desk_queue.checks_waiting(cast.director) == ()


def test_the_time_left_follows_the_directors_own_pace_and_leaves_breaks_out():
    start = datetime.datetime(2026, 11, 2, 19, 0)
    quick = [start + datetime.timedelta(seconds=20 * n) for n in range(7)]
    after_supper = [quick[-1] + datetime.timedelta(hours=1, seconds=20 * n) for n in range(7)]
    assert desk_queue.pace(sorted(quick + after_supper, reverse=True)) == 20.0


def test_a_page_costs_the_same_number_of_queries_for_two_turns_and_for_thirty(cast, scene, turn):
    counts = []
    for more in (1, 28):
        for person in more_clarinets(scene, more):
            send(scene, person)
        fresh = Turn.objects.select_related(
            "check_row__ensemble", "check_row__piece", "musician"
        ).get(pk=turn.pk)
        with CaptureQueriesContext(connection) as asked:
            desk_page(cast.director, fresh)
        counts.append(len(asked))
    assert counts[0] == counts[1]
