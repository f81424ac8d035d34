"""Musicians hear each other: only what was agreed to, nobody's own, and nothing lost."""

import datetime

import pytest
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions import peers as acts
from standlight.programme.actions.peers import PeerSaid, decide, hand_next, say_consent
from standlight.programme.actions.retention import remove_expired_sound
from standlight.programme.models import (
    GroupWish,
    PeerConsent,
    PeerHearing,
    PeerLevel,
    PeerLine,
    PeerRound,
    Seat,
    Take,
)
from standlight.programme.queries import peers
from standlight.programme.queries.peers_mine import (
    hear_lines,
    my_hear_page,
    my_hearing,
    sound_of,
    stamp_of,
)
from standlight.programme.queries.peers_page import peers_page
from tests.programme.desk_scene import more_clarinets, send
from tests.programme.peers_scene import (
    BOTH,
    LEVELS,
    WELL,
    ask,
    hears,
    make_people,
    make_round,
    plays,
)

pytestmark = pytest.mark.django_db


def end(row):
    PeerRound.objects.filter(pk=row.pk).update(
        until=timezone.localdate() - datetime.timedelta(1),
        asked_at=timezone.now() - datetime.timedelta(9),
        opened_at=timezone.now() - datetime.timedelta(8),
    )
    row.refresh_from_db()


def over(row):
    """The round as it is well after its end, when nobody is in the middle of anything."""
    end(row)
    PeerHearing.objects.update(handed_at=timezone.now() - datetime.timedelta(3))
    PeerRound.objects.filter(pk=row.pk).update(
        until=timezone.localdate() - datetime.timedelta(2)
    )
    row.refresh_from_db()


# --- asking and opening --------------------------------------------------------------------------


def test_with_two_who_said_yes_it_is_not_opened_and_that_is_said(cast):
    scene, people = make_people(cast, 4)
    row = ask(scene)
    for one in people[:2]:
        say_consent(one, row, yes=True)
    say_consent(people[2], row, yes=False)
    with pytest.raises(NotAllowed, match="2 takes may be heard, and it needs 3"):
        acts.open_round(cast.director, row)
    page = peers_page(cast.director, scene.check)
    assert "with fewer everybody would know whose take it is" in page.too_few
    assert (page.said.yes, page.said.no, page.said.open) == (2, 1, 1)
    say_consent(people[3], row, yes=True)
    acts.open_round(cast.director, row)
    assert peers_page(cast.director, scene.check).state == peers.OPEN
    assert peers_page(cast.director, scene.check).too_few == ""


def test_nobody_hears_anything_before_it_is_opened_or_without_a_yes_of_their_own(cast):
    scene, people = make_people(cast, 5)
    row = ask(scene)
    for one in people[:4]:
        say_consent(one, row, yes=True)
    with pytest.raises(NotAllowed, match="not open"):
        hand_next(people[0], row)
    acts.open_round(cast.director, row)
    with pytest.raises(NotAllowed, match="say yes first"):
        hand_next(people[4], row)
    say_consent(people[4], row, yes=False)
    with pytest.raises(NotAllowed, match="say yes first"):
        hand_next(people[4], row)
    heard = {hears(row, one).turn.musician_id for one in people[:4] for _ in range(2)}
    assert heard == {one.pk for one in people[:4]}


@pytest.mark.parametrize(
    ("terms", "slip"),
    [
        ({"criteria": ()}, "choose what they listen for"),
        ({"criteria": ("tone",)}, "choose what they listen for"),
        ({"takes_each": 5}, "each hears 1 to 4 takes, not 5"),
        ({"takes_each": 0}, "each hears 1 to 4 takes, not 0"),
        ({"until": datetime.date(2020, 1, 1)}, "over already"),
    ],
)
def test_wrong_terms_are_said_and_nobody_is_asked(cast, terms, slip):
    scene, _ = make_people(cast, 3)
    with pytest.raises(StandlightError, match=slip):
        ask(scene, **terms)
    assert not PeerRound.objects.exists()


