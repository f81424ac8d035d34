"""Asking the same passage again: the anchor that growth hangs on."""

import datetime

import pytest
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions import checks, folder
from standlight.programme.actions.checks_again import COPIED, COPIED_PASSAGE, ask_again
from standlight.programme.actions.desk import rate
from standlight.programme.actions.shifting import set_own_version
from standlight.programme.models import CheckPassage, PlayingCheck, Turn
from standlight.programme.queries.given_ratings import given_levels
from standlight.programme.queries.hearing import notation_digest_of, own_version_of, passage_of
from tests.programme.test_checks import facts
from tests.programme.test_folder import score_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def check(cast):
    folder.confirm_owns_music(cast.director)
    piece = folder.add_score(cast.director, cast.band, score_of(), name="two.musicxml")
    made = checks.make_check(
        cast.director, piece, facts(note="Sit up.", asks_self_rating=True, tempo_qpm=84.0)
    )
    checks.publish(cast.director, made)
    return made


def in_weeks(weeks):
    return timezone.localdate() + datetime.timedelta(weeks=weeks)


def test_the_same_music_and_criteria_are_asked_as_a_draft_for_another_day(cast, check):
    made = ask_again(cast.director, check, in_weeks(6))
    assert made.pk != check.pk and made.published_at is None and made.due_on == in_weeks(6)
    assert made.title == "March, again"
    assert [getattr(made, one) for one in COPIED] == [getattr(check, one) for one in COPIED]
    old, new = (
        list(one.passages.order_by("part").values_list(*COPIED_PASSAGE)) for one in (check, made)
    )
    assert old == new and len(new) == 2
    assert check.turns.count() == made.turns.count() == 0


def test_growth_can_hang_on_it_both_are_one_task(cast, check):
    made = ask_again(cast.director, check, in_weeks(6))
    checks.publish(cast.director, made)
    for one in (check, made):
        turn = Turn.objects.create(
            check_row=one, musician=cast.musician, sent_at=timezone.now()
        )
        rate(cast.director, turn, {"rhythm": "3"})
    rows = given_levels(cast.programme.pk).given
    assert len(rows) == 2 and {row.task for row in rows} == {f"c{check.pk}"}


def test_a_musician_s_own_version_comes_along(cast, check):
    passage = check.passages.get(part__name="Clarinet in Bb")
    set_own_version(cast.director, passage, cast.musician, -12)
    made = ask_again(cast.director, check, in_weeks(6))
    digests = []
    for one in (check, made):
        turn = Turn(check_row=one, musician=cast.musician)
        played = passage_of(turn)
        own = own_version_of(played, cast.musician.pk)
        assert own.semitones == -12
        digests.append(notation_digest_of(played, own))
    assert digests[0] == digests[1] != passage.notation_digest


def test_asked_twice_by_the_same_form_it_is_one_draft(cast, check):
    first = ask_again(cast.director, check, in_weeks(6))
    assert ask_again(cast.director, check, in_weeks(6)) == first
    assert ask_again(cast.director, check, in_weeks(12)) != first
    assert PlayingCheck.objects.count() == 3


def test_what_is_asked_a_third_time_keeps_its_title_and_a_long_one_is_cut(cast, check):
    made = ask_again(cast.director, check, in_weeks(6))
    checks.publish(cast.director, made)
    assert ask_again(cast.director, made, in_weeks(12)).title == "March, again"
    PlayingCheck.objects.filter(pk=check.pk).update(title="M" * 120)
    check.refresh_from_db()
    assert len(ask_again(cast.director, check, in_weeks(6)).title) == 120


def test_a_draft_a_day_that_has_passed_and_another_s_ensemble_are_refused(cast, check):
    draft = ask_again(cast.director, check, in_weeks(6))
    with pytest.raises(StandlightError, match="still a draft"):
        ask_again(cast.director, draft, in_weeks(7))
    with pytest.raises(StandlightError, match="already passed"):
        ask_again(cast.director, check, in_weeks(-1))
    for account in (cast.outsider_director, cast.musician.account):
        with pytest.raises(NotAllowed):
            ask_again(account, check, in_weeks(6))
    assert PlayingCheck.objects.count() == 2


def test_from_paper_the_printed_words_come_along(cast):
    piece = folder.add_paper_piece(cast.director, cast.band, title="Old March")
    paper = checks.make_check(cast.director, piece, facts(), printed="33 to 40")
    checks.say_where(cast.director, paper, cast.clarinets, "letter B")
    checks.publish(cast.director, paper)
    made = ask_again(cast.director, paper, in_weeks(6))
    rows = CheckPassage.objects.filter(check_row=made).values_list("section", "printed")
    assert set(rows) == {(None, "33 to 40"), (cast.clarinets.pk, "letter B")}
