"""Answering by pages: kept and sent together, spoken, two windows, plans; and who may do what."""

import datetime

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from standlight.programme.actions.answers import answer_turn, keep_answer, keep_voice, send_answer
from standlight.programme.actions.desk import keep_line, rate
from standlight.programme.models import (
    Answer,
    AnswerSound,
    CommentLine,
    EarlierAnswer,
    KeptAnswer,
    MusicianPlan,
)
from standlight.programme.queries.answer_values import AnswerDraft
from tests.programme.desk_scene import ALL_THREE, send
from tests.programme.test_answers import spoken
from tests.web.scene import of_turn, sign_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def turn(scene):
    made = send(scene, scene.cast.musician)
    rate(scene.cast.director, made, ALL_THREE)
    return made


def seen_in(text):
    return text.split('name="seen" value="')[1].split('"')[0]


def test_others_cannot_answer_keep_send_or_hear_and_the_signed_out_are_asked_to_sign_in(
    client, cast, turn
):
    keep_answer(cast.director, turn, AnswerDraft(next_step="Count"))
    sound = keep_voice(cast.director, turn, spoken())
    posts = [
        of_turn("desk-answer", turn), of_turn("desk-take-back", turn),
        reverse("check-tries", args=[turn.check_row_id]),
    ]
    for account in (cast.musician.account, cast.second_musician.account,
                    cast.outsider_director, cast.outsider_musician.account):
        sign_in(client, account)
        for address in posts:
            assert client.post(address, {"next_step": "No"}).status_code == 404
        assert client.get(reverse("answer-sound", args=[sound.key])).status_code == 404
    for account in (cast.musician.account, cast.outsider_musician.account):
        sign_in(client, account)
        assert client.get(reverse("desk-kept")).status_code == 404
        assert client.post(reverse("desk-send-kept")).status_code == 404
    sign_in(client, cast.outsider_director)
    assert "Mina" not in client.get(reverse("desk-kept")).content.decode()
    client.logout()
    for address in (*posts, reverse("desk-send-kept")):
        assert client.post(address).url.startswith(reverse("sign-in"))
    assert KeptAnswer.objects.get().next_step == "Count"
    assert not Answer.objects.exists()


def test_an_evening_of_kept_answers_is_sent_in_one_go_by_buttons_alone(client, cast, scene, turn):
    other = send(scene, cast.second_musician)
    sign_in(client, cast.director)
    page = client.post(
        reverse("desk-when"), {"when": "later", "check": turn.check_row_id, "turn": turn.pk},
        follow=True,
    ).content.decode()
    assert '<input type="hidden" name="when" value="later">' in page
    kept = client.post(
        of_turn("desk-answer", turn),
        {"next_step": "Count aloud", "when": "later", "seen": seen_in(page)},
    )
    assert kept.url.startswith(of_turn("desk-turn", other))
    assert not Answer.objects.exists()
    text = client.get(of_turn("desk-turn", turn)).content.decode()
    assert "Kept, not sent" in text
    assert 'value="Count aloud"' in text
    lists = client.get(reverse("desk-list", args=[turn.check_row_id])).content.decode()
    assert "1 answer kept, not sent" in lists
    listed = client.get(reverse("desk-kept")).content.decode()
    name, stamp = f"answer-{turn.pk}", listed.split(f'name="answer-{turn.pk}" value="')[1]
    nothing = client.post(reverse("desk-send-kept"), follow=True).content.decode()
    assert "Tick the answers" in nothing
    sent = client.post(reverse("desk-send-kept"), {name: stamp.split('"')[0]}, follow=True)
    assert "1 answer is sent" in sent.content.decode()
    assert Answer.objects.get().next_step == "Count aloud"
    again = client.post(reverse("desk-send-kept"), {name: stamp.split('"')[0]}, follow=True)
    assert "meanwhile" in again.content.decode()
    assert Answer.objects.count() == 1


def test_without_the_choice_each_answer_is_sent_at_once(client, cast, turn):
    sign_in(client, cast.director)
    client.post(of_turn("desk-answer", turn), {"next_step": "Count", "when": "now", "seen": ""})
    assert Answer.objects.get().next_step == "Count"
    assert not KeptAnswer.objects.exists()


