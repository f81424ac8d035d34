"""A director's year from its rows as the one value that the room of planning asks for."""

from __future__ import annotations

from datetime import date

from django.db.models import Count, Q

from standlight.planning import (
    IN_REHEARSAL,
    MINUTES,
    Change,
    SeasonCalendar,
    SeasonCycle,
    SeasonGroup,
    SeasonRequest,
    Span,
    WorkKind,
)
from standlight.programme.models import (
    Account,
    ConcertCycle,
    Ensemble,
    MarkingPeriod,
    SeasonDays,
    SeasonItem,
    SeasonPlan,
)
from standlight.programme.queries.kinds import latest_kinds
from standlight.programme.season_terms import holdings_of, minutes_of, terms_of

NO_SCHOOL = (SeasonDays.CLOSED, SeasonDays.LOST)


def plan_of(account: Account) -> SeasonPlan | None:
    """The director's own latest year."""
    return SeasonPlan.objects.visible_to(account).filter(owner=account).first()


def ensembles_of(owner: Account) -> list[Ensemble]:
    """Whose year it is: the ensembles that the director directs; all for a lead with none."""
    own = list(owner.ensembles.all())
    if own or not owner.is_lead:
        return own
    return list(Ensemble.objects.filter(programme=owner.programme))


def season_request(plan: SeasonPlan, today: date, *, redraw: bool = False) -> SeasonRequest:
    """Everything about the year at once; with ``redraw`` the weeks that stand come along.

    Group keys are the ensembles' numbers, cycle keys are ``c`` and a number.
    """
    ensembles = ensembles_of(plan.owner)
    days = list(plan.days.all())
    items = list(plan.items.all())
    kinds = {one.kind.key: one.kind for one in latest_kinds(plan.programme)
             if not one.is_put_away}  # fmt: skip
    terms = terms_of(plan.terms)
    held = tuple(one for one in holdings_of(terms) if one.kind in kinds)
    return SeasonRequest(
        calendar=_calendar(plan, days),
        groups=tuple(_groups(ensembles, today)),
        cycles=tuple(_cycles(plan, ensembles)),
        kinds=tuple(
            WorkKind(key, *minutes_of(key, terms), standards=kinds[key].standards,
                     in_rehearsal=key in IN_REHEARSAL)
            for key in MINUTES if key in kinds
        ),
        holdings=held,
        review_minutes=plan.review_minutes,
        musician_minutes=plan.musician_minutes,
        festivals=tuple((str(one.ensemble_id), one.first) for one in days
                        if one.sort == SeasonDays.FESTIVAL and one.ensemble_id),
        standards=tuple(dict.fromkeys(code for key in MINUTES if key in kinds
                                      for code in kinds[key].standards)),
        pins=tuple((one.key, one.monday) for one in items if one.pinned and one.monday),
        before=tuple((one.key, one.monday) for one in items if one.monday) if redraw else (),
        changes=tuple(_changes(items, {one.key: one.share for one in held})),
        not_before=today if today > plan.starts_on else None,
        seed=plan.pk,
    )  # fmt: skip


def stands_of(plan: SeasonPlan) -> dict[str, date]:
    """The Monday of every item that has one."""
    return dict(plan.items.filter(monday__isnull=False).values_list("key", "monday"))


def _calendar(plan: SeasonPlan, days: list[SeasonDays]) -> SeasonCalendar:
    def spans(sorts: tuple[str, ...]) -> tuple[Span, ...]:
        return tuple(Span(one.first, one.last, one.name) for one in days if one.sort in sorts)

    periods = MarkingPeriod.objects.filter(
        programme=plan.programme, starts_on__lte=plan.ends_on, ends_on__gte=plan.starts_on
    )
    return SeasonCalendar(
        plan.starts_on, plan.ends_on, spans(NO_SCHOOL), spans((SeasonDays.DEAD,)),
        tuple(Span(one.starts_on, one.ends_on, one.name) for one in periods),
    )  # fmt: skip


def _groups(ensembles: list[Ensemble], today: date) -> list[SeasonGroup]:
    """Each ensemble with the musicians who sit in it today; one query."""
    here = Q(sections__seats__left_on__isnull=True) | Q(sections__seats__left_on__gt=today)
    counted = Ensemble.objects.filter(pk__in=[one.pk for one in ensembles]).annotate(
        n=Count("sections__seats__musician", filter=here, distinct=True)
    )
    return [SeasonGroup(str(one.pk), one.n) for one in counted]


def _cycles(plan: SeasonPlan, ensembles: list[Ensemble]) -> list[SeasonCycle]:
    """The cycles of the year, by ensemble and concert; those of other years are left out."""
    rows = ConcertCycle.objects.filter(
        ensemble__in=ensembles, starts_on__lte=plan.ends_on, concert_on__gte=plan.starts_on
    ).order_by("ensemble__period_number", "concert_on", "pk")
    return [
        SeasonCycle(f"c{one.pk}", str(one.ensemble_id), one.name, one.starts_on, one.concert_on)
        for one in rows
    ]


def _changes(items: list[SeasonItem], shares: dict[str, float]) -> list[Change]:
    """What single items ask otherwise."""
    return [
        Change(
            one.key,
            one.share if one.share is not None else shares.get(one.key.split("/")[-2], 1.0),
            one.review_minutes,
        )
        for one in items
        if one.share is not None or one.review_minutes is not None
    ]
