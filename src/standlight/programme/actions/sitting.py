"""What a director settles about hearing: the order, a rest, where a take's sound begins."""

from __future__ import annotations

import secrets
from collections.abc import Mapping

from django.db import transaction
from django.utils import timezone

from standlight.errors import StandlightError
from standlight.programme.actions.desk import rate
from standlight.programme.actions.second_hearings import hear_again
from standlight.programme.models import Account, DeskSitting, PlayingCheck, Take, TakeStart, Turn
from standlight.programme.queries.desk_orders import places_again
from standlight.programme.queries.desk_sitting import (
    A_PAUSE,
    AGAIN,
    AtDesk,
    queue_in,
    rated_whole,
)
from standlight.programme.queries.second_hearings import second_hearings_due
from standlight.programme.queries.sessions import SESSION_BREAK

SEEDS = 2**31
"""A seed fits a database's positive integer."""


@transaction.atomic
def choose_order(
    account: Account, check: PlayingCheck, *, order: str, blind: bool
) -> DeskSitting:
    """Hear the takes in ``order`` (a key of ``DeskSitting.ORDERS``), with codes if ``blind``.

    Levels given so far stay. Raises ``StandlightError`` for an order that is none.
    """
    if order not in DeskSitting.ORDERS:
        raise StandlightError(f"{order!r} is no order of takes", slip="choose one of the list")
    sitting = _sitting(account, check)
    sitting.order, sitting.blind = order, blind
    sitting.save(update_fields=["order", "blind"])
    return sitting


@transaction.atomic
def went_on(account: Account, check: PlayingCheck, *, whole: bool = False) -> DeskSitting:
    """Note that ``account`` saved levels or an answer; ``whole`` when a take has all its levels.

    A pause starts the clock of the break prompt anew, a longer one the sitting, with repeats of
    its own.
    """
    sitting = _sitting(account, check)
    now = timezone.now()
    gap = now - sitting.last_at
    if gap > SESSION_BREAK:
        _start(sitting, account, check)
    elif gap > A_PAUSE:
        sitting.rested_at = now
    sitting.last_at = now
    sitting.done += whole
    sitting.save()
    return sitting


@transaction.atomic
def keep_levels(
    account: Account, turn: Turn, at: AtDesk, levels: Mapping[str, str]
) -> DeskSitting:
    """Keep the ``levels`` given at the Desk and note it in the sitting, which comes back.

    Of a take heard a second time they are kept beside the first ones, and only when they are
    whole: half a second hearing is none. Raises as ``desk.rate`` and ``hear_again``.
    """
    whole = set(at.criteria) <= set(levels)
    if at.slipped == AGAIN:
        if whole:
            hear_again(account, turn, levels)
        return went_on(account, at.sitting.check_row, whole=whole)
    before = rated_whole(account, turn)
    rate(account, turn, levels)
    now_whole = not before and rated_whole(account, turn)
    check = at.sitting.check_row if at.sitting is not None else turn.check_row
    return went_on(account, check, whole=now_whole)


@transaction.atomic
def go_on_rested(sitting: DeskSitting) -> None:
    """Put the break prompt aside for another span."""
    sitting.rested_at = sitting.last_at = timezone.now()
    sitting.save(update_fields=["rested_at", "last_at"])


@transaction.atomic
def start_take_at(account: Account, take: Take, seconds: float) -> TakeStart:
    """Let the sound of ``take`` begin at ``seconds``; raises ``StandlightError`` outside of it."""
    if not 0.0 <= seconds <= (take.seconds or seconds):
        raise StandlightError(
            f"the take has no second {seconds:g}", slip="counted from another take?"
        )
    start, _ = TakeStart.objects.update_or_create(
        take=take, defaults={"seconds": round(seconds, 2), "set_by": account}
    )
    return start


def _sitting(account: Account, check: PlayingCheck) -> DeskSitting:
    """The sitting of this director with this check, made when there is none."""
    sitting, made = DeskSitting.objects.get_or_create(
        account=account, check_row=check, defaults={"seed": secrets.randbelow(SEEDS)}
    )
    if made:
        _start(sitting, account, check)
        sitting.save()
    return sitting


def _start(sitting: DeskSitting, account: Account, check: PlayingCheck) -> None:
    """A new sitting: nothing done, rested, and its own takes to hear again, at places of its own.

    A take that waits here comes anyway, so it is no repeat.
    """
    now = timezone.now()
    sitting.started_at = sitting.last_at = sitting.rested_at = now
    sitting.done = 0
    waiting = queue_in(account, check, sitting).turns
    due = [pk for pk in second_hearings_due(account, like=check, now=now) if pk not in waiting]
    places = places_again(len(due), len(waiting), sitting.seed + now.toordinal())
    sitting.again = [[pk, place] for pk, place in zip(due, places, strict=False)]

