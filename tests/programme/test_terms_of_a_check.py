"""What a check says of how its takes are heard: a small group at once, and the pitch target."""

import pytest
from django.urls import reverse
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.listening import ONLY_THE_PULSE, Terms, hear, report_as_json
from standlight.programme import store
from standlight.programme.actions import checks, folder
from standlight.programme.actions.desk import rate
from standlight.programme.models import Answer, OwnVersion, PlayingCheck, Report
from standlight.programme.pitch_targets import CHOICES, TONICS
from standlight.programme.queries.desk import desk_page
from standlight.programme.queries.hearing import listening_task
from standlight.programme.queries.my_part import came_back
from standlight.score import read_passage
from standlight.sound.targets import KINDS
from tests.programme.desk_scene import make_scene, note, read, send
from tests.programme.test_checks import facts, sent
from tests.programme.test_folder import score_of
from tests.sound.groups import sung
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db

LEVELS = {"pulse": "3", "rhythm": "3", "dynamics": "3"}


@pytest.fixture
def piece(cast):
    return folder.add_score(cast.director, cast.band, score_of(), name="two.musicxml")


@pytest.fixture
def check(cast, piece):
    return checks.make_check(cast.director, piece, facts())


@pytest.fixture
def scene(cast):
    made = make_scene(cast, notation=True)
    made.check.criteria, made.check.together = list(LEVELS), True
    made.check.save()
    return made


@pytest.fixture
def group_turn(scene):
    """A turn whose take four voices made: the scene's tune on top of three lines like it."""
    turn = send(scene, scene.cast.musician)
    digest = scene.check.passages.get(part=scene.clarinet).notation_digest
    tune = read_passage(store.fetch(digest))
    report = hear(
        sung([tune, tune, tune, tune], 92.0, spread_ms=8.0), tune,
        Terms(96.0, "Clarinet in Bb", criteria=tuple(LEVELS), together=True),
    )  # fmt: skip
    Report.objects.create(
        take=turn.takes.get(), method=report.method, body=report_as_json(report)
    )
    return turn


def test_the_kinds_of_target_are_those_of_the_listening():
    assert tuple(CHOICES) == KINDS
    assert {pitch for _, pitch in TONICS.values()} == set(range(12))


def test_a_check_keeps_its_group_and_its_target_and_the_worker_gets_them(cast, piece):
    made = checks.make_check(
        cast.director, piece, facts(together=True, pitch_target="just", tonic="Bb")
    )
    made = PlayingCheck.objects.get(pk=made.pk)
    assert (made.together, made.pitch_target, made.tonic) == (True, "just", "Bb")
    turn = sent(made, cast.musician)
    take = turn.takes.create(number=1, digest=store.keep(b"sound"))
    terms = listening_task(take.key).terms
    assert terms.together and (terms.target.kind, terms.target.tonic) == ("just", 10)
    OwnVersion.objects.create(
        passage=made.passages.get(part__name="Clarinet in Bb"), musician=cast.musician,
        semitones=-3, notation_digest=store.keep(b"<score-partwise/>"), asked_by=cast.director,
    )  # fmt: skip
    assert listening_task(take.key).terms.target.tonic == 7  # G: the tonic moves with the music


def test_a_plain_check_is_heard_alone_and_against_equal_temperament(cast, check):
    turn = sent(check, cast.musician)
    terms = listening_task(turn.takes.create(number=1, digest=store.keep(b"sound")).key).terms
    assert not terms.together and terms.target.kind == "equal"


@pytest.mark.parametrize(
    ("kind", "tonic", "words"),
    [("just", "", "need a tonic"), ("drone", "H", "'H' is no tonic"), ("well", "C", "'well'")],
)
def test_a_target_that_cannot_be_is_refused_in_words(cast, piece, kind, tonic, words):
    with pytest.raises(StandlightError, match=words):
        checks.make_check(cast.director, piece, facts(pitch_target=kind, tonic=tonic))


def test_equal_temperament_keeps_no_tonic(cast, piece):
    made = checks.make_check(cast.director, piece, facts(tonic="D"))
    assert (made.pitch_target, made.tonic) == ("equal", "")


def test_what_is_listened_for_stays_once_somebody_has_sent(cast, check):
    sent(check, cast.musician)
    for more in ({"together": True}, {"pitch_target": "drone", "tonic": "G"}):
        with pytest.raises(NotAllowed, match="already sent"):
            checks.change_check(cast.director, check, facts(**more))
        check.refresh_from_db()
        assert not check.together and check.pitch_target == "equal"


