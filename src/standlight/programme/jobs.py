"""Errands a worker runs: asked for in a transaction, claimed by an update, safe to repeat.

The engine is django-q2 with its broker in the same database. A worker may be
killed at any moment; its errand comes back, so each one can run twice.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.utils import timezone
from django_q.models import Schedule
from django_q.tasks import async_task

from standlight.programme.models import Programme, RatingsStudy, StudyErrand, Take

LISTEN = "standlight.programme.jobs.listen_to_take"
"""The errand's dotted name, as the engine stores it."""

EXPIRE = "standlight.programme.jobs.remove_expired_sound"
"""The daily errand's dotted name."""

STUDY = "standlight.programme.jobs.study_ratings"
"""The errand that studies a programme's levels, by its dotted name."""

STUDY_ALL = "standlight.programme.jobs.study_all_ratings"
"""The daily errand that asks for every programme's study."""

STUDY_EVERY = timedelta(minutes=5)
"""Levels given within this time are studied together; our choice."""

STUDY_SECONDS = 600
"""A study may take this long before its worker is ended: the demo's 5,500 levels took half a
minute of one core, and a slow laptop with three times as many needs several."""


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
    for name, func in (("remove expired sound", EXPIRE), ("study all ratings", STUDY_ALL)):
        Schedule.objects.get_or_create(
            name=name, defaults={"func": func, "schedule_type": Schedule.DAILY, "repeats": -1}
        )


def ask_to_study(programme_pk: int) -> None:
    """Say, in the present transaction, that levels have changed; they are studied soon.

    The first change asks for the errand and those that follow only say when they were.
    """
    now = timezone.now()
    StudyErrand.objects.get_or_create(programme_id=programme_pk)
    errand = StudyErrand.objects.filter(programme=programme_pk)
    if errand.filter(asked_at__isnull=True).update(asked_at=now):
        _study_soon(programme_pk)
    else:
        errand.update(asked_at=now)


def study_all_ratings() -> str:
    """The daily errand: what was never studied, or whose errand was lost, is asked for again."""
    programmes = list(Programme.objects.order_by("pk").values_list("pk", flat=True))
    for pk in programmes:
        StudyErrand.objects.get_or_create(programme_id=pk)
        StudyErrand.objects.filter(programme=pk, asked_at__isnull=True).update(
            asked_at=timezone.now()
        )
        async_task(STUDY, pk, task_name=f"study {pk}", timeout=STUDY_SECONDS)
    return f"asked for {len(programmes)}"


def study_ratings(programme_pk: int) -> str:
    """Study a programme's levels and keep what was found; what was done, in a word.

    The engine hands out again what takes longer than its lease: whoever comes second looks
    again later, so that the errand is not lost with the first.
    """
    # The review brings numpy and scipy: only a worker pays for that.
    from standlight.programme.actions.studies import drop_study, keep_study
    from standlight.programme.queries.given_ratings import given_levels
    from standlight.programme.study_review import METHOD, review

    asked_at = claim_study(programme_pk)
    if asked_at is None:
        if not StudyErrand.objects.filter(programme=programme_pk, asked_at=None).exists():
            _study_soon(programme_pk)
            return "held"
        return "not waiting"
    levels = given_levels(programme_pk)
    known = RatingsStudy.objects.filter(programme=programme_pk, method=METHOD, state=levels.state)
    done = "nothing new"
    if not levels.given:
        drop_study(programme_pk)
    elif not known.exists():
        keep_study(programme_pk, levels, review(levels.given, levels.again), METHOD)
        done = "studied"
    _end_study(programme_pk, asked_at)
    return done


def claim_study(programme_pk: int) -> datetime | None:
    """When this worker now holds the study, the change it was asked for; else ``None``."""
    now = timezone.now()
    waiting = StudyErrand.objects.filter(_free(now, STUDY_SECONDS), programme=programme_pk)
    if not waiting.filter(asked_at__isnull=False).update(claimed_at=now):
        return None
    return StudyErrand.objects.get(programme=programme_pk).asked_at


@transaction.atomic
def _end_study(programme_pk: int, asked_at: datetime) -> None:
    """Let go of the errand; what changed while it ran is studied once more."""
    errand = StudyErrand.objects.filter(programme=programme_pk)
    if not errand.filter(asked_at=asked_at).update(asked_at=None, claimed_at=None):
        errand.update(claimed_at=None)
        _study_soon(programme_pk)


def _study_soon(programme_pk: int) -> None:
    """Queue the study for a few minutes from now, once: a row, so that it comes with the commit."""
    args = str(programme_pk)
    if Schedule.objects.filter(func=STUDY, args=args).exists():
        return
    Schedule.objects.create(
        name=f"study {programme_pk}",
        func=STUDY,
        args=args,
        kwargs=str({"q_options": {"timeout": STUDY_SECONDS}}),
        schedule_type=Schedule.ONCE,
        next_run=timezone.now() + STUDY_EVERY,
    )


def _free(now: datetime, seconds: int) -> Q:
    """The rows that no living worker holds, if one may live for ``seconds`` on an errand."""
    lease_ended = now - timedelta(seconds=seconds)
    return Q(claimed_at__isnull=True) | Q(claimed_at__lt=lease_ended)


def claim(key: UUID | str) -> bool:
    """True when this worker now holds the take; a lease of a dead worker runs out by itself."""
    now = timezone.now()
    # The engine ends a worker at "timeout" and hands the errand out again at "retry",
    # which is later: by then the claim must have lapsed, or the errand would be lost.
    free = _free(now, settings.Q_CLUSTER["timeout"])
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
