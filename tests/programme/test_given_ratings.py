"""The levels of a programme as rows of keys."""

import datetime

import pytest
from django.utils import timezone

from standlight.programme.actions import marks, roster
from standlight.programme.actions.desk import rate
from standlight.programme.actions.live import HeardAtStand, hear_live
from standlight.programme.models import (
    CheckPassage,
    GivenLevel,
    Piece,
    PlayingCheck,
    Seat,
    SecondHearing,
    Section,
    Turn,
)
from standlight.programme.queries.given_ratings import day_of, given_levels
from standlight.ratings.given import DIRECTOR, SELF
from tests.programme.desk_scene import ALL_THREE, send

pytestmark = pytest.mark.django_db


def rows_of(cast, **more):
    return given_levels(cast.programme.pk, **more)


def other_check(scene, *, measures=(0, 3), tempo=96, piece=None):
    """The scene's check made another time, with its own measures for the clarinet."""
    check = PlayingCheck.objects.create(
        ensemble=scene.cast.band, piece=piece or scene.piece, title="Another",
        criteria=scene.check.criteria, tempo_qpm=tempo, due_on=scene.check.due_on,
        made_by=scene.cast.director, published_at=timezone.now(),
    )
    CheckPassage.objects.create(
        check_row=check, part=scene.clarinet, first_measure=measures[0], last_measure=measures[1]
    )
    return check


def sent_for(check, musician, **more):
    return Turn.objects.create(
        check_row=check, musician=musician, sent_at=timezone.now(), **more
    )


def task_of(cast, turn):
    return next(row.task for row in rows_of(cast).given if row.take == f"t{turn.pk}")


def test_a_level_becomes_a_row_that_says_who_what_when_and_by_whom(cast, scene):
    turn = send(scene, cast.musician, ago=10)
    rate(cast.director, turn, {"rhythm": "3"})
    found = rows_of(cast)
    (row,) = found.given
    assert (row.student, row.ensemble, row.section) == (
        f"m{cast.musician.pk}", f"e{cast.band.pk}", f"s{cast.clarinets.pk}"
    )
    assert (row.instrument, row.task, row.take) == (
        "Clarinet in Bb", f"c{scene.check.pk}", f"t{turn.pk}"
    )
    assert (row.criterion, row.rater, row.level, row.rater_class) == (
        "rhythm", f"a{cast.director.pk}", 3, DIRECTOR
    )
    assert found.first_day == timezone.localtime(turn.sent_at).date()
    assert 0 <= row.day < 1
    assert row.given_day - row.day == pytest.approx(10, abs=0.01)
    assert row.day == day_of(turn.sent_at, found.first_day)


def test_what_was_not_shown_or_not_heard_is_no_rating(cast, scene):
    turn = send(scene, cast.musician)
    rate(cast.director, turn, {"rhythm": "not_shown", "notes": "not_heard", "intonation": "1"})
    assert [row.criterion for row in rows_of(cast).given] == ["intonation"]


def test_only_the_level_that_stands_counts(cast, scene):
    turn = send(scene, cast.musician)
    rate(cast.director, turn, {"rhythm": "1"})
    rate(cast.director, turn, {"rhythm": "4"})
    assert GivenLevel.objects.count() == 2
    assert [row.level for row in rows_of(cast).given] == [4]


def test_two_raters_of_one_take_keep_rows_of_their_own(cast, scene):
    turn = send(scene, cast.musician)
    rate(cast.director, turn, {"rhythm": "2"})
    rate(cast.second_director, turn, {"rhythm": "4"})
    found = {row.rater: row.level for row in rows_of(cast).given}
    assert found == {f"a{cast.director.pk}": 2, f"a{cast.second_director.pk}": 4}


def test_a_musician_s_own_levels_are_rows_with_themself_as_rater(cast, scene):
    turn = send(scene, cast.musician, self_levels={"rhythm": 2, "notes": 4})
    rate(cast.director, turn, {"rhythm": "3"})
    own = [row for row in rows_of(cast).given if row.rater_class == SELF]
    assert {(row.criterion, row.level) for row in own} == {("rhythm", 2), ("notes", 4)}
    assert {row.rater for row in own} == {f"m{cast.musician.pk}"}
    assert {row.take for row in own} == {f"t{turn.pk}"}


def test_an_excused_turn_is_out(cast, scene):
    marks.excuse(scene.check, cast.musician, True)
    send(scene, cast.second_musician, excused=True, self_levels={"rhythm": 2})
    assert rows_of(cast).given == ()


def test_who_left_stays_in_with_the_section_they_had(cast, scene):
    turn = send(scene, cast.musician)
    rate(cast.director, turn, {"rhythm": "3"})
    Seat.objects.filter(musician=cast.musician).update(left_on=timezone.localdate())
    assert [row.section for row in rows_of(cast).given] == [f"s{cast.clarinets.pk}"]


def test_a_seat_that_moves_later_leaves_earlier_levels_on_the_old_instrument(cast, scene):
    before = HeardAtStand(cast.musician, 1, {"rhythm": "2"})
    hear_live(cast.director, scene.check, [before])
    saxes = Section.objects.create(
        ensemble=cast.band, name="Alto saxophone", instrument="Alto saxophone", order=9
    )
    roster.move_seat(cast.director, cast.musician.seats.get(), saxes)
    hear_live(cast.director, scene.check, [HeardAtStand(cast.musician, 2, {"rhythm": "3"})])
    assert {row.level: row.instrument for row in rows_of(cast).given} == {
        2: "Clarinet in Bb", 3: "Alto saxophone"
    }