def test_a_draft_and_a_check_recorded_together_are_not_handed_round(cast):
    scene, _ = make_people(cast, 3)
    scene.check.together = True
    with pytest.raises(NotAllowed, match="cannot say yes for the others"):
        ask(scene)
    assert "recorded together" in peers_page(cast.director, scene.check).why_not
    scene.check.together, scene.check.published_at = False, None
    with pytest.raises(NotAllowed, match="not published"):
        ask(scene)


def test_what_musicians_said_yes_to_is_not_widened_afterwards(cast):
    scene, people = make_people(cast, 3)
    row = ask(scene, shows_levels=True)
    ask(scene, shows_levels=False)
    say_consent(people[0], row, yes=True)
    with pytest.raises(NotAllowed, match="not told that levels are shown"):
        ask(scene, shows_levels=True)
    assert peers_page(cast.director, scene.check).answered
    with pytest.raises(NotAllowed, match="what is listened for stays"):
        ask(scene, takes_each=4)
    for one in people[1:]:
        say_consent(one, row, yes=True)
    acts.open_round(cast.director, row)
    with pytest.raises(NotAllowed, match="what is listened for stays"):
        ask(scene, criteria=("rhythm",))
    later = timezone.localdate() + datetime.timedelta(20)
    assert ask(scene, until=later).until == later


def test_a_round_that_was_never_opened_can_be_dropped_and_an_opened_one_cannot(cast):
    row, _ = make_round(cast)
    with pytest.raises(NotAllowed, match="only be closed"):
        acts.drop_round(cast.director, row)
    PeerRound.objects.update(opened_at=None)
    acts.drop_round(cast.director, row)
    assert not PeerConsent.objects.exists()


# --- saying yes, and taking it back --------------------------------------------------------------


def test_a_yes_taken_back_before_anybody_heard_the_take_leaves_no_trace_of_it(cast):
    row, people = make_round(cast, 5)
    owner = people[0]
    assert not my_hear_page(owner, row).was_heard
    say_consent(owner, row, yes=False)
    heard = {hears(row, one).turn.musician_id for one in people[1:] for _ in range(2)}
    assert owner.pk not in heard
    assert my_hear_page(owner, row).answer == "no"


def test_a_yes_taken_back_after_somebody_heard_it_takes_the_take_from_all_to_come(cast):
    row, people = make_round(cast, 4, takes_each=3)
    first = hears(row, people[0])
    owner = first.turn.musician
    acts.note_heard(first)
    assert my_hear_page(owner, row).was_heard
    say_consent(owner, row, yes=False)
    assert sound_of(first) is None
    others = [one for one in people[1:] if one != owner]
    for one in others:
        with pytest.raises(NotAllowed, match="no more take"):
            for _ in range(4):
                assert hears(row, one).turn.musician_id != owner.pk
    # What was sent before stays, and the director reads it.
    assert PeerLine.objects.filter(hearing=first).count() == 2


def test_who_has_sent_nothing_that_can_be_played_is_asked_nothing(cast):
    scene, _ = make_people(cast, 3)
    row = ask(scene)
    silent = more_clarinets(scene, 1)[0]
    with pytest.raises(NotAllowed, match="not sent a take"):
        say_consent(silent, row, yes=True)
    send(scene, silent, state=Take.REFUSED)
    with pytest.raises(NotAllowed, match="not sent a take"):
        say_consent(silent, row, yes=True)
    assert hear_lines(silent, timezone.localdate()) == ()
    assert not my_hear_page(silent, row).has_take


def test_the_latest_take_is_the_one_that_is_heard(cast):
    scene, people = make_people(cast, 3)
    first = people[0].turns.get()
    again = send(scene, people[0], attempt=2)
    row = ask(scene)
    assert say_consent(people[0], row, yes=True).turn == again
    assert first != again


# --- hearing -------------------------------------------------------------------------------------


