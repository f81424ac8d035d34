"""Missing, excused, not asked, heard live: one rule for every page."""

import datetime

import pytest

from standlight.programme.models import Musician, PlayingCheck, Turn
from standlight.programme.queries.standing import (
    ANSWERED,
    DUE,
    EXCUSED,
    MISSING,
    NOT_ASKED,
    RATED,
    TO_HEAR,
    WAITING,
    SeatRow,
    TurnRow,
    one_seat_each,
    standing,
)

TODAY = datetime.date(2026, 11, 2)
DAY = datetime.timedelta(1)
NOON = datetime.datetime(2026, 11, 1, 12, tzinfo=datetime.UTC)


def seat(way=Musician.RECORD, joined=None, left=None, pk=1, musician=1):
    return SeatRow(pk, musician, "1001", "Mina", "Okafor", 1, "Clarinet", 1, way, joined, left)


def turn(attempt=1, sent=NOON, answered=None, levels=None, excused=False, way=Turn.WEB):
    return TurnRow(attempt, 1, 1, attempt, way, excused, sent, answered, levels or {})


@pytest.mark.parametrize(
    ("who", "due", "turns", "state"),
    [
        (seat(), TODAY, (), DUE),
        (seat(), TODAY - DAY, (), MISSING),
        (seat(Musician.NEITHER), TODAY - DAY, (), NOT_ASKED),
        (seat(Musician.LIVE_ONLY), TODAY - DAY, (), TO_HEAR),
        (seat(joined=TODAY), TODAY - DAY, (), NOT_ASKED),
        (seat(left=TODAY - 5 * DAY), TODAY - DAY, (), NOT_ASKED),
        (seat(), TODAY - DAY, (turn(sent=None, excused=True),), EXCUSED),
        (seat(), TODAY - DAY, (turn(excused=True),), WAITING),
        (seat(), TODAY - DAY, (turn(),), WAITING),
        (seat(), TODAY - DAY, (turn(levels={"tone": "2"}),), RATED),
        (seat(), TODAY - DAY, (turn(levels={"tone": "2"}, answered=NOON),), ANSWERED),
        (seat(), TODAY - DAY, (turn(answered=NOON), turn(2)), WAITING),
        (seat(Musician.NEITHER), TODAY - DAY, (turn(),), WAITING),
    ],
)
def test_where_a_musician_stands(who, due, turns, state):
    assert standing(who, due, TODAY, turns).state == state


def test_by_itself_the_last_try_with_levels_counts_not_the_last_sent():
    found = standing(seat(), TODAY, TODAY, (turn(2), turn(1, levels={"tone": "2"})))
    assert found.counting(PlayingCheck()).attempt == 1
    assert found.state == WAITING


def test_heard_live_is_said_of_the_newest_sent_try():
    assert standing(seat(), TODAY, TODAY, (turn(1), turn(2, way=Turn.LIVE))).heard_live
    assert not standing(seat(), TODAY, TODAY, (turn(1, way=Turn.LIVE), turn(2))).heard_live


def test_somebody_who_changed_section_is_listed_once_where_they_sit_today():
    left, now = seat(left=TODAY - DAY, pk=1), seat(joined=TODAY - DAY, pk=2)
    assert one_seat_each([left, now], TODAY) == [now]
    assert one_seat_each([now, left], TODAY) == [now]
