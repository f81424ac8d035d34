"""The band's rows as somebody looks who has no business with them: every address answers 404."""

import datetime

import pytest
from django.urls import reverse
from django.utils import timezone

from standlight.programme import store
from standlight.programme.actions.answers import keep_answer, keep_voice, send_answer
from standlight.programme.actions.calibration import agree_on, begin_calibration
from standlight.programme.actions.desk import rate
from standlight.programme.actions.groups import add_wish, keep
from standlight.programme.actions.guests import ask_guest
from standlight.programme.actions.marks import add_period
from standlight.programme.actions.rehearse import draw_up
from standlight.programme.actions.talks import ask, note
from standlight.programme.models import (
    Account,
    Arrival,
    Draw,
    Grouping,
    GroupWish,
    KeptAnswer,
    LongRecording,
    PeerConsent,
    PeerHearing,
    PeerRound,
    PlannedRehearsal,
    PlayingCheck,
    Remark,
    SeasonDays,
    SeasonItem,
    SeasonPlan,
    Talk,
    TalkAsked,
    Turn,
)
from standlight.programme.queries.answer_values import AnswerDraft
from standlight.web.director.rehearse import BLOCK_ACTS
from tests.programme.desk_scene import ALL_THREE, make_scene, send
from tests.programme.group_scene import made
from tests.web.scene import sign_in, wav

pytestmark = pytest.mark.django_db

REHEARSE_ACTS = (
    "plan", "print", "again", "as-drawn", "let-go", "period", "put-in", "add", "podium",
    "podium-send", "podium-tap", "podium-remark",
)  # fmt: skip
"""Addresses of a plan."""


