"""What a director does to the year: frames it, has it drawn up, moves, pins, lightens, gives out.

A plan or item handed to an action comes through ``visible_to``: the page has asked who may.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from django.db import transaction
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.planning import SeasonCycle, SeasonGroup, Span, YearPlan, season_faults, weeks_of
from standlight.programme.actions.assignments import Giving, give_out
from standlight.programme.actions.checks import may_direct
from standlight.programme.actions.folder import make_cycle
from standlight.programme.models import (
    Account,
    Assignment,
    ConcertCycle,
    Ensemble,
    PlayingCheck,
    SeasonDays,
    SeasonItem,
    SeasonPlan,
)
from standlight.programme.queries.season import week_of
from standlight.programme.queries.season_request import season_request
from standlight.programme.queries.season_words import fault_words
from standlight.programme.season_child import drawn_up
from standlight.programme.season_terms import SeasonTerms, data_of

MOST_HOURS, MOST_MUSICIAN_MINUTES = 60, 600
LONGEST_YEAR = timedelta(days=400)
LONGEST_NAME = 60
WEEK_ENDS = 4
"""Days from Monday to the last day of school in a week."""

DAYS_TO_DO = 7
"""Work given out from the plan opens a week before it is due (common practice, no source)."""


@transaction.atomic
def begin_plan(
    account: Account, *, starts_on: date | None, ends_on: date | None, hours: float
) -> SeasonPlan:
    """A year to be planned; raises `StandlightError` where it is planned already."""
    starts_on, ends_on = _year(starts_on, ends_on)
    if SeasonPlan.objects.filter(owner=account, starts_on=starts_on).exists():
        raise StandlightError("a year that begins on this day is planned already")
    return SeasonPlan.objects.create(
        programme=account.programme, owner=account, starts_on=starts_on, ends_on=ends_on,
        review_minutes=_minutes(hours),
    )  # fmt: skip


@transaction.atomic
def set_frame(
    plan: SeasonPlan,
    *,
    starts_on: date | None,
    ends_on: date | None,
    hours: float,
    musician_minutes: int,
) -> None:
    """First and last day, the director's hours a week, a musician's minutes a week."""
    plan.starts_on, plan.ends_on = _year(starts_on, ends_on)
    plan.review_minutes = _minutes(hours)
    if not 0 < musician_minutes <= MOST_MUSICIAN_MINUTES:
        raise StandlightError("a musician’s minutes a week are from 1 to 600", slip="45 is usual")
    plan.musician_minutes = musician_minutes
    plan.save()


@transaction.atomic
def set_terms(plan: SeasonPlan, terms: SeasonTerms) -> None:
    """How often each thing is held, and how long each kind takes."""
    plan.terms = data_of(terms)
    plan.save(update_fields=["terms"])


@transaction.atomic
def add_days(
    plan: SeasonPlan,
    sort: str,
    *,
    first: date | None,
    last: date | None = None,
    name: str = "",
    ensemble: Ensemble | None = None,
) -> SeasonDays:
    """Days that are not like others; raises `StandlightError` where they cannot be."""
    if sort not in SeasonDays.SORTS:
        raise StandlightError("say what these days are")
    if first is None:
        raise StandlightError("no first day was chosen")
    last = last or first
    if last < first:
        raise StandlightError("the last day comes before the first", slip="days swapped?")
    if last < plan.starts_on or first > plan.ends_on:
        raise StandlightError("these days are outside of the year")
    if sort == SeasonDays.FESTIVAL and ensemble is None:
        raise StandlightError("say which ensemble plays at the festival")
    return SeasonDays.objects.create(
        plan=plan, sort=sort, first=first, last=last, name=name.strip()[:LONGEST_NAME],
        ensemble=ensemble if sort == SeasonDays.FESTIVAL else None,
    )  # fmt: skip


@transaction.atomic
def drop_days(days: SeasonDays) -> None:
    """These days are like others again."""
    days.delete()


@transaction.atomic
def set_cycle(
    account: Account,
    plan: SeasonPlan,
    ensemble: Ensemble,
    cycle: ConcertCycle | None,
    *,
    name: str,
    starts_on: date | None,
    concert_on: date | None,
) -> ConcertCycle:
    """Make or change a concert cycle.

    Raises `StandlightError` with the nearest fix where the days cannot stand: no concert day, one
    before the beginning or outside of the year, or a beginning before the last concert.
    """
    may_direct(account, ensemble.pk)
    name = name.strip()
    if not 0 < len(name) <= 80:
        raise StandlightError("a concert cycle needs a name", slip="Winter concert")
    if starts_on is None:
        raise StandlightError("no day of the first rehearsal was chosen")
    key = f"c{cycle.pk}" if cycle else "new"
    request = season_request(plan, plan.starts_on)
    others = [one for one in request.cycles
              if one.group == str(ensemble.pk) and one.key != key]  # fmt: skip
    tried = SeasonCycle(key, str(ensemble.pk), name, starts_on, concert_on)
    names = {one.key: one.name for one in (*others, tried)}
    asked = replace(
        request, cycles=(*others, tried), groups=(SeasonGroup(str(ensemble.pk), 1),),
        review_minutes=60,
    )  # fmt: skip
    for fault in season_faults(asked):
        if fault.hinders and key in (fault.cycle, fault.other):
            words = fault_words(
                fault, ensemble.name, names.get(fault.cycle, ""), names.get(fault.other, "")
            )
            raise StandlightError(words.rstrip("."))
    if concert_on is None:
        raise StandlightError("no concert day was chosen")
    if cycle is None:
        return make_cycle(account, ensemble, name=name, starts_on=starts_on, concert_on=concert_on)
    cycle.name, cycle.starts_on, cycle.concert_on = name, starts_on, concert_on
    cycle.save()
    return cycle


def draw_up(plan: SeasonPlan, today: date, *, afresh: bool = False) -> YearPlan:
    """Draw the plan up; what stands stays as far as it can, unless ``afresh`` is asked for.

    Raises `StandlightError` where the calendar hinders. The search runs in a child before the
    transaction begins; an item that somebody moved in between keeps its new week.
    """
    request = season_request(plan, today, redraw=True)
    stood = dict(request.before)
    if afresh:
        # Weeks gone by stay all the same: what was done then is no plan any more.
        gone = tuple((key, day) for key, day in request.before if day < week_of(today))
        request = replace(request, before=gone if request.not_before else ())
    year = drawn_up(request)
    _keep(plan, year, stood)
    return year


@transaction.atomic
def _keep(
    plan: SeasonPlan, year: YearPlan, stood: dict[str, date], lost: date | None = None
) -> None:
    """Write each item's week, and a week that is ``lost``.

    Items that the year no longer holds go, unless work came of them.
    """
    if lost is not None:
        add_days(plan, SeasonDays.LOST, first=lost, last=lost + timedelta(days=WEEK_ENDS))
    rows = {row.key: row for row in plan.items.all()}
    new, changed = [], []
    for one in year.items:
        monday = year.weeks[one.week].monday if one.week is not None else None
        row = rows.pop(one.item.key, None)
        if row is None:
            new.append(SeasonItem(plan=plan, ensemble_id=int(one.item.group), key=one.item.key,
                                  monday=monday))  # fmt: skip
        elif row.monday != monday and row.monday == stood.get(row.key):
            row.monday, row.moves, row.pinned = monday, row.moves + 1, False
            changed.append(row)
    SeasonItem.objects.bulk_create(new)
    SeasonItem.objects.bulk_update(changed, ["monday", "moves", "pinned"])
    left = [row.pk for row in rows.values() if not (row.assignment_id or row.check_row_id)]
    SeasonItem.objects.filter(pk__in=left).delete()
    plan.drawn_at = timezone.now()
    plan.save(update_fields=["drawn_at"])


def lose_week(plan: SeasonPlan, monday: date, today: date) -> YearPlan:
    """A week falls out; the plan is drawn up again with most of it kept.

    Raises `StandlightError` where the day is no Monday of the year to come.
    """
    if monday.weekday() or not week_of(today) <= monday <= plan.ends_on:
        raise StandlightError("this week cannot be lost any more", slip="an old page? Reload it")
    request = season_request(plan, today, redraw=True)
    span = Span(monday, monday + timedelta(days=WEEK_ENDS))
    calendar = replace(request.calendar, closed=(*request.calendar.closed, span))
    year = drawn_up(replace(request, calendar=calendar))
    _keep(plan, year, dict(request.before), lost=monday)
    return year


@transaction.atomic
def move_item(item: SeasonItem, monday: date, today: date) -> None:
    """Put an item into another week by hand, where it then stays.

    Raises `StandlightError` for a week of the past, outside of the year, or without school.
    """
    request = season_request(item.plan, today)
    weeks = {week.monday: week for week in weeks_of(request.calendar, request.review_minutes)}
    if monday not in weeks:
        raise StandlightError("this week is not in the year", slip="an old page? Load it again")
    if not weeks[monday].takes_work:
        raise StandlightError("no work can be due in this week: there is no school, or it is free "
                              "of work")  # fmt: skip
    if request.not_before is not None and monday < week_of(today):
        raise StandlightError("this week has gone by")
    if item.monday != monday:
        item.monday, item.moves = monday, item.moves + 1
    item.pinned = True
    item.save(update_fields=["monday", "moves", "pinned"])


@transaction.atomic
def pin_item(item: SeasonItem, pinned: bool) -> None:
    """Keep an item in its week at every new plan, or let it move again."""
    if pinned and item.monday is None:
        raise StandlightError("it has no week to be kept in")
    item.pinned = pinned
    item.save(update_fields=["pinned"])


@transaction.atomic
def lighten_item(item: SeasonItem, *, share: float | None, each: float | None) -> None:
    """Hear or read only a share of the musicians, drawn by lot, or take less time for each.

    ``None`` for both is everyone, and the usual minutes.
    """
    if share is not None and not 0 < share <= 1:
        raise StandlightError("hear between 1 and 100 of a hundred musicians")
    if each is not None and not 0 <= each <= 60:
        raise StandlightError("minutes for one musician are from 0 to 60")
    item.share = None if share == 1 else share
    item.review_minutes = each
    item.save(update_fields=["share", "review_minutes"])


def give_out_item(
    account: Account, item: SeasonItem, *, title: str, due_on: date, piece_pk: int | None
) -> Assignment:
    """A draft of the real work, due on the planned day; the item remembers it.

    Raises `StandlightError` where work came of it already, or the kind needs what is missing.
    """
    if item.assignment_id or item.check_row_id:
        raise NotAllowed("work has been made of this already")
    kind = _kind_key(item, due_on)
    starts_on = max(min(timezone.localdate(), due_on), due_on - timedelta(days=DAYS_TO_DO))
    giving = Giving(ensemble_pk=item.ensemble_id, kind_key=kind, title=title, starts_on=starts_on,
                    due_on=due_on, piece_pk=piece_pk)  # fmt: skip
    with transaction.atomic():
        made = give_out(account, giving)
        item.assignment = made
        item.save(update_fields=["assignment"])
    return made


@transaction.atomic
def tie_check(item: SeasonItem, check: PlayingCheck | None) -> None:
    """Say which check an item has become, or that it is none."""
    if check is not None and check.ensemble_id != item.ensemble_id:
        raise NotAllowed("this check is another ensemble’s")
    item.check_row = check
    item.save(update_fields=["check_row"])


def _kind_key(item: SeasonItem, today: date) -> str:
    """The kind of an item, by the year's own table of what it holds."""
    request = season_request(item.plan, today)
    holding = item.key.split("/")[-2]
    return next(one.kind for one in request.holdings if one.key == holding)


def _year(starts_on: date | None, ends_on: date | None) -> tuple[date, date]:
    if starts_on is None or ends_on is None:
        raise StandlightError("the year needs its first and its last day")
    if ends_on <= starts_on:
        raise StandlightError("the year ends before it begins", slip="days swapped?")
    if ends_on - starts_on > LONGEST_YEAR:
        raise StandlightError("this is longer than a school year", slip="a wrong year in a day?")
    return starts_on, ends_on


def _minutes(hours: float) -> int:
    if not 0 <= hours <= MOST_HOURS:
        raise StandlightError("hours a week are from 0 to 60", slip="5 is a working evening or two")
    return round(hours * 60)

