"""What a study and a period make of guests: compared where a director said so, never marked."""

import datetime

import pytest
from django.utils import timezone

from standlight.programme import jobs
from standlight.programme.actions.desk import rate
from standlight.programme.actions.guests import ask_guest, guest_rates
from standlight.programme.actions.marks import add_period
from standlight.programme.models import GuestLink
from standlight.programme.queries.marks import period_page
from standlight.programme.queries.raters import raters_page
from standlight.programme.queries.raters_twice import twice_page
from standlight.programme.queries.studies import study_for
from tests.programme.desk_scene import ALL_THREE, make_scene, more_clarinets, send

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(cast):
    return make_scene(cast, days_to_due=-2)


@pytest.fixture
def turns(scene, cast):
    turns = [send(scene, one) for one in (cast.musician, *more_clarinets(scene, 9))]
    for n, turn in enumerate(turns):
        levels = {key: str(2 + (n + i) % 3) for i, key in enumerate(ALL_THREE)}
        rate(cast.director, turn, levels)
    return turns


def heard_by_guest(cast, scene, turns, counts_as, label="Guest Quill", low=0):
    pks = [turn.pk for turn in turns]
    link = ask_guest(cast.director, scene.check, pks, label=label, days=3, counts_as=counts_as)
    places = {turn.pk: n for n, turn in enumerate(turns)}
    for take in link.takes.all():
        n = places[take.turn_id]
        guest_rates(
            take, {key: str(1 + low + (n + i) % 3) for i, key in enumerate(ALL_THREE)}
        )
    return link


def names_on(page):
    return " ".join(pair.names for pair in page.pairs or ())


def test_a_guest_beside_is_compared_with_nobody_and_one_to_compare_is_by_name(cast, scene, turns):
    heard_by_guest(cast, scene, turns, GuestLink.BESIDE, label="Guest Fern")
    jobs.study_ratings(cast.programme.pk)
    assert raters_page(cast.director).pairs is None
    heard_by_guest(cast, scene, turns, GuestLink.COMPARED)
    jobs.study_ratings(cast.programme.pk)
    page = raters_page(cast.director)
    assert names_on(page) == "You and Guest Quill"
    assert [each.sentence for each in page.says if "Guest Quill is" in each.sentence
            and "stricter than you" in each.sentence]
    assert not page.twice
    assert twice_page(cast.director, 20) is None


def test_what_compares_two_guests_or_a_guest_with_the_lead_is_the_leads_alone(cast, scene, turns):
    rate(cast.second_director, turns[0], ALL_THREE)
    heard_by_guest(cast, scene, turns, GuestLink.COMPARED)
    heard_by_guest(cast, scene, turns, GuestLink.COMPARED, label="Guest Fern", low=1)
    jobs.study_ratings(cast.programme.pk)

    def pairs_of(account):
        rows = study_for(account).body["contrasts"]
        return {frozenset((row["rater"], row["other"])) for row in rows}

    me = f"a{cast.second_director.pk}"
    assert any({key[0] for key in pair} == {"g"} for pair in pairs_of(cast.director))
    assert all(me in pair for pair in pairs_of(cast.second_director))


def test_a_period_has_the_same_marks_whatever_guests_gave(cast, scene, turns):
    today = timezone.localdate()
    period = add_period(
        cast.director, name="Period 1", starts_on=today - datetime.timedelta(30), ends_on=today
    )
    before = period_page(cast.band, period)
    assert any(row.value for row in before.rows)
    for counts_as in GuestLink.COUNTS_AS:
        heard_by_guest(cast, scene, turns, counts_as)
    assert period_page(cast.band, period) == before


def test_no_guest_is_asked_to_hear_takes_twice(cast, scene, turns):
    for turn in turns[:4]:
        rate(cast.second_director, turn, ALL_THREE)
    heard_by_guest(cast, scene, turns, GuestLink.COMPARED)
    page = twice_page(cast.director, 20)
    assert page is not None
    assert {one.name for one in page.lists} <= {"you", "Ruben Asher"}
