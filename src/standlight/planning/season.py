"""A year plan: work in weeks under soft caps, with reasons; and the same plan after a lost week.

`plan_season` lays every item into a week so that little has to give: the director's minutes, the
musicians', what comes after what, weeks between, the best place of each. What gives is told on
the item or the week. `plan_season` with ``before`` keeps the plan that stands: a move costs more
than most wishes, so that only what has to move does.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta

from standlight.errors import StandlightError
from standlight.planning.season_calendar import (
    Fault,
    calendar_faults,
    is_open,
    quiet_weeks,
    week_index,
    weeks_of,
)
from standlight.planning.season_hours import minutes_by_week, overloads_of
from standlight.planning.season_items import items_of
from standlight.planning.season_search import settle
from standlight.planning.season_solver import (
    Answer,
    Distance,
    Load,
    Problem,
    cost_of,
)
from standlight.planning.season_start import first_guess
from standlight.planning.season_values import (
    AFTER_CONCERT,
    CLOSED_NOW,
    GONE,
    MOVED,
    OUTSIDE,
    PIN_CLOSED,
    QUIET,
    TOO_LATE,
    TOO_NEAR,
    UNPLACED,
    WAITING,
    Coverage,
    Gap,
    Heavy,
    Item,
    Note,
    Placed,
    SeasonCalendar,
    SeasonRequest,
    Week,
    YearPlan,
)

OVER_MINUTE, FAR_OVER_MINUTE, FULL_MINUTE = 10, 10, 1
"""Price of a minute of review above a week's minutes; the same again above ``FAR_OVER``; and of
one above ``FULL``, so that weeks are filled evenly. The prices are our choice: order before wishes,
hours before the best week, and a plan that stands before both."""

FAR_OVER, FULL = 1.25, 0.8
HEAVY_MINUTE = 6
OUTSIDE_WEEK, OFF_TARGET_WEEK = 60, 3
DISTANCE_WEEK = 250
MOVED_ITEM, MOVED_WEEK = 400, 10


def season_faults(request: SeasonRequest) -> tuple[Fault, ...]:
    """All that is wrong with a request, what hinders a plan first, each with its nearest fix."""
    items, _ = items_of(request)
    return calendar_faults(request, sum(item.review_minutes for item in items))


def plan_season(request: SeasonRequest, sweeps: int = 1) -> YearPlan:
    """The year as a plan; with ``request.before`` what stands, changed as little as can be.

    More ``sweeps`` of the search may better a large plan. Raises `StandlightError` where
    `season_faults` tells of one that hinders. There is always a plan otherwise: what cannot be
    held is told in notes and overloads.
    """
    hindering = [fault.code for fault in season_faults(request) if fault.hinders]
    if hindering:
        raise StandlightError(f"no plan yet: {', '.join(sorted(set(hindering)))}",
                              slip="season_faults tells each with its fix")  # fmt: skip
    weeks = weeks_of(request.calendar, request.review_minutes)
    items, gaps = items_of(request)
    options, off = _options_of(request, weeks, items)
    seated = [item for item in items if options[item.key]]
    problem = _problem(request, weeks, seated, gaps, options)
    teams = [frozenset(n for n, item in enumerate(seated) if item.group == group.key)
             for group in request.groups]  # fmt: skip
    answer = settle(problem, teams, sweeps) if seated else Answer((), 0, 0, True, 0)
    found = dict(zip((item.key for item in seated), answer.slots, strict=True))
    placed = _placed(request, weeks, items, gaps, found, off)
    return _laid(request, weeks, items, gaps, found, placed, answer)


def plan_as_it_stands(request: SeasonRequest, stands: Mapping[str, date]) -> YearPlan:
    """What a plan that was drawn up, or moved by hand, comes to: nothing is searched.

    ``stands`` gives the Monday of each item that has one. Where that week takes no work any more,
    or the item came later, its notes say so; hours, overloads and notes are those of
    `plan_season`. Nothing is proved, and ``cost`` and ``bound`` are 0.
    """
    weeks = weeks_of(request.calendar, request.review_minutes)
    items, gaps = items_of(request)
    found = {}
    for item in items:
        index = week_index(weeks, stands[item.key]) if item.key in stands else -1
        if 0 <= index < len(weeks):
            found[item.key] = index
    placed = []
    first = first_free(request, weeks)
    for one in _placed(request, weeks, items, gaps, found, {}):
        notes = list(one.notes)
        if one.week is None and one.item.weeks:
            notes = [Note(GONE if one.item.wished[1] < first else WAITING)]
        elif one.week is not None and not _takes(weeks[one.week], one.item):
            notes.insert(0, Note(CLOSED_NOW))
        elif one.week is not None and one.week not in one.item.weeks and not one.item.due_on:
            quiet = quiet_weeks(request, weeks, one.item.group)
            notes = [note for note in notes if note.code != OUTSIDE or one.week not in quiet]
            if one.week in quiet:
                notes.insert(0, Note(QUIET))
        placed.append(replace(one, notes=tuple(notes)))
    answer = Answer((), 0, 0, False, 0)
    return _laid(request, weeks, items, gaps, found, tuple(placed), answer)


def _takes(week: Week, item: Item) -> bool:
    """Whether a week still takes an item: work, or the fixed day of a reflection in it."""
    return week.takes_work or (item.due_on in week.open_days)


def _laid(
    request: SeasonRequest,
    weeks: tuple[Week, ...],
    items: tuple[Item, ...],
    gaps: tuple[Gap, ...],
    found: dict[str, int],
    placed: tuple[Placed, ...],
    answer: Answer,
) -> YearPlan:
    """Everything that follows from where the items lie."""
    first = first_free(request, weeks)
    may = {
        item.key: tuple(week for week in free_weeks(item, found, gaps) if week >= first)
        for item in items if item.key in found
    }  # fmt: skip
    before = dict(request.before)
    compared = [one for one in placed if one.item.key in before]
    return YearPlan(
        weeks=weeks,
        items=placed,
        gaps=gaps,
        minutes=minutes_by_week(placed, len(weeks)),
        overloads=overloads_of(placed, weeks, may),
        heavy=tuple(_heavy(request, placed, len(weeks))),
        coverage=tuple(_coverage(request, placed)),
        kept=sum(
            one.week is not None and weeks[one.week].monday == before[one.item.key]
            for one in compared
        ),
        compared=len(compared),
        cost=answer.cost,
        bound=answer.bound,
        proved=answer.proved,
        n_variables=answer.n_variables,
    )


def first_free(request: SeasonRequest, weeks: tuple[Week, ...]) -> int:
    """Index of the first week that has not gone by."""
    return 0 if request.not_before is None else max(0, week_index(weeks, request.not_before))


def free_weeks(item: Item, found: dict[str, int], gaps: Sequence[Gap]) -> tuple[int, ...]:
    """Weeks that an item may have without breaking a distance, all others staying."""
    low, high = 0, 10_000
    for gap in gaps:
        if gap.second == item.key and gap.first in found:
            low = max(low, found[gap.first] + gap.least)
            high = high if gap.most is None else min(high, found[gap.first] + gap.most)
        elif gap.first == item.key and gap.second in found:
            high = min(high, found[gap.second] - gap.least)
            low = low if gap.most is None else max(low, found[gap.second] - gap.most)
    return tuple(week for week in item.weeks if low <= week <= high)


def _options_of(
    request: SeasonRequest, weeks: tuple[Week, ...], items: Sequence[Item]
) -> tuple[dict[str, tuple[int, ...]], dict[str, str]]:
    """The weeks each item may have once pins hold, and notes on pins that cannot."""
    pins, off = dict(request.pins), {}
    before = {key: week_index(weeks, day) for key, day in request.before}
    first = first_free(request, weeks)
    options = {}
    for item in items:
        was = before.get(item.key)
        options[item.key] = tuple(week for week in item.weeks if week >= first)
        if was is not None and 0 <= was < first and _takes(weeks[was], item):
            options[item.key] = (was,)
        elif was is None and item.wished[1] < first:
            options[item.key] = ()
            off[item.key] = GONE
        if item.key in pins:
            index = week_index(weeks, pins[item.key])
            if 0 <= index < len(weeks) and weeks[index].takes_work:
                # A director may pin what the rules would not do: it is their plan.
                options[item.key] = (index,)
                off.pop(item.key, None)
            else:
                off[item.key] = PIN_CLOSED
    return options, off


def _problem(
    request: SeasonRequest,
    weeks: tuple[Week, ...],
    items: Sequence[Item],
    gaps: Sequence[Gap],
    options: dict[str, tuple[int, ...]],
) -> Problem:
    """The request as slots, prices, loads and distances."""
    before = {key: week_index(weeks, day) for key, day in request.before}
    place = {item.key: index for index, item in enumerate(items)}
    reviews = tuple(item.review_minutes for item in items)
    room = tuple(week.review_minutes for week in weeks)
    tiers = ((1.0, OVER_MINUTE), (FAR_OVER, FAR_OVER_MINUTE), (FULL, FULL_MINUTE))
    loads = [
        Load(reviews, tuple(int(one * part) for one in room), price) for part, price in tiers
    ]
    for group in request.groups:
        own = tuple(item.musician_minutes * (item.group == group.key) for item in items)
        if any(own):
            loads.append(Load(own, (request.musician_minutes,) * len(weeks), HEAVY_MINUTE))
    distances = tuple(
        Distance(place[gap.first], place[gap.second], gap.least, gap.most, DISTANCE_WEEK)
        for gap in gaps
        if gap.first in place and gap.second in place
    )
    problem = Problem(
        options=tuple(options[item.key] for item in items),
        costs=tuple(
            tuple(_cost(item, week, before.get(item.key)) for week in options[item.key])
            for item in items
        ),
        loads=tuple(loads),
        distances=distances,
        seed=request.seed,
    )
    stands = tuple(before.get(item.key, -1) for item in items)
    return first_guess(problem, stands)


def _cost(item: Item, week: int, before: int | None) -> int:
    """What a week costs an item by itself."""
    low, high = item.wished
    cost = OUTSIDE_WEEK * max(low - week, week - high, 0) + OFF_TARGET_WEEK * abs(
        week - item.target
    )
    if before is not None and week != before:
        cost += MOVED_ITEM + MOVED_WEEK * abs(week - before)
    return cost


def _placed(
    request: SeasonRequest,
    weeks: tuple[Week, ...],
    items: Sequence[Item],
    gaps: Sequence[Gap],
    found: dict[str, int],
    off: dict[str, str],
) -> tuple[Placed, ...]:
    """Items with their weeks, days and notes."""
    pins, before = dict(request.pins), dict(request.before)
    weekday = {group.key: group.due_weekday for group in request.groups}
    rows = []
    for item in items:
        week = found.get(item.key)
        notes = [Note(off[item.key])] if item.key in off else []
        if week is None:
            if off.get(item.key) != GONE:
                notes.append(Note(UNPLACED))
            rows.append(Placed(item, None, None, False, tuple(notes)))
            continue
        low, high = item.wished
        away = max(low - week, week - high, 0)
        if away and item.when != AFTER_CONCERT:
            notes.append(Note(OUTSIDE, weeks=away))
        notes += _distance_notes(item.key, week, found, gaps)
        was = before.get(item.key)
        if was is not None and was != weeks[week].monday:
            notes.append(Note(MOVED, was=was))
        pinned = item.key in pins and item.key not in off
        rows.append(
            Placed(item, week, due_day(weeks[week], item, weekday[item.group], request.calendar),
                   pinned, tuple(notes))
        )  # fmt: skip
    return tuple(rows)


def _distance_notes(
    key: str, week: int, found: dict[str, int], gaps: Sequence[Gap]
) -> Iterator[Note]:
    """Distances to earlier items that do not hold, told on the later one."""
    for gap in gaps:
        if gap.second == key and gap.first in found:
            apart = week - found[gap.first]
            if apart < gap.least:
                yield Note(TOO_NEAR, weeks=gap.least - apart, other=gap.first)
            elif gap.most is not None and apart > gap.most:
                yield Note(TOO_LATE, weeks=apart - gap.most, other=gap.first)


def due_day(week: Week, item: Item, weekday: int, calendar: SeasonCalendar) -> date:
    """The day an item is due: its fixed day in its week, else the group's day or one before it.

    Where the group's day is closed, the nearest school day before it in the same week, else after.
    """
    if item.due_on is not None and item.weeks and week.monday <= item.due_on:
        fixed = item.due_on - week.monday < timedelta(days=7)
        if fixed and is_open(calendar, item.due_on):
            return item.due_on
    wished = week.monday + timedelta(days=weekday)
    days = week.open_days or (wished,)
    return min(days, key=lambda day: (day > wished, abs((day - wished).days)))


def _heavy(request: SeasonRequest, placed: Sequence[Placed], n_weeks: int) -> Iterator[Heavy]:
    """Weeks in which a group's work asks too much of one musician."""
    for group in request.groups:
        minutes = [0] * n_weeks
        for one in placed:
            if one.item.group == group.key and one.week is not None:
                minutes[one.week] += one.item.musician_minutes
        for week, asked in enumerate(minutes):
            if asked > request.musician_minutes:
                yield Heavy(week, group.key, asked, request.musician_minutes)


