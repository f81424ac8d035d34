"""Making groups of an ensemble, changing them by hand, keeping, sharing; and wishes about them."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from standlight.errors import StandlightError
from standlight.planning import PARTS, make_groups
from standlight.programme.dates import date_words
from standlight.programme.models import (
    Account,
    Ensemble,
    Grouping,
    GroupSeat,
    GroupWish,
    Musician,
)
from standlight.programme.queries.groups_request import pk_of, request_of, seats_here

LONGEST_TITLE = 80
LARGEST = 60
"""No group is larger: a whole large ensemble (our choice; only a slip is caught by it)."""

DRAFT_DAYS = 14
"""A draft that nobody kept goes after two weeks of lessons (our choice)."""


@dataclass(frozen=True, slots=True)
class Sits:
    """A musician, and the number of the group in which the page showed them."""

    musician_pk: int
    number: int


@transaction.atomic
def make(account: Account, grouping: Grouping, musicians: Collection[int]) -> Grouping:
    """Make a draft: ``grouping`` (not saved yet) says how, ``musicians`` who; it is saved.

    An earlier draft of the same director and ensemble goes. Raises ``StandlightError`` for what
    no groups can be made of.
    """
    grouping.title = " ".join(grouping.title.split())[:LONGEST_TITLE] or (
        f"Groups of {grouping.size}, {date_words(timezone.localdate())}"
    )
    here = {seat.musician_pk for seat in seats_here(grouping.ensemble)}
    chosen = here & set(musicians)
    if len(chosen) < 2:
        raise StandlightError(
            "groups need two musicians at least", slip="tick a section, or fewer as absent"
        )
    if not 2 <= grouping.size <= LARGEST:
        raise StandlightError(
            f"a group of {grouping.size} cannot be made", slip=f"choose 2 to {LARGEST}"
        )
    if grouping.parts not in PARTS:
        raise StandlightError("no way to treat parts was chosen", slip="an old page? Load it again")
    Grouping.objects.filter(
        ensemble=grouping.ensemble, made_by=account, kept_at__isnull=True
    ).delete()
    grouping.made_by, grouping.made_at = account, timezone.now()
    grouping.save()
    _seat(grouping, chosen)
    return grouping


@transaction.atomic
def draw_again(grouping: Grouping) -> None:
    """Another way to sit by the same wishes; only of a draft, for what is kept stays."""
    if grouping.kept_at is not None:
        raise StandlightError("these groups are kept", slip="make new ones")
    grouping.seed += 1
    grouping.save(update_fields=["seed"])
    chosen = set(grouping.seats.values_list("musician_id", flat=True))
    grouping.seats.all().delete()
    _seat(grouping, chosen)


def _seat(grouping: Grouping, musicians: Collection[int]) -> None:
    """Find groups and write them down."""
    found = make_groups(request_of(grouping, musicians))
    seats = []
    for number, group in enumerate(found.groups, start=1):
        roles = {key: role for role, key in group.roles}
        seats += [
            GroupSeat(
                grouping=grouping, number=number, musician_id=pk_of(key), role=roles.get(key, "")
            )
            for key in group.members
        ]
    GroupSeat.objects.bulk_create(seats)


@transaction.atomic
def swap(grouping: Grouping, one: Sits, other: Sits) -> str:
    """Let two musicians change places, roles too: a role stays in its group. Both names.

    Raises ``StandlightError`` for two of one group, for who is in none, and where somebody sits
    in another group than the page showed: a second tap would undo the first.
    """
    rows = grouping.seats.select_for_update(of=("self",)).select_related("musician")
    pair = {sits.musician_pk: sits.number for sits in (one, other)}
    seats = {seat.musician_id: seat for seat in rows.filter(musician__in=list(pair))}
    if len(seats) < 2:
        raise StandlightError("two musicians are needed to swap", slip="choose two different names")
    for pk, seat in seats.items():
        if seat.number != pair[pk]:
            raise StandlightError(
                f"{seat.musician.name} sits in group {seat.number} by now",
                slip="pressed twice? Look before you change again",
            )
    first, second = seats[one.musician_pk], seats[other.musician_pk]
    if first.number == second.number:
        raise StandlightError(
            f"{first.musician.name} and {second.musician.name} are in the same group",
            slip="choose somebody of another group",
        )
    first.number, second.number = second.number, first.number
    first.role, second.role = second.role, first.role
    first.save(update_fields=["number", "role"])
    second.save(update_fields=["number", "role"])
    return f"{first.musician.name} and {second.musician.name}"


@transaction.atomic
def keep(grouping: Grouping, title: str) -> None:
    """Keep a draft, or give kept groups another title."""
    words = " ".join(title.split())
    if not 0 < len(words) <= LONGEST_TITLE:
        raise StandlightError(f"the groups need a title of 1 to {LONGEST_TITLE} characters")
    grouping.title = words
    grouping.kept_at = grouping.kept_at or timezone.now()
    grouping.save(update_fields=["title", "kept_at"])


@transaction.atomic
def share(grouping: Grouping, shown: bool) -> None:
    """Let each musician read the names of their own group, or no longer; only of kept groups."""
    if shown and grouping.kept_at is None:
        raise StandlightError("these groups are not kept yet", slip="keep them first")
    grouping.shared_at = timezone.now() if shown else None
    grouping.save(update_fields=["shared_at"])


@transaction.atomic
def drop(grouping: Grouping) -> None:
    """Remove groups; they count no longer as earlier ones."""
    grouping.delete()


@transaction.atomic
def add_wish(account: Account, ensemble: Ensemble, one: int, other: int, apart: bool) -> None:
    """Wish that two are kept apart, or together; a second wish about the pair replaces the first.

    Raises ``StandlightError`` unless both sit in the ensemble and are two.
    """
    low, high = sorted((one, other))
    here = {seat.musician_pk for seat in seats_here(ensemble)}
    if low == high or not {low, high} <= here:
        raise StandlightError(
            "a wish needs two musicians of this ensemble", slip="choose two different names"
        )
    GroupWish.objects.update_or_create(
        ensemble=ensemble,
        first=Musician.objects.get(pk=low),
        second=Musician.objects.get(pk=high),
        defaults={"apart": apart, "made_by": account},
    )


@transaction.atomic
def drop_wish(wish: GroupWish) -> None:
    """Give a wish up."""
    wish.delete()


@transaction.atomic
def remove_old_drafts(now: datetime) -> int:
    """Remove drafts that nobody kept for `DRAFT_DAYS`; how many. Safe to repeat."""
    old = Grouping.objects.filter(
        kept_at__isnull=True, made_at__lt=now - timedelta(days=DRAFT_DAYS)
    )
    count = old.count()
    old.delete()
    return count
