"""Rehearse in the browser's own words: forms, their slips, who may open what, and plain forms."""

import json
import re
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from standlight.programme.models import PlannedBlock, PlannedRehearsal, PodiumRemark, Remark
from tests.programme.rehearse_scene import RehearseScene
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db

KEY = "6f1b2c1e-9a50-4b8e-8f0e-3c3d7a0b9f11"


@pytest.fixture
def scene(cast):
    made = RehearseScene(cast)
    made.takes("Clarinet", 6)
    made.said("Flute", 4, 24, 25, words="It was out of tune. I will try: Sing it")
    return made


@pytest.fixture
def plan(client, cast, scene):
    sign_in(client, cast.director)
    client.post(reverse("rehearse-draw"), {
        "ensemble": cast.band.pk, "day": timezone.localdate().isoformat(), "minutes": 42,
        "piece": [scene.piece.pk],
    })  # fmt: skip
    return PlannedRehearsal.objects.get()


def text_of(reply):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", reply.content.decode()))


def posted(client, name, *args, **cells):
    return text_of(client.post(reverse(name, args=args), cells, follow=True))


def sent_by(client, owner, plan, *, taps=(), remarks=()):
    """What the tablet of ``owner`` sends, whoever is signed in there."""
    body = json.dumps({"owner": str(owner.pk), "taps": list(taps), "remarks": list(remarks)})
    address = reverse("rehearse-podium-send", args=[plan.pk])
    return client.post(address, body, content_type="application/json")


def tap_on(block, state="done"):
    return {"key": str(uuid.uuid4()), "block": block, "state": state, "at": 1.0}


def word_on(piece, words, **more):
    return {"key": str(uuid.uuid4()), "piece": piece.pk, "first": "9", "words": words, "at": 1,
            **more}  # fmt: skip


def test_the_place_is_for_directors_and_shows_their_own_groups(client, cast, scene):
    sign_in(client, cast.second_director)
    said = text_of(client.get(reverse("rehearse")))
    assert "Concert Band" in said
    assert "Mixed Choir" not in said
    for account in (cast.musician.account, cast.singer.account):
        sign_in(client, account)
        assert client.get(reverse("rehearse")).status_code == 404
    sign_in(client, cast.outsider_director)
    assert "Concert Band" not in text_of(client.get(reverse("rehearse")))
    client.logout()
    assert client.get(reverse("rehearse")).status_code == 302


def test_another_groups_ensemble_piece_or_section_cannot_be_sent_along(client, cast, scene, plan):
    sign_in(client, cast.outsider_director)
    cells = {"ensemble": cast.band.pk, "day": "2030-01-07", "minutes": 42}
    assert client.post(reverse("rehearse-draw"), cells).status_code == 404
    sign_in(client, cast.second_director)
    args = {"piece": scene.piece.pk, "section": cast.sopranos.pk, "first": 1, "words": "x"}
    assert client.post(reverse("rehearse-podium-remark", args=[plan.pk]), args).status_code == 404
    assert not Remark.objects.filter(words="x").exists()


def test_the_strip_tells_the_three_voices_and_holds_no_inline_style(client, cast, scene):
    sign_in(client, cast.director)
    reply = client.get(reverse("rehearse-strip", args=[scene.piece.pk]))
    said = text_of(reply)
    assert "Heard by the machine Clarinet: 6 of 6 takes" in said
    assert "Said by musicians Flute: 4 of 4 musicians" in said
    assert "Machine: measures 11 to 12: 6 of 6 takes" in said
    page = reply.content.decode()
    assert page.count('class="bar"') >= 2
    assert not any(slip in page for slip in ("style=", "<style", "onclick="))
    assert not any(
        person.given_name in page for people in scene.people.values() for person in people
    )


def test_a_plan_is_drawn_and_a_second_one_for_the_day_is_refused_in_words(
    client, cast, scene, plan
):
    said = posted(client, "rehearse-draw", ensemble=cast.band.pk, minutes=42,
                  day=timezone.localdate().isoformat(), piece=scene.piece.pk)  # fmt: skip
    assert "this rehearsal has a plan already" in said
    said = posted(client, "rehearse-draw", ensemble=cast.band.pk, minutes=42, day="soon")
    assert "is no day" in said
    said = posted(client, "rehearse-draw", ensemble=cast.band.pk, minutes=42, day="2031-01-06")
    assert "choose at least one piece" in said


