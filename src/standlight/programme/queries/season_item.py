"""One piece of work of the planned year: where it is and why, where it could be."""

from __future__ import annotations

from datetime import date

from standlight.planning import (
    SeasonRequest,
    YearPlan,
    free_weeks,
    heard_of,
    plan_as_it_stands,
    week_index,
)
from standlight.programme.models import Piece, PlayingCheck, SeasonItem
from standlight.programme.queries.kinds import latest_kinds
from standlight.programme.queries.season import names_of
from standlight.programme.queries.season_request import season_request, stands_of
from standlight.programme.queries.season_values import ItemPage, Made, WeekChoice
from standlight.programme.queries.season_words import (
    WHEN_WORDS,
    first_up,
    hours,
    item_name,
    note_words,
    seconds,
    time_words,
    week_words,
)

CHECK = "playing_check"
"""The kind that has a form of its own, because it is made from a piece's passages."""


def item_page(row: SeasonItem, today: date) -> ItemPage | None:
    """The page of one item; None where the year no longer holds it."""
    request = season_request(row.plan, today)
    year = plan_as_it_stands(request, stands_of(row.plan))
    placed = next((one for one in year.items if one.item.key == row.key), None)
    if placed is None:
        return None
    item, names = placed.item, names_of(row.plan, year)
    kinds = {one.kind.key: one.kind for one in latest_kinds(row.plan.programme)}
    kind, is_check = kinds[item.kind], item.kind == CHECK
    choices = _choices(request, year, row, today)
    here = next((n for n, one in enumerate(choices) if one.is_here), None)
    each = next(one.review_minutes for one in request.kinds if one.key == item.kind)
    pieces = Piece.objects.filter(ensemble=row.ensemble)
    cycle = int(item.cycle[1:]) if item.cycle else None
    checks = PlayingCheck.objects.filter(ensemble=row.ensemble).order_by("-due_on")[:20]
    share = round(100 * item.share)
    some = f"{item.musicians}"
    if item.share < 1:
        some = f"{heard_of(item.share, item.musicians)} of {some}"
    return ItemPage(
        pk=row.pk,
        name=item_name(item),
        group=row.ensemble.name,
        ensemble_pk=row.ensemble_id,
        kind=kind.name,
        kind_key=item.kind,
        week=week_words(year.weeks[placed.week]) if placed.week is not None else "",
        due_on=placed.due_on,
        why=(WHEN_WORDS[item.when],),
        notes=tuple(note_words(note, names.__getitem__) for note in placed.notes),
        minutes=f"{some} musicians, {seconds(row.review_minutes or each)} each: about "
        f"{time_words(item.review_minutes)} of yours",
        pinned=row.pinned,
        share=share,
        each=f"{row.review_minutes or each:g}",
        is_changed=row.share is not None or row.review_minutes is not None,
        is_past=placed.due_on is not None and placed.due_on < today,
        earlier=choices[here - 1].monday if here else None,
        later=choices[here + 1].monday
        if here is not None and here + 1 < len(choices) else None,
        choices=choices,
        made=_made(row),
        again_of=_again_of(row, item.when, item.number),
        is_check=is_check,
        pieces=tuple(
            (one.pk, one.title)
            for one in sorted(pieces, key=lambda one: (one.cycle_id != cycle, one.title))
        ),
        checks=tuple((one.pk, one.title) for one in checks),
        wants_piece="piece" in kind.needs,
        wants_sound="sound" in kind.needs,
    )  # fmt: skip


def _made(row: SeasonItem) -> Made | None:
    """What the item has become."""
    if row.assignment is not None:
        return Made(row.assignment.title, "assignment", row.assignment.pk)
    if row.check_row is not None:
        return Made(row.check_row.title, "check", row.check_row.pk)
    return None


def _again_of(row: SeasonItem, when: str, number: int) -> Made | None:
    """The check whose passage this one asks again, once the first has become one."""
    if when != "anchor" or number == 1:
        return None
    first = row.plan.items.select_related("check_row", "assignment").filter(
        key=f"{row.key.rpartition('/')[0]}/1", check_row__isnull=False
    )
    return _made(first[0]) if first else None


def _choices(
    request: SeasonRequest, year: YearPlan, row: SeasonItem, today: date
) -> tuple[WeekChoice, ...]:
    """Every week from now on that takes work, with what it would come to."""
    placed = next(one for one in year.items if one.item.key == row.key)
    found = {one.item.key: one.week for one in year.items if one.week is not None}
    fine = set(free_weeks(placed.item, found, year.gaps))
    now = week_index(year.weeks, today) if request.not_before else 0
    choices = []
    for index, week in enumerate(year.weeks):
        is_here = index == placed.week
        if not is_here and (index < now or not week.takes_work):
            continue
        minutes = year.minutes[index] + (0 if is_here else placed.item.review_minutes)
        words = (f"{first_up(week_words(week))}: {hours(minutes)} of "
                 f"{hours(week.review_minutes)} hours")  # fmt: skip
        if minutes > week.review_minutes:
            words += ", too much"
        if not is_here and index not in fine:
            words += ", not where it fits"
        choices.append(WeekChoice(week.monday, words + (" (here now)" * is_here), is_here))
    return tuple(choices)
