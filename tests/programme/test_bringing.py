"""Recordings brought in: they wait as nobody's, and become takes when a director says whose."""

import datetime

import numpy as np
import pytest
from django.utils import timezone
from django_q.models import OrmQ

from standlight.errors import NotAllowed, StandlightError, UnreadableTake
from standlight.programme import store
from standlight.programme.actions import bringing as acts
from standlight.programme.actions.checks import remove_check
from standlight.programme.actions.retention import UNCLAIMED_DAYS, remove_expired_sound
from standlight.programme.models import (
    Arrival,
    LongRecording,
    Musician,
    PlayingCheck,
    Take,
    Turn,
)
from standlight.programme.queries.bringing import bring_page, expected_seconds
from standlight.workshop.decoding import decode
from tests.programme.desk_scene import more_clarinets, send
from tests.web.scene import video, wav
from tests.workshop.test_decoding import made
from tests.workshop.test_long_takes import row

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(scope="module")
def three_in_a_row():
    """Three tones of ten seconds, as one WAV."""
    return made("wav", "pcm_s16le", row())


def bring(scene, name, seconds=0.5, **more):
    return acts.bring_file(
        scene.cast.director, scene.check, wav(seconds), name=name, media_type="audio/wav", **more
    )


def page_of(scene, **more):
    return bring_page(scene.cast.director, scene.check, **more)


def whose(page):
    return {line.name: line.musician for line in page.rows}


def test_a_file_waits_as_nobodys_and_a_kept_row_is_a_sent_turn_as_from_a_file_field(cast, scene):
    arrival = bring(scene, "Mina Okafor.wav")
    assert not Turn.objects.exists()
    assert arrival.seconds == pytest.approx(0.5, abs=0.01)
    done = acts.keep_chosen(cast.director, scene.check, [(arrival, cast.musician)])
    assert done == acts.BroughtIn(("Mina Okafor",), ())
    turn = Turn.objects.get()
    take = turn.takes.get()
    assert (turn.musician, turn.way, turn.section) == (cast.musician, Turn.FILE, cast.clarinets)
    assert turn.sent_at is not None
    assert (take.state, take.chosen, take.digest) == (Take.WHOLE, True, arrival.digest)
    assert OrmQ.objects.count() == 1
    assert not Arrival.objects.exists()
    assert store.fetch(take.digest) == wav(0.5)


def test_the_listening_copy_of_a_kept_file_goes_and_the_file_stays(cast, scene):
    arrival = bring(scene, "a.wav")
    acts.keep_chosen(cast.director, scene.check, [(arrival, cast.musician)])
    assert not store.path_of(arrival.playback_digest).exists()
    assert store.path_of(arrival.digest).exists()


def test_of_a_video_only_the_sound_is_kept(cast, scene):
    arrival = acts.bring_file(
        cast.director, scene.check, video(), name="x.mp4", media_type="video/mp4"
    )
    assert arrival.media_type == "audio/flac"
    assert not decode(store.fetch(arrival.digest)).picture_dropped


@pytest.mark.parametrize(
    ("data", "words"),
    [(b"", "empty"), (b"only words in here, no sound " * 9, "text file"), (b"PK\x03\x04" + bytes(
        2000), "packed folder")],
)  # fmt: skip
def test_what_is_no_recording_is_refused_in_a_sentence(cast, scene, data, words):
    with pytest.raises(UnreadableTake, match=words):
        acts.bring_file(cast.director, scene.check, data, name="x.mp3")
    assert not Arrival.objects.exists()


def test_the_same_file_is_not_kept_twice_and_it_is_said_where_it_is(cast, scene):
    arrival = bring(scene, "a.wav")
    with pytest.raises(NotAllowed, match="waits here already"):
        bring(scene, "other name.wav")
    acts.keep_chosen(cast.director, scene.check, [(arrival, cast.musician)])
    with pytest.raises(NotAllowed, match="a take of Mina Okafor already"):
        bring(scene, "a.wav")


def test_a_draft_takes_no_recordings(cast, scene):
    scene.check.published_at = None
    with pytest.raises(NotAllowed, match="not published"):
        bring(scene, "a.wav")


