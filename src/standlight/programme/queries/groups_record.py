"""What groups hold of one musician, for the file of everything kept; others are never named.

Wishes are left out: one fact about two musicians, which a director noted and neither of them sent,
wrote or was given. In the file of one it would tell a family about the other.
"""

from __future__ import annotations

from typing import Any

from standlight.programme.models import Account, GroupSeat, Musician
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
