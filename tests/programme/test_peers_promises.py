"""What musicians were promised holds: days that end, a yes taken back, nothing kept unheard."""

import datetime

import pytest
from django.utils import timezone

from standlight.errors import StandlightError
from standlight.programme.actions import peers as acts
from standlight.programme.actions.peers import decide
from standlight.programme.models import PeerLine, PeerRound
from standlight.programme.queries import peers
from standlight.programme.queries.my_part import my_part
from standlight.programme.queries.peers_page import peers_page
from tests.programme.peers_scene import ask, hears, make_people, make_round

pytestmark = pytest.mark.django_db


def in_days(days):
    return timezone.localdate() + datetime.timedelta(days)


# --- the last day --------------------------------------------------------------------------------


@pytest.mark.parametrize("until", [datetime.date(9999, 12, 31), 367], ids=str)
def test_a_last_day_more_than_a_year_ahead_is_refused_and_the_year_is_named(cast, until):
    far = until if isinstance(until, datetime.date) else in_days(until)
    slip = f"more than a year ahead.*is the year {far.year} right"
    scene, _ = make_people(cast, 3)
    with pytest.raises(StandlightError, match=slip):
        ask(scene, until=far)
    assert not PeerRound.objects.exists()
    assert ask(scene, until=in_days(366)).until == in_days(366)
    with pytest.raises(StandlightError, match=slip):
        ask(scene, until=far)


def test_it_is_opened_again_for_a_year_at_most(cast):
    row, _ = make_round(cast)
    acts.close_round(cast.director, row)
    for day, slip in ((in_days(367), "more than a year ahead"), (in_days(-1), "over already")):
        with pytest.raises(StandlightError, match=slip):
            acts.open_again(cast.director, row, day)
    row.refresh_from_db()
    assert peers.state_of(row) == peers.CLOSED
    acts.open_again(cast.director, row, in_days(366))
    row.refresh_from_db()
    assert peers.state_of(row) == peers.OPEN


def test_a_last_day_at_the_end_of_the_calendar_that_is_kept_already_breaks_no_page(cast):
    row, people = make_round(cast)
    PeerRound.objects.update(until=datetime.date.max)
    row.refresh_from_db()
    assert peers.state_of(row) == peers.OPEN
    assert [line.check_pk for line in my_part(people[0].account).hear] == [row.check_row_id]
    assert peers_page(cast.director, row.check_row).state == peers.OPEN
    assert acts.hand_next(people[0], row).place == 1
    acts.close_round(cast.director, row)
    assert peers_page(cast.director, row.check_row).state_words.startswith("Ended ")


# --- what was kept back --------------------------------------------------------------------------


def test_a_line_kept_back_meanwhile_does_not_go_out_with_the_rest_of_an_old_page(cast):
    row, people = make_round(cast)
    for one in people[:2]:
        hears(row, one)
    shown = [line.pk for line in peers_page(cast.director, row.check_row).waiting]
    kept, *others = shown
    assert decide(cast.director, row, [kept], passed=False, undecided=True) == 1
    assert decide(cast.director, row, shown, passed=True, undecided=True) == len(others) == 3
    assert list(PeerLine.objects.filter(passed=False).values_list("pk", flat=True)) == [kept]
    # Nor does an old page keep back what went out; the page of today may still do both.
    assert decide(cast.director, row, shown[1:2], passed=False, undecided=True) == 0
    assert decide(cast.director, row, shown[1:2], passed=False) == 1
    assert decide(cast.director, row, [kept], passed=True) == 1


def test_the_same_press_twice_is_done_and_no_slip(cast):
    row, people = make_round(cast)
    keys = [line.pk for line in hears(row, people[0]).lines.all()]
    first = decide(cast.director, row, keys, passed=True, undecided=True)
    at = PeerLine.objects.get(pk=keys[0]).decided_at
    assert first == decide(cast.director, row, keys, passed=True, undecided=True) == 2
    assert PeerLine.objects.get(pk=keys[0]).decided_at == at
