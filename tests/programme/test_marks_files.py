"""The files of a closed period: for people, for a school's system, and only what is new."""

import csv
import datetime
import io

import pytest
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions.desk import rate
from standlight.programme.actions.marks import (
    change_mark,
    choose_terms,
    close_period,
    excuse,
    export,
)
from standlight.programme.marking_terms import Terms
from standlight.programme.models import MarkExport
from standlight.programme.queries.marks import marks_of, period_page
from standlight.programme.queries.marks_files import PLAIN, SYSTEM, marks_csv
from standlight.ratings import Conversion, MarkPolicy
from tests.cast import add_musician
from tests.programme.desk_scene import send

pytestmark = pytest.mark.django_db

# results.csv of 1EdTech OneRoster 1.2 (CSV binding 1.2.1, imsglobal.org/spec/oneroster/v1p2/
# bind/csv). The specification's own tables could not be opened here; this list stands, name for
# name and in this order, in two open implementations of it that do not share code:
# LongsightGroup/oneroster ("Spec-defined headers for results.csv in exact order") and the contracts
# of a conformance suite (ResultsCsvRowSchema, with these as optional: score, comment, textScore,
# classSourcedId, inProgress, incomplete, late, missing).
RESULTS = (
    "sourcedId,status,dateLastModified,lineItemSourcedId,studentSourcedId,scoreStatus,score,"
    "scoreDate,comment,textScore,classSourcedId,inProgress,incomplete,late,missing"
)
# The same sources: scoreStatus.
SCORE_STATUS = {"exempt", "fully graded", "not submitted", "partially graded", "submitted"}


def close(cast, period, terms=None):
    choose_terms(cast.band, period, terms or Terms())
    page = period_page(cast.band, period)
    return close_period(cast.director, cast.band, period, seen=page.state, looked=True)


def table(data):
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))


def test_the_plain_file_is_in_roster_order_and_says_everything_in_columns(cast, rated, period):
    data = marks_csv(period_page(cast.band, period))
    assert data.startswith(b"\xef\xbb\xbfroster_id,family_name,given_name,section,")
    rows = table(data)
    assert [row["roster_id"] for row in rows] == ["1002", "1001"]
    assert rows[0]["Lamp Tune check: state"] == "missing"
    assert (rows[0]["mark"], rows[0]["mark_word"]) == ("", "no mark")
    assert rows[0]["left_out"] == "Left out (missing): Lamp Tune check."
    assert rows[1]["Lamp Tune check: Intonation"] == "2"
    assert (rows[1]["mark"], rows[1]["mark_word"], rows[1]["mark_percent"]) == (
        "3.00", "Secure", "",
    )


# OWASP, CSV injection: a cell beginning with = + - @ tab or carriage return, and the full-width
# forms that spreadsheets also take for these signs.
@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠", "  ="])
@pytest.mark.parametrize("form", [PLAIN, SYSTEM])
def test_no_cell_of_any_file_begins_as_a_formula(cast, rated, period, start, form):
    add_musician(cast.programme, cast.clarinets, f"{start}1", f"{start}1+1", f"{start}Aa")
    marks = close(cast, period)
    data = export(cast.director, marks, form, only_new=False).data
    cells = [
        cell
        for row in csv.reader(io.StringIO(data.decode("utf-8-sig"), newline=""))
        for cell in row
    ]
    assert any(cell.startswith("'") for cell in cells)
    assert not [cell for cell in cells if cell.strip(" ")[:1] in set("=+-@\t\r＝＋－＠")]