def test_the_desk_shows_a_groups_pulse_and_no_slip(cast, client, group_turn):
    rate(cast.director, group_turn, LEVELS)
    page = desk_page(cast.director, group_turn)
    assert page.readings.marks == () and page.readings.spots == ()
    assert [line.heading for line in page.readings.lines] == ["Tempo", "Loudness"]
    figures = {f.name: f.figure for f in page.readings.figures if f.name != "Steady pulse"}
    assert figures["Rhythm"] == figures["Dynamics"] == ONLY_THE_PULSE
    tempo = next(f.figure for f in page.readings.figures if f.figure.startswith("tempo:"))
    assert tempo.startswith(("tempo: 92.0 ", "tempo: 91.9 ", "tempo: 92.1 "))
    sign_in(client, cast.director)
    html = client.get(
        reverse("desk-turn", args=[group_turn.check_row_id, group_turn.pk])
    ).content.decode()
    assert "Recorded together, in a small group." in html and ONLY_THE_PULSE in html
    assert "up is sharp" not in html and "not heard" not in html.lower().split("heard</h2>")[1]


def test_without_the_pulse_a_groups_check_is_for_the_ear(cast, group_turn):
    group_turn.check_row.criteria = ["rhythm", "dynamics", "tone"]
    group_turn.check_row.save()
    assert desk_page(cast.director, group_turn).by_ear_only


def test_a_member_of_the_group_reads_that_only_the_beat_is_read(cast, client, group_turn):
    Answer.objects.create(turn=group_turn, next_step="Breathe as one.", written_by=cast.director)
    group_turn.answered_at = timezone.now()
    group_turn.save()
    sign_in(client, cast.musician.account)
    heard = came_back(cast.musician.account, group_turn).heard
    assert heard.together and heard.places == () and not heard.marked
    html = client.get(reverse("my-answer", args=[group_turn.pk])).content.decode()
    assert "only the beat that you share is read" in html
    page = client.get(reverse("my-check", args=[group_turn.check_row_id])).content.decode()
    assert "You play this together, in a small group." in page


def test_the_target_is_told_where_the_reading_is(cast, client, scene):
    check = scene.check
    check.criteria, check.together = ["intonation", "rhythm", "notes"], False
    check.pitch_target, check.tonic = "just", "Bb"
    check.save()
    turn = send(scene, cast.musician)
    read(turn, notes=[note(i) for i in range(11)])
    rate(cast.director, turn, {"intonation": "3", "rhythm": "3", "notes": "3"})
    sign_in(client, cast.director)
    words = "just intervals above concert B flat"
    desk = client.get(reverse("desk-turn", args=[check.pk, turn.pk])).content.decode()
    assert f"Intonation is read against {words}." in desk
    assert words in client.get(reverse("check", args=[check.pk])).content.decode()
    sign_in(client, cast.musician.account)
    mine = client.get(reverse("my-check", args=[check.pk])).content.decode()
    assert f"Your tuning is compared with {words}." in mine and "headphones" not in mine
    check.pitch_target = "drone"
    check.save()
    mine = client.get(reverse("my-check", args=[check.pk])).content.decode()
    assert "a drone on concert B flat. Let the drone sound in your headphones" in mine


def test_the_form_offers_a_group_and_three_targets_and_keeps_what_was_chosen(cast, client, piece):
    client.force_login(cast.director)
    page = client.get(reverse("check-make", args=[piece.pk])).content.decode()
    assert 'name="together"' in page and page.count('name="pitch_target"') == 3
    assert 'value="equal" checked' in page
    cells = {
        "title": "Chorale", "criteria": ["tone", "intonation", "pulse"], "tempo": "72",
        "due_on": "2030-01-15", "together": "yes", "pitch_target": "drone", "tonic": "F",
    }  # fmt: skip
    client.post(reverse("check-make", args=[piece.pk]), cells)
    made = PlayingCheck.objects.get(title="Chorale")
    assert (made.together, made.pitch_target, made.tonic) == (True, "drone", "F")
    again = client.get(reverse("check", args=[made.pk])).content.decode()
    assert 'value="drone" checked' in again and '<option value="F" selected>' in again
    assert "Recorded together, in a small group." in again


def test_a_group_with_different_places_is_told_to_choose_one(cast, client, check):
    snare = check.passages.get(part__name="Snare drum")
    snare.first_measure, snare.last_measure, snare.printed = 0, 1, "1 to 2"
    snare.save()
    seat = cast.second_musician.seats.get()
    folder.give_part(cast.director, seat, check.piece, snare.part)
    check.together = True
    check.save()
    client.force_login(cast.director)
    html = client.get(reverse("check", args=[check.pk])).content.decode()
    assert "the parts have different places" in html
