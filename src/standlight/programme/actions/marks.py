"""What a director does in a marking period: add one, excuse a musician from a check."""

from __future__ import annotations

import datetime

from django.db import transaction

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.models import Account, MarkingPeriod, Musician, PlayingCheck, Turn


@transaction.atomic
def add_period(
    account: Account, *, name: str, starts_on: datetime.date | None, ends_on: datetime.date | None
) -> MarkingPeriod:
    """Add a marking period; raises ``StandlightError`` without a name or with days swapped."""
    name = " ".join(name.split())
    if not name or len(name) > 60:
        raise StandlightError("a marking period needs a name of at most 60 characters")
    if starts_on is None or ends_on is None:
        raise StandlightError("a marking period needs its first and its last day")
    if ends_on < starts_on:
        raise StandlightError("the last day comes before the first", slip="were the two swapped?")
    return MarkingPeriod.objects.create(
        programme=account.programme, name=name, starts_on=starts_on, ends_on=ends_on
    )


@transaction.atomic
def excuse(check: PlayingCheck, musician: Musician, excused: bool) -> Turn:
    """Excuse a musician from a check, or ask again; a turn that was sent cannot be excused."""
    turns = Turn.objects.select_for_update().filter(check_row=check, musician=musician)
    if turns.filter(sent_at__isnull=False).exists():
        raise NotAllowed("this check was sent already", where=musician.name)
    turn = turns.order_by("attempt").first() or Turn(check_row=check, musician=musician, attempt=1)
    turn.excused = excused
    turn.save()
    return turn