def test_the_schools_file_has_the_columns_of_the_specification_and_one_row_a_musician(
    cast, rated, period
):
    marks = close(cast, period, Terms(line_key="LI-7", class_key="C-3"))
    data = export(cast.director, marks, SYSTEM, only_new=False).data
    assert data.decode("utf-8").split("\r\n")[0] == RESULTS
    rows = table(data)
    assert {row["scoreStatus"] for row in rows} <= SCORE_STATUS
    theo, mina = rows
    assert (mina["studentSourcedId"], mina["lineItemSourcedId"]) == ("1001", "LI-7")
    assert (mina["classSourcedId"], mina["scoreStatus"]) == ("C-3", "fully graded")
    assert mina["comment"] == "3.00 on levels 1 to 4, from 3 levels in 1 check."
    assert (theo["scoreStatus"], theo["missing"], theo["incomplete"]) == (
        "not submitted", "true", "true",
    )
    assert len({row["sourcedId"] for row in rows}) == 2
    # "bulk": everything is told, so nothing says active or when.
    assert {row["status"] for row in rows} == {row["dateLastModified"] for row in rows} == {""}
    assert mina["scoreDate"] == timezone.localdate().isoformat()


def test_a_level_is_never_a_score_and_a_percent_only_comes_from_the_schools_table(
    cast, rated, period
):
    rows = table(export(cast.director, close(cast, period), SYSTEM, only_new=False).data)
    assert {row["score"] for row in rows} == {""}
    assert [row["textScore"] for row in rows] == ["", "Secure"]


def test_percents_of_the_schools_table_are_the_score(cast, rated, period):
    table_of = Conversion("percents", percents=(60, 75, 88, 100))
    marks = close(cast, period, Terms(MarkPolicy(conversion=table_of)))
    rows = table(export(cast.director, marks, SYSTEM, only_new=False).data)
    assert [(row["score"], row["textScore"]) for row in rows] == [("", ""), ("88", "")]


def test_excused_from_everything_is_exempt_and_too_few_levels_are_partly_graded(
    cast, rated, period
):
    excuse(rated.check, cast.second_musician, True)
    some = add_musician(cast.programme, cast.clarinets, "1011", "Few", "Levels")
    rate(cast.director, send(rated, some), {"notes": "3"})
    rows = table(export(cast.director, close(cast, period), SYSTEM, only_new=False).data)
    said = {row["studentSourcedId"]: row["scoreStatus"] for row in rows}
    assert said == {"1001": "fully graded", "1002": "exempt", "1011": "partially graded"}


def test_only_what_changed_since_the_last_file_is_told_and_then_nothing(cast, rated, period):
    marks = close(cast, period)
    export(cast.director, marks, SYSTEM, only_new=False)
    with pytest.raises(StandlightError, match="nothing has changed"):
        export(cast.director, marks, SYSTEM, only_new=True)
    change_mark(cast.director, marks, cast.musician, to="3.6", why="Concert")
    files = {one.form: one.n_new for one in period_page(cast.band, period).files}
    assert files == {PLAIN: 2, SYSTEM: 1}
    made = export(cast.director, marks, SYSTEM, only_new=True)
    (row,) = table(made.data)
    assert (row["studentSourcedId"], row["textScore"], row["status"]) == (
        "1001", "Extending", "active",
    )
    moment = datetime.datetime.strptime(row["dateLastModified"], "%Y-%m-%dT%H:%M:%S.%fZ")
    assert abs(timezone.now().replace(tzinfo=None) - moment) < datetime.timedelta(hours=1)
    assert row["comment"].endswith("Changed after closing.")
    with pytest.raises(StandlightError, match="nothing has changed"):
        export(cast.director, marks, SYSTEM, only_new=True)
    change_mark(cast.director, marks, cast.second_musician, to="2", why="Heard live")
    again = table(export(cast.director, marks, SYSTEM, only_new=True).data)
    assert [row["studentSourcedId"] for row in again] == ["1002"]
    assert MarkExport.objects.count() == 3


def test_an_open_period_gives_no_file_that_is_remembered(cast, rated, period):
    with pytest.raises(NotAllowed, match="close it, then export"):
        export(cast.director, marks_of(cast.band, period), SYSTEM, only_new=False)
    assert not MarkExport.objects.exists()
