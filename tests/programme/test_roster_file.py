"""Roster files as schools write them: read with remarks, or refused in a sentence."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standlight.errors import UnreadableRoster
from standlight.programme.roster_file import (
    COLUMNS,
    RosterRow,
    guarded,
    read_roster,
    roster_csv,
)

HEAD = "roster_id,given_name,family_name,grade,ensemble,section"


def rows_of(*lines, head=HEAD, encoding="utf-8"):
    return read_roster("\n".join([head, *lines]).encode(encoding))


def test_columns_come_in_any_order_and_case_with_a_mark_and_semicolons():
    text = "Section;GRADE;Family Name;given-name;Roster ID;ensemble\r\nFlute;6;Abe;Noa;7;Band\r\n"
    read = read_roster(text.encode("utf-8-sig"))
    (row,) = read.rows
    assert (row.roster_id, row.name, row.grade, row.section) == ("7", "Noa Abe", 6, "Flute")
    assert read.remarks == ()


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_three_separators_are_read(separator):
    text = "\n".join([HEAD, "1,Noa,Abe,6,Band,Flute"]).replace(",", separator)
    assert read_roster(text.encode()).rows[0].name == "Noa Abe"


def test_windows_1252_is_read_with_a_remark_and_utf_8_without():
    line = "1,Zoë,Muñoz,6,Band,Flute"
    guessed = rows_of(line, encoding="cp1252")
    assert guessed.rows[0].name == "Zoë Muñoz"
    assert "Windows-1252" in guessed.remarks[0].sentence
    assert rows_of(line).remarks == ()
    assert rows_of(line, encoding="utf-16").rows[0].name == "Zoë Muñoz"


def test_missing_columns_are_named_with_the_likely_slip():
    with pytest.raises(UnreadableRoster, match="no column grade and section") as caught:
        read_roster(b"roster_id,given_name,family_name,ensemble\n1,A,B,Band\n")
    assert "rename the column" in str(caught.value)
    with pytest.raises(UnreadableRoster, match="row of column names missing"):
        read_roster(b"1001,Mina,Okafor,7,Band,Clarinet\n")


def test_usual_other_names_of_columns_are_understood_and_said():
    read = rows_of("1,Noa,Abe,6,Band,Flute", head="ID,First name,Last name,Grade,Ensemble,Section")
    assert read.rows[0].name == "Noa Abe"
    assert any("“First name” is read as given_name" in one.sentence for one in read.remarks)


def test_one_musician_may_sit_in_two_ensembles_but_not_twice_in_one_place():
    read = rows_of(
        "1,Noa,Abe,6,Band,Flute", "1,Noa,Abe,6,Choir,Alto", "1,Noa,Abe,6,Band,Flute"
    )
    assert [row.ensemble for row in read.rows] == ["Band", "Choir"]
    (remark,) = read.remarks
    assert remark.row == 4 and remark.leaves_out and "row 2" in remark.sentence


def test_one_id_with_two_names_is_a_remark_and_the_second_stays_out():
    read = rows_of("1,Noa,Abe,6,Band,Flute", "1,Ines,Roth,6,Band,Oboe")
    assert [row.name for row in read.rows] == ["Noa Abe"]
    assert read.remarks[0].row == 3
    assert "two musicians with one id?" in read.remarks[0].sentence


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("1,Noa,Abe,0,Band,Flute", "grade “0”"),
        ("1,Noa,Abe,13,Band,Flute", "grade “13”"),
        ("1,Noa,Abe,sixth,Band,Flute", "grade “sixth”"),
        ("1,Noa,Abe,,Band,Flute", "Grade is empty"),
        (",Noa,Abe,6,Band,Flute", "Roster_id is empty"),
        ("1.2E+05,Noa,Abe,6,Band,Flute", "shortened by a spreadsheet"),
        ("1,Noa,Abe, Jr,6,Band,Flute", "comma inside a name"),
        (f"1,{'N' * 61},Abe,6,Band,Flute", "more than 60 characters"),
    ],
)
def test_a_bad_row_stays_out_with_its_number_and_reason(line, words):
    read = rows_of("9,Ada,Bell,6,Band,Oboe", line)
    assert [row.roster_id for row in read.rows] == ["9"]
    (remark,) = read.remarks
    assert remark.row == 3 and remark.leaves_out
    assert words.lower() in remark.sentence.lower()


@pytest.mark.parametrize(
    ("cell", "way"),
    [("", ""), ("Record", "record"), ("LIVE ONLY", "live_only"), ("live-only", "live_only"),
     ("neither", "neither")],
)  # fmt: skip
def test_ways_are_words(cell, way):
    assert rows_of(f"1,Noa,Abe,6,Band,Flute,{cell}", head=HEAD + ",way").rows[0].way == way


def test_a_way_of_no_list_leaves_the_row_out():
    read = rows_of("1,Noa,Abe,6,Band,Flute,video", head=HEAD + ",way")
    assert not read.rows and "record, live only or neither" in read.remarks[0].sentence


@pytest.mark.parametrize("grade", ["6", "06", "6th", "Grade 6", "grade 06", "6th grade"])
def test_grades_are_read_as_schools_write_them(grade):
    assert rows_of(f"1,Noa,Abe,{grade},Band,Flute").rows[0].grade == 6


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b" \n\n", "empty"),
        (b"PK\x03\x04rest of a spreadsheet", "spreadsheet, not a CSV"),
        (b"roster\x00id", "not a text file"),
        (b"a" * 2_000_001, "more than 2,000,000"),
        (b"roster_id\n" + b'1,"' + b"x" * 200_000, "cannot be read as a table"),
    ],
)
def test_what_is_no_table_is_refused(data, words):
    with pytest.raises(UnreadableRoster, match=words):
        read_roster(data)


def test_row_numbers_are_lines_of_the_file_even_after_a_cell_of_two_lines():
    read = rows_of('1,"Noa\nMay",Abe,6,Band,Flute', "2,Ada,Bell,99,Band,Oboe")
    assert read.rows[0].given_name == "Noa May"
    assert read.remarks[0].row == 4


@pytest.mark.parametrize("start", list("=+-@\t\r") + ["＝", "＋", "－", "＠"])
def test_no_cell_we_write_starts_as_a_formula(start):
    """OWASP, "CSV injection": these first characters, and their full-width forms."""
    assert guarded(f"{start}cmd|' /C calc'!A0").startswith("'")
    assert guarded(f"  {start}1").startswith("'")


def test_the_empty_roster_has_every_column_and_reads_back():
    read = read_roster(roster_csv())
    assert read.rows == ()
    assert "no musician under them" in read.remarks[0].sentence
    assert roster_csv().startswith(b"\xef\xbb\xbf" + ",".join(COLUMNS).encode())


WORD = st.text(
    st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=20
).filter(lambda word: not word.startswith("'"))


@given(st.lists(st.tuples(WORD, WORD, WORD), min_size=1, max_size=6))
def test_what_is_written_reads_back_as_it_was(cells):
    rows = [
        RosterRow(number + 2, f"n{number}", given, family, 7, "Band", section, "Flute", "record")
        for number, (given, family, section) in enumerate(cells)
    ]
    assert list(read_roster(roster_csv(rows)).rows) == rows