def test_each_change_of_a_plan_by_its_form(client, scene, plan):
    block = plan.blocks.filter(kind="work").first()
    args = (plan.pk, block.pk)
    assert "The minutes are set" in posted(client, "rehearse-block-minutes", *args, minutes=9)
    block.refresh_from_db()
    assert block.minutes == 9
    assert "Moved up" in posted(client, "rehearse-block-up", *args)
    assert PlannedBlock.objects.get(pk=block.pk).place == 0
    assert "Moved down" in posted(client, "rehearse-block-down", *args)
    assert "This block stays" in posted(client, "rehearse-block-keep", *args)
    said = posted(client, "rehearse-block-words", *args, title="Letter A", how="Clap", done_when="")
    assert "Letter A: measures 11 to 12" in said
    assert "Left out" in posted(client, "rehearse-block-drop", *args)
    said = posted(client, "rehearse-put-in", plan.pk, piece=scene.piece.pk, printed_first=30,
                  printed_last=33, minutes=5)  # fmt: skip
    assert "Work: measures 30 to 33" in said
    said = posted(client, "rehearse-put-in", plan.pk, piece=scene.piece.pk, printed_first=99)
    assert "measure 99 is not in Lamp Tune" in said and "measure 40 is the nearest" in said
    said = posted(client, "rehearse-add", plan.pk, title="Sight reading", minutes=5)
    assert "Sight reading" in said
    said = posted(client, "rehearse-add", plan.pk, title=" ", minutes=5)
    assert "needs a name" in said
    said = posted(client, "rehearse-period", plan.pk, minutes=30, piece=scene.piece.pk)
    assert "30 minutes." in said
    assert "Your changes are taken back" in posted(client, "rehearse-as-drawn", plan.pk)
    assert "Drawn anew" in posted(client, "rehearse-again", plan.pk)
    assert "The plan is gone" in posted(client, "rehearse-let-go", plan.pk)
    assert not PlannedRehearsal.objects.exists()


def test_a_directors_remark_names_the_nearest_measure_when_there_is_none(client, cast, scene):
    sign_in(client, cast.director)
    said = posted(client, "rehearse-remark", scene.piece.pk, first=44, words="late")
    assert "measure 44 is not in Lamp Tune" in said and "measure 40 is the nearest" in said
    said = posted(client, "rehearse-remark", scene.piece.pk, first=4, last=2, aim="rhythm")
    assert "Your remark is kept" in said
    row = Remark.objects.get(author=cast.director)
    assert (row.first_measure, row.last_measure, row.words) == (1, 3, "rhythm")


def test_the_podium_page_by_plain_forms(client, scene, plan):
    block = plan.blocks.filter(kind="work").first()
    reply = client.get(reverse("rehearse-podium", args=[plan.pk]))
    assert reply["Keep-Offline"] == "yes"
    assert "no-store" in reply["Cache-Control"]
    assert "Measures 11 to 12" in text_of(reply)
    said = posted(client, "rehearse-podium-tap", plan.pk, block=block.key, state="not_done")
    assert "Not done" in said
    assert PlannedBlock.objects.get(pk=block.pk).state == "not_done"
    posted(client, "rehearse-podium-remark", plan.pk, piece=scene.piece.pk, first=11, last=12,
           tag="rhythm:", section=scene.clarinets.pk)  # fmt: skip
    said = PodiumRemark.objects.get()
    assert (said.aim, said.section, said.remark.words) == ("rhythm", scene.clarinets, "rhythm")
    assert "is done, not done or open" in posted(
        client, "rehearse-podium-tap", plan.pk, block=block.key, state="great"
    )


def test_what_a_tablet_sends_is_kept_and_told_by_key(client, scene, plan):
    block = plan.blocks.filter(kind="work").first()
    now = timezone.now().timestamp() * 1000
    tap = {"key": str(uuid.uuid4()), "block": block.key, "state": "done", "at": now}
    word = {"key": str(uuid.uuid4()), "piece": str(scene.piece.pk), "first": "11", "last": "12",
            "words": "", "section": "", "aim": "", "strategy": "count", "at": now}  # fmt: skip
    for _ in range(2):
        reply = sent_by(client, plan.made_by, plan, taps=[tap], remarks=[word])
        assert reply.json() == {"kept": [tap["key"], word["key"]], "refused": {}}
    assert PodiumRemark.objects.count() == 1
    assert Remark.objects.filter(podium__isnull=False).get().words == "count aloud"


@pytest.mark.parametrize("body", [
    "", "[]", "{}", "null", "[" * 100_000, '{"owner": 1, "taps": 3, "remarks": []}',
    '{"owner": 1, "taps": [{}], "remarks": []}', '{"taps": [], "remarks": []}',
    '{"owner": 1, "taps": [{"key": "x", "block": "a", "state": "done", "at": 1}], "remarks": []}',
    '{"owner": 1, "taps": [], "remarks": [7]}', '{"owner": 1, "taps": [], "remarks": [{"key": 7}]}',
    "\xff",
])  # fmt: skip
def test_what_is_no_sending_of_a_podium_is_refused_and_keeps_nothing(client, plan, body):
    address = reverse("rehearse-podium-send", args=[plan.pk])
    reply = client.post(address, body, content_type="application/json")
    assert reply.status_code == 400
    assert not plan.blocks.filter(tapped_at__isnull=False).exists()