def test_names_propose_and_those_who_sent_are_said_not_proposed(cast, scene):
    one, two = more_clarinets(scene, 2)
    bring(scene, f"{one.roster_id} ode.wav", 0.5)
    bring(scene, "mina.wav", 0.6)
    bring(scene, "unknown.wav", 0.7)
    send(scene, cast.musician)
    page = page_of(scene)
    assert whose(page) == {
        f"{one.roster_id} ode.wav": one.pk, "mina.wav": None, "unknown.wav": None,
    }  # fmt: skip
    told = {line.name: line.why for line in page.rows}
    assert "Mina Okafor, who is not waited for" in told["mina.wav"]
    assert two.name in page.without
    ordered = whose(page_of(scene, order=scene.cast.clarinets.pk))
    assert (ordered["unknown.wav"], ordered["mina.wav"]) == (two.pk, None)


def test_without_any_telling_name_the_files_stand_beside_the_roster_by_their_time(cast, scene):
    people = more_clarinets(scene, 2)
    now = timezone.now()
    for place, name in enumerate(["c.wav", "a.wav", "b.wav"]):
        bring(scene, name, 0.5 + place / 10, file_time=now + datetime.timedelta(minutes=place))
    assert list(whose(page_of(scene)).items()) == [
        ("c.wav", cast.musician.pk), ("a.wav", people[0].pk), ("b.wav", people[1].pk),
    ]  # fmt: skip


def test_what_is_settled_by_hand_stays_and_the_rest_moves_up(cast, scene):
    people = more_clarinets(scene, 2)
    first, second, _ = (bring(scene, f"t{n}.wav", 0.5 + n / 10) for n in range(3))
    acts.settle([first, second], {first.pk: None, second.pk: people[1].pk})
    assert list(whose(page_of(scene)).values()) == [None, people[1].pk, cast.musician.pk]
    acts.unsettle(Arrival.objects.all())
    assert list(whose(page_of(scene)).values()) == [None, cast.musician.pk, people[0].pk]


def test_live_only_musicians_are_no_choice_and_are_refused_with_the_reason(cast, scene):
    Musician.objects.filter(pk=cast.musician.pk).update(way=Musician.LIVE_ONLY)
    cast.musician.refresh_from_db()
    arrival = bring(scene, "mina okafor.wav")
    page = page_of(scene)
    assert cast.musician.pk not in [p.pk for s in page.roster for p in s.people]
    done = acts.keep_chosen(cast.director, scene.check, [(arrival, cast.musician)])
    assert "agreed that they are not recorded" in done.stayed[0]
    assert not Turn.objects.exists()


def test_a_row_that_cannot_be_kept_stays_with_why_and_hinders_no_other(cast, scene):
    first, second = bring(scene, "a.wav"), bring(scene, "b.wav", 0.6)
    send(scene, cast.musician)
    done = acts.keep_chosen(
        cast.director, scene.check, [(first, cast.musician), (second, cast.second_musician)]
    )
    assert done.kept == ("Theo Lindqvist",)
    assert "sent meanwhile" in done.stayed[0]
    left = Arrival.objects.get()
    assert left.pk == first.pk
    assert "sent meanwhile" in left.told
    assert Take.objects.filter(turn__musician=cast.musician).count() == 1


def test_one_musician_in_two_rows_keeps_nothing(cast, scene):
    rows = [(bring(scene, f"{n}.wav", 0.5 + n / 10), cast.musician) for n in range(2)]
    with pytest.raises(StandlightError, match="stands in two rows"):
        acts.keep_chosen(cast.director, scene.check, rows)
    assert not Turn.objects.exists()


def test_the_same_form_sent_twice_is_one_turn(cast, scene):
    rows = [(bring(scene, "a.wav"), cast.musician)]
    assert acts.keep_chosen(cast.director, scene.check, rows).kept == ("Mina Okafor",)
    done = acts.keep_chosen(cast.director, scene.check, rows)
    assert "kept or removed this recording meanwhile" in done.stayed[0]
    assert (Turn.objects.count(), Take.objects.count()) == (1, 1)


def test_a_long_recording_is_cut_and_its_parts_follow_the_roster(cast, scene, three_in_a_row):
    people = more_clarinets(scene, 2)
    recording = acts.bring_long(
        cast.director, scene.check, three_in_a_row, name="class.wav", section=cast.clarinets
    )
    page = page_of(scene, recording=recording)
    assert list(whose(page).values()) == [cast.musician.pk, people[0].pk, people[1].pk]
    spans = list(recording.spans.all())
    chosen = list(zip(spans, (cast.musician, *people), strict=True))
    done = acts.keep_chosen(cast.director, scene.check, chosen)
    assert len(done.kept) == 3
    seconds = [decode(store.fetch(take.digest)).seconds for take in Take.objects.order_by("pk")]
    assert seconds == pytest.approx([11.0, 11.0, 11.0], abs=0.2)
    assert not LongRecording.objects.exists()
    assert not store.path_of(recording.copy_digest).exists()


