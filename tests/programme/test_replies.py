"""What a director does with a sheet: opened once, replied to, levels retired, walls by consent."""

import pytest

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions.replies import (
    give_level,
    keep_reply_line,
    open_sheet,
    put_on_wall,
    reply,
    take_off_wall,
)
from standlight.programme.models import CommentLine, Reply, Sheet, SheetLevel
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.reading_wall import wall_of
from tests.programme.reading_scene import STUDY, assignment_of, own_sheet, sheet_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def sheet(cast):
    return sheet_of(assignment_of(cast), cast.musician)


@pytest.fixture
def draft(cast):
    return sheet_of(assignment_of(cast), cast.musician, sent=False)


def test_the_first_opening_is_noted_once_with_who_opened(cast, sheet):
    assert open_sheet(cast.second_director, sheet) is True
    first = Sheet.objects.get().opened_at
    assert open_sheet(cast.director, Sheet.objects.get()) is False
    kept = Sheet.objects.get()
    assert (kept.opened_by, kept.opened_at) == (cast.second_director, first)


def test_two_directors_who_hold_the_same_unopened_row_make_one_opening(cast, sheet):
    twin = Sheet.objects.get()
    assert open_sheet(cast.director, sheet)
    assert not open_sheet(cast.second_director, twin)
    assert Sheet.objects.get().opened_by == cast.director


def test_a_draft_can_be_neither_opened_nor_answered_nor_rated_nor_hung_up(cast, draft):
    for act in (
        lambda: open_sheet(cast.director, draft),
        lambda: reply(cast.director, draft, "Good"),
        lambda: give_level(cast.director, draft, "words", "3"),
        lambda: put_on_wall(cast.director, draft),
    ):
        with pytest.raises(NotAllowed, match="has not been sent"):
            act()
    assert Sheet.objects.get().opened_at is None


def test_one_line_of_the_two_is_enough_and_none_is_not(cast, sheet):
    assert reply(cast.director, sheet, next_step="Listen again").words == ""
    assert reply(cast.director, sheet, "  You  heard it ").words == "You heard it"
    with pytest.raises(StandlightError, match="needs a line"):
        reply(cast.director, sheet, "  ", "\n")
    with pytest.raises(StandlightError, match="401 characters, and 400 fit"):
        reply(cast.director, sheet, "x" * 401)
    assert Reply.objects.get().words == "You heard it"


def test_a_second_reply_takes_the_place_of_the_first_and_is_unseen(cast, sheet):
    first = reply(cast.director, sheet, "You heard it")
    Reply.objects.update(seen_at=first.written_at)
    reply(cast.second_director, sheet, "You heard the horns")
    kept = Reply.objects.get()
    assert (kept.words, kept.written_by, kept.seen_at) == (
        "You heard the horns", cast.second_director, None,
    )  # fmt: skip


def test_a_reply_counts_as_an_opening(cast, sheet):
    reply(cast.director, sheet, "You heard it")
    assert Sheet.objects.get().opened_by == cast.director


def test_a_directors_own_sheet_gets_neither_reply_nor_level(cast):
    own = own_sheet(assignment_of(cast), cast.director, story="Horns")
    with pytest.raises(NotAllowed, match="own sheet"):
        reply(cast.second_director, own, "Good")
    with pytest.raises(NotAllowed):
        give_level(cast.second_director, own, "words", "3")
    assert not open_sheet(cast.director, own)


def test_the_same_level_again_adds_nothing_and_another_retires_the_old(cast, sheet):
    first = give_level(cast.director, sheet, "words", "2")
    assert give_level(cast.director, sheet, "words", "2") == first
    give_level(cast.director, sheet, "words", "3")
    give_level(cast.second_director, sheet, "words", "1")
    standing = SheetLevel.objects.filter(retired_at__isnull=True)
    assert sorted(standing.values_list("rater__sign_in", "value")) == [
        ("director", "3"), ("second", "1"),
    ]  # fmt: skip
    assert SheetLevel.objects.filter(retired_at__isnull=False).get().value == "2"


@pytest.mark.parametrize("value", ["0", "5", "not_heard", "", "three"])
def test_no_other_level_can_be_given(cast, sheet, value):
    with pytest.raises(StandlightError):
        give_level(cast.director, sheet, "words", value)
    assert give_level(cast.director, sheet, "words", "not_shown").value == "not_shown"


def test_levels_are_for_the_rows_of_the_rubric_and_only_where_the_kind_is_marked(cast, sheet):
    with pytest.raises(NotAllowed, match="rhythm"):
        give_level(cast.director, sheet, "rhythm", "3")
    after = sheet_of(sheet.assignment, cast.musician, step="after", now="More")
    with pytest.raises(NotAllowed, match="words"):
        give_level(cast.director, after, "words", "3")
    assert give_level(cast.director, after, "heard", "3").value == "3"
    bare = {key: value for key, value in STUDY.items() if key != "rubric"}
    unmarked = assignment_of(cast, {**bare, "key": "unmarked", "marked": False})
    with pytest.raises(NotAllowed, match="words"):
        give_level(cast.director, sheet_of(unmarked, cast.musician), "words", "3")


def test_only_what_its_owner_shares_can_go_on_the_wall(cast):
    given = assignment_of(cast)
    for answer in ({}, {"share": False}, {"share": "yes"}):
        private = sheet_of(given, cast.second_musician, number=len(answer) + 1 + len(
            Sheet.objects.all()), story="Mine", **answer)  # fmt: skip
        with pytest.raises(NotAllowed, match="has not agreed"):
            put_on_wall(cast.director, private)
    shared = sheet_of(given, cast.musician, story="Ours", share=True)
    put_on_wall(cast.director, shared)
    assert [(one.who, one.lines[0].words) for one in wall_of(cast.band)] == [
        ("Mina Okafor", "Ours"),
    ]
    assert wall_of(cast.choir) == ()
    take_off_wall(cast.director, shared)
    assert wall_of(cast.band) == ()


def test_who_says_no_later_is_off_the_wall_at_once(cast):
    shared = sheet_of(assignment_of(cast), cast.musician, story="Ours", share=True)
    put_on_wall(cast.director, shared)
    Sheet.objects.update(answers={"story": "Ours", "share": False})
    assert wall_of(cast.band) == ()


def test_a_musician_puts_nothing_on_the_wall(cast):
    shared = sheet_of(assignment_of(cast), cast.musician, story="Ours", share=True)
    with pytest.raises(NotAllowed):
        put_on_wall(cast.musician.account, shared)
    with pytest.raises(NotAllowed):
        take_off_wall(cast.musician.account, shared)


def test_a_line_for_replies_is_kept_once_and_under_its_kind(cast, sheet):
    kind = kind_in(sheet.assignment.kind)
    first = keep_reply_line(cast.director, kind, "next_step", " Name  one  measure ")
    assert keep_reply_line(cast.second_director, kind, "next_step", "Name one measure") == first
    kept = CommentLine.objects.get()
    assert (kept.criterion, kept.text) == ("kind:listening_letter", "Name one measure")
    with pytest.raises(StandlightError):
        keep_reply_line(cast.director, kind, "strategy", "Slowly")
    with pytest.raises(StandlightError):
        keep_reply_line(cast.director, kind, "next_step", " ")
