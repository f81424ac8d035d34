"""One way of writing a day: month first, on every page and in every sentence."""

import datetime
import re
from pathlib import Path

import pytest
from django.template import engines
from django.utils import timezone

import standlight
from standlight.programme.dates import FORMS, date_words, school_year
from standlight.programme.queries.musician_words import due_words

SOURCES = Path(standlight.__file__).parent
NOVEMBER = datetime.date(2026, 11, 26)  # a Thursday: date -d 2026-11-26 +%A


def shown(words, **values):
    return engines["django"].from_string(words).render(values)


def test_every_form_of_the_table_is_a_filter_and_says_the_same_as_in_python():
    at = timezone.now()
    for form in FORMS:
        assert shown("{{ at|" + form + " }}", at=at) == date_words(at, form)
    assert shown("{{ nothing|day }}", nothing=None) == ""


def test_the_month_comes_first_and_the_year_where_it_is_another_school_year():
    read = {form: date_words(NOVEMBER, form, seen_from=NOVEMBER) for form in ("day", "weekday")}
    assert read == {"day": "Nov 26", "weekday": "Thursday, Nov 26"}
    spring, summer = datetime.date(2027, 5, 20), datetime.date(2027, 8, 20)
    assert date_words(NOVEMBER, seen_from=spring) == "Nov 26"
    assert date_words(NOVEMBER, seen_from=summer) == "Nov 26, 2026"
    assert date_words(NOVEMBER, "weekday", seen_from=summer) == "Thursday, Nov 26, 2026"
    assert date_words(summer, seen_from=spring) == "Aug 20, 2027"
    assert date_words(NOVEMBER, "dated", seen_from=NOVEMBER) == "Nov 26, 2026"
    assert (school_year(spring), school_year(summer)) == (2026, 2027)


@pytest.mark.parametrize(
    ("zone", "words"), [("America/Chicago", "Nov 26, 20:05"), ("UTC", "Nov 27, 02:05")]
)
def test_a_moment_is_told_in_the_schools_own_time(zone, words):
    at = datetime.datetime(2026, 11, 27, 2, 5, tzinfo=datetime.UTC)
    with timezone.override(zone):
        assert date_words(at, "clock", seen_from=NOVEMBER) == words
        assert shown("{{ at|day }}", at=at).startswith(words.split(",")[0])


def test_a_due_day_far_off_carries_its_weekday_and_month():
    assert due_words(datetime.date(2026, 12, 10), NOVEMBER) == "Due Thursday, Dec 10"


def test_no_template_and_no_query_writes_a_day_in_a_form_of_its_own():
    breaches = []
    for file in SOURCES.rglob("*.html"):
        breaches += [
            f"{file.name}: {form}"
            for form in re.findall(r"\|date:[\"']([^\"']+)", file.read_text("utf-8"))
            if form != "Y-m-d"  # the value of a date field, which browsers read
        ]
    for folder in (SOURCES / "programme", SOURCES / "web"):
        for file in folder.rglob("*.py"):
            if file == SOURCES / "programme" / "dates.py":
                continue
            text = file.read_text("utf-8")
            breaches += [f"{file.name}: {one}" for one in re.findall(r"%[bBaA]\b", text)]
            breaches += [f"{file.name}: date_format"] if "date_format(" in text else []
    assert not breaches, "\n".join(breaches)