def test_a_second_window_reads_what_the_first_sent_and_can_still_send_its_own(client, cast, turn):
    sign_in(client, cast.director)
    seen = seen_in(client.get(of_turn("desk-turn", turn)).content.decode())
    answer_turn(cast.second_director, turn, next_step="Breathe first")
    own = {"next_step": "Count aloud", "strength": "Warm", "seen": seen, "when": "now"}
    page = client.post(of_turn("desk-answer", turn), own).content.decode()
    assert "Ruben Asher has answered this take meanwhile" in page
    assert "Breathe first" in page
    assert 'value="Count aloud"' in page
    assert 'value="Warm"' in page
    assert Answer.objects.get().next_step == "Breathe first"
    client.post(of_turn("desk-answer", turn), {**own, "seen": seen_in(page)})
    assert Answer.objects.get().next_step == "Count aloud"
    assert EarlierAnswer.objects.get().next_step == "Breathe first"
    after = client.get(of_turn("desk-turn", turn)).content.decode()
    assert "What stood here before (1)" in after


def test_a_voice_refused_without_its_line_is_still_in_the_form(client, cast, turn):
    cast.musician.accommodations = ["written"]
    cast.musician.save()
    sign_in(client, cast.director)
    file = SimpleUploadedFile("spoken.wav", spoken(), "audio/wav")
    page = client.post(of_turn("desk-answer", turn), {"spoken": file, "when": "now", "seen": ""})
    text = page.content.decode()
    assert "in writing too" in text
    key = str(AnswerSound.objects.get().key)
    assert f'name="voice" value="{key}"' in text
    client.post(
        of_turn("desk-answer", turn),
        {"voice": key, "caption": "Count the rests", "when": "now", "seen": ""},
    )
    kept = Answer.objects.get()
    assert (str(kept.voice.key), kept.caption, kept.next_step) == (key, "Count the rests", "")
    sign_in(client, cast.musician.account)
    mine = client.get(reverse("my-answer", args=[turn.pk])).content.decode()
    assert "“Count the rests”" in mine
    heard = client.get(reverse("answer-sound", args=[key]))
    assert (heard.status_code, heard["Content-Type"]) == (200, "audio/flac")
    assert client.get(
        reverse("answer-sound", args=[key]), headers={"Range": "bytes=0-9"}
    ).status_code == 206


def test_a_file_that_is_no_recording_is_refused_and_the_words_stay(client, cast, turn):
    sign_in(client, cast.director)
    file = SimpleUploadedFile("letter.pdf", b"%PDF-1.4 nothing", "application/pdf")
    page = client.post(
        of_turn("desk-answer", turn), {"spoken": file, "next_step": "Count", "seen": ""}
    )
    assert page.status_code == 200
    assert 'role="alert"' in page.content.decode()
    assert 'value="Count"' in page.content.decode()
    assert not Answer.objects.exists()


def test_a_line_of_the_bank_is_filled_with_the_measures_chosen_beside_it(client, cast, turn):
    line = keep_line(
        cast.director, criterion="intonation", place="next_step", level=2,
        text="Sing {measures} at {tempo}",
    )
    sign_in(client, cast.director)
    assert "Sing measures 33 to 36 at quarter note 96" in client.get(
        of_turn("desk-turn", turn)
    ).content.decode()
    filled = client.post(
        of_turn("desk-answer", turn), {"use": line.pk, "first_measure": "1", "last_measure": "1"}
    ).content.decode()
    assert 'value="Sing measure 34 at quarter note 96"' in filled
    assert not Answer.objects.exists()


def test_a_line_kept_in_the_bank_keeps_its_braces(client, cast, turn):
    sign_in(client, cast.director)
    client.post(
        of_turn("desk-answer", turn),
        {"next_step": "Hum {measures} first", "keep_line": "yes", "seen": "", "when": "now"},
    )
    assert CommentLine.objects.get().text == "Hum {measures} first"
    assert Answer.objects.get().next_step == "Hum measures 33 to 36 first"


