"""The demo programme in the database, its takes in the store, and the errands that play them."""

from collections import Counter
from datetime import date, timedelta

import pytest
from django.contrib.auth import authenticate
from django.db import transaction
from django.utils.timezone import localdate, make_naive, now

from standlight.demo import errands
from standlight.demo.last_year import last_year
from standlight.demo.load import DEMO_SIGN_INS, load_demo
from standlight.demo.rehearsals import SAID, TOLD
from standlight.demo.scenario import SEED, scenario
from standlight.demo.work_plan import work
from standlight.programme import jobs, store
from standlight.programme.actions.rehearse import draw_up
from standlight.programme.models import (
    Account,
    Assignment,
    Casting,
    CheckPassage,
    CommentLine,
    ConcertCycle,
    Ensemble,
    GivenLevel,
    Musician,
    Piece,
    PlannedRehearsal,
    PlayingCheck,
    Programme,
    Remark,
    Reply,
    Report,
    Seat,
    SecondHearing,
    Section,
    Sheet,
    Take,
    Turn,
    WorkExcuse,
)
from standlight.programme.queries.assignments import WORDS, work_standing
from standlight.programme.queries.checks import check_lines
from standlight.programme.queries.given_ratings import given_levels
from standlight.programme.queries.groups import grouping_page
from standlight.programme.queries.groups_mine import my_groups
from standlight.programme.queries.hearing import listening_task, passage_of
from standlight.programme.queries.laid_before import laid_before
from standlight.programme.queries.my_part import my_part
from standlight.programme.queries.standing import waiting_turns
from standlight.programme.queries.talks import my_talks, talks_page
from standlight.programme.queries.work_steps import step_of
from standlight.ratings.review import review_ratings
from standlight.score import read_passage

TODAY = date(2026, 11, 25)

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def loaded(django_db_setup, django_db_blocker, tmp_path_factory):
    """The demo loaded once for this module, taken back at its end; the folder of its files."""
    from django.conf import settings
    from django.test import override_settings

    folder = tmp_path_factory.mktemp("demo-files")
    hasher = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    assert settings.configured
    with django_db_blocker.unblock(), transaction.atomic():
        with override_settings(STANDLIGHT_FILES=folder, PASSWORD_HASHERS=hasher):
            load_demo(TODAY)
        yield folder
        transaction.set_rollback(True)


@pytest.fixture
def demo(loaded, db, settings):
    """The loaded demo for one test; what the test changes is taken back."""
    settings.STANDLIGHT_FILES = loaded
    return Programme.objects.get(is_demo=True)


@pytest.fixture
def queued(monkeypatch):
    """Errands asked for in the test, in order."""
    asked = []
    monkeypatch.setattr(errands, "async_task", lambda name, *args, **_: asked.append((name, *args)))
    return asked


def take_of(section, place, check):
    seats = list(Seat.objects.filter(section__name=section).order_by("pk"))
    return Take.objects.get(
        turn__musician=seats[place].musician_id, turn__check_row__title__startswith=check
    )


THIS_YEAR = TODAY - timedelta(days=80)


def turns_of_this_year():
    return Turn.objects.filter(check_row__due_on__gte=THIS_YEAR)


def takes_of_this_year():
    return Take.objects.filter(turn__in=turns_of_this_year())


def test_every_row_of_the_scenario_is_in_the_database(demo):
    plan = scenario(TODAY)
    assert plan.year_starts_on == THIS_YEAR
    assert Musician.objects.count() == len(plan.musicians)
    assert Seat.objects.count() == len(plan.musicians) + 1
    assert turns_of_this_year().count() == len(plan.turns)
    assert takes_of_this_year().count() == sum(turn.manner is not None for turn in plan.turns)
    assert GivenLevel.objects.filter(turn__in=turns_of_this_year()).count() == sum(
        len(turn.levels) for turn in plan.turns
    )
    of_rehearsal = len(TOLD) + sum(len(said) for said in SAID.values())
    assert Remark.objects.filter(sheet=None).count() == len(plan.remarks) + of_rehearsal
    assert CommentLine.objects.count() == len(plan.comments)
    to_come = ConcertCycle.objects.filter(concert_on__gte=TODAY, name=plan.cycle_name)
    assert [c.concert_on for c in to_come] == [TODAY + timedelta(days=16)] * 3
    assert Ensemble.objects.count() == 3


