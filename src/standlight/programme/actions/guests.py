"""Guests by an expiring link: making it, closing it, and the levels a guest gives."""

from __future__ import annotations

import datetime
import secrets
from collections.abc import Collection, Mapping

from django.core.signing import BadSignature, Signer
from django.db import transaction
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme import jobs
from standlight.programme.models import (
    Account,
    GuestLevel,
    GuestLink,
    GuestTake,
    PlayingCheck,
)
from standlight.programme.queries.desk_orders import code_of, drawn
from standlight.programme.queries.guests import asked_of, may_be_given
from standlight.ratings.levels import level_name

LONGEST_DAYS = 30
"""An address that lives longer is one nobody remembers; our choice."""

SEEDS = 2**31
SIGNER = Signer(salt="standlight.guest")
"""The address is the row's key with a signature: a copy of the database alone opens nothing."""


def token_of(link: GuestLink) -> str:
    """What stands in the guest's address."""
    return SIGNER.sign(str(link.key))


def link_of(token: str) -> GuestLink | None:
    """The link that an address names, ended and closed ones too; ``None`` for a forged one."""
    try:
        key = SIGNER.unsign(token)
    except BadSignature:
        return None
    rows = GuestLink.objects.select_related("check_row__ensemble__programme", "check_row__piece")
    return rows.select_related("made_by").filter(key=key).first()


@transaction.atomic
def ask_guest(
    account: Account,
    check: PlayingCheck,
    turns: Collection[int],
    *,
    label: str,
    days: int,
    counts_as: str = GuestLink.BESIDE,
    note: str = "",
) -> GuestLink:
    """Make an address to the sent ``turns`` of ``check``; it ends with the day in ``days``.

    Takes come in an order and under codes drawn by chance. Raises ``StandlightError`` for no
    takes, no label, a wrong number of days; ``NotAllowed`` for a turn that may not be given.
    """
    label, note = " ".join(label.split()), " ".join(note.split())
    if not label:
        raise StandlightError("say who it is for", slip="only directors see it")
    if len(label) > 60 or len(note) > 240:
        raise StandlightError("these words are too long", slip="60 letters for who, 240 to them")
    if not 1 <= days <= LONGEST_DAYS:
        raise StandlightError(f"a link works for 1 to {LONGEST_DAYS} days, not {days}")
    if counts_as not in GuestLink.COUNTS_AS:
        raise StandlightError(f"{counts_as!r} is not a way to count a guest's levels")
    if not turns:
        raise StandlightError("no take was chosen", slip="tick some, or take them all")
    people = dict(may_be_given(account, check).values_list("pk", "musician_id"))
    if set(turns) - set(people):
        raise NotAllowed("a take that cannot be given to a guest was chosen")
    link = GuestLink.objects.create(
        check_row=check,
        label=label,
        note=note,
        counts_as=counts_as,
        seed=secrets.randbelow(SEEDS),
        made_by=account,
        expires_at=end_of_day(timezone.localdate() + datetime.timedelta(days)),
    )
    order = sorted(set(turns), key=lambda turn: drawn(link.seed, turn))
    GuestTake.objects.bulk_create(
        GuestTake(link=link, turn_id=turn, place=place, code=code_of(link.seed, people[turn]))
        for place, turn in enumerate(order, start=1)
    )
    return link


def end_of_day(day: datetime.date) -> datetime.datetime:
    """The last minute of a day in the school's own time."""
    moment = datetime.time(23, 59)
    return datetime.datetime.combine(day, moment, timezone.get_current_timezone())


@transaction.atomic
def close_link(link: GuestLink) -> None:
    """End a link now; levels that were given stay. Closing twice changes nothing."""
    if link.closed_at is None:
        link.closed_at = timezone.now()
        link.save(update_fields=["closed_at"])


@transaction.atomic
def note_opened(link: GuestLink) -> None:
    """Remember that the guest came, the first time."""
    GuestLink.objects.filter(pk=link.pk, opened_at__isnull=True).update(opened_at=timezone.now())


@transaction.atomic
def guest_rates(take: GuestTake, levels: Mapping[str, str]) -> None:
    """Keep a guest's levels for a take; a changed one retires the old row.

    Raises ``NotAllowed`` once the link has ended or was closed, or for a criterion that the check
    does not ask; ``StandlightError`` for a level that is none.
    """
    link = GuestLink.objects.select_related("check_row__ensemble").get(pk=take.link_id)
    now = timezone.now()
    if link.closed_at is not None or link.expires_at <= now:
        raise NotAllowed("this link has ended, so these levels are not kept")
    for criterion, value in levels.items():
        if criterion not in asked_of(link):
            raise NotAllowed(f"the check does not ask for {criterion!r}")
        level_name(value)
    held = {row.criterion: row for row in take.levels.filter(retired_at__isnull=True)}
    changed = {
        criterion: value
        for criterion, value in levels.items()
        if criterion not in held or held[criterion].value != value
    }
    if not changed:
        return
    take.levels.filter(pk__in=[held[key].pk for key in changed if key in held]).update(
        retired_at=now
    )
    GuestLevel.objects.bulk_create(
        GuestLevel(take=take, criterion=criterion, value=value, given_at=now)
        for criterion, value in changed.items()
    )
    jobs.ask_to_study(link.check_row.ensemble.programme_id)