def test_a_line_is_said_in_another_language_and_a_slip_keeps_what_was_typed(client, cast):
    line = keep_line(cast.director, criterion="rhythm", place="next_step", level=2, text="Count")
    sign_in(client, cast.director)
    address = reverse("desk-line", args=[line.pk])
    slip = client.post(address, {"language": "es", "translation": "Cuenta {part}"})
    assert "the line itself has no {part}" in slip.content.decode()
    assert 'value="Cuenta {part}"' in slip.content.decode()
    page = client.post(address, {"language": "es", "translation": "Cuenta"}, follow=True)
    assert '<dd lang="es" dir="auto">Cuenta</dd>' in page.content.decode()
    assert "also in Spanish" in client.get(reverse("desk-lines")).content.decode()
    slip = client.post(reverse("desk-lines"), {
        "criterion": "rhythm", "place": "strategy", "level": "3", "text": "Clap {tempi}",
    }).content.decode()
    assert "did you mean {tempo}?" in slip
    assert 'value="Clap {tempi}"' in slip
    assert '<option value="strategy" selected>' in slip


def test_a_first_language_is_noted_and_one_outside_the_list_is_refused(client, cast):
    sign_in(client, cast.director)
    address = reverse("musician", args=[cast.musician.pk])
    cells = {"given_name": "Mina", "family_name": "Okafor", "grade": "7", "way": "record",
             "extra_days": "0"}
    client.post(address, {**cells, "first_language": "es"})
    cast.musician.refresh_from_db()
    assert cast.musician.first_language == "es"
    assert client.post(address, {**cells, "first_language": "zz"}).status_code == 422
    cast.musician.refresh_from_db()
    assert cast.musician.first_language == "es"


def test_the_musician_reads_places_writes_a_plan_and_a_long_one_comes_back(client, cast, turn):
    send_answer(cast.director, turn, AnswerDraft(
        next_step="Count", strength="Warm", first_measure=1, last_measure=2,
        places={"strength": (3, 3)},
    ))
    sign_in(client, cast.musician.account)
    page = client.get(reverse("my-answer", args=[turn.pk])).content.decode()
    assert "Your next step, measures 34 to 35" in page
    assert "What is strong, measure 36" in page
    assert "You may try again. Your last try counts." in page
    assert "may have to tell someone" in page
    address = reverse("my-plan", args=[turn.pk])
    long = client.post(address, {"line1": "Slow first", "line2": "x" * 121})
    assert long.status_code == 400
    assert "121 letters, and 120 fit" in long.content.decode()
    assert 'value="Slow first"' in long.content.decode()
    assert not MusicianPlan.objects.exists()
    client.post(address, {"line1": "Slow first"})
    assert MusicianPlan.objects.get().lines == ["Slow first"]
    sign_in(client, cast.second_musician.account)
    assert client.post(address, {"line1": "Mine"}).status_code == 404
    sign_in(client, cast.director)
    assert client.post(address, {"line1": "Mine"}).status_code == 404
    assert "Slow first" in client.get(of_turn("desk-turn", turn)).content.decode()


def test_which_try_counts_is_chosen_on_the_checks_page_and_told_to_the_musician(
    client, cast, scene, turn
):
    sign_in(client, cast.director)
    address = reverse("check-tries", args=[scene.check.pk])
    early = (scene.check.due_on - datetime.timedelta(1)).isoformat()
    slip = client.post(address, {"try_counts": "best", "tries_until": early}, follow=True)
    assert "end before the check is due" in slip.content.decode()
    assert "no rule for tries" in client.post(
        address, {"try_counts": "worst"}, follow=True
    ).content.decode()
    until = timezone.localdate() + datetime.timedelta(9)
    client.post(address, {"try_counts": "best", "tries_until": until.isoformat()})
    scene.check.refresh_from_db()
    assert (scene.check.try_counts, scene.check.tries_until) == ("best", until)
    answer_turn(cast.director, turn, next_step="Count")
    sign_in(client, cast.musician.account)
    page = client.get(reverse("my-answer", args=[turn.pk])).content.decode()
    assert "You may try again until" in page
    assert "Your best try counts." in page


def test_after_the_last_day_the_check_leads_to_the_answer_and_has_no_recorder(
    client, cast, scene, turn
):
    answer_turn(cast.director, turn, next_step="Count")
    scene.check.tries_until = timezone.localdate() - datetime.timedelta(1)
    scene.check.save()
    sign_in(client, cast.musician.account)
    page = client.get(reverse("my-check", args=[scene.check.pk])).content.decode()
    assert "New tries for this passage have ended." in page
    assert reverse("my-answer", args=[turn.pk]) in page
    assert "has not answered yet" not in page
    assert "data-recorder" not in page
