"""Which of a musician's tries at one check counts, and until when a new one may be made.

Marks, Today and the musician's page all ask here. A check says whether the last or the best try
counts, and may name a last day for new tries; without one a musician may try again at any time.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Protocol, TypeVar

from django.utils import timezone

from standlight.programme.dates import date_words
from standlight.programme.models import PlayingCheck


class ATry(Protocol):
    """What is asked of a try: its number from 1, when it was sent, its levels by criterion."""

    @property
    def attempt(self) -> int:
        """Number of the try, from 1."""

    @property
    def sent_at(self) -> datetime.datetime | None:
        """When it was sent."""

    @property
    def levels(self) -> Mapping[str, str]:
        """Criterion to ``"1"``..``"4"``, ``not_shown`` or ``not_heard``."""


Try = TypeVar("Try", bound=ATry)


@dataclass(frozen=True, slots=True)
class TryRule:
    """``best``: the best try counts, else the last. ``until`` is the last day of a new try."""

    best: bool = False
    until: datetime.date | None = None

    def is_over(self, today: datetime.date) -> bool:
        """True when no new try may begin any more.

        >>> TryRule(until=datetime.date(2026, 11, 20)).is_over(datetime.date(2026, 11, 20))
        False
        """
        return self.until is not None and today > self.until

    def counting(self, tries: Iterable[Try]) -> Try | None:
        """The try that counts: sent, with a level, in time; ``None`` when there is none.

        The first try is in time whenever it comes: ``until`` is about trying again. The best is
        the one with the highest mean of its levels; of equal ones the later, and one without
        any number comes after all others.
        """
        rated = [one for one in tries if one.sent_at and one.levels and self._in_time(one)]
        rated.sort(key=lambda one: one.attempt)
        if not rated:
            return None
        return max(rated, key=lambda one: (_mean(one), one.attempt)) if self.best else rated[-1]

    def words(self, today: datetime.date) -> str:
        """The rule as a musician reads it.

        >>> TryRule(best=True).words(datetime.date(2026, 11, 20))
        'You may try again. Your best try counts.'
        >>> TryRule(until=datetime.date(2026, 11, 20)).words(datetime.date(2026, 11, 18))
        'You may try again until Friday, Nov 20. Your last try counts.'
        >>> TryRule(until=datetime.date(2026, 11, 20)).words(datetime.date(2026, 11, 21))
        'New tries ended on Friday, Nov 20. Your last try counts.'
        """
        counts = f"Your {'best' if self.best else 'last'} try counts."
        if self.until is None:
            return f"You may try again. {counts}"
        day = date_words(self.until, "weekday", seen_from=today)
        if self.is_over(today):
            return f"New tries ended on {day}. {counts}"
        return f"You may try again until {day}. {counts}"

    def _in_time(self, one: ATry) -> bool:
        if self.until is None or one.attempt == 1 or one.sent_at is None:
            return True
        return timezone.localdate(one.sent_at) <= self.until


def rule_of(check: PlayingCheck, extra_days: int = 0) -> TryRule:
    """The check's rule; ``extra_days`` are the musician's own, for everything that is due."""
    until = check.tries_until
    if until is not None:
        until += datetime.timedelta(days=extra_days)
    return TryRule(check.try_counts == PlayingCheck.BEST, until)


def _mean(one: ATry) -> float:
    """Mean of the levels that are numbers; below every level when none is."""
    numbers = [int(value) for value in one.levels.values() if value.isdigit()]
    return sum(numbers) / len(numbers) if numbers else 0.0
