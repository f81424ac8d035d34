"""Today beside the evidence: the rehearsal's plan, what is agreed, talks that wait."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, Min
from django.utils import timezone

from standlight.programme.dates import date_words
from standlight.programme.models import (
    Account,
    Ensemble,
    Musician,
    PeerLine,
    PlannedRehearsal,
    TalkAsked,
    TalkStep,
)
from standlight.programme.queries.rehearse import left_over
from standlight.programme.queries.standing import SeatRow

LOOKED_BACK_DAYS = 14
"""A rehearsal longer ago says nothing of the next one: our choice, a little over a holiday week."""


@dataclass(frozen=True, slots=True)
class PlanLine:
    """The plan of the next rehearsal: its key, ``when`` it is, blocks and minutes."""

    pk: int
    when: str
    n_blocks: int
    minutes: int


@dataclass(frozen=True, slots=True)
class LeftOver:
    """Blocks of work that the last rehearsal did not do: its plan, the day, the measures."""

    pk: int
    when: str
    blocks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Agreed:
    """What is agreed for one musician, as a director reads it: what to do, never why."""

    name: str
    section: str
    words: str


@dataclass(frozen=True, slots=True)
class TalksWaiting:
    """How many asked for a talk, and how many agreed steps have come due."""

    asked: int
    due: int

    def __bool__(self) -> bool:
        """True when anything waits."""
        return bool(self.asked or self.due)


@dataclass(frozen=True, slots=True)
class WordsToPass:
    """Lines that musicians wrote about each other's takes in one check, and the oldest's age."""

    check_pk: int
    title: str
    count: int
    oldest_days: int


def words_to_pass(account: Account, ensemble: Ensemble) -> tuple[WordsToPass, ...]:
    """Checks with lines that no director has passed on or kept back, oldest first. One query."""
    rows = (
        PeerLine.objects.visible_to(account)
        .filter(hearing__round__check_row__ensemble=ensemble, decided_at=None)
        .exclude(hearing__sent_at=None)
        .order_by()
        .values_list("hearing__round__check_row", "hearing__round__check_row__title")
        .annotate(count=Count("pk"), oldest=Min("hearing__sent_at"))
        .order_by("oldest")
    )
    now = timezone.now()
    return tuple(
        WordsToPass(check, title, count, max(0, (now - oldest).days))
        for check, title, count, oldest in rows
    )


def next_rehearsal(
    ensemble: Ensemble, day: datetime.date
) -> tuple[PlanLine | None, LeftOver | None]:
    """The plan of the next rehearsal from ``day`` on, and what the last one left. Three queries."""
    since = day - datetime.timedelta(LOOKED_BACK_DAYS)
    plans = list(
        PlannedRehearsal.objects.filter(ensemble=ensemble, day__gte=since)
        .prefetch_related("blocks")
        .order_by("day")
    )
    ahead = [plan for plan in plans if plan.day >= day]
    behind = [
        plan for plan in plans
        if plan.day < day and any(block.was_tapped for block in plan.blocks.all())
    ]  # fmt: skip
    return (
        _plan_line(ahead[0], day) if ahead else None,
        _left_over(behind[-1], day) if behind else None,
    )


def _plan_line(plan: PlannedRehearsal, day: datetime.date) -> PlanLine:
    blocks = list(plan.blocks.all())
    near = {0: "today", 1: "tomorrow"}
    when = near.get((plan.day - day).days) or date_words(plan.day, "weekday", seen_from=day)
    return PlanLine(plan.pk, when, len(blocks), sum(block.minutes for block in blocks))


def _left_over(plan: PlannedRehearsal, day: datetime.date) -> LeftOver | None:
    left = left_over(plan)
    when = date_words(plan.day, "weekday", seen_from=day)
    return LeftOver(plan.pk, when, left) if left else None


def agreed_today(seats: Iterable[SeatRow], day: datetime.date) -> tuple[Agreed, ...]:
    """What is agreed for those who are here on ``day``, in the order of the seats. One query."""
    here = {seat.musician_pk: seat for seat in seats if seat.here_on(day)}
    people = Musician.objects.in_bulk(list(here))
    rows = ((seat, people[pk].agreed_labels) for pk, seat in here.items() if pk in people)
    return tuple(Agreed(seat.name, seat.section, words) for seat, words in rows if words)


def talks_waiting(account: Account, ensemble: Ensemble, day: datetime.date) -> TalksWaiting:
    """Talks that were asked for and not held, and agreed steps whose day has come. Two queries."""
    asked = TalkAsked.objects.visible_to(account).filter(ensemble=ensemble, talked_at=None)
    steps = TalkStep.objects.visible_to(account).filter(
        talk__ensemble=ensemble, done_at=None, due_on__lte=day
    )
    return TalksWaiting(asked.count(), steps.count())
