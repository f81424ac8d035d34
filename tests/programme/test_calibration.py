"""Anchor takes with agreed levels, and what a calibration keeps and says."""

import datetime

import pytest
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions.calibration import (
    LONGEST_REASON,
    MOST_TAKES,
    agree_on,
    begin_calibration,
    calibrate,
    drop_anchor,
)
from standlight.programme.actions.desk import rate
from standlight.programme.models import AnchorTake, Calibration, GivenLevel, Take
from standlight.programme.queries.calibration import (
    anchors_for,
    anchors_page,
    calibration_page,
    ears_part,
    next_place,
    short_line,
)
from standlight.programme.queries.given_ratings import given_levels
from tests.programme.desk_scene import ALL_THREE, make_scene, more_clarinets, send

pytestmark = pytest.mark.django_db

WHY = "The long notes end early, the rest is in time."


@pytest.fixture
def turns(scene, cast):
    turns = [send(scene, one) for one in (cast.musician, *more_clarinets(scene, 7))]
    for turn in turns:
        rate(cast.director, turn, ALL_THREE)
    return turns


def agreed(cast, turns, levels=ALL_THREE):
    return [agree_on(cast.director, turn, levels, WHY) for turn in turns]


def through(account, check, levels):
    """A whole calibration in which every anchor take gets the same levels."""
    begun = begin_calibration(account, check)
    while (place := next_place(begun)) is not None:
        begun = calibrate(begun, place, levels)
    return begun


def test_levels_can_be_agreed_on_only_after_ones_own_and_with_a_reason(cast, scene, turns):
    with pytest.raises(NotAllowed, match="your own levels first"):
        agree_on(cast.second_director, turns[0], ALL_THREE, WHY)
    for levels, reason, slip in (
        ({}, WHY, "no level"),
        (dict.fromkeys(ALL_THREE, "not_shown"), WHY, "no level"),
        (ALL_THREE, "  ", "say what one hears"),
        (ALL_THREE, "x" * (LONGEST_REASON + 1), "401 letters"),
        ({"tone": "3"}, WHY, "does not ask"),
    ):
        with pytest.raises(StandlightError, match=slip):
            agree_on(cast.director, turns[0], levels, reason)
    assert not AnchorTake.objects.exists()


def test_what_is_agreed_changes_no_level_that_was_given(cast, scene, turns):
    before = list(GivenLevel.objects.values())
    agreed(cast, turns[:2], dict.fromkeys(ALL_THREE, "1"))
    through(cast.director, scene.check, dict.fromkeys(ALL_THREE, "4"))
    assert list(GivenLevel.objects.values()) == before
    assert len(given_levels(cast.programme.pk).given) == len(before)


def test_agreeing_again_changes_the_one_anchor_and_dropping_it_leaves_none(cast, scene, turns):
    agreed(cast, turns[:1])
    anchor = agree_on(cast.director, turns[0], {"rhythm": "1", "notes": "not_shown"}, "Late.")
    assert AnchorTake.objects.get() == anchor
    assert (anchor.levels, anchor.reason) == ({"rhythm": "1"}, "Late.")
    drop_anchor(anchor)
    assert not AnchorTake.objects.exists()


def test_no_more_than_six_are_played_in_an_order_by_chance_and_each_once(cast, scene, turns):
    agreed(cast, turns)
    orders = set()
    for _ in range(8):
        begun = begin_calibration(cast.director, scene.check)
        order = [take["turn"] for take in begun.takes]
        assert len(set(order)) == len(order) == MOST_TAKES
        orders.add(tuple(order))
        Calibration.objects.all().update(begun_at=timezone.now() - datetime.timedelta(days=1))
    assert len(orders) > 1


def test_a_calibration_stopped_in_the_middle_goes_on_and_a_first_answer_stands(
    cast, scene, turns
):
    agreed(cast, turns[:3])
    begun = begin_calibration(cast.director, scene.check)
    calibrate(begun, 1, ALL_THREE)
    again = begin_calibration(cast.director, scene.check)
    assert again.pk == begun.pk
    assert next_place(again) == 2
    calibrate(again, 1, dict.fromkeys(ALL_THREE, "1"))
    assert Calibration.objects.get().takes[0]["given"] == ALL_THREE
    with pytest.raises(StandlightError, match="a level is missing"):
        calibrate(again, 2, {"rhythm": "3"})
    with pytest.raises(StandlightError, match="not between 1 and 4"):
        calibrate(again, 2, dict.fromkeys(ALL_THREE, "7"))
    assert Calibration.objects.get().done_at is None


def test_an_ear_that_gives_what_was_agreed_is_told_so_in_one_line(cast, scene, turns):
    agreed(cast, turns[:6])
    done = through(cast.director, scene.check, ALL_THREE)
    assert "18 of 18 levels as agreed, 18 at most one apart; no lean beyond chance." in (
        short_line(done)
    )
    assert ears_part(cast.director).line == short_line(done)
    assert ears_part(cast.second_director).line == ""


