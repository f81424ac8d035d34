"""What musicians were promised holds: days that end, a yes taken back, nothing kept unheard."""

import datetime

import pytest
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions import peers as acts
from standlight.programme.actions.answers import answer_turn
from standlight.programme.actions.desk import rate
from standlight.programme.actions.peers import decide, hand_next, say_consent
from standlight.programme.models import PeerConsent, PeerLevel, PeerLine, PeerRound, Take
from standlight.programme.queries import peers
from standlight.programme.queries.my_part import my_part
from standlight.programme.queries.peers_mine import my_hear_page, my_hearing, sound_of
from standlight.programme.queries.peers_page import peers_page
from tests.programme.desk_scene import ALL_THREE
from tests.programme.peers_scene import BOTH, WELL, ask, hears, make_people, make_round

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


# --- a yes, and taking it back -------------------------------------------------------------------


def closed(cast, row):
    acts.close_round(cast.director, row)
    row.refresh_from_db()
    return row


def test_who_heard_a_take_sees_no_directors_level_once_its_owner_has_taken_the_yes_back(cast):
    row, people = make_round(cast, shows_levels=True)
    mine = [hears(row, people[0]) for _ in range(2)]
    for one in mine:
        rate(cast.director, one.turn, {**ALL_THREE, "rhythm": "4"})
        answer_turn(cast.director, one.turn, next_step="Breathe")
    closed(cast, row)

    def shown():
        return [one.rows[1].director for one in my_hear_page(people[0], row).heard]

    assert shown() == ["Extending", "Extending"]
    say_consent(mine[0].turn.musician, row, yes=False)
    assert shown() == ["", "Extending"]
    # What they gave and how the group heard it is their own and stays.
    assert [one.rows[1].mine for one in my_hear_page(people[0], row).heard] == ["Secure"] * 2


def test_a_yes_is_taken_back_after_the_end_too_and_holds_when_it_is_opened_again(cast):
    row, people = make_round(cast)
    closed(cast, row)
    say_consent(people[0], row, yes=False)
    assert my_hear_page(people[0], row).answer == "no"
    with pytest.raises(NotAllowed, match="has ended"):
        say_consent(people[0], row, yes=True)
    # A yes that stands, sent twice, is no new one.
    assert say_consent(people[1], row, yes=True).said_yes
    acts.open_again(cast.director, row, in_days(3))
    row.refresh_from_db()
    heard = {hears(row, one).turn.musician_id for one in people[1:] for _ in range(2)}
    assert people[0].pk not in heard


def test_my_part_leads_to_where_a_yes_can_be_taken_back_for_as_long_as_it_stands(cast):
    scene, people = make_people(cast, 3)
    row = ask(scene, takes_each=1)
    me = people[0]

    def words():
        return [line.words for line in my_part(me.account).hear]

    for one in people:
        say_consent(one, row, yes=True)
    assert words() == ["You said that others may hear your take"]
    acts.open_round(cast.director, row)
    row.refresh_from_db()
    assert words()[0].startswith("1 take to hear")
    hears(row, people[1])
    acts.close_round(cast.director, row)
    assert words() == ["You said that others may hear your take"]
    say_consent(me, row, yes=False)
    assert words() == []


@pytest.mark.parametrize(
    "changed", [{"shows_levels": True}, {"takes_each": 4}, {"criteria": ("rhythm",)}], ids=str
)
def test_a_yes_counts_only_for_what_its_page_told(cast, changed):
    scene, people = make_people(cast, 3)
    row = ask(scene)
    told = my_hear_page(people[0], row).terms
    ask(scene, **changed)
    with pytest.raises(StandlightError, match="has changed since you opened this page"):
        say_consent(people[0], row, yes=True, terms=told)
    assert not PeerConsent.objects.exists()
    row.refresh_from_db()
    told_now = my_hear_page(people[0], row).terms
    assert say_consent(people[0], row, yes=True, terms=told_now).said_yes
    # A no is a no, whatever was asked.
    assert not say_consent(people[0], row, yes=False, terms=told).said_yes


def test_a_later_last_day_asks_nobody_again_and_another_round_does(cast):
    scene, people = make_people(cast, 3)
    row = ask(scene)
    told = my_hear_page(people[0], row).terms
    ask(scene, until=in_days(30))
    assert say_consent(people[0], row, yes=True, terms=told).said_yes
    acts.drop_round(cast.director, row)
    with pytest.raises(StandlightError, match="has changed since you opened this page"):
        say_consent(people[0], ask(scene), yes=True, terms=told)


# --- hearing before saying -----------------------------------------------------------------------


def test_who_takes_their_own_yes_back_hears_no_take_that_was_handed_to_them(cast):
    row, people = make_round(cast, 5)
    hearing = hears(row, people[0])
    assert sound_of(hearing)
    say_consent(people[0], row, yes=False)
    assert sound_of(hearing) is None
    assert my_hearing(hearing).gone.startswith("You took your yes back")
    say_consent(people[0], row, yes=True)
    assert sound_of(hearing)


@pytest.mark.parametrize(
    ("before", "slip"),
    [
        (lambda row, hearing: None, "play it first"),
        (
            lambda row, hearing: say_consent(hearing.turn.musician, row, yes=False),
            "it is not here any more",
        ),
        (
            lambda row, hearing: say_consent(hearing.listener, row, yes=False),
            "it is not here any more",
        ),
        (
            lambda row, hearing: hearing.turn.takes.update(state=Take.REMOVED),
            "it is not here any more",
        ),
    ],
    ids=["not played", "taken back", "own yes taken back", "removed"],
)
def test_nothing_is_said_of_a_take_whose_sound_never_went_out(cast, before, slip):
    row, people = make_round(cast, 5)
    hearing = hand_next(people[0], row)
    before(row, hearing)
    with pytest.raises(NotAllowed, match=f"have not heard this take.*{slip}"):
        acts.send_hearing(hearing, WELL)
    assert not PeerLevel.objects.exists()
    assert not PeerLine.objects.exists()
    assert peers.n_done(row, people[0]) == 0
    assert my_hearing(hearing).unheard == (slip != "play it first")


def test_what_was_heard_before_it_was_taken_back_may_still_be_told(cast):
    row, people = make_round(cast, 5)
    hearing = hand_next(people[0], row)
    acts.note_heard(hearing)
    say_consent(hearing.turn.musician, row, yes=False)
    hearing.refresh_from_db()
    page = my_hearing(hearing)
    assert "you can still send" in page.gone
    assert not page.unheard
    acts.send_hearing(hearing, WELL)
    assert hearing.levels.count() == len(BOTH)
