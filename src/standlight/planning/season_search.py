"""A large problem in parts: one team's items after another, then the items of a few slots at once.

Each part is solved by `season_solver.solve` with everything else staying where it is, so the cost
never rises (large neighbourhood search: Shaw 1998, CP98, LNCS 1520:417-431).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from standlight.planning.season_solver import (
    Answer,
    Distance,
    Load,
    Problem,
    cost_of,
    solve,
)

SMALL = 900
"""Options up to which a problem is solved whole: two groups' year; about a second."""

PART_EFFORT = 0.06
"""Deterministic time of one part: with it the benchmark's first plan takes three seconds of a
processor. Twice as much bettered its plans by four percent on average."""

WINDOW = 6
"""Slots of a part that holds all items lying in them; windows overlap by half."""


def settle(problem: Problem, teams: Sequence[frozenset[int]], sweeps: int = 1) -> Answer:
    """A cheap answer of a problem with a ``start``, proved only where it is small.

    ``teams`` are sets of items that hang together, by index. ``n_variables`` is that of the
    choices in the whole problem where it is solved in parts.
    """
    n_options = sum(map(len, problem.options))
    if n_options <= SMALL:
        return solve(problem)
    slots = problem.start
    n_slots = max(map(max, problem.options)) + 1
    for _ in range(sweeps):
        for free in _blocks(teams, n_slots):
            items = frozenset(
                item for item, slot in enumerate(slots)
                if (item in free if isinstance(free, frozenset) else slot in free)
            )  # fmt: skip
            keep, part = part_of(problem, slots, items)
            if items:
                found = dict(zip(keep, solve(part, PART_EFFORT).slots, strict=True))
                tried = tuple(found.get(item, slot) for item, slot in enumerate(slots))
                # A part that ran out of effort may have lost its start: never take a worse one.
                slots = min(slots, tried, key=lambda one: cost_of(problem, one))
    return Answer(slots, cost_of(problem, slots), 0, False, n_options)


def _blocks(teams: Sequence[frozenset[int]], n_slots: int) -> Iterator[frozenset[int] | range]:
    """Teams, then windows of slots from first to last."""
    yield from teams
    for first in range(0, n_slots, WINDOW // 2):
        yield range(first, first + WINDOW)


def part_of(
    problem: Problem, slots: tuple[int, ...], free: frozenset[int]
) -> tuple[tuple[int, ...], Problem]:
    """The problem of the ``free`` items alone, and which items it holds (by index, ascending).

    What stays takes its room away; items at a distance to free ones come along where they lie.
    """
    gaps = [one for one in problem.distances if one.first in free or one.second in free]
    keep = tuple(sorted(free | {one.first for one in gaps} | {one.second for one in gaps}))
    at = {item: index for index, item in enumerate(keep)}
    loads = []
    for load in problem.loads:
        room = list(load.room)
        for item, slot in enumerate(slots):
            if item not in at:
                room[slot] -= load.amounts[item]
        amounts = tuple(load.amounts[item] for item in keep)
        if any(amounts):
            # Below none, every unit is over all the same: the rest is a constant.
            loads.append(Load(amounts, tuple(max(0, one) for one in room), load.price))
    part = Problem(
        options=tuple(problem.options[n] if n in free else (slots[n],) for n in keep),
        costs=tuple(problem.costs[n] if n in free else (0,) for n in keep),
        loads=tuple(loads),
        distances=tuple(
            Distance(at[one.first], at[one.second], one.least, one.most, one.price) for one in gaps
        ),
        start=tuple(slots[n] for n in keep),
        seed=problem.seed,
    )
    return keep, part
