"""Closing a period: what is frozen, what comes later, and every change with its reason."""

import datetime

import pytest
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions.desk import rate
from standlight.programme.actions.marks import (
    add_period,
    change_mark,
    choose_terms,
    close_period,
)
from standlight.programme.actions.roster import leave_seat
from standlight.programme.marking_terms import Terms, data_of, terms_of, typed_terms
from standlight.programme.models import MarkChange, PlayingCheck, PostedMark
from standlight.programme.queries.marks import marks_of, period_page
from standlight.ratings import Conversion, MarkPolicy
from tests.cast import add_musician
from tests.programme.desk_scene import ALL_THREE, send

pytestmark = pytest.mark.django_db


def close(cast, period, *, looked=True, seen=None):
    page = period_page(cast.band, period)
    return close_period(
        cast.director, cast.band, period, seen=seen or page.state, looked=looked
    )


def row_of(cast, period, musician):
    rows = period_page(cast.band, period).rows
    return next(row for row in rows if row.musician_pk == musician.pk)


def test_an_open_period_asks_first_about_those_without_a_mark(cast, rated, period):
    page = period_page(cast.band, period)
    assert [part.heading for part in page.to_look] == ["Not enough evidence"]
    assert page.to_look[0].lines[0].people == ((cast.second_musician.pk, "Theo Lindqvist"),)
    assert page.to_look[0].lines[0].sentence == "No level: 1 missing."
    assert (page.n_marks, page.n_without, page.n_asked_about) == (1, 1, 1)


def test_closing_needs_a_look_at_the_questions_and_the_page_as_it_is_now(cast, rated, period):
    with pytest.raises(StandlightError, match="looked at the questions"):
        close(cast, period, looked=False)
    seen = period_page(cast.band, period).state
    rate(cast.director, rated.check.turns.get(), {"notes": "1"})
    with pytest.raises(StandlightError, match="look again"):
        close(cast, period, seen=seen)
    assert not PostedMark.objects.exists()
    close(cast, period)
    with pytest.raises(NotAllowed, match="closed by Dana Whitlock"):
        close(cast, period)
    assert PostedMark.objects.count() == 2


def test_a_period_without_work_is_not_closed(cast, period):
    with pytest.raises(StandlightError, match="nothing to close"):
        close(cast, period)


def test_a_level_given_after_closing_is_told_and_changes_no_posted_mark(cast, rated, period):
    close(cast, period)
    before = row_of(cast, period, cast.musician)
    rate(cast.director, send(rated, cast.musician, attempt=2), dict.fromkeys(ALL_THREE, "4"))
    page = period_page(cast.band, period)
    row = row_of(cast, period, cast.musician)
    assert (row.value, row.because, row.cells) == (before.value, before.because, before.cells)
    assert [part.heading for part in page.since] == ["Levels that came after closing"]
    assert row.since == (
        "By the policy the mark would now be 4.00 Extending. Posted: 3.00 Secure."
    )


def test_a_new_check_without_levels_tells_nothing_after_closing(cast, rated, period):
    close(cast, period)
    PlayingCheck.objects.create(
        ensemble=cast.band, piece=rated.piece, title="Late", criteria=["tone"], tempo_qpm=90,
        due_on=timezone.localdate(), made_by=cast.director, published_at=timezone.now(),
    )
    page = period_page(cast.band, period)
    assert page.since == ()
    assert [column.title for column in page.columns] == ["Lamp Tune check"]


def test_a_change_is_kept_with_who_when_from_to_and_why_and_the_frozen_reason_stays(
    cast, rated, period
):
    marks = close(cast, period)
    change_mark(cast.second_director, marks, cast.musician, to="3,4", why="Heard at the concert")
    change_mark(cast.director, marks, cast.musician, to="", why="Heard  by mistake")
    row = row_of(cast, period, cast.musician)
    assert (row.value, row.word, row.changed) == (None, "no mark", True)
    assert row.because[0] == "It rests on 3 levels in 1 check."
    last, first = MarkChange.objects.all()
    assert (first.from_words, first.to_words) == ("3.00 Secure", "3.40 Secure")
    assert (last.from_words, last.to_words) == ("3.40 Secure", "no mark")
    assert (str(first.changed_by), last.why) == ("Ruben Asher", "Heard by mistake")
    assert [change.to_words for change in period_page(cast.band, period).changes] == [
        "no mark", "3.40 Secure",
    ]


@pytest.mark.parametrize(
    ("to", "why", "said"),
    [("3", "", "needs a reason"), ("4.5", "Why", "between 1 and 4"), ("B", "Why", "no number"),
     ("3.00", "Why", "the mark already"), ("3", "x" * 401, "at most 400")],
)
def test_a_change_that_cannot_be_is_refused_in_a_sentence(cast, rated, period, to, why, said):
    marks = close(cast, period)
    with pytest.raises(StandlightError, match=said):
        change_mark(cast.director, marks, cast.musician, to=to, why=why)
    assert not MarkChange.objects.exists()


def test_an_open_period_has_no_marks_to_change_and_a_closed_one_no_policy_to_choose(
    cast, rated, period
):
    marks = choose_terms(cast.band, period, Terms(MarkPolicy("recent")))
    with pytest.raises(NotAllowed, match="not closed yet"):
        change_mark(cast.director, marks, cast.musician, to="2", why="Why")
    close(cast, period)
    with pytest.raises(NotAllowed, match="its policy stays"):
        choose_terms(cast.band, period, Terms())
    assert terms_of(marks_of(cast.band, period).terms).policy.key == "recent"


