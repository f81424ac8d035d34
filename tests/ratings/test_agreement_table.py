"""A typed table of ratings: both shapes, what is left out and said, what is refused."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standlight.errors import UnreadableRatings
from standlight.ratings import read_rating_table

WIDE = """student,task,rater,rhythm,tone
A,march,x,3,4
A,march,y,3,
B,march,x,2,not_heard
B,march,y,1,2
"""
LONG = """student,task,rater,criterion,level
A,march,x,rhythm,3
A,march,y,rhythm,3
B,march,x,rhythm,2
B,march,y,rhythm,1
A,march,x,tone,4
B,march,x,tone,not_heard
B,march,y,tone,2
"""


def test_the_wide_and_the_long_table_say_the_same():
    wide, long = read_rating_table(WIDE), read_rating_table(LONG)
    assert wide.grids == long.grids
    rhythm, tone = wide.grids
    assert (rhythm.criterion, rhythm.raters, rhythm.grid) == (
        "rhythm", ("x", "y"), ((3, 3), (2, 1)))
    assert tone.grid == ((4, None), (None, 2))
    assert wide.faults == () and wide.remarks == ("Not rated, not shown or not heard: 1.",)


def test_task_occasion_and_take_each_make_another_recording():
    head = "student,task,occasion,take,rater,tone\n"
    rows = ["A,march,1,1,x,3", "A,waltz,1,1,x,2", "A,march,2,1,x,1", "A,march,1,2,x,4"]
    assert len(read_rating_table(head + "\n".join(rows)).grids[0].grid) == 4


def test_raters_of_different_classes_are_not_laid_side_by_side():
    text = ("student,task,rater,rater_class,ensemble,tone\n"
            "A,march,x,director,band,3\nA,march,A,self,band,4\nA,march,y,director,band,3\n")
    directors, own = read_rating_table(text).grids
    assert (directors.rater_class, directors.grid) == ("director", ((3, 3),))
    assert (own.rater_class, own.raters, own.grid) == ("self", ("A",), ((4,),))


def test_a_criterion_that_nobody_rated_stays_as_an_empty_grid():
    found = read_rating_table("student,task,rater,tone,notes\nA,m,x,,3\n")
    assert [(rated.criterion, rated.grid) for rated in found.grids] == [
        ("tone", ()), ("notes", ((3,),))]


@pytest.mark.parametrize("cell", ["2.5", "-1", "101", "three", "1e2", "٣", "nan", "inf", "²"])
def test_a_cell_that_is_no_level_is_named_and_left_out(cell):
    found = read_rating_table(f"student,task,rater,tone\nA,m,x,{cell}\nA,m,y,3\n")
    assert found.faults == (f"line 2: {cell!r} for tone is no whole level",)
    assert found.grids[0].grid == ((3,),)


def test_whole_levels_written_by_a_spreadsheet_are_read():
    text = "\ufeffStudent, Task ,RATER,tone\r\nA,m,x,3.0\r\n,,,\r\nA,m,y, 0\r\n".lstrip("\ufeff")
    assert read_rating_table(text).grids[0].grid == ((3, 0),)


def test_the_same_level_twice_counts_once_and_two_levels_not_at_all():
    found = read_rating_table("student,task,rater,tone\nA,m,x,3\nA,m,x,3\nB,m,x,2\nB,m,x,1\n")
    assert found.grids[0].grid == ((3,),)
    assert found.remarks == ("Stood there again and count once: 1.",)
    assert found.faults == (
        "lines 4 and 5: x gave the same work two levels for tone; left out"
        " (an occasion left out?)",)


def test_a_row_without_a_name_is_named_and_left_out():
    found = read_rating_table("student,task,rater,tone\n,m,x,3\nB,m,,2\nC,m,x,1\n")
    assert found.faults == ("line 2 has no name of a student", "line 3 has no name of a rater")
    assert found.grids[0].grid == ((1,),)
    long = read_rating_table("student,task,rater,criterion,level\nA,m,x,,3\nA,m,x,tone,2\n")
    assert long.faults == ("line 2 has no name of a criterion",)
    assert [rated.criterion for rated in long.grids] == ["tone"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        (" \n,,\n", "empty"),
        ("student;task;rater;tone\nA;m;x;3", "no column student, task, rater"),
        ("student,task,tone\nA,m,3", "no column rater"),
        ("student,task,rater\nA,m,x", "no column of a criterion"),
        ("student,task,rater,tone,tone\nA,m,x,3,3", "same name"),
        ("student,task,rater,tone\nA,m,x,3,4", "line 2 of"),
        ('student,task,rater,tone\nA,m,x,"3', "no CSV"),
    ],
)
def test_what_is_no_such_table_is_refused_with_the_place(text, words):
    with pytest.raises(UnreadableRatings, match=words):
        read_rating_table(text)


@given(st.text(alphabet='student,ak\nrm"0123.- ;\x00\r', max_size=80))
@settings(max_examples=200)
def test_any_text_under_a_good_head_is_a_table_or_a_sentence(text):
    try:
        found = read_rating_table("student,task,rater,tone\n" + text)
    except UnreadableRatings as problem:
        assert "the table" in str(problem)
        return
    for rated in found.grids:
        assert all(len(row) == len(rated.raters) for row in rated.grid)