@pytest.fixture
def rows(cast):
    """One row of every kind that a page of the band reaches, as keyword arguments by address."""
    scene = make_scene(cast)
    turn = send(scene, cast.musician)
    digest = store.keep(wav())
    turn.takes.update(playback_digest=digest)
    rate(cast.director, turn, ALL_THREE)
    voice = keep_voice(cast.director, turn, wav())
    send_answer(cast.director, turn, AnswerDraft(next_step="Breathe", voice=str(voice.key)))
    agree_on(cast.director, turn, ALL_THREE, "The ends ring")
    keep_answer(cast.director, turn, AnswerDraft(next_step="Kept words"))
    live = send(scene, cast.second_musician, way=Turn.LIVE, take=False)
    check = scene.check
    link = ask_guest(cast.director, check, [turn.pk], label="Guest Quill", days=3)
    long = LongRecording.objects.create(
        check_row=check, brought_by=cast.director, file_name="l", digest="d", copy_digest=digest,
        seconds=1.0,
    )  # fmt: skip
    file = Arrival.objects.create(
        check_row=check, brought_by=cast.director, file_name="f", digest=digest,
        playback_digest=digest, seconds=1.0,
    )  # fmt: skip
    drawn = Draw.objects.create(
        ensemble=cast.band, check_row=check, musician=cast.musician, day=timezone.localdate()
    )
    today = timezone.localdate()
    period = add_period(
        cast.director, name="Period 1", starts_on=today - datetime.timedelta(30),
        ends_on=today + datetime.timedelta(30),
    )  # fmt: skip
    calibration = begin_calibration(cast.director, check)
    group = made(cast, [cast.musician, cast.second_musician])
    keep(group, "Pairs")
    add_wish(cast.director, cast.band, cast.musician.pk, cast.second_musician.pk, True)
    talk = note(cast.director, cast.band, cast.musician, today, "We talked", [("Try it", today)])
    asked = ask(cast.musician, cast.band, "About the solo")
    both, step = [cast.band.pk, cast.musician.pk], talk.steps.get().pk
    band, wish = cast.band.pk, cast.band.group_wishes.get().pk
    each_other = PeerRound.objects.create(
        check_row=check, criteria=["rhythm"], until=today, asked_by=cast.director,
        opened_at=timezone.now(),
    )  # fmt: skip
    PeerHearing.objects.create(
        round=each_other, listener=cast.musician, turn=live, place=1
    )
    plan = draw_up(cast.director, cast.band, today, 42, [scene.piece])
    block = plan.blocks.first()
    remark = Remark.objects.create(
        piece=scene.piece, author=cast.director, first_measure=9, last_measure=9, words="r"
    )
    year = SeasonPlan.objects.create(
        programme=cast.programme, owner=cast.director, starts_on=today, ends_on=today
    )  # fmt: skip
    planned = SeasonItem.objects.create(plan=year, ensemble=cast.band, key=f"{band}/year/note/1")
    off = SeasonDays.objects.create(plan=year, sort="closed", first=today, last=today)
    one, me = check.pk, cast.musician.pk
    table = [cast.band.pk, period.pk]
    return [
        ("desk-turn", [one, turn.pk]), ("desk-levels", [one, turn.pk]),
        ("desk-remark", [one, turn.pk]), ("desk-answer", [one, turn.pk]),
        ("desk-take-back", [one, turn.pk]), ("desk-check", [one]), ("desk-list", [one]),
        ("desk-order", [one]), ("desk-rested", [one]),
        ("take-start", [turn.takes.get().key]), ("take-sound", [turn.takes.get().key]),
        ("answer-sound", [voice.key]),
        ("bring-in", [one]), ("bring-in-act", [one]), ("bring-in-long-new", [one]),
        ("bring-in-long", [one, long.pk]), ("bring-in-long-act", [one, long.pk]),
        ("arrival-sound", [one, file.pk]), ("long-sound", [one, long.pk]),
        ("live-check", [one]), ("live-draw", [one]), ("live-absent", [one, drawn.pk]),
        ("live-again", [one, live.pk]),
        ("guest-ask", [one]), ("guest-link", [link.pk]), ("guest-close", [link.pk]),
        ("anchors", [one]), ("anchor", [one, turn.pk]), ("anchor-drop", [one, turn.pk]),
        ("calibration", [one]), ("calibration-near", [calibration.pk]),
        ("calibration-hear", [calibration.pk, 1]),
        ("marks-period", table), ("marks-policy", table), ("marks-close", table),
        ("marks-file", table), ("marks-export", table), ("marks-pages", table),
        ("marks-one", [*table, me]), ("marks-change", [*table, me]),
        ("marks-excuse", [period.pk, one, me]),
        ("check-tries", [one]), ("check-again", [one]),
        ("groups-make", [band]), ("group-wishes", [band]), ("group-wish-drop", [band, wish]),
        *((f"grouping{way}", [band, group.pk]) for way in ("", "-print", "-screen", "-again",
          "-swap", "-keep", "-share", "-drop")),
        *((f"season-item{way}", [planned.pk])
          for way in ("", "-move", "-pin", "-lighten", "-give", "-check")),
        ("season-days-drop", [off.pk]), ("season-cycle", [band]),
        ("peers", [one]), ("peers-ask", [one]), ("peers-open", [one]), ("peers-close", [one]),
        ("peers-again", [one]), ("peers-drop", [one]), ("peers-lines", [one]),
        ("rehearse-strip", [scene.piece.pk]), ("rehearse-remark", [scene.piece.pk]),
        ("rehearse-mend", [scene.piece.pk, remark.pk]), ("rehearse-length", [scene.piece.pk]),
        *((f"rehearse-{act}", [plan.pk]) for act in REHEARSE_ACTS),
        *((f"rehearse-block-{act}", [plan.pk, block.pk]) for act in BLOCK_ACTS),
        ("talk", both), ("talk-note", both), ("talk-over", both), ("talk-rest", both),
        ("talk-print", both), ("talk-step", [*both, step]),
        ("my-talk-back", [asked.pk]), ("my-talk-step", [step]),
        ("my-check", [one]), ("my-answer", [turn.pk]), ("my-plan", [turn.pk]),
        ("my-hear", [one]), ("my-hear-consent", [one]), ("my-hear-next", [one]),
        ("my-hear-take", [one, 1]), ("my-hear-sound", [one, 1]),
    ]  # fmt: skip


