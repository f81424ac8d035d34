"""When a study was made, in words: every page that shows one says so."""

from __future__ import annotations

import datetime

from standlight.programme.dates import date_words

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
    words = f"As of {date_words(made_at, 'clock')}."
    return f"{words} {CHANGED}" if changed_since else words