def test_every_sheet_reply_and_excuse_of_the_work_is_in_the_database(demo):
    done = work(scenario(TODAY))
    assert Assignment.objects.count() == len(done.given)
    assert Sheet.objects.count() == len(done.sheets)
    assert Reply.objects.count() == sum(sheet.reply is not None for sheet in done.sheets)
    assert WorkExcuse.objects.count() == len(done.excuses)
    assert not Assignment.objects.filter(published_at=None).exists()
    for sheet in Sheet.objects.select_related("reply", "assignment"):
        assert sheet.assignment.published_at < sheet.started_at < sheet.saved_at
        if hasattr(sheet, "reply"):
            assert sheet.reply.written_at == sheet.opened_at


def test_spots_on_sheets_are_remarks_on_real_measures_as_old_as_the_sheet(demo):
    rows = list(Remark.objects.exclude(sheet=None).select_related("sheet", "piece", "part"))
    assert len(rows) > 300
    for row in rows:
        assert row.made_at == row.sheet.sent_at
        assert row.piece.measures[row.first_measure]
        assert row.last_measure < len(row.piece.measures)
        assert row.author == row.sheet.author
        assert row.part is None or row.part.piece_id == row.piece_id
    assert {row.piece.title for row in rows if row.part} >= {"Ferry at Dusk"}
    assert not [row.words for row in rows if row.words == "Where?"]


def test_a_year_is_laid_before_whoever_looks_back(demo):
    account = Musician.objects.get(account__sign_in=DEMO_SIGN_INS[2][1]).account
    assignment = Assignment.objects.get(kind__key="year_reflection")
    laid = {one.key: one.lines for one in laid_before(step_of(assignment, "back"), assignment,
                                                      account)}
    assert [line.head for line in laid["finds"]] == ["Finds"] * 3
    assert len(laid["goals"]) == 1
    assert len(laid["remarks"]) > 5


def test_musicians_stand_with_their_work_in_every_way_there_is(demo):
    met = {
        stand.state
        for assignment in Assignment.objects.select_related("kind", "ensemble")
        for stand in work_standing(assignment, TODAY)
    }
    # Not open yet and not assessed are the two that the demo's year does not hold.
    assert set(WORDS) - met <= {"not_due", "not_assessed"}


def test_a_second_load_changes_nothing(demo):
    turns = Turn.objects.count()
    assert load_demo(TODAY) == demo
    assert Programme.objects.count() == 1
    assert Turn.objects.count() == turns


def test_the_printed_sign_ins_open_a_lead_a_second_director_and_a_musician(demo, rf):
    found = []
    for _, name, secret in DEMO_SIGN_INS:
        account = authenticate(rf.post("/"), username=name, password=secret)
        assert account is not None, name
        found.append((account.role, account.is_lead))
    assert found == [("director", True), ("director", False), ("musician", False)]


def test_the_second_director_sees_the_strings_only(demo):
    strings = Account.objects.get(sign_in="strings")
    assert [e.name for e in Ensemble.objects.visible_to(strings)] == ["String Orchestra"]
    seen = PlayingCheck.objects.visible_to(strings)
    assert {check.ensemble.name for check in seen} == {"String Orchestra"}
    assert seen.filter(due_on__gte=THIS_YEAR).count() == 2


def test_every_musician_asked_has_a_passage_that_can_be_read_and_played(demo):
    passages = {}
    for take in takes_of_this_year().select_related("turn__check_row"):
        passage = passage_of(take.turn)
        assert passage is not None, take.turn.musician
        passages[passage.pk] = passage
    assert len(passages) > 30
    for passage in passages.values():
        notes = read_passage(store.fetch(passage.notation_digest)).notes
        assert len(notes) >= 8, (passage.part.name, passage.printed)


def test_percussion_rotates_between_two_pieces(demo):
    def parts(title):
        return list(
            Casting.objects.filter(piece__title=title, seat__section__name="Percussion")
            .order_by("seat_id")
            .values_list("part__name", flat=True)
        )

    assert set(parts("Lantern Walk")) == {"Snare drum", "Bells", "Bass drum"}
    assert set(parts("Tenth Regiment March")) == {"Timpani", "Bells"}
    assert set(parts("Paper Parade")) == {"Snare drum"}


def test_a_piece_on_paper_has_one_passage_for_everyone_and_no_notation(demo):
    piece = Piece.objects.get(title__contains="Blue Folder")
    assert piece.on_paper_only
    passage = CheckPassage.objects.get(check_row__piece=piece)
    assert (passage.printed, passage.part, passage.notation_digest) == (
        "letter B to the end",
        None,
        "",
    )


def test_ratings_and_answers_carry_the_days_of_the_story_not_of_the_load(demo):
    turn = Turn.objects.filter(answer__isnull=False).first()
    assert turn.answered_at.date() < TODAY
    assert turn.answer.written_at == turn.answered_at
    assert all(level.given_at == turn.answered_at for level in turn.levels.all())