def test_without_a_section_kept_the_days_of_the_seats_decide(cast, scene):
    now = timezone.localdate()
    Seat.objects.filter(musician=cast.musician).update(left_on=now - datetime.timedelta(30))
    Seat.objects.create(
        musician=cast.musician, section=cast.snares, joined_on=now - datetime.timedelta(30)
    )
    for attempt, ago in ((1, 40), (2, 3)):
        turn = send(scene, cast.musician, attempt=attempt, ago=ago)
        rate(cast.director, turn, {"rhythm": str(attempt)})
    assert {row.level: row.instrument for row in rows_of(cast).given} == {
        1: "Clarinet in Bb", 2: "Snare drum"
    }


def test_the_same_measures_of_the_same_piece_are_the_same_task(cast, scene):
    first = send(scene, cast.musician)
    again = sent_for(other_check(scene), cast.musician)
    for turn in (first, again):
        rate(cast.director, turn, {"rhythm": "3"})
    assert task_of(cast, first) == task_of(cast, again) == f"c{scene.check.pk}"


@pytest.mark.parametrize("changed", [{"measures": (0, 2)}, {"tempo": 72}])
def test_other_measures_or_another_tempo_are_another_task(cast, scene, changed):
    first = send(scene, cast.musician)
    other = sent_for(other_check(scene, **changed), cast.musician)
    for turn in (first, other):
        rate(cast.director, turn, {"rhythm": "3"})
    assert task_of(cast, first) != task_of(cast, other)


def test_a_part_that_came_later_does_not_part_two_tasks_but_one_that_moved_does(cast, scene):
    late = other_check(scene)
    CheckPassage.objects.create(check_row=late, section=cast.clarinets, printed="letter Q")
    first, again = send(scene, cast.musician), sent_for(late, cast.musician)
    for turn in (first, again):
        rate(cast.director, turn, {"rhythm": "3"})
    assert task_of(cast, first) == task_of(cast, again)
    CheckPassage.objects.create(check_row=late, section=cast.snares, printed="letter C")
    assert task_of(cast, first) != task_of(cast, again)


def test_on_paper_the_same_printed_words_are_the_same_task(cast, scene):
    paper = Piece.objects.create(ensemble=cast.band, cycle=cast.cycle, title="Old March")
    turns = []
    for printed in ("Letter  B", "letter b", "letter C"):
        check = other_check(scene, piece=paper)
        check.passages.all().delete()
        CheckPassage.objects.create(check_row=check, printed=printed)
        turns.append(sent_for(check, cast.musician))
        rate(cast.director, turns[-1], {"rhythm": "3"})
    tasks = [task_of(cast, turn) for turn in turns]
    assert tasks[0] == tasks[1] != tasks[2]


def test_a_take_heard_again_is_a_row_for_each_criterion_rated_both_times(cast, scene):
    turn = send(scene, cast.musician, ago=5)
    rate(cast.director, turn, {"rhythm": "2"})
    done = timezone.now()
    SecondHearing.objects.create(
        turn=turn, rater=cast.director, first_at=done - datetime.timedelta(days=3), done_at=done,
        first_levels={"rhythm": "2", "notes": "not_heard", "intonation": "4"},
        levels={"rhythm": "3", "notes": "4", "intonation": "not_shown"},
        first_minute=12.5, again_minute=40.0,
    )
    (row,) = rows_of(cast).again
    assert (row.criterion, row.first_level, row.again_level) == ("rhythm", 2, 3)
    assert (row.first_minute, row.again_minute) == (12.5, 40.0)
    assert row.again_day - row.first_day == pytest.approx(3)
    assert (row.student, row.rater) == (f"m{cast.musician.pk}", f"a{cast.director.pk}")


def test_one_that_is_asked_but_not_done_is_no_row(cast, scene):
    turn = send(scene, cast.musician)
    SecondHearing.objects.create(turn=turn, rater=cast.director, first_at=timezone.now())
    assert rows_of(cast).again == ()


def test_another_school_s_levels_and_another_ensemble_s_stay_away(cast, scene):
    rate(cast.director, send(scene, cast.musician), ALL_THREE)
    assert given_levels(cast.outsider_director.programme_id).given == ()
    assert rows_of(cast, ensembles=[cast.choir.pk]).given == ()
    assert len(rows_of(cast, ensembles=[cast.band.pk]).given) == 3


def test_the_state_changes_with_a_level_and_not_without(cast, scene):
    turn = send(scene, cast.musician)
    rate(cast.director, turn, ALL_THREE)
    state = rows_of(cast).state
    assert rows_of(cast).state == state
    rate(cast.director, turn, {"rhythm": "1"})
    assert rows_of(cast).state != state


def test_nine_queries_gather_however_many_levels_there_are(
    cast, scene, django_assert_num_queries
):
    for attempt in range(1, 6):
        turn = send(scene, cast.musician, attempt=attempt, self_levels={"rhythm": 1})
        rate(cast.director, turn, ALL_THREE)
    with django_assert_num_queries(9):
        found = rows_of(cast)
    assert len(found.given) == 5 * 4
