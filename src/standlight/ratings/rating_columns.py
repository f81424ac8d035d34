"""What a typed table of ratings is made of: its columns and its levels, for every reader of one."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from standlight.errors import UnreadableRatings

ASKED = ("student", "task", "rater")
MAY_BE_THERE = ("ensemble", "take", "occasion", "rater_class")
LONG = ("criterion", "level")

HIGHEST_LEVEL = 100
"""A level above is taken for a slip: common practice, no source."""


def column_names(cells: Sequence[str], name: str) -> list[str]:
    """The names in the head of the table ``name``; known ones in small letters.

    Raises `UnreadableRatings` where a column is missing, stands twice, or no criterion is there.

    >>> column_names(["Student", "task", "RATER", "Tone"], "t.csv")
    ['student', 'task', 'rater', 'Tone']
    """
    known = {*ASKED, *MAY_BE_THERE, *LONG}
    plain = [cell.strip() for cell in cells]
    names = [cell.lower() if cell.lower() in known else cell for cell in plain]
    missing = [column for column in ASKED if column not in names]
    if missing:
        raise UnreadableRatings(
            f"there is no column {', '.join(missing)}", where=name, slip="another separator?"
        )
    if len(set(names)) < len(names):
        raise UnreadableRatings("two columns have the same name", where=name)
    if not criterion_columns(names):
        raise UnreadableRatings("there is no column of a criterion", where=name)
    return names


def is_long(names: Sequence[str]) -> bool:
    """True for a table with one level a row."""
    return set(LONG) <= set(names)


def criterion_columns(names: Sequence[str]) -> list[str]:
    """The columns that hold levels; of a long table ``level``."""
    if is_long(names):
        return ["level"]
    return [column for column in names if column and column not in {*ASKED, *MAY_BE_THERE}]


@lru_cache(maxsize=1024)
def typed_level(text: str) -> int | None:
    """A whole level from 0 to ``HIGHEST_LEVEL``, or None.

    >>> typed_level("3"), typed_level("3.0"), typed_level("3.5"), typed_level("101")
    (3, 3, None, None)
    """
    whole, _, rest = text.partition(".")
    if not (whole.isascii() and whole.isdigit()) or rest.strip("0") or len(whole) > 3:
        return None
    return int(whole) if int(whole) <= HIGHEST_LEVEL else None
