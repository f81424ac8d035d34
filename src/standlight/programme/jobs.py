"""Errands a worker runs: asked for in a transaction, claimed by an update, safe to repeat.

The engine is django-q2 with its broker in the same database. A worker may be
killed at any moment; its errand comes back, so each one can run twice.
"""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.utils import timezone
from django_q.models import Schedule
from django_q.tasks import async_task

from standlight.programme.models import Take

LISTEN = "standlight.programme.jobs.listen_to_take"
"""The errand's dotted name, as the engine stores it."""

EXPIRE = "standlight.programme.jobs.remove_expired_sound"
"""The daily errand's dotted name."""


def ask_to_listen(take: Take) -> None:
    """Queue the hearing of ``take`` once the present transaction is committed."""
    key = str(take.key)
    transaction.on_commit(lambda: async_task(LISTEN, key, task_name=f"take {key[:8]}"))


def remove_expired_sound() -> str:
    """The daily errand of the school's rule on keeping takes; how many lost their sound."""
    from standlight.programme.actions import retention

    return f"removed {retention.remove_expired_sound(timezone.now())}"


def schedule_daily() -> None:
    """Ask once for the errands of every day; safe to repeat."""
    Schedule.objects.get_or_create(
        name="remove expired sound",
        defaults={"func": EXPIRE, "schedule_type": Schedule.DAILY, "repeats": -1},
    )


def claim(key: UUID | str) -> bool:
    """True when this worker now holds the take; a lease of a dead worker runs out by itself."""
    now = timezone.now()
    # The engine ends a worker at "timeout" and hands the errand out again at "retry",
    # which is later: by then the claim must have lapsed, or the errand would be lost.
    lease_ended = now - timedelta(seconds=settings.Q_CLUSTER["timeout"])
    free = Q(claimed_at__isnull=True) | Q(claimed_at__lt=lease_ended)
    return bool(Take.objects.filter(free, key=key, state=Take.WHOLE).update(claimed_at=now))


def listen_to_take(key: str) -> str:
    """Hear one take against its passage and keep the report; what was done, in a word."""
    # The listening brings numpy and scipy: only a worker pays for that.
    from standlight.listening import listen
    from standlight.programme.actions.hearing import keep_report
    from standlight.programme.queries.hearing import listening_task

    if not claim(key):
        return "not waiting"
    task = listening_task(key)
    keep_report(key, listen(task), task.take)
    return "heard"