def test_takes_are_labelled_as_made_by_machine_and_wait_for_their_sound(demo):
    takes = takes_of_this_year()
    assert all(take.made_by_machine and take.chosen for take in takes)
    assert {take.state for take in takes} == {Take.ARRIVING}


def test_an_errand_plays_one_take_and_queues_its_hearing_and_the_next(demo, queued):
    errands.play_next_take(1)
    take = Take.objects.get(state=Take.WHOLE)
    assert queued == [(jobs.LISTEN, str(take.key)), (errands.PLAY_NEXT, 1)]
    assert listening_task(take.key).take == store.fetch(take.digest)
    assert take.turn.answered_at is None
    assert take.claimed_at is None


def test_an_errand_that_died_leaves_its_take_to_a_later_one_with_the_same_sound(demo, queued):
    first = errands._claim_next()
    second = errands._claim_next()
    assert first != second
    Take.objects.exclude(key=first).update(state=Take.HEARD)
    errands.play_next_take(0)
    assert Take.objects.get(key=first).state == Take.ARRIVING
    assert queued == []
    take = Take.objects.select_related("turn__check_row").get(key=first)
    Take.objects.filter(key=first).update(claimed_at=take.claimed_at - timedelta(hours=1))
    errands.play_next_take(0)
    played = Take.objects.get(key=first)
    assert played.state == Take.WHOLE
    assert store.fetch(played.digest) == errands._sound_of(take)


def test_when_all_takes_are_played_a_lane_ends(demo, queued):
    Take.objects.update(state=Take.HEARD)
    assert errands.play_next_take(0) == "all played"
    assert queued == []


@pytest.mark.parametrize(
    ("section", "place", "check", "code"),
    [
        ("Baritone", 0, "Lantern Walk, letter", "octave"),
        ("Flute", 4, "Lantern Walk, letter", "silence"),
        ("Trombone", 1, "Lantern Walk, letter", "clipped"),
        ("Alto saxophone", 2, "Lantern Walk, letter", "noisy"),
    ],
)
def test_a_take_with_a_story_is_heard_as_its_story(demo, queued, section, place, check, code):
    take = take_of(section, place, check)
    Take.objects.exclude(key=take.key).update(state=Take.HEARD)
    errands.play_next_take(0)
    assert jobs.listen_to_take(str(take.key)) == "heard"
    report = Report.objects.get(take=take)
    assert code in [verdict["code"] for verdict in report.body["verdicts"]]
    take.refresh_from_db()
    assert take.state == Take.HEARD
    assert store.fetch(take.playback_digest)


def test_the_clarinet_that_stops_twice_is_heard_to_restart_twice(demo, queued):
    take = take_of("Clarinet", 2, "Lantern Walk, letter")
    Take.objects.exclude(key=take.key).update(state=Take.HEARD)
    errands.play_next_take(0)
    jobs.listen_to_take(str(take.key))
    assert len(Report.objects.get(take=take).body["restarts"]) == 2


def test_the_trumpet_that_holds_a_note_too_long_is_heard_to_and_has_not_stopped(demo, queued):
    take = take_of("Trumpet", 3, "Lantern Walk, letter")
    Take.objects.exclude(key=take.key).update(state=Take.HEARD)
    errands.play_next_take(0)
    jobs.listen_to_take(str(take.key))
    body = Report.objects.get(take=take).body
    assert len(body["prolonged"]) == 1
    said = {row["name"]: row["sentence"] for row in body["readings"]}
    assert said["held on or played twice"].startswith("One note in measure ")
    assert said["added sounds"] == "No sounds added between the notes."
    assert body["restarts"] == []


def test_last_year_is_loaded_with_the_days_and_raters_of_its_plan(demo):
    plan = scenario(TODAY)
    year = last_year(TODAY, plan.musicians, dict(plan.ability), SEED)
    before = Turn.objects.filter(check_row__due_on__lt=THIS_YEAR)
    assert before.count() == len(year.turns)
    levels = GivenLevel.objects.filter(turn__in=before).select_related("rater")
    by_key = {"director": "band_choir", "strings": "strings"}
    kept = Counter(
        (by_key[row.rater.sign_in], row.criterion, row.value, make_naive(row.given_at))
        for row in levels
    )
    assert kept == Counter(
        (one.director, criterion, str(level), one.given_at)
        for turn in year.turns
        for one in turn.given
        for criterion, level in one.levels
    )
    assert SecondHearing.objects.count() == sum(turn.again is not None for turn in year.turns)
    for hearing in SecondHearing.objects.select_related("turn"):
        assert hearing.levels.keys() == hearing.first_levels.keys()
        assert hearing.turn.sent_at < hearing.first_at < hearing.done_at


