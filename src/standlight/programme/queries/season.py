"""The planned year as pages: weeks by group, one piece of work, and the calendar file."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta

from django.utils import timezone

from standlight.planning import (
    CalendarDay,
    Placed,
    SeasonRequest,
    Week,
    YearPlan,
    calendar_file,
    plan_as_it_stands,
    quiet_weeks,
    season_faults,
    week_index,
)
from standlight.programme.dates import date_words
from standlight.programme.models import ConcertCycle, SeasonDays, SeasonItem, SeasonPlan
from standlight.programme.queries.kinds import latest_kinds
from standlight.programme.queries.season_request import ensembles_of, season_request, stands_of
from standlight.programme.queries.season_values import (
    Cell,
    GaveWay,
    ItemLine,
    OverloadLine,
    SeasonPage,
    StandardLine,
    WayOut,
    WeekRow,
)
from standlight.programme.queries.season_words import (
    fault_words,
    first_up,
    hours,
    item_name,
    note_words,
    option_words,
    overload_words,
    time_words,
    week_words,
)
from standlight.programme.standards import STANDARDS

TOLD_NOTES = frozenset({"outside", "too_near", "too_late", "pin_closed", "unplaced", "closed_now",
                        "quiet"})  # fmt: skip
"""What is told on the page of the year; the rest is told at the item alone."""


def season_page(plan: SeasonPlan, today: date) -> SeasonPage:
    """The year as weeks by group, as it stands today."""
    request = season_request(plan, today)
    year = plan_as_it_stands(request, stands_of(plan))
    rows = {row.key: row for row in plan.items.all()}
    names = names_of(plan, year)
    groups = {group.key: name for group, name in zip(request.groups, group_names(plan),
                                                     strict=True)}  # fmt: skip
    now = week_index(year.weeks, today)
    minutes = [need for need, week in zip(year.minutes, year.weeks, strict=True) if week.takes_work]
    stops, looks = faults_of(plan, request)
    weeks = _weeks(plan, request, year, rows, groups, now)
    gave_way, heavy = _gave_way(year, rows, names, now), _heavy(year, groups, now)
    return SeasonPage(
        plan_pk=plan.pk,
        starts_on=plan.starts_on,
        ends_on=plan.ends_on,
        is_drawn=plan.drawn_at is not None,
        drawn_at=plan.drawn_at,
        review_hours=hours(plan.review_minutes),
        usual_hours=hours(sum(minutes) / max(1, len(minutes))),
        n_items=sum(one.week is not None for one in year.items),
        n_waiting=_count(year, "waiting"),
        n_gone=_count(year, "gone"),
        stops=stops,
        looks=looks,
        groups=tuple(groups.values()),
        gone=tuple(week for week in weeks if week.is_past),
        weeks=tuple(week for week in weeks if not week.is_past),
        overloads=_overloads(year, rows, names, now),
        gave_way=gave_way,
        heavy=heavy,
        n_gave=len(gave_way) + len(heavy),
        n_standards=len(request.standards),
        missing=_missing(plan, year, groups),
        losable=tuple(
            (f"{week.monday:%Y-%m-%d}", first_up(week_words(week)))
            for week in year.weeks[max(0, now) :] if week.takes_work
        ),
        lost=tuple((one.pk, date_words(one.first)) for one in plan.days.all()
                   if one.sort == SeasonDays.LOST),
    )  # fmt: skip


def group_names(plan: SeasonPlan) -> list[str]:
    """The ensembles of the plan, in the order of the day."""
    return [one.name for one in ensembles_of(plan.owner)]


def names_of(plan: SeasonPlan, year: YearPlan) -> Mapping[str, str]:
    """Each item's name with its cycle's, and its group's where there are several."""
    ensembles = {str(one.pk): one.name for one in ensembles_of(plan.owner)}
    cycles = {f"c{pk}": name for pk, name in ConcertCycle.objects.filter(
        ensemble__in=ensembles.keys()).values_list("pk", "name")}  # fmt: skip
    names = {}
    for one in year.items:
        parts = [cycles[one.item.cycle]] if one.item.cycle in cycles else []
        parts += [ensembles[one.item.group]] if len(ensembles) > 1 else []
        name = item_name(one.item)
        names[one.item.key] = f"{name} ({', '.join(parts)})" if parts else name
    return names


