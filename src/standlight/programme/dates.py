"""How a day is written, everywhere: month first, and one form with the time of the clock.

`FORMS` is the whole table. Each form is a filter of the templates under its key
(``{{ page.due_on|weekday }}``) and ``date_words`` for sentences made in Python.
"""

from __future__ import annotations

import datetime

from django.utils import timezone

FORMS = {
    "day": "{day}",
    "weekday": "{weekday}, {day}",
    "near": "{weekday}",
    "clock": "{day}, {time}",
    "dated": "{dated}",
}
"""A day in a line; a day one plans by; one of the next six; a moment; a day on a record that is
kept, always with its year. The year of the others is told where it is not this school year."""

YEAR_BEGINS_IN = 7
"""July: schools in the United States begin in August or September, their camps before it
(common practice, no source)."""


def date_words(
    when: datetime.date | None, form: str = "day", *, seen_from: datetime.date | None = None
) -> str:
    """``when`` (a date, or a moment, told in the school's own time) in a form of `FORMS`.

    ``seen_from`` is the day it is read on, today by default. Nothing for ``None``.

    >>> day, today = datetime.date(2026, 11, 26), datetime.date(2027, 1, 5)
    >>> [date_words(day, form, seen_from=today) for form in ("day", "weekday", "dated")]
    ['Nov 26', 'Thursday, Nov 26', 'Nov 26, 2026']
    >>> date_words(day, seen_from=datetime.date(2027, 9, 1))
    'Nov 26, 2026'
    >>> at = datetime.datetime(2026, 11, 26, 15, 5, tzinfo=datetime.timezone.utc)
    >>> date_words(at, "clock", seen_from=today)[:8]
    'Nov 26, '
    """
    if when is None:
        return ""
    local = when
    if isinstance(when, datetime.datetime) and timezone.is_aware(when):
        local = timezone.localtime(when)
    plain = f"{local:%b} {local.day}"
    dated = f"{plain}, {local.year}"
    this_year = school_year(local) == school_year(seen_from or timezone.localdate())
    return FORMS[form].format(
        day=plain if this_year else dated, dated=dated, weekday=f"{local:%A}", time=f"{local:%H:%M}"
    )


def school_year(day: datetime.date) -> int:
    """The calendar year in which the school year of ``day`` begins.

    >>> school_year(datetime.date(2026, 9, 1)), school_year(datetime.date(2027, 5, 1))
    (2026, 2026)
    """
    return day.year if day.month >= YEAR_BEGINS_IN else day.year - 1


def since_words(first: datetime.date, last: datetime.date) -> str:
    """From when to when, as it is told on the last day.

    >>> since_words(datetime.date(2026, 9, 3), datetime.date(2026, 11, 20))
    'from Sep 3 to Nov 20'
    """
    return f"from {date_words(first, seen_from=last)} to {date_words(last, seen_from=last)}"


def days_ahead(days: int) -> str:
    """How far off a day is.

    >>> days_ahead(16), days_ahead(1), days_ahead(0), days_ahead(-1), days_ahead(-3)
    ('in 16 days', 'tomorrow', 'today', 'yesterday', '3 days ago')
    """
    named = {0: "today", 1: "tomorrow", -1: "yesterday"}
    if days in named:
        return named[days]
    return f"in {days} days" if days > 0 else f"{-days} days ago"
