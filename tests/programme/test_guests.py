"""Guests by an expiring link: who may make one, what it gives, what becomes of their levels."""

import datetime
from dataclasses import replace

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions.desk import rate
from standlight.programme.actions.guests import (
    ask_guest,
    close_link,
    guest_rates,
    link_of,
    token_of,
)
from standlight.programme.models import GivenLevel, GuestLevel, GuestLink, StudyErrand, Take
from standlight.programme.queries.given_ratings import given_levels
from standlight.programme.queries.guest_said import guests_said
from standlight.programme.queries.guests import (
    guest_page,
    heard_takes,
    link_page,
    may_be_given,
    state_of,
)
from standlight.programme.queries.rater_names import names_for
from standlight.ratings.given import DIRECTOR, GUEST
from standlight.ratings.review import review_ratings
from tests.programme.desk_scene import ALL_THREE, more_clarinets, send
from tests.ratings.given_schools import School

pytestmark = pytest.mark.django_db


@pytest.fixture
def turns(scene, cast):
    people = [cast.musician, cast.second_musician, *more_clarinets(scene, 4)]
    return [send(scene, person) for person in people]


def ask(cast, scene, turns, **more):
    fields = {"label": "Guest from the city", "days": 3, **more}
    return ask_guest(cast.director, scene.check, [turn.pk for turn in turns], **fields)


def test_a_link_holds_exactly_the_chosen_takes_under_codes_that_are_no_names(cast, scene, turns):
    link = ask(cast, scene, turns[:3])
    assert {take.turn_id for take in link.takes.all()} == {turn.pk for turn in turns[:3]}
    assert [take.place for take in link.takes.all()] == [1, 2, 3]
    for take in link.takes.select_related("turn__musician"):
        assert take.turn.musician.given_name not in take.code
        assert take.turn.musician.roster_id not in take.code


def test_the_order_and_codes_of_one_link_tell_nothing_of_another(cast, scene, turns):
    orders, codes = set(), set()
    for _ in range(12):
        link = ask(cast, scene, turns)
        orders.add(tuple(link.takes.values_list("turn_id", flat=True)))
        codes.add(link.takes.get(turn=turns[0]).code)
    assert len(orders) > 1
    assert len(codes) > 6


def test_a_link_ends_with_the_last_minute_of_its_day_in_the_schools_time(cast, scene, turns):
    link = ask(cast, scene, turns, days=3)
    end = timezone.localtime(link.expires_at)
    assert end.date() == timezone.localdate() + datetime.timedelta(3)
    assert (end.hour, end.minute) == (23, 59)


@pytest.mark.parametrize(
    ("slip", "more"),
    [
        ("who it is for", {"label": "  "}),
        ("1 to 30 days", {"days": 0}),
        ("1 to 30 days", {"days": 31}),
        ("not a way to count", {"counts_as": "self"}),
        ("too long", {"note": "x" * 241}),
    ],
)
def test_a_link_that_cannot_be_made_says_why_and_leaves_nothing(cast, scene, turns, slip, more):
    with pytest.raises(StandlightError, match=slip):
        ask(cast, scene, turns, **more)
    assert not GuestLink.objects.exists()


def test_a_link_without_takes_or_with_somebody_elses_is_refused(cast, scene, turns):
    with pytest.raises(StandlightError, match="no take was chosen"):
        ask(cast, scene, [])
    with pytest.raises(NotAllowed):
        ask_guest(cast.outsider_director, scene.check, [turns[0].pk], label="x", days=3)
    assert not GuestLink.objects.exists()


def test_excused_silent_unsent_and_departed_takes_cannot_be_given(cast, scene, turns):
    turns[0].excused = True
    turns[0].save()
    turns[1].takes.update(state=Take.REMOVED)
    turns[2].sent_at = None
    turns[2].save()
    turns[3].musician.seats.update(left_on=timezone.localdate())
    left = {turn.pk for turn in may_be_given(cast.director, scene.check)}
    assert left == {turn.pk for turn in turns[4:]}


def test_the_latest_try_of_a_musician_is_the_one_to_give(cast, scene, turns):
    again = send(scene, cast.musician, attempt=2)
    found = [turn.pk for turn in may_be_given(cast.director, scene.check)]
    assert again.pk in found
    assert turns[0].pk not in found


def test_a_signed_address_names_its_link_and_a_changed_one_none(cast, scene, turns):
    link = ask(cast, scene, turns)
    token = token_of(link)
    assert link_of(token) == link
    swapped = token[:-1] + ("A" if token[-1] != "A" else "B")
    assert [link_of(bad) for bad in (swapped, str(link.key), f"{link.key}:", "", "x:y")] == (
        [None] * 5
    )


def test_levels_of_a_guest_stand_once_and_a_change_retires_the_old(cast, scene, turns):
    take = ask(cast, scene, turns).takes.first()
    guest_rates(take, ALL_THREE)
    guest_rates(take, ALL_THREE)
    assert GuestLevel.objects.count() == 3
    guest_rates(take, {**ALL_THREE, "rhythm": "1"})
    standing = take.levels.filter(retired_at=None)
    assert dict(standing.values_list("criterion", "value")) == {**ALL_THREE, "rhythm": "1"}
    assert GuestLevel.objects.count() == 4
    with pytest.raises(IntegrityError), transaction.atomic():
        GuestLevel.objects.create(take=take, criterion="rhythm", value="2")


