"""How long a rater had been at it when a level was given: minutes since the session began."""

from __future__ import annotations

import datetime
from collections.abc import Iterable

from standlight.programme.models import Account, GivenLevel, SecondHearing

SESSION_BREAK = datetime.timedelta(minutes=45)
"""A longer pause between two levels begins a new session; our choice, no source."""

LONGEST_SESSION = datetime.timedelta(hours=12)
"""No session is looked for further back than this."""


def minute_in_session(account: Account, moment: datetime.datetime) -> float:
    """Minutes from the first level of ``account``'s session to ``moment``. Two queries."""
    span = (moment - LONGEST_SESSION, moment)
    given = GivenLevel.objects.filter(rater=account, given_at__range=span)
    again = SecondHearing.objects.filter(rater=account, done_at__range=span)
    times = [*given.values_list("given_at", flat=True), *again.values_list("done_at", flat=True)]
    return (moment - session_start(times, moment)).total_seconds() / 60


def session_start(
    times: Iterable[datetime.datetime], moment: datetime.datetime
) -> datetime.datetime:
    """The first of the ``times`` from which no longer pause lies before ``moment``.

    >>> at = datetime.datetime(2026, 11, 2, 19, 0)
    >>> minutes = [datetime.timedelta(minutes=n) for n in (0, 50, 60, 80)]
    >>> session_start([at + one for one in minutes], at + datetime.timedelta(minutes=90)).minute
    50
    """
    start = moment
    for time in sorted((one for one in times if one <= moment), reverse=True):
        if start - time > SESSION_BREAK:
            break
        start = time
    return start