def test_each_hears_as_many_as_asked_never_their_own_and_all_are_heard_equally_often(cast):
    row, people = make_round(cast, 6)
    for one in people:
        for _ in range(2):
            assert hears(row, one).turn.musician_id != one.pk
        with pytest.raises(NotAllowed, match="no more take"):
            hand_next(one, row)
    times = [row.hearings.filter(turn__musician=one).count() for one in people]
    assert sum(times) == 12
    assert max(times) - min(times) <= 1


def test_with_three_takes_each_hears_two_at_most_and_that_is_said(cast):
    row, people = make_round(cast, 3, takes_each=4)
    for one in people:
        assert len({hears(row, one).turn_id for _ in range(2)}) == 2
    assert "Each hears 2, not 4" in peers_page(cast.director, row.check_row).hears_fewer
    assert my_hear_page(people[0], row).n_left == 0


def test_a_take_begun_in_one_window_is_the_same_in_another(cast):
    row, people = make_round(cast)
    assert hand_next(people[0], row) == hand_next(people[0], row)
    assert PeerHearing.objects.count() == 1


def test_whom_a_director_wishes_apart_never_hears_the_other(cast):
    row, people = make_round(cast, 4, takes_each=3)
    one, other = people[:2]
    GroupWish.objects.create(
        ensemble=cast.band, first=one, second=other, apart=True, made_by=cast.director
    )
    GroupWish.objects.create(
        ensemble=cast.band, first=one, second=people[2], apart=False, made_by=cast.director
    )
    heard = [hears(row, one).turn.musician_id for _ in range(2)]
    assert set(heard) == {people[2].pk, people[3].pk}
    with pytest.raises(NotAllowed, match="no more take"):
        hand_next(one, row)


def test_a_musician_who_left_hears_nothing_and_is_heard_by_nobody(cast):
    row, people = make_round(cast, 5)
    Seat.objects.filter(musician=people[0]).update(left_on=timezone.localdate())
    with pytest.raises(NotAllowed, match="not in this group any more"):
        hand_next(people[0], row)
    heard = {hears(row, one).turn.musician_id for one in people[1:] for _ in range(2)}
    assert people[0].pk not in heard
    assert hear_lines(people[0], timezone.localdate()) == ()


def test_below_three_takes_nothing_more_is_handed_out(cast):
    row, people = make_round(cast, 3)
    say_consent(people[2], row, yes=False)
    with pytest.raises(NotAllowed, match="no more take"):
        hand_next(people[0], row)
    assert "with fewer everybody" in peers_page(cast.director, row.check_row).too_few


# --- sending -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "slip"),
    [
        (PeerSaid(levels={"rhythm": "3"}, well="x", first_measure=0), "No level yet: Intonation"),
        (PeerSaid(levels=LEVELS, well="  ", first_measure=0), "one thing that went well"),
        (PeerSaid(levels=LEVELS, well="x"), "Say where"),
        (PeerSaid(levels=LEVELS, well="x", first_measure=9), "no such measure"),
        (PeerSaid(levels=LEVELS, well="x", first_measure=2, last_measure=1), "before the first"),
        (PeerSaid(levels={**LEVELS, "rhythm": "5"}, well="x"), "not between 1 and 4"),
        (PeerSaid(levels={**LEVELS, "tone": "3"}, well="x"), "not asked"),
        (PeerSaid(levels=LEVELS, well="x" * 401, first_measure=0), "401 characters"),
    ],
)
def test_what_is_missing_or_wrong_is_said_and_nothing_is_kept(cast, said, slip):
    row, people = make_round(cast)
    hearing = plays(row, people[0])
    with pytest.raises(StandlightError, match=slip):
        acts.send_hearing(hearing, said)
    assert not PeerLevel.objects.exists()
    assert not PeerLine.objects.exists()


