"""One musician's record on their page: everything in one file, and its removal."""

import io
import json
import zipfile

import pytest
from django.urls import reverse

from standlight.programme import store
from standlight.programme.actions import sheets
from standlight.programme.actions.answers import keep_answer, keep_voice, send_answer
from standlight.programme.actions.desk import rate
from standlight.programme.models import Musician, Remark, SheetSound, Turn
from standlight.programme.queries.answer_values import AnswerDraft
from tests.programme.desk_scene import ALL_THREE, make_scene, send
from tests.programme.sheet_scene import EVERYTHING, WHOLE, give, write
from tests.programme.study_scene import grow, line, make_study
from tests.web.scene import sign_in, wav

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def turn(cast):
    """A rated and answered turn with sound, in which everything has words to look for."""
    scene = make_scene(cast)
    turn = send(scene, cast.musician, words="I was nervous", self_levels={"rhythm": 2})
    turn.takes.update(digest=store.keep(b"as it came"), media_type="audio/webm;codecs=opus")
    rate(cast.director, turn, ALL_THREE)
    voice = keep_voice(cast.director, turn, wav())
    send_answer(cast.director, turn, AnswerDraft(next_step="Breathe", voice=str(voice.key)))
    Remark.objects.create(
        piece=scene.piece, turn=turn, author=cast.musician.account, first_measure=0,
        last_measure=1, words="the run",
    )  # fmt: skip
    turn.refresh_from_db()
    return turn


def unpacked(reply):
    archive = zipfile.ZipFile(io.BytesIO(b"".join(reply.streaming_content)))
    assert archive.testzip() is None
    return archive, json.loads(archive.read("everything.json"))


def record(client, account, musician):
    reply = sign_in(client, account).get(reverse("musician-everything", args=[musician.pk]))
    assert reply.status_code == 200
    return unpacked(reply)


def test_the_file_holds_the_words_and_the_sounds_as_they_are_kept(client, cast, turn):
    archive, rows = record(client, cast.director, cast.musician)
    assert rows["musician"]["name"] == "Mina Okafor"
    [sent] = rows["turns"]
    assert (sent["check"], sent["own_words"]) == ("Lamp Tune check", "I was nervous")
    assert sent["own_levels"] == {"Rhythm": 2}
    assert {row["given_by"] for row in sent["levels"]} == {"Dana Whitlock"}
    assert len(sent["levels"]) == len(ALL_THREE)
    assert sent["answer"]["next_step"] == "Breathe"
    assert archive.read(sent["takes"][0]["sound"]) == b"as it came"
    assert sent["takes"][0]["sound"].endswith(".webm")
    assert archive.read(sent["answer"]["spoken"]) == store.fetch(turn.answer.voice.digest)
    [said] = rows["remarks"]
    assert (said["measures"], said["words"]) == ("measures 33 to 34", "the run")
    assert rows["sounds_whose_file_is_gone"] == []


def test_a_sheet_is_in_the_file_once_it_is_sent_and_a_draft_is_only_counted(client, cast):
    sheet = write(cast, give(cast, EVERYTHING), WHOLE)
    SheetSound.objects.create(
        sheet=sheet, question="recording", digest=store.keep(b"my spot"), media_type="audio/mp4"
    )
    archive, rows = record(client, cast.director, cast.musician)
    assert (rows["sheets"], rows["sheets_not_sent"]) == ([], 1)
    assert archive.namelist() == ["everything.json"]
    sheets.send(sheet)
    archive, rows = record(client, cast.director, cast.musician)
    [sent] = rows["sheets"]
    answers = {row["question"]: row["words"] for row in sent["answers"]}
    assert (answers["One word?"], answers["Which one?"]) == ("Fine", "Slowly")
    assert archive.read(sent["sounds"][0]["sound"]) == b"my spot"


def test_what_a_director_keeps_back_is_not_in_the_file(client, cast):
    turn = send(make_scene(cast), cast.musician, take=False)
    keep_answer(cast.director, turn, AnswerDraft(next_step="Held back"))
    archive, rows = record(client, cast.director, cast.musician)
    assert rows["turns"][0]["answer"] is None
    assert b"Held back" not in archive.read("everything.json")


