"""What is agreed applies by itself: days, a shorter passage, larger print, spoken answers."""

import datetime

import pytest
from django.utils import timezone

from standlight.errors import StandlightError
from standlight.programme import store
from standlight.programme.accommodations import ACCOMMODATIONS, told_of
from standlight.programme.actions.checks import publish
from standlight.programme.actions.roster import change_musician
from standlight.programme.actions.shifting import set_own_version
from standlight.programme.models import Musician, OwnVersion, Turn
from standlight.programme.queries.assignments import own_due_day
from standlight.programme.queries.hearing import own_version_of
from standlight.programme.queries.my_check import check_page
from standlight.programme.queries.my_part import my_part
from standlight.programme.queries.standing import DUE, MISSING, one_seat_each, seats_of, standing
from standlight.score import read_passage
from tests.web import scene

pytestmark = pytest.mark.django_db


def cells(musician, **more):
    return {
        "given_name": musician.given_name, "family_name": musician.family_name,
        "grade": str(musician.grade), "way": musician.way, **more,
    }  # fmt: skip


def agree(cast, musician, *keys, **more):
    change_musician(cast.director, musician, cells(musician, **more), keys)
    musician.refresh_from_db()


@pytest.fixture
def check(cast):
    return scene.publish(cast, musician=cast.singer, group=cast.choir)


def notes(digest):
    return read_passage(store.fetch(digest)).notes


def test_the_form_keeps_what_is_ticked_and_refuses_no_number_of_days(cast):
    agree(cast, cast.musician, "spoken", "large_print", "unknown", extra_days="3")
    assert cast.musician.accommodations == ["large_print", "spoken"]
    assert cast.musician.extra_days == 3
    for typed in ("-1", "31", "two", "1e3"):
        with pytest.raises(StandlightError, match="number of days"):
            agree(cast, cast.musician, extra_days=typed)
    agree(cast, cast.musician)
    assert (cast.musician.accommodations, cast.musician.extra_days) == ([], 0)


def test_what_is_agreed_is_read_by_the_musician_and_by_the_director_in_their_own_words(cast):
    agree(cast, cast.musician, *ACCOMMODATIONS, extra_days="1", accommodation="May sit")
    assert cast.musician.agreed_words.startswith("May sit. You have 1 more day for everything.")
    for one in ACCOMMODATIONS.values():
        assert one.told in cast.musician.agreed_words
        assert one.label in cast.musician.agreed_labels
    assert told_of([], 0) == ()


def test_more_days_move_the_due_day_everywhere(cast, check):
    due = check.due_on
    late = due + datetime.timedelta(days=2)
    seat = one_seat_each(seats_of(cast.choir), late)[0]
    assert standing(seat, due, late, []).state == MISSING
    assert my_part(cast.singer.account, today=late).next.overdue
    agree(cast, cast.singer, extra_days="2")
    seat = one_seat_each(seats_of(cast.choir), late)[0]
    assert standing(seat, due, late, []).state == DUE
    line = my_part(cast.singer.account, today=late).next
    assert (line.due_on, line.due, line.overdue) == (late, "Due today", False)
    assert check_page(cast.singer.account, check, today=late).due == "Due today"


def test_more_days_move_the_day_of_written_work_but_not_a_day_given_for_one_piece():
    class Given:
        due_on = datetime.date(2026, 11, 25)

    class Later:
        until = datetime.date(2026, 11, 26)

    assert own_due_day(Given, None, 3) == datetime.date(2026, 11, 28)
    assert own_due_day(Given, Later, 3) == Later.until


def test_a_shorter_passage_is_its_first_half_on_the_page_and_in_the_hearing(cast, check):
    passage = check.passages.get()
    whole = notes(passage.notation_digest)
    assert check_page(cast.singer.account, check).shorter == ""
    agree(cast, cast.singer, "shorter")
    own = own_version_of(passage, cast.singer.pk)
    measures = read_passage(store.fetch(passage.notation_digest)).measures
    enough = (len(measures) + 1) // 2
    half = notes(own.notation_digest)
    assert [n.midi for n in half] == [n.midi for n in whole if n.measure < enough]
    assert check_page(cast.singer.account, check).shorter
    set_own_version(cast.director, passage, cast.singer, -12)
    own = own_version_of(passage, cast.singer.pk)
    assert [n.midi for n in notes(own.notation_digest)] == [n.midi - 12 for n in half]
    agree(cast, cast.singer)
    own = own_version_of(passage, cast.singer.pk)
    assert [n.midi for n in notes(own.notation_digest)] == [n.midi - 12 for n in whole]
    set_own_version(cast.director, passage, cast.singer, 0)
    assert not OwnVersion.objects.filter(musician=cast.singer).exists()


def test_a_check_that_is_published_later_is_short_at_once(cast):
    Musician.objects.filter(pk=cast.singer.pk).update(accommodations=["shorter"])
    check = scene.publish(cast, musician=cast.singer, group=cast.choir)
    assert own_version_of(check.passages.get(), cast.singer.pk) is None  # by hand, not by the act
    check.published_at = None
    check.save()
    check.passages.update(printed="1 to 2")
    cast.programme.owns_music = True
    cast.programme.save()
    publish(cast.director, check)
    own = own_version_of(check.passages.get(), cast.singer.pk)
    assert 0 < len(notes(own.notation_digest)) < len(notes(check.passages.get().notation_digest))


def test_what_was_sent_stays_as_long_as_it_was(cast, check):
    Turn.objects.create(check_row=check, musician=cast.singer, sent_at=timezone.now())
    agree(cast, cast.singer, "shorter")
    assert own_version_of(check.passages.get(), cast.singer.pk) is None


def test_larger_print_is_the_musicians_own(client, cast):
    agree(cast, cast.singer, "large_print")
    client.force_login(cast.singer.account)
    assert b'<html lang="en" class="large-print">' in client.get("/my/").content
    client.force_login(cast.musician.account)
    assert b"large-print" not in client.get("/my/").content
    client.force_login(cast.director)
    page = client.get(f"/musicians/{cast.singer.pk}/").content
    assert b'<html lang="en">' in page
    assert b'value="large_print" checked' in page
