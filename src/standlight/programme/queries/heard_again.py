"""What a musician reads when a live turn was heard more than once: which hearing counts."""

from __future__ import annotations

from collections.abc import Mapping

from standlight.criteria import CRITERIA
from standlight.programme.dates import date_words
from standlight.programme.models import HeardAgain, Turn
from standlight.programme.queries.musician_words import LEVEL_WORDS


def again_sentences(turn: Turn) -> tuple[str, ...]:
    """One sentence that says what counts and one for each hearing before; empty after one alone."""
    rows = list(HeardAgain.objects.filter(turn=turn))
    if not rows:
        return ()
    newest = rows[-1]
    kept = [key for key in turn.check_row.criteria if key not in newest.levels]
    counts = f"You were heard again on {date_words(newest.heard_at)}. That hearing counts."
    if kept:
        names = " and ".join(CRITERIA[key].name.lower() for key in kept)
        counts += f" For {names} the hearing before counts."
    before = (f"On {date_words(row.earlier_at)}: {_in_words(row.earlier)}." for row in rows[::-1])
    return (counts, *before)


def _in_words(levels: Mapping[str, str]) -> str:
    """Levels as a musician reads them.

    >>> _in_words({"rhythm": "3"})
    'rhythm secure'
    """
    return ", ".join(
        f"{CRITERIA[key].name.lower()} {LEVEL_WORDS[value].lower()}"
        for key, value in levels.items()
    )