def test_an_ear_a_level_below_on_six_takes_is_stricter_and_five_are_too_few_to_say(
    cast, scene, turns
):
    lower = {key: str(int(value) - 1) for key, value in ALL_THREE.items()}
    agreed(cast, turns[:5])
    assert "too few takes to say" in short_line(through(cast.director, scene.check, lower))
    agreed(cast, turns[5:6])
    found = calibration_page(through(cast.director, scene.check, lower))
    assert found.sentences == (
        "0 of 18 levels came out as agreed, 18 of 18 at most one apart.",
        "18 lower and 0 higher than agreed.",
        "Take by take you are stricter than what was agreed, more than chance would make you.",
        "You wrote down what was agreed for 6 of them, so you may have known them.",
    )
    assert {row.same for take in found.takes for row in take.rows} == {False}
    assert {take.reason for take in found.takes} == {WHY}


def test_what_was_not_heard_is_compared_with_nothing(cast, scene, turns):
    agreed(cast, turns[:1])
    done = through(cast.director, scene.check, {**ALL_THREE, "rhythm": "not_heard"})
    assert "2 of 2 levels as agreed" in short_line(done)
    nothing = through(cast.director, scene.check, dict.fromkeys(ALL_THREE, "not_heard"))
    assert "no level was given" in short_line(nothing)
    assert calibration_page(nothing).sentences


def test_a_take_that_is_gone_or_silent_is_not_played_and_old_findings_stand(cast, scene, turns):
    agreed(cast, turns[:3])
    done = through(cast.director, scene.check, ALL_THREE)
    turns[0].takes.update(state=Take.REMOVED)
    turns[1].delete()
    assert [row.turn_id for row in anchors_for(cast.director, scene.check)] == [turns[2].pk]
    page = calibration_page(done)
    assert "9 of 9" in page.sentences[0]
    assert sorted(bool(take.sound) for take in page.takes) == [False, False, True]


def test_anchors_of_the_groups_other_checks_are_played_after_the_checks_own(cast, scene, turns):
    old = agreed(cast, turns[:1])[0]
    other = make_scene(cast)
    turn = send(other, cast.musician)
    rate(cast.director, turn, ALL_THREE)
    own = agree_on(cast.director, turn, ALL_THREE, WHY)
    AnchorTake.objects.filter(pk=own.pk).update(agreed_at=old.agreed_at - datetime.timedelta(9))
    assert anchors_for(cast.director, other.check) == [own, old]
    assert anchors_for(cast.director, scene.check) == [old, own]
    assert anchors_for(cast.outsider_director, scene.check) == []


def test_the_raters_page_lists_checks_with_sound_and_their_anchors_in_two_queries(
    cast, scene, turns, django_assert_num_queries
):
    silent = make_scene(cast)
    send(silent, cast.musician, state=Take.REMOVED)
    agreed(cast, turns[:2])
    with django_assert_num_queries(2):
        part = ears_part(cast.director)
    assert [(check.pk, check.n_anchors) for check in part.checks] == [(scene.check.pk, 2)]
    assert ears_part(cast.outsider_director).checks == ()


def test_nothing_is_begun_without_an_anchor(cast, scene, turns):
    with pytest.raises(StandlightError, match="no anchor take yet"):
        begin_calibration(cast.director, scene.check)
    assert not Calibration.objects.exists()


def test_the_page_of_anchors_says_which_takes_need_the_readers_own_levels(cast, scene, turns):
    agreed(cast, turns[:1])
    mine = anchors_page(cast.director, scene.check)
    assert [line.turn_pk for line in mine.anchors] == [turns[0].pk]
    assert {line.rated for line in mine.others} == {True}
    theirs = anchors_page(cast.second_director, scene.check)
    assert {line.rated for line in theirs.others} == {False}
    assert "Rhythm secure" in mine.anchors[0].levels
    assert mine.anchors[0].reason == WHY


def test_what_was_agreed_is_on_no_list_before_ones_own_levels(cast, scene, turns):
    agreed(cast, turns[:2])
    rate(cast.second_director, turns[0], {"rhythm": "2"})
    hidden = anchors_page(cast.second_director, scene.check).anchors
    assert [(line.levels, line.reason) for line in hidden] == [("", ""), ("", "")]
    rate(cast.second_director, turns[0], ALL_THREE)
    shown = anchors_page(cast.second_director, scene.check).anchors
    assert {line.turn_pk: line.reason for line in shown} == {turns[0].pk: WHY, turns[1].pk: ""}


def test_how_near_one_was_is_told_without_a_greek_name(cast, scene, turns):
    agreed(cast, turns[:2], {**ALL_THREE, "rhythm": "1"})
    page = calibration_page(through(cast.second_director, scene.check, ALL_THREE))
    told = " ".join((*page.sentences, *page.why))
    assert "Nearness beyond chance" in told
    assert "kappa" not in told.casefold()


def test_an_ear_that_gives_all_as_agreed_has_a_nearness_and_no_interval(cast, scene, turns):
    agreed(cast, turns[:2])
    page = calibration_page(through(cast.second_director, scene.check, ALL_THREE))
    (told,) = [line for line in page.why if line.startswith("Nearness")]
    assert "): 1.00. No interval: these levels leave nothing" in told
    assert "none" not in told


def test_a_calibration_is_seen_by_its_rater_and_the_lead(cast, scene, turns):
    agreed(cast, turns[:1])
    done = through(cast.second_director, scene.check, ALL_THREE)
    for account, seen in (
        (cast.second_director, [done]), (cast.director, [done]), (cast.musician.account, []),
        (cast.outsider_director, []),
    ):  # fmt: skip
        assert list(Calibration.objects.visible_to(account)) == seen
