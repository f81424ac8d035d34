"""The school's page, its adults, and what a second adult reads and may not do."""

import datetime

import pytest
from django.urls import reverse
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.kinds import KINDS, data_of
from standlight.programme.actions import replies, school
from standlight.programme.models import (
    Account,
    Assignment,
    Ensemble,
    KindEdition,
    Sheet,
    SheetSound,
)
from standlight.programme.queries.school import adults_who_read, school_page

pytestmark = pytest.mark.django_db


@pytest.fixture
def sheet(cast):
    """A find that the cast's musician has sent, with a reply."""
    kind = KINDS["finds"]
    edition = KindEdition.objects.create(
        programme=cast.programme, key=kind.key, edition=1, body=data_of(kind)
    )
    today = datetime.date(2026, 11, 25)
    given = Assignment.objects.create(
        ensemble=cast.band, kind=edition, title="Finds", starts_on=today, made_by=cast.director,
        published_at=timezone.now(),
    )  # fmt: skip
    sent = Sheet.objects.create(
        assignment=given, author=cast.musician.account, about=cast.musician, step="find",
        answers={"what": "Ghost Elevator", "who": "Low Ceiling", "why": "the bass goes down"},
        sent_at=timezone.now(),
    )  # fmt: skip
    Sheet.objects.create(
        assignment=given, author=cast.second_musician.account, about=cast.second_musician,
        step="find", answers={"what": "A draft of mine"},
    )  # fmt: skip
    replies.reply(cast.director, sent, "Good ears.")
    return sent


@pytest.fixture
def second_adult(cast):
    adult, password = school.add_adult(
        cast.director, "Noa Quill", "Counselor", reads_writing=True
    )
    assert adult.check_password(password) and adult.sign_in == "counselor"
    return adult


def test_the_lead_keeps_the_contact_that_musicians_read(client, cast):
    client.force_login(cast.director)
    answer = client.post(
        reverse("school"), {"name": " Alder  Creek ", "safety_contact": "Room 9"}, follow=True
    )
    cast.programme.refresh_from_db()
    assert (cast.programme.name, cast.programme.safety_contact) == ("Alder Creek", "Room 9")
    assert b"Room 9" in answer.content
    assert b"needs a name" in client.post(reverse("school"), {"name": " "}, follow=True).content


def test_nobody_but_the_lead_meets_the_school_and_nobody_else_all_writing(client, cast, sheet):
    for account in (cast.second_director, cast.musician.account, cast.outsider_director):
        client.force_login(account)
        for address in (reverse("school"), reverse("writing-one", args=[sheet.assignment_id])):
            outside_lead = account == cast.outsider_director and address == reverse("school")
            assert client.get(address).status_code == (200 if outside_lead else 404)
    with pytest.raises(NotAllowed):
        school.add_adult(cast.second_director, "Al", "al", reads_writing=True)
    with pytest.raises(NotAllowed):
        school.change_adult(cast.outsider_director, cast.second_director, reads_writing=True)


def test_a_second_adult_reads_what_was_sent_and_the_reply_and_no_draft(
    client, cast, sheet, second_adult
):
    client.force_login(second_adult)
    assert b"All writing" in client.get(reverse("musicians")).content
    assert b"Finds" in client.get(reverse("writing")).content
    text = client.get(reverse("writing-one", args=[sheet.assignment_id])).content.decode()
    assert "Ghost Elevator" in text and "Good ears." in text and cast.director.shown_name in text
    assert "A draft of mine" not in text
    sheet.refresh_from_db()
    assert sheet.opened_by_id != second_adult.pk


def test_a_second_adult_changes_nothing_and_sees_no_other_page_of_the_group(
    client, cast, sheet, second_adult
):
    client.force_login(second_adult)
    given = sheet.assignment_id
    for address in (
        reverse("reading-sheet", args=[given, sheet.pk]), reverse("assignment", args=[given]),
    ):  # fmt: skip
        assert client.get(address).status_code == 404
    words = {"words": "mine", "act": "send"}
    assert client.post(reverse("reading-sheet", args=[given, sheet.pk]), words).status_code == 404
    assert client.post(reverse("assignment-act", args=[given, "take-back"])).status_code == 404
    sheet.reply.refresh_from_db()
    assert sheet.reply.words == "Good ears."
    assert not Ensemble.objects.visible_to(second_adult).exists()
    assert not Sheet.objects.visible_to(second_adult).exists()
    sound = SheetSound.objects.create(sheet=sheet, question="what", digest="0" * 64)
    assert list(SheetSound.objects.visible_to(second_adult)) == [sound]
    assert not SheetSound.objects.visible_to(cast.outsider_director).exists()


def test_who_can_read_is_told_by_name_and_one_alone_is_warned_of(cast):
    assert school_page(cast.director).alone == (cast.choir.name,)
    adult, _ = school.add_adult(cast.director, "Noa Quill", "quill", reads_writing=True)
    assert school_page(cast.director).alone == ()
    assert [one.shown_name for one in adults_who_read(cast.choir)] == [
        cast.director.shown_name, "Noa Quill",
    ]  # fmt: skip
    school.change_adult(cast.director, adult, reads_writing=True, is_active=False)
    assert school_page(cast.director).alone == (cast.choir.name,)


def test_an_adult_needs_a_name_of_their_own_and_something_to_see(cast):
    with pytest.raises(StandlightError, match="is taken"):
        school.add_adult(cast.director, "Al", "DIRECTOR", reads_writing=True)
    with pytest.raises(StandlightError, match="without a space"):
        school.add_adult(cast.director, "Al", "al ko", reads_writing=True)
    with pytest.raises(StandlightError, match="see nothing"):
        school.add_adult(cast.director, "Al", "al")
    with pytest.raises(NotAllowed):
        school.change_adult(cast.director, cast.director, reads_writing=True)
    assert not Account.objects.filter(sign_in="al").exists()


def test_a_new_director_directs_what_was_ticked(client, cast):
    client.force_login(cast.director)
    answer = client.post(
        reverse("adult-add"),
        {"shown_name": "Bea Lund", "sign_in": "bea", "ensembles": [cast.choir.pk]},
    )
    adult = Account.objects.get(sign_in="bea")
    assert list(Ensemble.objects.visible_to(adult)) == [cast.choir]
    assert b"not shown again" in answer.content
    client.post(reverse("adult-change", args=[adult.pk]), {"ensembles": [cast.band.pk]})
    assert list(Ensemble.objects.visible_to(adult)) == [cast.band]
