"""Today: what is needed, what waits, what is worth working on, each with its count."""

import datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from standlight.programme.actions.desk import rate
from standlight.programme.models import (
    ConcertCycle,
    Musician,
    PeerHearing,
    PeerLine,
    PeerRound,
    PlannedBlock,
    PlannedRehearsal,
    Remark,
    Talk,
    TalkAsked,
    TalkStep,
)
from standlight.programme.queries.today import NAMES_A_SECTION, today_page
from tests.programme.desk_scene import make_scene, more_clarinets, read, send

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(cast):
    cast.cycle.concert_on = timezone.localdate() + datetime.timedelta(16)
    cast.cycle.save()
    return make_scene(cast)


def band(cast):
    return today_page(cast.director).groups[0]


def test_groups_stand_in_the_order_of_the_days_periods_with_days_to_the_concert(cast, scene):
    groups = today_page(cast.director).groups
    headings = [group.heading for group in groups]
    assert headings == ["Period 3, Concert Band", "Period 5, Mixed Choir"]
    assert groups[0].concert == "Winter concert in 16 days"
    assert groups[1].concert == "no concert set"


def test_a_second_director_reads_only_their_own_groups(cast, scene):
    assert [group.pk for group in today_page(cast.second_director).groups] == [cast.band.pk]


def test_a_concert_that_is_over_is_not_counted_down(cast, scene):
    ConcertCycle.objects.update(concert_on=timezone.localdate() - datetime.timedelta(1))
    assert band(cast).concert == "no concert set"


def test_who_has_not_sent_is_named_by_section_and_live_only_apart(cast, scene):
    live, *others = more_clarinets(scene, NAMES_A_SECTION + 3)
    Musician.objects.filter(pk=live.pk).update(way=Musician.LIVE_ONLY)
    send(scene, cast.second_musician)
    (needed,) = band(cast).needed
    assert (needed.due, needed.overdue) == ("due in 3 days", False)
    assert (needed.sent, needed.asked) == (1, len(others) + 3)
    (clarinets,) = needed.not_sent
    assert (clarinets.name, len(clarinets.musicians), clarinets.more) == ("Clarinet", 8, 3)
    assert needed.to_hear == (live.name,)


def test_a_check_everybody_sent_is_not_needed_any_more(cast, scene):
    send(scene, cast.musician)
    send(scene, cast.second_musician)
    assert band(cast).needed == ()


def test_what_waits_has_its_count_its_oldest_day_and_how_many_wrote(cast, scene):
    send(scene, cast.musician, ago=4, words="I am stuck")
    send(scene, cast.second_musician, ago=1)
    (waiting,) = band(cast).waiting
    assert (waiting.count, waiting.oldest_days, waiting.with_words) == (2, 4, 1)


def test_trouble_is_counted_apart_by_readings_levels_and_remarks(cast, scene):
    people = [cast.musician, *more_clarinets(scene, 2)]
    for person in people:
        turn = send(scene, person)
        read(turn, spots=[("rhythm", 1, 2, "Measures 34 to 35: early."), ("tone", 3, 3, "x")])
    rate(cast.director, turn, {"intonation": "2", "rhythm": "3", "notes": "4"})
    for author, measure in ((cast.musician.account, 1), (cast.director, 2)):
        Remark.objects.create(
            piece=scene.piece, author=author, first_measure=measure, last_measure=measure, words="x"
        )
    (row, *rest) = band(cast).working
    assert row.where == "measures 34 to 35"
    assert (row.readings, row.levels, row.musicians, row.directors) == (3, 1, 1, 1)
    assert rest == []


def test_a_passage_on_paper_is_named_as_printed_and_counted_by_levels(cast, scene):
    rate(cast.director, send(scene, cast.second_musician), {"rhythm": "1"})
    (row,) = band(cast).working
    assert (row.where, row.readings, row.levels) == ("letter B", 0, 1)


def test_high_levels_alone_are_no_trouble(cast, scene):
    rate(cast.director, send(scene, cast.musician), dict.fromkeys(scene.check.criteria, "3"))
    assert band(cast).working == ()


def test_the_page_costs_the_same_number_of_queries_for_any_number_of_musicians(cast, scene):
    counts = []
    for _ in range(2):
        for person in more_clarinets(scene, 8):
            read(send(scene, person), spots=[("rhythm", 1, 1, "x")])
        with CaptureQueriesContext(connection) as asked:
            today_page(cast.director)
        counts.append(len(asked))
    assert counts[0] == counts[1]


