"""Which takes a rater should hear once more without knowing: hidden repeats."""

from __future__ import annotations

import datetime
import hashlib
from collections import defaultdict
from collections.abc import Iterable

from django.db.models import Exists, OuterRef
from django.utils import timezone

from standlight.programme.models import Account, GivenLevel, PlayingCheck, SecondHearing, Take, Turn

A_DAY = 2
"""Takes heard again on one day: about a minute and a half of a director's evening; our choice."""

FEWEST_HOURS = 4
"""Hours since the own levels, so that the take is not simply remembered; our choice."""

MOST_DAYS = 60
"""Days since then at most: the own standard of last year is another question; our choice."""


def second_hearings_due(
    account: Account,
    *,
    like: PlayingCheck | None = None,
    now: datetime.datetime | None = None,
) -> tuple[int, ...]:
    """Turns (keys) that ``account`` hears again today, at most ``A_DAY`` with those done today.

    Drawn by the day from takes with sound that they rated whole, some hours to weeks ago, without
    the readings in view unless that is how they always rate; each once. With ``like`` only
    takes of checks with its criteria, so that they do not stand out among its takes. The same
    day and the same takes give the same choice. Two queries.
    """
    now = now or timezone.now()
    today = timezone.localtime(now).date()
    before = list(
        SecondHearing.objects.filter(rater=account).values_list("turn_id", "done_at")
    )
    done = sum(at is not None and timezone.localtime(at).date() == today for _, at in before)
    heard = {turn for turn, at in before if at is not None}
    criteria = like and set(like.criteria)
    since = now - datetime.timedelta(days=MOST_DAYS)
    fitting = [
        turn
        for turn, asked in _rated(
            account, since, now - datetime.timedelta(hours=FEWEST_HOURS)
        ).items()
        if turn not in heard and (criteria is None or asked == criteria)
    ]
    return _drawn(fitting, f"{today} {account.pk}")[: max(0, A_DAY - done)]


def _rated(
    account: Account, since: datetime.datetime, before: datetime.datetime
) -> dict[int, set[str]]:
    """Turns with sound whose every criterion ``account`` rated in that time; with the criteria."""
    sound = Take.objects.filter(turn=OuterRef("pk"), chosen=True).exclude(
        state__in=(Take.ARRIVING, *Take.SOUNDLESS)
    )
    seen = Turn.objects.visible_to(account).filter(Exists(sound), sent_at__isnull=False)
    rows = GivenLevel.objects.filter(
        rater=account,
        retired_at__isnull=True,
        given_at__range=(since, before),
        turn__in=seen.order_by().values("pk"),
    )
    asked: dict[int, set[str]] = {}
    given: dict[int, set[str]] = defaultdict(set)
    for turn, criterion, with_readings, criteria in rows.values_list(
        "turn_id", "criterion", "after_readings", "turn__check_row__criteria"
    ):
        asked[turn] = set(criteria)
        if account.readings_before_rating or not with_readings:
            given[turn].add(criterion)
    return {turn: criteria for turn, criteria in asked.items() if criteria <= given[turn]}


def _drawn(turns: Iterable[int], seed: str) -> tuple[int, ...]:
    """The turns in an order that the seed alone decides; leaving one out moves no other.

    >>> full = _drawn(range(9), "Monday")
    >>> tuple(one for one in full if one != 4) == _drawn([n for n in range(9) if n != 4], "Monday")
    True
    """
    return tuple(
        sorted(turns, key=lambda turn: hashlib.sha256(f"{seed} {turn}".encode()).digest())
    )