def _coverage(request: SeasonRequest, placed: Sequence[Placed]) -> Iterator[Coverage]:
    """Which items serve each standard in each group; which kinds could, where none does."""
    serves = {kind.key: set(kind.standards) for kind in request.kinds}
    for group in request.groups:
        own = [one for one in placed if one.item.group == group.key and one.week is not None]
        for standard in request.standards:
            items = tuple(one.item.key for one in own if standard in serves[one.item.kind])
            kinds = () if items else tuple(key for key, codes in serves.items()
                                           if standard in codes)  # fmt: skip
            yield Coverage(group.key, standard, items, kinds)


def problem_of(request: SeasonRequest) -> tuple[tuple[Item, ...], Problem]:
    """The items that have a week at all, and the problem as the search sees it: for measuring."""
    weeks = weeks_of(request.calendar, request.review_minutes)
    items, gaps = items_of(request)
    options, _ = _options_of(request, weeks, items)
    seated = tuple(item for item in items if options[item.key])
    return seated, _problem(request, weeks, seated, gaps, options)


def standing_cost(request: SeasonRequest, found: dict[str, date]) -> int:
    """What another plan costs by the same prices; ``found`` gives each item's Monday."""
    first = weeks_of(request.calendar, request.review_minutes)
    seated, problem = problem_of(request)
    return cost_of(problem, tuple(week_index(first, found[item.key]) for item in seated))