# --- beside the evidence ---------------------------------------------------


def planned(scene, days, *states, minutes=7):
    today = timezone.localdate()
    plan = PlannedRehearsal.objects.create(
        ensemble=scene.cast.band, day=today + datetime.timedelta(days), minutes=42,
        made_by=scene.cast.director,
    )  # fmt: skip
    for n, state in enumerate(states):
        PlannedBlock.objects.create(
            plan=plan, key=f"k{n}", place=n, kind="work", minutes=minutes, state=state,
            piece=scene.piece, first_measure=n, last_measure=n + 1,
            tapped_at=None if state == PlannedBlock.OPEN else timezone.now(),
        )  # fmt: skip
    return plan


def test_the_nearest_plan_stands_there_and_what_the_last_rehearsal_left(cast, scene):
    assert (band(cast).plan, band(cast).left_over) == (None, None)
    planned(scene, -30, PlannedBlock.NOT_DONE)
    assert band(cast).left_over is None
    planned(scene, -5, PlannedBlock.NOT_DONE)
    planned(scene, -2, PlannedBlock.DONE, PlannedBlock.NOT_DONE, PlannedBlock.OPEN)
    planned(scene, -1, PlannedBlock.OPEN)
    planned(scene, 3, PlannedBlock.OPEN)
    nearest = planned(scene, 1, PlannedBlock.OPEN, PlannedBlock.OPEN, PlannedBlock.OPEN)
    found = band(cast)
    assert (found.plan.pk, found.plan.when, found.plan.n_blocks, found.plan.minutes) == (
        nearest.pk, "tomorrow", 3, 21
    )  # fmt: skip
    assert len(found.left_over.blocks) == 2
    assert all(scene.piece.title in words for words in found.left_over.blocks)


def test_a_rehearsal_in_which_all_was_done_left_nothing(cast, scene):
    planned(scene, -3, PlannedBlock.NOT_DONE)
    planned(scene, -1, PlannedBlock.DONE)
    assert band(cast).left_over is None


def test_what_is_agreed_is_listed_for_those_who_are_here_and_says_what_to_do(cast, scene):
    Musician.objects.filter(pk=cast.musician.pk).update(accommodation="Sits in the front row.")
    other = cast.second_musician
    Musician.objects.filter(pk=other.pk).update(accommodation="Breaks when asked for.")
    other.seats.update(left_on=timezone.localdate())
    (agreed,) = band(cast).agreed
    assert (agreed.name, agreed.words) == (cast.musician.name, "Sits in the front row.")


def test_talks_asked_for_and_steps_that_are_due_are_counted(cast, scene):
    today = timezone.localdate()
    assert not band(cast).talks
    TalkAsked.objects.create(ensemble=cast.band, musician=cast.musician)
    talk = Talk.objects.create(
        ensemble=cast.band, musician=cast.second_musician, held_on=today, held_by=cast.director
    )
    for days in (-1, 0, 1):
        TalkStep.objects.create(
            talk=talk, words="Bring the part.", due_on=today + datetime.timedelta(days)
        )
    assert (band(cast).talks.asked, band(cast).talks.due) == (1, 2)
    TalkStep.objects.update(done_at=timezone.now())
    TalkAsked.objects.update(talked_at=timezone.now())
    assert not band(cast).talks


def test_lines_about_each_others_takes_wait_until_a_director_has_decided(cast, scene):
    turn = send(scene, cast.musician)
    row = PeerRound.objects.create(
        check_row=scene.check, asked_by=cast.director, criteria=["rhythm"], takes_each=2,
        until=timezone.localdate(),
    )  # fmt: skip
    hearing = PeerHearing.objects.create(
        round=row, listener=cast.second_musician, turn=turn, place=1,
        sent_at=timezone.now() - datetime.timedelta(days=3, hours=1),
    )  # fmt: skip
    line = PeerLine.objects.create(hearing=hearing, place=PeerLine.WELL, words="Steady.")
    (waits,) = band(cast).to_pass
    assert (waits.check_pk, waits.count, waits.oldest_days) == (scene.check.pk, 1, 3)
    line.decided_at = timezone.now()
    line.save()
    assert band(cast).to_pass == ()