def faults_of(
    plan: SeasonPlan, request: SeasonRequest
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What hinders a plan, and what only wants a look, each with its fix."""
    ensembles = {str(one.pk): one.name for one in ensembles_of(plan.owner)}
    cycles = {cycle.key: cycle.name for cycle in request.cycles}
    stops, looks = [], []
    for fault in season_faults(request):
        words = fault_words(
            fault,
            ensembles.get(fault.group, ""),
            cycles.get(fault.cycle, ""),
            cycles.get(fault.other, ""),
        )
        (stops if fault.hinders else looks).append(words)
    if not ensembles:
        stops.append("You direct no ensemble yet, so there is nothing to plan.")
    return tuple(stops), tuple(looks)


def _count(year: YearPlan, code: str) -> int:
    return sum(note.code == code for one in year.items for note in one.notes)


def _weeks(
    plan: SeasonPlan,
    request: SeasonRequest,
    year: YearPlan,
    rows: Mapping[str, SeasonItem],
    groups: Mapping[str, str],
    now: int,
) -> tuple[WeekRow, ...]:
    """Every week, with each group's cell."""
    lying: dict[tuple[int, str], list[ItemLine]] = defaultdict(list)
    for one in sorted(year.items, key=lambda one: (one.due_on or date.max, one.item.key)):
        if one.week is not None and one.item.key in rows:
            lying[one.week, one.item.group].append(_line(one, rows[one.item.key], now))
    said = _days_said(plan, request, year.weeks)
    events = _events(request, year.weeks)
    made = []
    for index, week in enumerate(year.weeks):
        made.append(
            WeekRow(
                index=index,
                number=week.number,
                monday=week.monday,
                why=said.get(index, ""),
                takes_work=week.takes_work,
                is_now=index == now,
                is_past=index < now,
                minutes=year.minutes[index],
                room=week.review_minutes,
                hours=f"{hours(year.minutes[index])} of {hours(week.review_minutes)} hours",
                is_over=year.minutes[index] > week.review_minutes,
                cells=tuple(
                    Cell(name, events.get((index, key), ""), tuple(lying[index, key]))
                    for key, name in groups.items()
                ),
            )
        )
    return tuple(made)


def _line(one: Placed, row: SeasonItem, now: int) -> ItemLine:
    return ItemLine(
        pk=row.pk,
        name=item_name(one.item),
        due_on=one.due_on,
        minutes=one.item.review_minutes,
        weeks=" ".join(str(week) for week in one.item.weeks if week >= now),
        pinned=row.pinned,
        marked=any(note.code in TOLD_NOTES for note in one.notes),
        made=row.assignment_id is not None or row.check_row_id is not None,
    )


def _days_said(
    plan: SeasonPlan, request: SeasonRequest, weeks: Sequence[Week]
) -> dict[int, str]:
    """Why a week is not like others, by index."""
    said: dict[int, list[str]] = defaultdict(list)
    for one in plan.days.all():
        if one.sort == SeasonDays.FESTIVAL:
            continue
        first, last = week_index(tuple(weeks), one.first), week_index(tuple(weeks), one.last)
        for index in range(max(0, first), min(len(weeks) - 1, last) + 1):
            words = one.get_sort_display()
            said[index].append(f"{words}: {one.name}" if one.name else words)
    for period in request.calendar.periods:
        index = week_index(tuple(weeks), period.last)
        if 0 <= index < len(weeks):
            said[index].append(f"{period.name} ends {date_words(period.last, 'near')}")
    return {index: "; ".join(dict.fromkeys(words)) for index, words in said.items()}


def _events(request: SeasonRequest, weeks: Sequence[Week]) -> dict[tuple[int, str], str]:
    """Concerts and festivals, by week and group."""
    found: dict[tuple[int, str], list[str]] = defaultdict(list)
    for cycle in request.cycles:
        if cycle.concert_on is not None:
            at = week_index(tuple(weeks), cycle.concert_on), cycle.group
            found[at].append(f"{cycle.name}, {date_words(cycle.concert_on, 'weekday')}")
    for group, day in request.festivals:
        found[week_index(tuple(weeks), day), group].append(
            f"Festival, {date_words(day, 'weekday')}"
        )
    for group in request.groups:
        for index in quiet_weeks(request, tuple(weeks), group.key):
            if (index, group.key) not in found:
                found[index, group.key].append("Concert early next week: nothing new")
    return {key: "; ".join(words) for key, words in found.items()}


def _overloads(
    year: YearPlan, rows: Mapping[str, SeasonItem], names: Mapping[str, str], now: int
) -> tuple[OverloadLine, ...]:
    """Weeks to come with too many hours, and what one press would do about each."""
    lines = []
    for one in year.overloads:
        if one.last < now:
            continue
        ways = tuple(
            WayOut(
                words=option_words(option, names.__getitem__, year.weeks),
                item_pk=rows[option.item].pk,
                code=option.code,
                monday=year.weeks[option.to_week].monday if option.to_week is not None else None,
                percent=f"{100 * option.n / option.of:.6f}" if option.of else "",
                each=option.each_to,
            )
            for option in one.options if option.item in rows
        )  # fmt: skip
        lines.append(OverloadLine(overload_words(one, year.weeks), ways))
    return tuple(lines)


def _gave_way(
    year: YearPlan, rows: Mapping[str, SeasonItem], names: Mapping[str, str], now: int
) -> tuple[GaveWay, ...]:
    """Items whose place breaks a wish, from this week on."""
    found = []
    for one in year.items:
        told = [note for note in one.notes if note.code in TOLD_NOTES]
        if told and one.item.key in rows and (one.week is None or one.week >= now):
            words = tuple(note_words(note, names.__getitem__) for note in told)
            found.append(GaveWay(rows[one.item.key].pk, names[one.item.key], words))
    return tuple(found)


def _heavy(year: YearPlan, groups: Mapping[str, str], now: int) -> tuple[str, ...]:
    return tuple(
        f"{first_up(week_words(year.weeks[one.week]))}: {groups[one.group]} asks "
        f"{one.minutes} minutes of each musician, more than {one.most}."
        for one in year.heavy if one.week >= now
    )  # fmt: skip


def _missing(
    plan: SeasonPlan, year: YearPlan, groups: Mapping[str, str]
) -> tuple[StandardLine, ...]:
    """Standards that some group's work does not serve."""
    kinds = {one.kind.key: one.kind.name for one in latest_kinds(plan.programme)}
    without: dict[str, list[str]] = defaultdict(list)
    could: dict[str, str] = {}
    for one in year.coverage:
        if not one.items:
            without[one.standard].append(groups[one.group])
            could[one.standard] = ", ".join(kinds[key] for key in one.kinds)
    return tuple(
        StandardLine(
            ", ".join(names), code,
            STANDARDS[code].paraphrase if code in STANDARDS else "", could[code],
        )
        for code, names in without.items()
    )  # fmt: skip


def season_calendar(plan: SeasonPlan, today: date, written_at: datetime | None = None) -> bytes:
    """The year as an .ics file: work on its due day, concerts, festivals, days without school."""
    request = season_request(plan, today)
    year = plan_as_it_stands(request, stands_of(plan))
    rows = {row.key: row for row in plan.items.all()}
    groups = dict(zip((group.key for group in request.groups), group_names(plan), strict=True))

    def uid(key: str) -> str:
        return f"{key.replace('/', '-')}.{plan.calendar_key}@standlight"

    days = [
        CalendarDay(
            uid(one.item.key),
            one.due_on,
            f"{groups[one.item.group]}: {item_name(one.item)} due",
            f"About {time_words(one.item.review_minutes)} to hear or read.",
            sequence=rows[one.item.key].moves,
        )
        for one in year.items
        if one.due_on is not None and one.item.key in rows
    ]
    days += [
        CalendarDay(uid(cycle.key), cycle.concert_on, f"{groups[cycle.group]}: {cycle.name}")
        for cycle in request.cycles
        if cycle.concert_on is not None
    ]
    names = {one.pk: one.name for one in ensembles_of(plan.owner)}
    for one in plan.days.all():
        title = one.name or one.get_sort_display()
        if one.ensemble_id in names:
            title = f"{names[one.ensemble_id]}: {title}"
        days.append(CalendarDay(uid(f"days-{one.pk}"), one.first, title, last=one.last))
    name = f"Season {plan.starts_on.year} to {plan.ends_on.year}"
    return calendar_file(name, days, written_at=written_at or timezone.now())


def week_of(day: date) -> date:
    """The Monday of a day's week."""
    return day - timedelta(days=day.weekday())
