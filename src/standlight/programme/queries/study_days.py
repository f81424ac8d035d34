"""When a study was made, in words: every page that shows one says so."""

from __future__ import annotations

import datetime

from django.utils import timezone

NONE_YET = (
    "Nothing has been worked out yet. Give levels at the Desk: a few minutes later "
    "this page says what they tell."
)
"""What a director reads where no study exists."""

CHANGED = "Levels have changed since then; this page follows within minutes."


def as_of_words(made_at: datetime.datetime, changed_since: bool) -> str:
    """The day and time of a study, and whether levels have changed meanwhile.

    >>> noon = datetime.datetime(2026, 11, 26, 12, 5, tzinfo=datetime.timezone.utc)
    >>> as_of_words(noon, False).startswith("As of Nov 26, ")
    True
    """
    local = timezone.localtime(made_at)
    words = f"As of {local:%b} {local.day}, {local:%H:%M}."
    return f"{words} {CHANGED}" if changed_since else words


LONG_AGO = datetime.timedelta(days=180)
"""A day of another year is told with its year only when it is further back (our choice)."""


def day_words(day: datetime.date, seen_from: datetime.date) -> str:
    """A day as one says it on ``seen_from``; the year only where it could be mistaken.

    >>> day_words(datetime.date(2026, 9, 3), datetime.date(2026, 11, 26))
    'Sep 3'
    >>> day_words(datetime.date(2025, 9, 3), datetime.date(2026, 11, 26))
    'Sep 3, 2025'
    """
    words = f"{day:%b} {day.day}"
    far = day.year != seen_from.year and abs(seen_from - day) > LONG_AGO
    return f"{words}, {day.year}" if far else words


def since_words(first: datetime.date, last: datetime.date) -> str:
    """From when to when.

    >>> since_words(datetime.date(2026, 9, 3), datetime.date(2026, 11, 20))
    'from Sep 3 to Nov 20'
    """
    return f"from {day_words(first, last)} to {day_words(last, last)}"
