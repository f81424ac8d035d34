"""Whether the director's minutes hold what is planned, by arithmetic, and every way out computed.

Two questions. Before any search: do the items that are allowed nowhere else already need more than
some weeks have (an interval argument: what must lie within must fit within)? After it: which
weeks of the plan need more than they have?
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil, floor

from standlight.planning.season_values import (
    DRAW,
    MOVE,
    SHORTEN,
    Item,
    Option,
    Overload,
    Placed,
    Week,
    heard_of,
)

LARGEST = 3
"""So many items of an overloaded week get options; our choice: more is a page nobody reads."""

STEP_MINUTES = 0.05
"""Minutes a musician are told in steps of three seconds."""

LEAST_PART = 0.5
"""Shortening below half the minutes, or rating fewer than this part of ``LEAST_DRAWN``, is told as
not enough: our choice."""

LEAST_DRAWN = 0.25
"""A draw of fewer than a quarter of a group tells little about it; our choice."""


def unavoidable(items: Sequence[Item], weeks: Sequence[Week]) -> tuple[Overload, ...]:
    """Shortest intervals of weeks that hold less than what must lie in them, the earliest first.

    An interval is told only where no shorter one inside it is overloaded already. The sum over
    an interval is a lower bound of any plan, so every finding is a proof.
    """
    found: list[Overload] = []
    for length in range(len(weeks)):
        for first in range(len(weeks) - length):
            last = first + length
            if any(first <= one.first and one.last <= last for one in found):
                continue
            inside = [
                item for item in items
                if item.review_minutes and item.weeks
                and first <= item.weeks[0] and item.weeks[-1] <= last
            ]  # fmt: skip
            needed = sum(item.review_minutes for item in inside)
            room = sum(week.review_minutes for week in weeks[first : last + 1])
            if needed > room:
                keys = tuple(item.key for item in _largest_first(inside))
                found.append(Overload(first, last, needed, room, True, keys))
    return tuple(sorted(found, key=lambda one: (one.first, one.last)))


def minutes_by_week(placed: Sequence[Placed], n_weeks: int) -> tuple[int, ...]:
    """The director's minutes of review in each week."""
    minutes = [0] * n_weeks
    for one in placed:
        if one.week is not None:
            minutes[one.week] += one.item.review_minutes
    return tuple(minutes)


def overloads_of(
    placed: Sequence[Placed], weeks: Sequence[Week], may: dict[str, tuple[int, ...]]
) -> tuple[Overload, ...]:
    """Weeks of a plan with more minutes than they have, each with its ways out.

    ``may`` gives for each item the weeks it could move to without breaking a distance; where it is
    empty, a move is offered to the nearest week that could take work at all.
    Intervals of several weeks that no plan can hold are told too, where no week of theirs is.
    """
    minutes = minutes_by_week(placed, len(weeks))
    proofs = unavoidable([one.item for one in placed], weeks)
    found = []
    for index, needed in enumerate(minutes):
        room = weeks[index].review_minutes
        if needed > room:
            inside = _largest_first([one.item for one in placed if one.week == index])
            proved = any(one.first == one.last == index for one in proofs)
            found.append(
                Overload(
                    index, index, needed, room, proved,
                    tuple(item.key for item in inside),
                    _options(inside, index, needed, weeks, minutes, may),
                )
            )  # fmt: skip
    told = {one.first for one in found}
    found += [one for one in proofs
              if one.first < one.last and told.isdisjoint(range(one.first, one.last + 1))]
    return tuple(sorted(found, key=lambda one: (one.first, one.last)))


def _largest_first(items: Sequence[Item]) -> list[Item]:
    return sorted(items, key=lambda item: (-item.review_minutes, item.key))


def _options(
    inside: Sequence[Item],
    week: int,
    needed: int,
    weeks: Sequence[Week],
    minutes: Sequence[int],
    may: dict[str, tuple[int, ...]],
) -> tuple[Option, ...]:
    """Every way out for the largest items of a week, what is enough alone first."""
    options: list[Option] = []
    for item in [one for one in inside if one.review_minutes][:LARGEST]:
        options += _moves(item, week, needed, weeks, minutes, may.get(item.key, ()))
        options += _lighter(item, needed, weeks[week].review_minutes)
    order = (MOVE, SHORTEN, DRAW)
    options.sort(key=lambda one: (not one.enough, order.index(one.code), one.minutes))
    return tuple(options)


def _moves(
    item: Item,
    week: int,
    needed: int,
    weeks: Sequence[Week],
    minutes: Sequence[int],
    may: tuple[int, ...],
) -> Iterator[Option]:
    """The nearest week with room for an item, if there is one."""
    def fits(other: int) -> bool:
        return minutes[other] + item.review_minutes <= weeks[other].review_minutes

    near = sorted((one for one in may if one != week and fits(one)),
                  key=lambda one: (abs(one - week), one))  # fmt: skip
    if item.due_on is not None:
        # A fixed day has no other week of its own: the next ones are offered all the same.
        near = [one for one in range(week + 1, min(week + 3, len(weeks)))
                if weeks[one].takes_work and fits(one)]  # fmt: skip
    if near:
        left = needed - item.review_minutes
        yield Option(
            MOVE, item.key, left, left <= weeks[week].review_minutes,
            to_week=near[0], minutes_there=minutes[near[0]] + item.review_minutes,
        )  # fmt: skip


def _lighter(item: Item, needed: int, room: int) -> Iterator[Option]:
    """Fewer minutes for each musician, or fewer musicians, so that the week holds."""
    rated = heard_of(item.share, item.musicians)
    if not rated or not item.review_each:
        return
    each = item.review_each
    left_for_it = room - (needed - item.review_minutes)
    least = each * LEAST_PART
    to = floor(max(left_for_it, 0) / rated / STEP_MINUTES + 1e-9) * STEP_MINUTES
    enough = to >= least
    to = to if enough else ceil(least / STEP_MINUTES - 1e-9) * STEP_MINUTES
    if to < each - 1e-9:
        after = needed - item.review_minutes + ceil(to * rated - 1e-9)
        yield Option(
            SHORTEN, item.key, after, after <= room, each_from=round(each, 2), each_to=round(to, 2)
        )
    fewest = ceil(item.musicians * LEAST_DRAWN)
    n = max(floor(max(left_for_it, 0) / each + 1e-9), fewest)
    if n < rated:
        after = needed - item.review_minutes + ceil(n * each - 1e-9)
        yield Option(DRAW, item.key, after, after <= room, n=n, of=item.musicians)
