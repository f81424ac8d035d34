"""The demo's round of hearing each other: as the tool itself would hand it out, and half way."""

from collections import Counter
from datetime import date

import pytest

from standlight.demo.hear_each_other import KEPT_BACK, N_NO, N_YES, OPEN_CHECK, TAKES_EACH
from standlight.demo.load import DEMO_SIGN_INS, load_demo
from standlight.programme.models import (
    Account,
    Musician,
    PeerConsent,
    PeerHearing,
    PeerLine,
    PeerRound,
    Take,
)
from standlight.programme.queries.peers_heard import group_heard
from standlight.programme.queries.peers_mine import my_hear_page
from standlight.programme.queries.peers_page import peers_page

pytestmark = pytest.mark.django_db


@pytest.fixture
def row(db):
    load_demo(date.today())
    assert OPEN_CHECK
    return PeerRound.objects.get(opened_at__isnull=False)


def test_the_demos_round_is_half_way_and_nobody_hears_their_own_take(row):
    answers = Counter(PeerConsent.objects.filter(round=row).values_list("said_yes", flat=True))
    assert answers == {True: N_YES, False: N_NO}
    hearings = PeerHearing.objects.filter(round=row).select_related("turn", "listener")
    assert hearings.count() < N_YES * TAKES_EACH
    assert all(one.turn.musician_id != one.listener_id for one in hearings)
    times = Counter(one.turn_id for one in hearings)
    assert len(times) == N_YES
    assert max(times.values()) - min(times.values()) <= 1
    assert all(one.levels.count() == len(row.criteria) for one in hearings)


def test_its_director_has_lines_to_read_and_sees_how_the_group_heard_it(row):
    page = peers_page(row.asked_by, row.check_row)
    assert page.state == "open"
    assert page.waiting
    assert [line.passed for line in page.decided if line.words == KEPT_BACK] == [False]
    found = group_heard(row.asked_by, row)
    assert (found.n_shown, found.n_hidden) == (N_YES, 0)
    assert len(found.sentences) == 3


def test_the_shown_musician_has_a_take_to_hear_and_words_to_read(row):
    code = DEMO_SIGN_INS[-1][1]
    me = Musician.objects.get(account=Account.objects.get(sign_in=code))
    # No worker has played the takes here; on a demo they are played in the background.
    Take.objects.filter(turn__check_row=row.check_row).update(state=Take.HEARD)
    page = my_hear_page(me, row)
    assert (page.answer, page.n_done, page.n_left) == ("yes", 1, 1)
    assert page.words
    lines = PeerLine.objects.filter(hearing__turn__musician=me, hearing__round=row)
    assert all(line.passed and line.seen_at is None for line in lines)
