"""Steps that a musician has agreed on and not done yet, for their first page."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from standlight.programme.models import Account, TalkStep

MOST_STEPS = 3
"""Steps on the first page, those due first; all of them stand under Talks (our choice)."""


@dataclass(frozen=True, slots=True)
class AgreedStep:
    """One agreed step and its day."""

    words: str
    due_on: datetime.date


def open_steps(account: Account) -> tuple[AgreedStep, ...]:
    """The musician's open steps, what is due first comes first. One query."""
    rows = TalkStep.objects.visible_to(account).filter(done_at__isnull=True)
    first = rows.order_by("due_on", "pk")[:MOST_STEPS]
    return tuple(AgreedStep(row.words, row.due_on) for row in first)