@pytest.mark.parametrize("bad", [
    {"block": "warm_up", "state": "done", "at": 1e400}, {"block": "warm_up", "state": "x", "at": 1},
    {"block": "warm_up", "state": "done"}, {"piece": "no", "first": 1, "at": 5},
    {"piece": 10**9, "first": 1, "at": 5}, {"piece": 1, "first": "x", "at": 5},
])  # fmt: skip
def test_one_thing_that_cannot_be_read_keeps_no_other_on_the_tablet(client, plan, bad):
    good = {"key": str(uuid.uuid4()), "block": "warm_up", "state": "not_done", "at": 1.0}
    sent = {"taps": [good], "remarks": []}
    sent["taps" if "block" in bad else "remarks"].append({"key": KEY, **bad})
    told = sent_by(client, plan.made_by, plan, **sent).json()
    assert told["kept"] == [good["key"]]
    assert list(told["refused"]) == [KEY]
    assert plan.blocks.get(key="warm_up").state == "not_done"


def test_what_another_directors_tablet_kept_is_not_kept_under_a_new_name(client, cast, scene, plan):
    sign_in(client, cast.second_director)
    tap, word = tap_on("warm_up"), word_on(scene.piece, "low")
    reply = sent_by(client, cast.director, plan, taps=[tap], remarks=[word])
    assert (reply.status_code, reply.json()["owner"]) == (409, cast.second_director.pk)
    assert not Remark.objects.filter(podium__isnull=False).exists()
    assert plan.blocks.get(key="warm_up").state == "open"
    assert sent_by(client, cast.second_director, plan, remarks=[word]).json()["kept"]


def test_a_plan_that_is_gone_is_told_with_whom_was_asked(client, cast, scene, plan):
    word = word_on(scene.piece, "low")
    gone = PlannedRehearsal(pk=plan.pk + 100)
    reply = sent_by(client, cast.director, gone, remarks=[word])
    assert (reply.status_code, reply.json()["owner"]) == (404, cast.director.pk)
    sign_in(client, cast.outsider_director)
    reply = sent_by(client, cast.director, plan, remarks=[word])
    assert (reply.status_code, reply.json()["owner"]) == (404, cast.outsider_director.pk)
    sign_in(client, cast.musician.account)
    reply = sent_by(client, cast.director, plan, remarks=[word])
    # Somebody who may not send at all gets no answer that a tablet could take for its own
    assert (reply.status_code, reply["Content-Type"][:9]) == (404, "text/html")


def test_half_an_emoji_or_a_null_holds_nothing_on_the_tablet(client, cast, scene, plan):
    taps = [tap_on("warm_up"), tap_on("warm\ud83d\x00_up\ud83d"), tap_on("\ud83d")]
    words = [word_on(scene.piece, "out \ud83d of\x00 tune"), word_on(scene.piece, "\ud83d")]
    told = sent_by(client, cast.director, plan, taps=taps, remarks=words).json()
    assert told["kept"] == [taps[0]["key"], taps[1]["key"], words[0]["key"]]
    assert set(told["refused"]) == {taps[2]["key"], words[1]["key"]}
    assert Remark.objects.get(podium__isnull=False).words == "out of tune"


def test_a_piece_of_too_many_digits_is_none(client, cast, scene):
    sign_in(client, cast.director)
    for digits in ("9" * 30, "9" * 5000):
        said = posted(client, "rehearse-draw", ensemble=cast.band.pk, minutes=42,
                      day=timezone.localdate().isoformat(), piece=digits)  # fmt: skip
        assert "choose at least one piece" in said


def test_enter_without_a_word_keeps_nothing_and_with_words_keeps_the_words(
    client, cast, scene, plan
):
    page = client.get(reverse("rehearse-podium", args=[plan.pk])).content.decode()
    for form in page.split('class="podium-remark"')[1:]:
        # HTML, implicit submission: Enter presses the first submit button of a form
        first = re.search(r'<button[^>]*type="submit"[^>]*>', form)[0]
        assert 'name="tag" value=""' in first
    said = posted(client, "rehearse-podium-remark", plan.pk, piece=scene.piece.pk, first=11, tag="")
    assert "Tap a word, or write one." in said
    assert not PodiumRemark.objects.exists()
    posted(client, "rehearse-podium-remark", plan.pk, piece=scene.piece.pk, first=11, tag="",
           words="Lovely")  # fmt: skip
    row = PodiumRemark.objects.get()
    assert (row.aim, row.strategy, row.remark.words) == ("", "", "Lovely")


def test_the_substitutes_page_has_every_block_and_no_name(client, scene, plan):
    said = text_of(client.get(reverse("rehearse-print", args=[plan.pk])))
    assert "Thank you for taking this rehearsal" in said
    for block in plan.blocks.all():
        assert f" {block.minutes} " in said
    assert not any(person.given_name in said for one in scene.people.values() for person in one)


def test_a_phone_finds_the_place_on_today(client, cast, scene):
    sign_in(client, cast.director)
    foot = client.get(reverse("today")).content.decode().split("</main>")[0].split("</h1>")[-1]
    assert f'href="{reverse("rehearse")}"' in foot


def test_the_worker_of_the_podium_stands_where_its_pages_are(client):
    reply = client.get(reverse("rehearse-worker"))
    assert reply.status_code == 200
    assert reply["Content-Type"] == "text/javascript"
    assert reverse("rehearse-worker").startswith("/rehearse/podium/")
