"""What a director says about trying again: which try counts, and until when a new one may come."""

from __future__ import annotations

from datetime import date

from django.db import transaction

from standlight.errors import StandlightError
from standlight.programme.actions.checks import may_direct
from standlight.programme.models import Account, PlayingCheck


@transaction.atomic
def say_which_try(
    account: Account, check: PlayingCheck, counts: str, until: date | None
) -> PlayingCheck:
    """Keep which of several tries counts and the last day of a new one; ``None`` is any time.

    It may change after tries were sent: levels stay, and marks of an open period follow. Raises
    ``StandlightError`` for a rule that is none and for a day before the check is due.
    """
    may_direct(account, check.ensemble_id)
    if counts not in PlayingCheck.TRY_COUNTS:
        raise StandlightError(f"{counts!r} is no rule for tries", slip="choose last or best")
    if until is not None and until < check.due_on:
        raise StandlightError(
            "new tries would end before the check is due", slip="choose a later day, or none"
        )
    check.try_counts, check.tries_until = counts, until
    check.save(update_fields=["try_counts", "tries_until"])
    return check
