"""The places of the director, in the order of the spine: one table.

A place appears when it works; later ones join the table, never a branch.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest

from standlight.programme.accommodations import LARGE_PRINT


@dataclass(frozen=True, slots=True)
class Place:
    """A named place: its ``key`` in templates, its word, the name of its first page."""

    key: str
    word: str
    url_name: str
    on_phone: bool = True


DIRECTOR_PLACES = (
    Place("today", "Today", "today"),
    Place("musicians", "Musicians", "musicians"),
    Place("folder", "Folder", "folder"),
    Place("season", "Season", "season", on_phone=False),
    Place("desk", "Desk", "desk"),
    Place("rehearse", "Rehearse", "rehearse", on_phone=False),
    Place("talks", "Talks", "talks", on_phone=False),
    Place("marks", "Marks", "marks", on_phone=False),
    Place("raters", "Raters", "raters", on_phone=False),
)
"""The spine; on a phone the bar holds the four marked ``on_phone``, the rest stand at the foot."""


def spine(request: HttpRequest) -> dict[str, tuple[Place, ...]]:
    """Template context: the places of the person signed in, none for a musician or guest."""
    account = getattr(request, "user", None)
    is_director = bool(getattr(account, "is_authenticated", False) and account.is_director)
    return {"places": DIRECTOR_PLACES if is_director else ()}


def print_size(request: HttpRequest) -> dict[str, bool]:
    """Template context: whether the musician signed in has their pages in larger print."""
    account = getattr(request, "user", None)
    is_musician = bool(getattr(account, "is_authenticated", False) and account.is_musician)
    musician = getattr(account, "musician", None) if is_musician else None
    return {"large_print": musician is not None and LARGE_PRINT in musician.accommodations}
