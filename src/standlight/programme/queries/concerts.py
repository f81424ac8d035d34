"""The next concert of an ensemble, in words, for every page that counts down to it."""

from __future__ import annotations

import datetime
from collections.abc import Iterable

from standlight.programme.dates import days_ahead
from standlight.programme.models import ConcertCycle


def next_concert(cycles: Iterable[ConcertCycle], day: datetime.date) -> str:
    """The nearest concert from ``day`` on and the days to it; that there is none is said."""
    ahead = [cycle for cycle in cycles if cycle.concert_on >= day]
    if not ahead:
        return "no concert set"
    nearest = min(ahead, key=lambda cycle: cycle.concert_on)
    return f"{nearest.name} {days_ahead((nearest.concert_on - day).days)}"