def test_a_guest_gives_no_level_that_is_none_or_was_not_asked(cast, scene, turns):
    take = ask(cast, scene, turns).takes.first()
    for levels in ({"rhythm": "5"}, {"tone": "3"}, {"rhythm": ""}):
        with pytest.raises(StandlightError):
            guest_rates(take, levels)
    assert not GuestLevel.objects.exists()


@pytest.mark.parametrize("end", ["closed", "over"])
def test_a_link_that_was_closed_or_is_over_takes_no_level_and_keeps_the_old(
    cast, scene, turns, end
):
    link = ask(cast, scene, turns)
    take = link.takes.first()
    guest_rates(take, ALL_THREE)
    if end == "closed":
        close_link(link)
    else:
        GuestLink.objects.update(expires_at=timezone.now() - datetime.timedelta(seconds=1))
    with pytest.raises(NotAllowed, match="has ended"):
        guest_rates(take, {**ALL_THREE, "rhythm": "1"})
    assert take.levels.get(criterion="rhythm").value == "3"
    assert state_of(link_of(token_of(link))) != "open"


def test_a_guests_levels_touch_no_directors_level_and_no_mark(cast, scene, turns):
    rate(cast.director, turns[0], ALL_THREE)
    before = list(GivenLevel.objects.values())
    for take in ask(cast, scene, turns).takes.all():
        guest_rates(take, dict.fromkeys(ALL_THREE, "1"))
    assert list(GivenLevel.objects.values()) == before


def test_a_guest_is_a_class_of_their_own_unless_the_director_said_compared(cast, scene, turns):
    rate(cast.director, turns[0], ALL_THREE)
    beside = ask(cast, scene, turns[:1])
    compared = ask(cast, scene, turns[:1], counts_as=GuestLink.COMPARED)
    for link in (beside, compared):
        guest_rates(link.takes.get(), {**ALL_THREE, "notes": "not_heard"})
    rows = given_levels(cast.programme.pk).given
    found = {row.rater: (row.rater_class, row.criterion) for row in rows}
    assert found[f"g{beside.pk}"][0] == GUEST
    assert found[f"g{compared.pk}"][0] == DIRECTOR
    assert len(rows) == 3 + 2 + 2
    assert names_for(cast.director).rater(f"g{beside.pk}") == "Guest from the city"
    assert StudyErrand.objects.get(programme=cast.programme).asked_at is not None


def test_only_a_guests_levels_still_have_a_day_to_count_from(cast, scene, turns):
    guest_rates(ask(cast, scene, turns[:1]).takes.get(), ALL_THREE)
    found = given_levels(cast.programme.pk)
    assert found.first_day == timezone.localdate()
    assert {0 <= row.day < 1 for row in found.given} == {True}


def test_wild_levels_of_guests_change_nothing_that_a_review_says_of_directors():
    given = School(3, n_students=8, n_tasks=4).nested()
    guests = [
        replace(row, rater=f"g{n % 3}", level=1 + n % 4, rater_class=GUEST)
        for n, row in enumerate(given)
        if n % 2
    ]
    assert len(guests) > 90
    assert review_ratings([*given, *guests], [], {}) == review_ratings(given, [], {})


def test_a_director_reads_a_guests_levels_only_beside_their_own(cast, scene, turns):
    link = ask(cast, scene, turns[:1])
    guest_rates(link.takes.get(), ALL_THREE)
    before = link_page(cast.second_director, link).takes[0]
    assert (before.levels, before.hidden) == ((), True)
    rate(cast.second_director, turns[0], ALL_THREE)
    after = link_page(cast.second_director, link).takes[0]
    assert after.levels == ("Intonation developing", "Rhythm secure", "Notes extending")
    assert guests_said(turns[0]) == (
        "Guest from the city, guest: Intonation developing, Rhythm secure, Notes extending",
    )


def test_a_take_whose_sound_is_removed_or_turn_excused_leaves_the_guests_list(cast, scene, turns):
    link = ask(cast, scene, turns[:3])
    turns[0].takes.update(state=Take.REMOVED)
    turns[1].excused = True
    turns[1].save()
    assert [take.turn_id for take in heard_takes(link)] == [turns[2].pk]
    turns[2].musician.seats.update(left_on=timezone.localdate())
    assert heard_takes(link) == []
    turns[2].delete()
    assert guest_page(link).lines == ()
    assert link.takes.count() == 2


def test_links_are_seen_by_who_directs_the_group_alone(cast, scene, turns):
    link = ask(cast, scene, turns)
    for account in (cast.director, cast.second_director):
        assert list(GuestLink.objects.visible_to(account)) == [link]
    for account in (cast.musician.account, cast.outsider_director, cast.singer.account):
        assert not GuestLink.objects.visible_to(account).exists()
