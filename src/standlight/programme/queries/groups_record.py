"""What groups hold of one musician, for the file of everything kept; others are never named."""

from __future__ import annotations

from typing import Any

from django.db.models import Q

from standlight.programme.models import Account, GroupSeat, GroupWish, Musician
from standlight.programme.queries.groups_words import ROLE_WORDS

Json = dict[str, Any]


def group_rows(account: Account, musician: Musician) -> list[Json]:
    """The groups that ``musician`` sat in, as far as ``account`` may see them."""
    seats = GroupSeat.objects.visible_to(account).filter(musician=musician)
    return [
        {
            "groups": seat.grouping.title,
            "ensemble": seat.grouping.ensemble.name,
            "made_at": seat.grouping.made_at,
            "group": seat.number,
            "role": ROLE_WORDS[seat.role][0] if seat.role in ROLE_WORDS else "",
            "shared_at": seat.grouping.shared_at,
        }
        for seat in seats.select_related("grouping__ensemble")
    ]


def wish_rows(account: Account, musician: Musician) -> list[Json]:
    """Wishes about ``musician`` without whom else they are about: that is the other's record."""
    rows = GroupWish.objects.visible_to(account).filter(Q(first=musician) | Q(second=musician))
    return [
        {
            "wish": "to be kept apart from somebody" if row.apart else
            "to be kept together with somebody",
            "ensemble": row.ensemble.name,
            "made_at": row.made_at,
        }
        for row in rows.select_related("ensemble")
    ]  # fmt: skip