def test_growth_is_in_the_file_as_the_study_found_it(client, cast):
    found = line(cast.musician, 2.0, 2.5, 3.0, ensemble=cast.band)
    grow(make_study(cast.programme), cast.musician, cast.band, found)
    _, rows = record(client, cast.director, cast.musician)
    [grown] = rows["growth"]
    assert grown["ensemble"] == "Concert Band"
    assert [point["level"] for point in grown["found"]["lines"][0]["points"]] == [2.0, 2.5, 3.0]


def test_a_director_gets_the_rows_of_their_own_groups_alone(client, cast, turn):
    cast.musician.seats.create(section=cast.sopranos)
    check = turn.check_row
    check.pk, check.ensemble, check.title = None, cast.choir, "Choir check"
    check.save()
    Turn.objects.create(check_row=check, musician=cast.musician, sent_at=turn.sent_at)
    seen = {
        account: {row["check"] for row in record(client, account, cast.musician)[1]["turns"]}
        for account in (cast.director, cast.second_director)
    }
    assert seen[cast.director] == {"Lamp Tune check", "Choir check"}
    assert seen[cast.second_director] == {"Lamp Tune check"}


def test_a_sound_whose_file_is_gone_is_told_and_the_rest_comes(client, cast, turn):
    store.path_of(turn.takes.get().digest).unlink()
    archive, rows = record(client, cast.director, cast.musician)
    assert rows["sounds_whose_file_is_gone"] == [rows["turns"][0]["takes"][0]["sound"]]
    assert archive.read(rows["turns"][0]["answer"]["spoken"])


@pytest.mark.parametrize("name", ["musician-everything", "musician-remove"])
def test_nobody_else_reaches_a_musicians_record(client, cast, name):
    posts = name == "musician-remove"
    tries = [
        (cast.second_director, cast.singer),
        (cast.outsider_director, cast.musician),
        (cast.musician.account, cast.musician),
    ]
    for account, musician in tries:
        sign_in(client, account)
        address = reverse(name, args=[musician.pk])
        cells = {"roster_id": musician.roster_id}
        reply = client.post(address, cells) if posts else client.get(address)
        assert reply.status_code == 404, account
    client.logout()
    reply = client.post(address, cells) if posts else client.get(address)
    assert reply["Location"].startswith("/sign-in/")
    assert Musician.objects.count() == 4


def test_the_page_says_what_goes_and_removes_once_the_id_is_typed(client, cast, turn):
    sign_in(client, cast.director)
    page = client.get(reverse("musician", args=[cast.musician.pk])).content.decode()
    assert "Remove this musician and everything they made" in page
    assert "rules for records come first" in page
    address = reverse("musician-remove", args=[cast.musician.pk])
    assert client.get(address)["Location"] == reverse("musician", args=[cast.musician.pk])
    wrong = client.post(address, {"roster_id": "1002"}, follow=True)
    assert wrong.redirect_chain[-1][0] == reverse("musician", args=[cast.musician.pk])
    assert "is not the roster id of Mina Okafor" in wrong.content.decode()
    assert Turn.objects.exists()
    right = client.post(address, {"roster_id": "1001"}, follow=True)
    assert right.redirect_chain[-1][0] == reverse("musicians")
    assert "Mina Okafor and everything they made here is removed." in right.content.decode()
    assert not Turn.objects.exists()
    assert client.get(reverse("musician", args=[cast.musician.pk])).status_code == 404


def test_after_the_removal_their_own_session_and_the_other_pages_still_work(client, cast, turn):
    from django.test import Client

    theirs = sign_in(Client(), cast.musician.account)
    assert theirs.get(reverse("my-check", args=[turn.check_row_id])).status_code == 200
    sign_in(client, cast.director)
    address = reverse("musician-remove", args=[cast.musician.pk])
    client.post(address, {"roster_id": "1001"})
    assert theirs.get(reverse("my-check", args=[turn.check_row_id])).status_code == 302
    for name, keys in (("desk-check", [turn.check_row_id]), ("musicians", []), ("raters", [])):
        assert client.get(reverse(name, args=keys), follow=True).status_code == 200, name