def test_on_paper_alone_a_few_words_say_where(cast):
    row, people = make_round(cast)
    row.check_row.passages.update(first_measure=None, last_measure=None)
    hearing = plays(row, people[0])
    with pytest.raises(StandlightError, match="Say where"):
        acts.send_hearing(hearing, PeerSaid(levels=LEVELS, well="x"))
    acts.send_hearing(hearing, PeerSaid(levels=LEVELS, well="It rings", printed="the last line"))
    line = peers_page(cast.director, row.check_row).waiting[0]
    assert line.heading == "What went well, the last line"


def test_sent_again_it_takes_the_place_of_the_first_and_old_levels_are_retired(cast):
    row, people = make_round(cast)
    hearing = hears(row, people[0])
    acts.send_hearing(
        hearing, PeerSaid(levels={**LEVELS, "rhythm": "4"}, well="The end", first_measure=3),
        stamp_of(hearing),
    )  # fmt: skip
    assert [line.words for line in hearing.lines.all()] == ["The end"]
    standing = hearing.levels.filter(retired_at=None).values_list("criterion", "value")
    assert dict(standing) == {**LEVELS, "rhythm": "4"}
    assert hearing.levels.count() == 3


def test_two_windows_that_send_are_told_and_neither_loses_its_words(cast):
    row, people = make_round(cast)
    hearing = plays(row, people[0])
    acts.send_hearing(hearing, WELL, "")
    other = PeerSaid(levels=LEVELS, well="Other words", first_measure=0)
    with pytest.raises(acts.SentMeanwhile, match="The long note rings Breathe early") as told:
        acts.send_hearing(hearing, other, "")
    assert hearing.lines.first().words == "The long note rings"
    # The same words from a second window are the same act.
    acts.send_hearing(hearing, WELL, "")
    hearing.refresh_from_db()
    acts.send_hearing(hearing, other, stamp_of(hearing))
    assert [line.words for line in hearing.lines.all()] == ["Other words"]
    assert told.value.stamp


def test_a_take_removed_by_the_schools_rule_while_it_is_open_loses_nobodys_words(cast, settings):
    row, people = make_round(cast, 4, takes_each=3)
    hearing = plays(row, people[0])
    Take.objects.filter(turn=hearing.turn).update(
        started_at=timezone.now() - datetime.timedelta(settings.STANDLIGHT_KEEP_TAKES_DAYS + 1)
    )
    remove_expired_sound(timezone.now())
    assert my_hearing(hearing).gone
    acts.send_hearing(hearing, WELL)
    assert PeerLine.objects.filter(hearing=hearing).count() == 2
    assert hearing.turn_id not in {take.turn for take in peers.takes_in(row)}


def test_a_take_begun_that_is_gone_makes_room_for_another(cast):
    row, people = make_round(cast, 5)
    begun = hand_next(people[0], row)
    say_consent(begun.turn.musician, row, yes=False)
    following = hand_next(people[0], row)
    assert following.turn_id != begun.turn_id
    assert following.place == 2


def test_who_is_in_the_middle_when_it_ends_may_still_send_for_ten_minutes(cast):
    row, people = make_round(cast)
    begun = plays(row, people[0])
    PeerHearing.objects.update(handed_at=timezone.now() - datetime.timedelta(minutes=3))
    acts.close_round(cast.director, row)
    acts.send_hearing(begun, WELL)
    with pytest.raises(NotAllowed, match="not open"):
        hand_next(people[1], row)
    PeerRound.objects.update(closed_at=timezone.now() - datetime.timedelta(minutes=11))
    PeerHearing.objects.update(handed_at=timezone.now() - datetime.timedelta(minutes=20))
    with pytest.raises(NotAllowed, match="has ended"):
        acts.send_hearing(begun, PeerSaid(levels=LEVELS, well="Late", first_measure=0))
    assert begun.lines.first().words == "The long note rings"


