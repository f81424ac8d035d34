"""What guests gave, in words: beside a director's own levels, never in their place."""

from __future__ import annotations

from django.db.models import QuerySet

from standlight.criteria import CRITERIA
from standlight.programme.models import GuestLevel, Turn
from standlight.ratings.levels import level_name


def guests_said(turn: Turn) -> tuple[str, ...]:
    """One line a guest: what they gave this turn. Two queries."""
    rows = GuestLevel.objects.filter(take__turn=turn)
    labels = dict(rows.values_list("take", "take__link__label"))
    said = levels_said(rows)
    return tuple(f"{labels[take]}, guest: {', '.join(words)}" for take, words in said.items())


def levels_said(rows: QuerySet[GuestLevel]) -> dict[int, tuple[str, ...]]:
    """The standing levels in words, by the guest's take. One query."""
    said: dict[int, list[str]] = {}
    for row in rows.filter(retired_at__isnull=True).order_by("take", "pk"):
        words = f"{CRITERIA[row.criterion].name} {level_name(row.value).lower()}"
        said.setdefault(row.take_id, []).append(words)
    return {take: tuple(words) for take, words in said.items()}
