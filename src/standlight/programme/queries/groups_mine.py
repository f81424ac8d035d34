"""A musician's own groups: the names of those they sit with, once a director has shared them."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from django.utils import timezone

from standlight.programme.models import Account, GroupSeat
from standlight.programme.queries.groups_words import ROLE_WORDS
from standlight.programme.queries.years import year_begins


@dataclass(frozen=True, slots=True)
class MyGroup:
    """One group of mine: who else is in it, and what I do in it (a role's name and what it is)."""

    title: str
    ensemble: str
    number: int
    shared_at: datetime.datetime
    others: tuple[str, ...]
    role: str
    role_words: str


def my_groups(account: Account) -> tuple[MyGroup, ...]:
    """The shared groups of this school year that ``account`` sits in, the newest first."""
    begins = year_begins(account.programme_id, timezone.localdate())
    seats = (
        GroupSeat.objects.visible_to(account)
        .select_related("grouping__ensemble", "musician")
        .order_by("-grouping__shared_at", "-grouping", "musician__given_name", "pk")
    )
    if begins is not None:
        seats = seats.filter(grouping__shared_at__date__gte=begins)
    found: dict[int, list[GroupSeat]] = {}
    for seat in seats:
        found.setdefault(seat.grouping_id, []).append(seat)
    return tuple(_mine(account, rows) for rows in found.values())


def _mine(account: Account, rows: list[GroupSeat]) -> MyGroup:
    """One group as its member sees it."""
    own = next(row for row in rows if row.musician.account_id == account.pk)
    name, words = ROLE_WORDS.get(own.role, ("", ""))
    return MyGroup(
        own.grouping.title,
        own.grouping.ensemble.name,
        own.number,
        own.grouping.shared_at,
        tuple(
            f"{row.musician.name}{_role(row)}" for row in rows if row is not own
        ),
        name,
        words,
    )


def _role(row: GroupSeat) -> str:
    """Somebody else's role behind their name."""
    return f" ({ROLE_WORDS[row.role][0]})" if row.role in ROLE_WORDS else ""
