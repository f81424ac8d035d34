"""From a waiting take to a kept report: nothing lost, nothing twice, always rateable by ear."""

import datetime

import pytest

from standlight.listening import ListeningReport
from standlight.programme import jobs, store
from standlight.programme.actions.hearing import keep_report
from standlight.programme.models import (
    CheckPassage,
    Piece,
    PlayingCheck,
    Report,
    Seat,
    Take,
    Turn,
)
from standlight.programme.queries.hearing import listening_task, passage_of
from tests.browser.conftest import as_wav
from tests.hearing_scene import RECORDING, clarinet_check

pytestmark = pytest.mark.django_db


@pytest.fixture
def check(cast):
    return clarinet_check(cast)


def waiting(check, musician, sound):
    turn = Turn.objects.create(check_row=check, musician=musician)
    return Take.objects.create(turn=turn, state=Take.WHOLE, digest=store.keep(sound))


def test_a_real_take_is_heard_kept_and_can_be_played(cast, check):
    take = waiting(check, cast.musician, RECORDING.read_bytes())
    assert jobs.listen_to_take(str(take.key)) == "heard"
    take.refresh_from_db()
    assert take.state == Take.HEARD
    assert take.seconds == pytest.approx(12.9, abs=0.1)
    # The first onset of the exact truth beside the recording is 0.5 s.
    assert take.first_note_s == pytest.approx(0.5, abs=0.05)
    assert store.fetch(take.playback_digest)[:4] == b"fLaC"
    outcomes = [note["outcome"] for note in Report.objects.get().body["notes"]]
    assert outcomes == ["played"] * 15


def test_a_second_run_of_the_errand_changes_nothing(cast, check):
    take = waiting(check, cast.musician, RECORDING.read_bytes())
    jobs.listen_to_take(str(take.key))
    assert jobs.listen_to_take(str(take.key)) == "not waiting"
    assert Report.objects.count() == 1


def test_only_one_worker_holds_a_take_until_its_lease_ends(cast, check, settings):
    take = waiting(check, cast.musician, b"sound")
    assert jobs.claim(take.key)
    assert not jobs.claim(take.key)
    lease = datetime.timedelta(seconds=settings.Q_CLUSTER["timeout"] + 1)
    take.refresh_from_db()
    Take.objects.update(claimed_at=take.claimed_at - lease)
    assert jobs.claim(take.key)


def test_the_claim_lapses_before_the_engine_hands_the_errand_out_again(settings):
    assert settings.Q_CLUSTER["timeout"] < settings.Q_CLUSTER["retry"]


@pytest.mark.parametrize(
    "sound", [b"", b"Dear director, this is my essay.\n" * 50, b"RIFF\x00\x00\x00\x00WAVE"],
    ids=["empty", "a text file renamed", "cut off at once"],
)
def test_what_is_no_sound_is_refused_in_words_and_stays_rateable(cast, check, sound):
    take = waiting(check, cast.musician, sound)
    jobs.listen_to_take(str(take.key))
    take.refresh_from_db()
    assert take.state == Take.REFUSED
    assert take.playback_digest == ""
    assert store.fetch(take.digest) == sound
    body = Report.objects.get().body
    assert [verdict["code"] for verdict in body["verdicts"]] == ["unreadable"]
    assert len(body["verdicts"][0]["sentence"]) > 20
    assert all(reading["value"] is None and reading["because"] for reading in body["readings"])


def test_a_better_method_adds_a_report_and_rewrites_none(cast, check):
    take = waiting(check, cast.musician, b"")
    keep_report(take.key, ListeningReport("older", 0.0, 0.0), b"")
    keep_report(take.key, ListeningReport("newer", 0.0, 0.0), b"")
    assert set(Report.objects.values_list("method", flat=True)) == {"older", "newer"}


def test_the_task_brings_the_musicians_own_passage_and_the_ensembles_tuning(cast, check):
    cast.band.a4_hz = 442
    cast.band.save()
    task = listening_task(waiting(check, cast.musician, b"sound").key)
    assert task.notation is not None
    terms = task.terms
    assert (terms.instrument, terms.tempo_qpm, terms.a4_hz) == ("Clarinet in Bb", 84, 442)
    assert terms.criteria == ("intonation", "rhythm", "notes")


def test_without_a_part_only_the_recording_is_judged(cast, check):
    assert listening_task(waiting(check, cast.second_musician, b"sound").key).notation is None


def test_on_paper_a_sections_own_place_goes_before_everyones(cast):
    piece = Piece.objects.create(ensemble=cast.band, title="On paper")
    check = PlayingCheck.objects.create(
        ensemble=cast.band, piece=piece, title="Paper", criteria=["rhythm"], tempo_qpm=80,
        due_on=datetime.date(2026, 11, 6), made_by=cast.director,
    )
    everyone = CheckPassage.objects.create(check_row=check, printed="33 to 40")
    own = CheckPassage.objects.create(check_row=check, section=cast.snares, printed="letter B")
    turns = [
        Turn.objects.create(check_row=check, musician=who)
        for who in (cast.musician, cast.second_musician)
    ]
    assert [passage_of(turn) for turn in turns] == [everyone, own]


def test_a_changing_voice_may_sing_in_another_octave(cast, check, tmp_path):
    Seat.objects.filter(musician=cast.musician).update(voice_changing=True)
    sound = as_wav(RECORDING, tmp_path / "take.wav").read_bytes()
    assert listening_task(waiting(check, cast.musician, sound).key).terms.octave_free
