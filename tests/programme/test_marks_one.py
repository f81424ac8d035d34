"""One mark on one page; written work that counts; ensemble acts on a line of their own."""

import datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from standlight.kinds import KINDS, data_of
from standlight.programme.actions.desk import rate
from standlight.programme.actions.marks import choose_terms
from standlight.programme.marking_terms import Terms
from standlight.programme.models import SheetLevel, WorkExcuse
from standlight.programme.queries.marks import period_page
from standlight.programme.queries.marks_one import one_mark_page
from standlight.ratings import MarkPolicy
from tests.programme.desk_scene import more_clarinets, send
from tests.programme.reading_scene import assignment_of, own_sheet, sheet_of

pytestmark = pytest.mark.django_db


def only(cast, period, musician):
    return one_mark_page(cast.band, period, musician.pk).marks[0]


def levels_on(sheet, cast, **levels):
    for criterion, value in levels.items():
        SheetLevel.objects.create(
            sheet=sheet, criterion=criterion, value=value, rater=cast.director
        )


def test_the_page_holds_levels_work_policy_and_conversion(cast, rated, period):
    row = only(cast, period, cast.musician).row
    assert [level.word for level in row.cells[0].levels] == ["Developing", "Secure", "Extending"]
    assert [(line.name, line.levels, line.counting, line.figure) for line in row.lines] == [
        ("Intonation", "2", "all", "2.00"), ("Rhythm", "3", "all", "3.00"),
        ("Notes", "4", "all", "4.00"),
    ]
    assert row.because[1].startswith("In each criterion all levels count the same")
    assert "2.5 and up is Secure" in row.because[-1]


def test_a_musician_of_another_ensemble_has_no_page_here(cast, rated, period):
    assert one_mark_page(cast.band, period, cast.singer.pk) is None
    assert len(one_mark_page(cast.band, period).marks) == 2


def test_written_work_counts_only_where_the_policy_says_so_and_states_stay_apart(
    cast, rated, period
):
    today = timezone.localdate()
    letter = assignment_of(cast, due_on=today - datetime.timedelta(1))
    levels_on(sheet_of(letter, cast.musician), cast, heard="1", words="not_shown")
    excused = more_clarinets(rated, 3)
    for person, reason in zip(
        excused, (WorkExcuse.EXCUSED, WorkExcuse.ABSENT, WorkExcuse.NOT_ASSESSED), strict=True
    ):
        WorkExcuse.objects.create(
            assignment=letter, musician=person, reason=reason, given_by=cast.director
        )
    assert len(period_page(cast.band, period).columns) == 1
    choose_terms(cast.band, period, Terms(with_writing=True))
    page = period_page(cast.band, period)
    rows = {row.musician_pk: row for row in page.rows}
    assert page.columns[1].criteria == ("What was heard", "Words")
    assert rows[cast.musician.pk].value == pytest.approx((2 + 3 + 4 + 1) / 4)
    assert "Left out (not shown in this passage): 1." in rows[cast.musician.pk].left_out
    said = {rows[person.pk].cells[1].state for person in excused}
    assert said == {"excused", "was absent", "not assessed"}
    title = letter.title
    assert rows[excused[1].pk].left_out == (
        "Left out (missing): Lamp Tune check.", f"Left out (absent): {title}.",
    )
    assert f"Left out (missing): Lamp Tune check, {title}." in rows[
        cast.second_musician.pk
    ].left_out


def test_ensemble_acts_stand_on_their_own_line_and_change_no_mark(cast, rated, period):
    before = only(cast, period, cast.musician)
    acts = assignment_of(cast, data_of(KINDS["ensemble_acts"]))
    own_sheet(acts, cast.director, step="acts", about=cast.musician, ready="always", looks="some")
    own_sheet(
        acts, cast.second_director, step="acts", about=cast.musician, ready="always"
    )
    sheet_of(acts, cast.musician, step="acts", ready="seldom")
    after = only(cast, period, cast.musician)
    assert before.acts == ()
    assert [(line.name, line.sentences) for line in after.acts] == [
        ("Ensemble acts", ("Seen by the director 2 times: every time 2, some days 1.",
                           "Said by the musician once: not often yet 1.")),
    ]
    assert after.row == before.row
    choose_terms(cast.band, period, Terms(with_writing=True))
    assert len(period_page(cast.band, period).columns) == 1
    assert only(cast, period, cast.musician).row.value == before.row.value


def test_a_line_through_all_levels_shows_how_sure_it_is(cast, rated, period):
    people = more_clarinets(rated, 9)
    choose_terms(cast.band, period, Terms(MarkPolicy("trend", fewest_levels=1)))
    for number, person in enumerate(people):
        rate(cast.director, send(rated, person, ago=20), {"rhythm": str(1 + number % 3)})
    row = only(cast, period, people[0]).row
    assert "Rhythm: too few musicians have two levels on different days" in row.because[2]
    assert row.likely == ""


def test_pages_for_all_cost_the_same_number_of_queries_for_any_number(cast, rated, period):
    counts = []
    for _ in range(2):
        more_clarinets(rated, 5)
        with CaptureQueriesContext(connection) as asked:
            one_mark_page(cast.band, period)
        counts.append(len(asked))
    assert counts[0] == counts[1]