def choir_director(cast):
    account = Account.objects.make(
        programme=cast.programme, sign_in="choir", role=Account.DIRECTOR, secret="stand-lamp-6",
        shown_name="Ines Calder",
    )  # fmt: skip
    cast.choir.directors.add(account)
    return account


def answers_of(client, rows):
    """(address, way, status) of every row by GET and by POST, where it has such a way."""
    for name, keys in rows:
        for way in (client.get, client.post):
            address = reverse(name, args=keys)
            reply = way(address)
            # Opened, what only takes a form leads to an address above, which is no way of its own.
            up = reply.headers.get("Location", "")
            led_up = way == client.get and up and address.startswith(up)
            if reply.status_code != 405 and not led_up:
                yield name, way.__name__, reply.status_code


NOT_MINE = {
    "a director of another ensemble": choir_director,
    "another school's lead": lambda cast: cast.outsider_director,
    "a musician of another ensemble": lambda cast: cast.singer.account,
    "another school's musician": lambda cast: cast.outsider_musician.account,
}


@pytest.mark.parametrize("who", NOT_MINE)
def test_nothing_of_the_band_opens_or_changes_for(client, cast, rows, who):
    sign_in(client, NOT_MINE[who](cast))
    found = list(answers_of(client, rows))
    assert len(found) > len(rows)
    assert [one for one in found if one[2] != 404] == []
    assert KeptAnswer.objects.count() == 1
    assert PlayingCheck.objects.count() == 1
    assert PlannedRehearsal.objects.get().blocks.count() > 1
    assert Arrival.objects.count() == 1
    assert (Grouping.objects.count(), GroupWish.objects.count()) == (1, 1)
    assert [one.talked_at for one in TalkAsked.objects.all()] == [None]
    assert Talk.objects.get().steps.get().done_at is None


def test_a_director_of_the_band_opens_every_one_of_these_addresses(client, cast, rows):
    sign_in(client, cast.director)
    shown = [(name, client.get(reverse(name, args=keys)).status_code) for name, keys in rows]
    refused = ["my-check", "my-answer", "my-hear", "my-hear-take", "my-hear-sound"]
    assert [name for name, status in shown if status == 404] == refused
    assert len([one for one in shown if one[1] in (200, 302)]) > 20


def test_a_musician_of_the_same_band_opens_only_what_is_asked_of_all(client, cast, rows):
    sign_in(client, cast.second_musician.account)
    found = {one for one in answers_of(client, rows) if one[2] != 404}
    asked_of_all = {("my-hear-consent", "post", 302), ("my-hear-next", "post", 302)}
    assert found == {("my-check", "get", 200), ("my-hear", "get", 200)} | asked_of_all
    assert not PeerConsent.objects.exists()
    assert PeerHearing.objects.count() == 1


def test_the_owner_hears_and_reads_what_was_sent_and_no_page_of_directors(client, cast, rows):
    sign_in(client, cast.musician.account)
    found = {one for one in answers_of(client, rows) if one[2] != 404}
    mine = {"my-check", "my-answer", "my-plan", "answer-sound", "take-sound"}
    mine |= {"my-hear", "my-hear-consent", "my-hear-next", "my-hear-take"}
    mine |= {"my-talk-back", "my-talk-step"}
    assert {name for name, _, _ in found} == mine
    page = client.get(reverse("my-answer", args=dict(rows)["my-answer"])).content.decode()
    assert "Breathe" in page
    assert "Kept words" not in page


def test_signed_out_every_address_leads_to_the_door(client, rows):
    for name, _, status in answers_of(client, rows):
        assert status in (302, 404), name