def test_nothing_of_last_year_waits_is_open_or_can_be_heard(demo):
    lead = Account.objects.get(sign_in="director")
    before = PlayingCheck.objects.filter(due_on__lt=THIS_YEAR)
    assert not waiting_turns(lead).filter(check_row__in=before).exists()
    takes = Take.objects.filter(turn__check_row__in=before)
    assert {take.state for take in takes} == {Take.REMOVED}
    past = [line for line in check_lines(lead) if line.earlier]
    assert len(past) == before.count()
    assert all(line.n_sent == line.n_asked > 0 for line in past)
    shown = Account.objects.get(sign_in=DEMO_SIGN_INS[2][1])
    page = my_part(shown, TODAY)
    lines = (*page.also_open, *page.back, *page.year)
    assert not {line.pk for line in lines if not line.is_work} & {check.pk for check in before}


def test_the_demo_shows_what_plain_averages_hide_and_refuses_what_they_invite(demo):
    plan = scenario(TODAY)
    plants = last_year(TODAY, plan.musicians, dict(plan.ability), SEED).plants
    levels = given_levels(demo.pk)
    names = {f"e{row.pk}": row.name for row in Ensemble.objects.all()}
    names |= {f"s{row.pk}": (row.ensemble.name, row.name)
              for row in Section.objects.select_related("ensemble")}  # fmt: skip
    names |= {f"a{row.pk}": row.shown_name for row in Account.objects.filter(role="director")}
    review = review_ratings(levels.given, levels.again)
    said = {one.code: one for one in review.statements}
    directors = {one.key: one.shown_name for one in plan.directors}
    groups = {one.key: one.name for one in plan.groups}

    strict = said["stricter"]
    assert names[strict.subjects[0]] == directors[plants.strict_director]
    assert strict.criterion == plants.strict_criterion
    assert 0.25 < strict.points < 0.65
    assert said["one_impression"].low > 0
    stopped = said["stopped_growing"]
    assert names[stopped.subjects[0]] == (groups[plants.still_group], plants.still_section)
    assert stopped.high < 0

    refused = {(one.code, tuple(names[key] for key in one.subjects)) for one in review.refusals}
    assert ("no_anchor", (groups["band"],)) in refused
    pairs = {frozenset(subjects) for code, subjects in refused if code == "groups_not_comparable"}
    assert frozenset((groups["band"], groups["strings"])) in pairs


def test_the_next_rehearsal_of_the_band_takes_up_what_was_left_over_and_what_was_said(demo):
    band = Ensemble.objects.get(name="Sixth Grade Band")
    director = Account.objects.get(sign_in="director")
    held = PlannedRehearsal.objects.get(ensemble=band)
    assert held.day < TODAY
    assert sum(block.minutes for block in held.blocks.all()) == band.period_minutes
    PlannedRehearsal.objects.filter(pk=held.pk).update(day=localdate() - timedelta(1))
    Remark.objects.filter(piece__ensemble=band).update(made_at=now() - timedelta(1))
    pieces = list(Piece.objects.filter(ensemble=band))
    plan = draw_up(director, band, localdate() + timedelta(1), band.period_minutes, pieces)
    why = {
        (block.piece.title, block.first_measure): {code for code, *_ in block.why}
        for block in plan.blocks.filter(kind="work").select_related("piece")
    }
    for told in TOLD[:2]:
        assert {"unfinished", "director", "said"} <= why["Tenth Regiment March", told.first]
    assert sum(block.minutes for block in plan.blocks.all()) == band.period_minutes


def test_groups_are_shared_and_talks_wait_and_are_noted(demo):
    shown = Account.objects.get(sign_in=DEMO_SIGN_INS[-1][1])
    mine = my_groups(shown)[0]
    assert 2 <= len(mine.others) <= 3
    assert [step.done_at is None for step in my_talks(shown).talks[0].steps] == [False, True]
    kept = demo.ensembles.get(kind="band").groupings.get()
    assert grouping_page(kept).broken == (), "the wishes of the demo hold"
    lead = Account.objects.get(programme=demo, is_lead=True)
    page = talks_page(lead)
    named = [row for group in page.groups for _, rows in group.sections for row in rows]
    assert {"asked", "views_part", "goal_still", "not_opened", "missing"} <= {
        reason.code for row in named for reason in row.reasons
    }
    assert len(named) < Musician.objects.count() / 3, "a list of most people is no list"
