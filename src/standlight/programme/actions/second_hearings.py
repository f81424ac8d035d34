"""Hearing a take once more without knowing: what a rater's steadiness is read from."""

from __future__ import annotations

from collections.abc import Mapping

from django.db import transaction
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme import jobs
from standlight.programme.models import Account, GivenLevel, SecondHearing, Turn
from standlight.programme.queries.sessions import minute_in_session
from standlight.ratings.levels import level_name


@transaction.atomic
def hear_again(account: Account, turn: Turn, levels: Mapping[str, str]) -> SecondHearing:
    """Keep ``account``'s second levels for a turn beside the first, which stay as they are.

    ``levels`` as for ``desk.rate``. The same form sent twice is one hearing, the first one.
    Raises ``NotAllowed`` for a turn they have not rated or a criterion they did not rate, and
    ``StandlightError`` for a level that is none or no level at all.
    """
    done = SecondHearing.objects.filter(turn=turn, rater=account, done_at__isnull=False).first()
    if done is not None:
        return done
    first = list(
        GivenLevel.objects.select_for_update().filter(
            turn=turn, rater=account, retired_at__isnull=True
        )
    )
    first_levels = {row.criterion: row.value for row in first}
    if not levels:
        raise StandlightError("no level was given", slip="press 1, 2, 3 or 4")
    for criterion, value in levels.items():
        if criterion not in first_levels:
            raise NotAllowed(f"you gave no level for {criterion!r} the first time")
        level_name(value)
    now = timezone.now()
    first_at = min(row.given_at for row in first)
    hearing, _ = SecondHearing.objects.update_or_create(
        turn=turn,
        rater=account,
        defaults={
            "levels": dict(levels),
            "first_levels": first_levels,
            "first_at": first_at,
            "done_at": now,
            "first_minute": minute_in_session(account, first_at),
            "again_minute": minute_in_session(account, now),
        },
    )
    jobs.ask_to_study(account.programme_id)
    return hearing