def test_a_withdrawn_musician_stays_explained_before_and_after_closing(cast, rated, period):
    leave_seat(cast.director, cast.musician.seats.get())
    row = row_of(cast, period, cast.musician)
    assert row.note.startswith("left on") and row.value == pytest.approx(3.0)
    close(cast, period)
    cast.musician.seats.all().delete()
    row = row_of(cast, period, cast.musician)
    assert row.note.startswith("left on") and row.because[0].startswith("It rests on 3 levels")


def test_somebody_who_joined_after_the_period_is_not_in_it(cast, rated, period):
    late = add_musician(cast.programme, cast.clarinets, "1010", "Late", "Comer")
    late.seats.update(joined_on=period.ends_on + datetime.timedelta(1))
    assert late.pk not in [row.musician_pk for row in period_page(cast.band, period).rows]


def test_somebody_who_was_not_in_the_closing_is_told_and_can_get_a_mark_with_a_reason(
    cast, rated, period
):
    marks = close(cast, period)
    late = add_musician(cast.programme, cast.clarinets, "1010", "Late", "Comer")
    rate(cast.director, send(rated, late), ALL_THREE)
    page = period_page(cast.band, period)
    assert page.since[0].heading == "Not in the closed period"
    (line,) = page.since[0].lines
    assert line.people == ((late.pk, "Late Comer"),)
    assert line.sentence == "By the policy the mark would be 3.00 Secure."
    change_mark(cast.director, marks, late, to="3", why="Moved here")
    page = period_page(cast.band, period)
    assert page.since == () and page.rows[-1].word == "Secure"
    assert page.rows[-1].because == ("Not in the period when it was closed.",)


def test_a_mark_far_from_the_last_closed_period_is_asked_about(cast, rated, period):
    earlier = add_period(
        cast.director, name="Before", starts_on=period.starts_on - datetime.timedelta(60),
        ends_on=period.starts_on - datetime.timedelta(1),
    )
    check = PlayingCheck.objects.create(
        ensemble=cast.band, piece=rated.piece, title="Old", criteria=list(ALL_THREE),
        tempo_qpm=90, due_on=earlier.ends_on, made_by=cast.director,
        published_at=timezone.now(),
    )
    now, rated.check = rated.check, check
    rate(cast.director, send(rated, cast.musician, take=False), dict.fromkeys(ALL_THREE, "1"))
    close(cast, earlier)
    rated.check = now
    flags = row_of(cast, period, cast.musician).flags
    assert [flag.sentence for flag in flags] == ["2.0 levels higher than Before (1.00)."]


def test_terms_come_back_from_the_row_and_from_the_form_as_they_went_in(cast, rated, period):
    key = f"c{rated.check.pk}"
    form = {
        "policy": "best_n", "by": "work", "best_n_n": "2", "best_n_of_last": "4",
        "fewest_levels": "5", "fewest_works": "2", "conversion": "percents", "percent_1": "60",
        "percent_2": "75", "percent_3": "88", "percent_4": "100", "with_writing": "yes",
        "line_key": " L-1 ", f"weight_{key}": "2,5",
    }
    terms = typed_terms(form, [(key, "Lamp Tune check")])
    assert terms == Terms(
        MarkPolicy("best_n", "work", 2, 4, fewest_levels=5, fewest_works=2,
                   conversion=Conversion("percents", percents=(60, 75, 88, 100))),
        {key: 2.5}, True, "L-1", "",
    )
    choose_terms(cast.band, period, terms)
    assert terms_of(marks_of(cast.band, period).terms) == terms == terms_of(data_of(terms))


@pytest.mark.parametrize(
    ("form", "said"),
    [
        ({}, "choose how levels become a mark"),
        ({"policy": "last_n", "last_n_n": "0"}, "how many count"),
        ({"policy": "last_n", "last_n_n": "2.5"}, "no whole number"),
        ({"policy": "best_n", "best_n_n": "4", "best_n_of_last": "3"}, "no fewer levels"),
        ({"policy": "decaying", "decaying_share": "99"}, "between 5 and 95"),
        ({"policy": "weighted", "weight_c1": "11"}, "between 0 and 10"),
        ({"policy": "mean", "conversion": "percents"}, "percent of Beginning"),
        ({"policy": "mean", "conversion": "symbols"}, "no row"),
        ({"policy": "mean", "conversion": "stars"}, "printed as"),
        ({"policy": "mean", "line_key": "x" * 61}, "more than 60"),
    ],
)
def test_a_slip_in_the_form_is_said(form, said):
    with pytest.raises(StandlightError, match=said):
        typed_terms(form, [("c1", "March")])


def test_a_weight_counts_by_its_check(cast, rated, period):
    other = PlayingCheck.objects.create(
        ensemble=cast.band, piece=rated.piece, title="Jury", criteria=list(ALL_THREE),
        tempo_qpm=90, due_on=timezone.localdate(), made_by=cast.director,
        published_at=timezone.now(),
    )
    rated.check, first = other, rated.check
    rate(cast.director, send(rated, cast.musician, take=False), dict.fromkeys(ALL_THREE, "4"))
    choose_terms(cast.band, period, Terms(MarkPolicy("weighted"), {f"c{first.pk}": 3.0}))
    assert row_of(cast, period, cast.musician).value == pytest.approx((3 * 3.0 + 4.0) / 4)