def test_parts_are_joined_split_and_moved_and_names_move_with_them(cast, scene, three_in_a_row):
    people = more_clarinets(scene, 2)
    recording = acts.bring_long(
        cast.director, scene.check, three_in_a_row, name="class.wav", section=cast.clarinets
    )
    first, second, third = recording.spans.all()
    acts.join_next(first)
    assert not Arrival.objects.filter(pk=second.pk).exists()
    page = page_of(scene, recording=recording)
    assert list(whose(page).values()) == [cast.musician.pk, people[0].pk]
    acts.split_at(Arrival.objects.get(pk=first.pk), 14.0)
    assert [span.start_s for span in recording.spans.all()][1] == 14.0
    page = page_of(scene, recording=recording)
    assert list(whose(page).values()) == [cast.musician.pk, people[0].pk, people[1].pk]
    acts.move_ends(third, 29.0, 42.0)
    third.refresh_from_db()
    assert (third.start_s, third.end_s, third.seconds) == (29.0, 42.0, 13.0)
    with pytest.raises(StandlightError, match="not inside this part"):
        acts.split_at(third, 3.0)
    with pytest.raises(StandlightError, match="no part of this recording"):
        acts.move_ends(third, 42.0, 29.0)
    with pytest.raises(StandlightError, match="no next one"):
        acts.join_next(third)


def test_the_same_long_recording_is_told_and_not_cut_twice(cast, scene, three_in_a_row):
    given = {"name": "class.wav", "section": None}
    acts.bring_long(cast.director, scene.check, three_in_a_row, **given)
    with pytest.raises(NotAllowed, match="here already"):
        acts.bring_long(cast.director, scene.check, three_in_a_row, **given)
    assert LongRecording.objects.count() == 1


def test_silence_from_end_to_end_is_one_row_to_settle_by_hand(cast, scene):
    silence = made("wav", "pcm_s16le", np.zeros((1, 48_000 * 5), dtype=np.float32))
    recording = acts.bring_long(cast.director, scene.check, silence, name="s.wav", section=None)
    assert [span.seconds for span in recording.spans.all()] == [pytest.approx(5.0)]


def test_what_nobody_was_given_goes_by_the_rule_with_its_sound(cast, scene, three_in_a_row):
    arrival = bring(scene, "a.wav")
    recording = acts.bring_long(
        cast.director, scene.check, three_in_a_row, name="class.wav", section=None
    )
    later = timezone.now() + datetime.timedelta(days=UNCLAIMED_DAYS - 1)
    assert remove_expired_sound(later) == 0
    assert remove_expired_sound(later + datetime.timedelta(days=2)) == 2
    assert not Arrival.objects.exists()
    for digest in (arrival.digest, arrival.playback_digest, recording.copy_digest):
        assert not store.path_of(digest).exists()


def test_a_check_that_is_thrown_away_takes_what_was_brought_in_for_it_along(
    scene, three_in_a_row
):
    arrival = bring(scene, "somebody.wav")
    shared = bring(scene, "shared.wav", 0.7)
    other = PlayingCheck.objects.get(pk=scene.check.pk)
    other.pk, other.model_take_digest = None, shared.digest
    other.save()
    long = acts.bring_long(
        scene.cast.director, scene.check, three_in_a_row, name="row.wav", section=None
    )
    remove_check(scene.cast.director, scene.check)
    assert not Arrival.objects.exists() and not LongRecording.objects.exists()
    for digest in (arrival.digest, arrival.playback_digest, long.copy_digest):
        assert not store.path_of(digest).exists()
    assert store.path_of(shared.digest).exists()


def test_how_long_a_take_should_be_comes_from_the_written_measures(scene):
    # Four measures of four quarters at 96: sixteen quarters are ten seconds.
    assert expected_seconds(scene.check) == pytest.approx(10.0)
    scene.check.passages.update(first_measure=None, last_measure=None)
    assert expected_seconds(scene.check) is None


def test_rows_are_seen_by_the_ensembles_directors_alone(cast, scene):
    bring(scene, "a.wav")
    for account, count in (
        (cast.second_director, 1), (cast.outsider_director, 0), (cast.musician.account, 0),
    ):  # fmt: skip
        assert len(bring_page(account, scene.check).rows) == count
