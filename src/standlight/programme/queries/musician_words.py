"""Words that a musician reads on more than one page: levels and due days."""

from __future__ import annotations

import datetime

from standlight.programme.dates import date_words

LEVEL_WORDS = {
    "1": "Beginning",
    "2": "Developing",
    "3": "Secure",
    "4": "Extending",
    "not_shown": "Not shown in this passage",
    "not_heard": "Could not be heard",
}
"""The words of a level, as the musician reads them."""


def due_words(due_on: datetime.date, today: datetime.date) -> str:
    """When it is due, as one says it.

    >>> due_words(datetime.date(2026, 11, 27), datetime.date(2026, 11, 25))
    'Due Friday'
    >>> due_words(datetime.date(2026, 11, 20), datetime.date(2026, 11, 25))
    'Was due Nov 20. You can still send it'
    """
    days = (due_on - today).days
    if days < 0:
        return f"Was due {date_words(due_on, seen_from=today)}. You can still send it"
    if days == 0:
        return "Due today"
    if days == 1:
        return "Due tomorrow"
    if days < 7:
        return f"Due {date_words(due_on, 'near')}"
    return f"Due {date_words(due_on, 'weekday', seen_from=today)}"