def test_it_ends_by_itself_with_its_last_day_and_can_be_opened_again(cast):
    row, people = make_round(cast)
    over(row)
    assert peers.state_of(row) == peers.CLOSED
    with pytest.raises(NotAllowed, match="not open"):
        hand_next(people[0], row)
    acts.open_again(cast.director, row, timezone.localdate())
    row.refresh_from_db()
    assert peers.state_of(row) == peers.OPEN
    assert hand_next(people[0], row)


# --- the director first, then the owner ----------------------------------------------------------


def test_the_owner_reads_a_line_only_once_a_director_has_passed_it_on(cast):
    row, people = make_round(cast)
    hearing = hears(row, people[0])
    owner = hearing.turn.musician
    well, to_try = hearing.lines.all()
    assert my_hear_page(owner, row).words == ()
    assert not PeerLine.objects.visible_to(owner.account).exists()
    assert decide(cast.director, row, [well.pk], passed=True) == 1
    [said] = my_hear_page(owner, row).words
    assert (said.heading, said.words) == ("What went well, measure 34", "The long note rings")
    assert list(PeerLine.objects.visible_to(owner.account)) == [well]
    decide(cast.director, row, [to_try.pk], passed=False)
    assert len(my_hear_page(owner, row).words) == 1
    lines = peers_page(cast.director, row.check_row)
    assert (len(lines.waiting), len(lines.decided)) == (0, 2)


def test_what_was_read_cannot_be_kept_back_and_what_was_not_can(cast):
    row, people = make_round(cast)
    hearing = hears(row, people[0])
    well, to_try = hearing.lines.all()
    decide(cast.director, row, [well.pk, to_try.pk], passed=True)
    decide(cast.director, row, [to_try.pk], passed=False)
    acts.note_read(hearing.turn.musician, row)
    assert decide(cast.director, row, [well.pk, to_try.pk], passed=False) == 1
    assert [line.passed for line in hearing.lines.all()] == [True, False]


def test_words_sent_anew_after_the_page_was_opened_are_not_passed_on_unread(cast):
    row, people = make_round(cast)
    hearing = hears(row, people[0])
    shown = [line.pk for line in peers_page(cast.director, row.check_row).waiting]
    acts.send_hearing(hearing, PeerSaid(levels=LEVELS, well="Other words", first_measure=0))
    assert decide(cast.director, row, shown, passed=True) == 0
    assert my_hear_page(hearing.turn.musician, row).words == ()


def test_what_a_director_has_read_is_not_changed_by_its_writer(cast):
    row, people = make_round(cast)
    hearing = hears(row, people[0])
    decide(cast.director, row, [hearing.lines.first().pk], passed=False)
    with pytest.raises(NotAllowed, match="has read what you sent"):
        acts.send_hearing(hearing, WELL)
    assert my_hearing(hearing).fixed


def test_only_who_directs_the_group_asks_opens_closes_and_passes_on(cast):
    row, people = make_round(cast)
    hears(row, people[0])
    keys = list(PeerLine.objects.values_list("pk", flat=True))
    for account in (cast.outsider_director, people[0].account):
        for act in (
            lambda who: acts.open_round(who, row),
            lambda who: acts.close_round(who, row),
            lambda who: acts.drop_round(who, row),
            lambda who: acts.open_again(who, row, timezone.localdate()),
            lambda who: decide(who, row, keys, passed=True),
        ):
            with pytest.raises(NotAllowed):
                act(account)
    assert not PeerLine.objects.filter(passed=True).exists()


def test_lines_of_another_round_are_not_decided_here(cast):
    row, people = make_round(cast)
    hears(row, people[0])
    other = PeerRound.objects.create(
        check_row=type(row.check_row).objects.create(
            ensemble=cast.band, piece=row.check_row.piece, title="Other", criteria=list(BOTH),
            tempo_qpm=90, due_on=timezone.localdate(), made_by=cast.director,
        ),
        criteria=list(BOTH), until=timezone.localdate(), asked_by=cast.director,
    )  # fmt: skip
    keys = list(PeerLine.objects.values_list("pk", flat=True))
    assert decide(cast.director, other, keys, passed=True) == 0
