"""What the year is planned from, as one page of forms."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from standlight.planning import HOLDINGS, MINUTES
from standlight.programme.dates import date_words
from standlight.programme.models import ConcertCycle, MarkingPeriod, SeasonDays, SeasonPlan
from standlight.programme.queries.kinds import latest_kinds
from standlight.programme.queries.season import faults_of
from standlight.programme.queries.season_request import ensembles_of, season_request
from standlight.programme.queries.season_values import (
    CalendarPage,
    CycleLine,
    DaysLine,
    GroupCycles,
    HeldLine,
    MinutesLine,
)
from standlight.programme.queries.season_words import HOLDING_WORDS
from standlight.programme.season_terms import minutes_of, often_of, terms_of

SORTS = (
    (SeasonDays.CLOSED, "No school: holidays, breaks, days off"),
    (SeasonDays.DEAD, "School, but no work due: examinations, a class trip"),
    (SeasonDays.FESTIVAL, "Festival or contest of one ensemble: nothing new that week"),
)
"""What can be added on the page; a lost week is told on the year's own page."""


def calendar_page(
    plan: SeasonPlan, today: date, typed: Mapping[int, CycleLine] | None = None
) -> CalendarPage:
    """The frame of the year. ``typed`` are cycles as they were typed and refused, by number.

    A new cycle has the ensemble's number below zero.
    """
    stops, looks = faults_of(plan, season_request(plan, today))
    terms = terms_of(plan.terms)
    kinds = {one.kind.key: one.kind.name for one in latest_kinds(plan.programme)}
    return CalendarPage(
        plan_pk=plan.pk,
        starts_on=plan.starts_on,
        ends_on=plan.ends_on,
        review_hours=f"{plan.review_minutes / 60:.2f}".rstrip("0").rstrip("."),
        musician_minutes=plan.musician_minutes,
        stops=stops,
        looks=looks,
        days=tuple(_days(one) for one in plan.days.select_related("ensemble")),
        sorts=SORTS,
        groups=_groups(plan, typed or {}),
        periods=tuple(
            f"{one.name}, {date_words(one.starts_on)} to {date_words(one.ends_on)}"
            for one in MarkingPeriod.objects.filter(
                programme=plan.programme,
                starts_on__lte=plan.ends_on,
                ends_on__gte=plan.starts_on,
            )
        ),
        held=tuple(
            HeldLine(one.key, *HOLDING_WORDS[one.key], often_of(one, terms), bool(one.every_weeks))
            for one in HOLDINGS
        ),
        minutes=tuple(
            MinutesLine(key, kinds[key], f"{review:g}", asked)
            for key in MINUTES
            for review, asked in (minutes_of(key, terms),)
        ),
    )


def _days(one: SeasonDays) -> DaysLine:
    words = date_words(one.first, "weekday")
    if one.last != one.first:
        words = f"{date_words(one.first)} to {date_words(one.last)}"
    name = ": ".join(part for part in (one.ensemble.name if one.ensemble else "", one.name) if part)
    return DaysLine(one.pk, one.get_sort_display(), words, name)


def _groups(plan: SeasonPlan, typed: Mapping[int, CycleLine]) -> tuple[GroupCycles, ...]:
    """Every ensemble with its cycles of the year and one empty line."""
    ensembles = ensembles_of(plan.owner)
    rows = ConcertCycle.objects.filter(
        ensemble__in=ensembles, starts_on__lte=plan.ends_on, concert_on__gte=plan.starts_on
    )
    made = []
    for ensemble in ensembles:
        lines = [
            typed.get(
                row.pk,
                CycleLine(row.pk, ensemble.pk, row.name, f"{row.starts_on:%Y-%m-%d}",
                          f"{row.concert_on:%Y-%m-%d}"),
            )
            for row in rows if row.ensemble_id == ensemble.pk
        ]  # fmt: skip
        new = typed.get(-ensemble.pk, CycleLine(0, ensemble.pk, "", "", ""))
        made.append(GroupCycles(ensemble.pk, ensemble.name, (*lines, new)))
    return tuple(made)
