"""Rehearse, the place: each ensemble's next rehearsals, how the last went, the strips of pieces."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from django.utils import timezone

from standlight.programme.dates import date_words
from standlight.programme.models import (
    Account,
    ConcertCycle,
    Ensemble,
    Piece,
    PlannedBlock,
    PlannedRehearsal,
    SeasonDays,
)
from standlight.programme.queries.concerts import next_concert
from standlight.programme.queries.desk import printed_range
from standlight.programme.queries.rehearse_drawn import WORKED_KINDS

SATURDAY = 5


@dataclass(frozen=True, slots=True)
class PlanLine:
    """A plan in a list: its day, how many blocks it has, and how many were tapped done or not."""

    pk: int
    day: str
    is_today: bool
    blocks: int
    done: int
    not_done: int


@dataclass(frozen=True, slots=True)
class PieceLine:
    """A piece with its strip; ``current`` when its concert is still to come."""

    pk: int
    title: str
    on_paper: bool
    current: bool


@dataclass(frozen=True, slots=True)
class EnsembleRows:
    """One ensemble: plans ahead, the last one that was held, and what a new plan begins with."""

    pk: int
    heading: str
    minutes: int
    concert: str
    ahead: tuple[PlanLine, ...]
    last: PlanLine | None
    left_over: tuple[str, ...]
    next_day: datetime.date
    pieces: tuple[PieceLine, ...]
    other_pieces: tuple[PieceLine, ...]


@dataclass(frozen=True, slots=True)
class RehearsePage:
    """Every ensemble of a director, in the order of the day."""

    groups: tuple[EnsembleRows, ...]


def rehearse_page(account: Account) -> RehearsePage:
    """Rehearse for ``account``; six queries an ensemble, and one for the days without school."""
    today = timezone.localdate()
    free = _days_without_school(account, today)
    return RehearsePage(
        tuple(_group(ensemble, today, free) for ensemble in Ensemble.objects.visible_to(account))
    )


def _days_without_school(account: Account, today: datetime.date) -> set[datetime.date]:
    """Days from ``today`` on that the account's year plan calls closed or lost."""
    rows = SeasonDays.objects.visible_to(account).filter(
        plan__owner=account, sort__in=(SeasonDays.CLOSED, SeasonDays.LOST), last__gte=today
    )
    return {
        max(row.first, today) + datetime.timedelta(n)
        for row in rows
        for n in range((row.last - max(row.first, today)).days + 1)
    }


def next_plan(ensemble_pk: int) -> PlannedRehearsal | None:
    """The nearest plan from today on in which nothing was tapped yet. One query."""
    return (
        PlannedRehearsal.objects.filter(ensemble=ensemble_pk, day__gte=timezone.localdate())
        .exclude(blocks__state__in=PlannedBlock.TAPPED)
        .order_by("day")
        .first()
    )


def next_school_day(day: datetime.date, taken: set[datetime.date]) -> datetime.date:
    """The first weekday after ``day`` that is not ``taken``: by a plan, or without school.

    >>> next_school_day(datetime.date(2026, 11, 27), {datetime.date(2026, 11, 30)})
    datetime.date(2026, 12, 1)
    """
    day += datetime.timedelta(1)
    while day.weekday() >= SATURDAY or day in taken:
        day += datetime.timedelta(1)
    return day


def _group(ensemble: Ensemble, today: datetime.date, free: set[datetime.date]) -> EnsembleRows:
    plans = list(
        PlannedRehearsal.objects.filter(ensemble=ensemble, day__gte=today)
        .order_by("day")
        .prefetch_related("blocks")
    )
    past = (
        PlannedRehearsal.objects.filter(
            ensemble=ensemble, day__lt=today, blocks__state__in=PlannedBlock.TAPPED
        )
        .order_by("-day")
        .prefetch_related("blocks")
        .first()
    )
    cycles = list(ConcertCycle.objects.filter(ensemble=ensemble, concert_on__gte=today))
    current = {cycle.pk for cycle in cycles}
    lines = [
        PieceLine(piece.pk, piece.title, not piece.measures, piece.cycle_id in current)
        for piece in Piece.objects.filter(ensemble=ensemble).order_by("title", "pk")
    ]
    shown = [line for line in lines if line.current] or lines
    return EnsembleRows(
        pk=ensemble.pk,
        heading=f"Period {ensemble.period_number}, {ensemble.name}",
        minutes=ensemble.period_minutes,
        concert=next_concert(cycles, today),
        ahead=tuple(_line(plan, today) for plan in plans),
        last=_line(past, today) if past else None,
        left_over=left_over(past) if past else (),
        next_day=next_school_day(today, free | {plan.day for plan in plans}),
        pieces=tuple(shown),
        other_pieces=tuple(line for line in lines if line not in shown),
    )


def _line(plan: PlannedRehearsal, today: datetime.date) -> PlanLine:
    """A plan as one line."""
    states = [block.state for block in plan.blocks.all()]
    return PlanLine(
        plan.pk,
        date_words(plan.day, "weekday"),
        plan.day == today,
        len(states),
        states.count(PlannedBlock.DONE),
        states.count(PlannedBlock.NOT_DONE),
    )


def left_over(plan: PlannedRehearsal) -> tuple[str, ...]:
    """Blocks of work that were not done, or not reached, as measures of a piece. One query."""
    return tuple(
        f"{printed_range(block.piece.measures, block.first_measure, block.last_measure)}, "
        f"{block.piece.title}"
        for block in plan.blocks.select_related("piece")
        if block.state != PlannedBlock.DONE
        and block.kind in WORKED_KINDS
        and block.piece is not None
        and block.first_measure is not None
        and block.last_measure is not None
    )
