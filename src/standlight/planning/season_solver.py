"""One small door to CP-SAT: items into slots at the least cost. No word of music in it.

Source: Perron & Furnon, OR-Tools (CP-SAT), Apache 2.0. The solver is loaded only when a problem is
solved: it brings pandas along, which nothing here uses. One thread and a budget counted in the
solver's own deterministic time, so that a seed gives the same answer on every machine.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import ModuleType
from typing import Any

from standlight.errors import StandlightError

EFFORT = 1.0
"""Deterministic time of one search, some two seconds of a processor; our choice."""


@dataclass(frozen=True, slots=True)
class Load:
    """What fills slots: ``amounts`` (one an item, 0 or more), ``room`` (one a slot), and the price.

    Every unit above the room of a slot costs ``price``; nothing forbids it.
    """

    amounts: tuple[int, ...]
    room: tuple[int, ...]
    price: int


@dataclass(frozen=True, slots=True)
class Distance:
    """How far ``second`` should lie after ``first``: ``least`` to ``most`` slots.

    Each slot short or over costs ``price``.
    """

    first: int
    second: int
    least: int
    most: int | None
    price: int


@dataclass(frozen=True, slots=True)
class Problem:
    """Items by index; ``options[i]`` are the slots item i may have, with ``costs[i]`` of each.

    ``start`` is a first guess, one slot an item, or ().
    """

    options: tuple[tuple[int, ...], ...]
    costs: tuple[tuple[int, ...], ...]
    loads: tuple[Load, ...] = ()
    distances: tuple[Distance, ...] = ()
    start: tuple[int, ...] = ()
    seed: int = 0

    def __post_init__(self) -> None:
        """Refuse what has no answer."""
        if not all(self.options):
            raise StandlightError(f"item {self.options.index(())} has no slot")
        if [len(one) for one in self.options] != [len(one) for one in self.costs]:
            raise StandlightError("every option has one cost")


@dataclass(frozen=True, slots=True)
class Answer:
    """A slot for each item, the cost, a proved bound under it, and how large the model was."""

    slots: tuple[int, ...]
    cost: int
    bound: int
    proved: bool
    n_variables: int


def cost_of(problem: Problem, slots: tuple[int, ...]) -> int:
    """The cost of any answer, by plain arithmetic: the oracle of `solve`.

    >>> one = Problem(((0, 1),), ((3, 5),), (Load((4,), (1, 4), 10),))
    >>> cost_of(one, (0,)), cost_of(one, (1,))
    (33, 5)
    """
    total = sum(
        costs[options.index(slot)]
        for options, costs, slot in zip(problem.options, problem.costs, slots, strict=True)
    )
    for load in problem.loads:
        filled = [0] * len(load.room)
        for amount, slot in zip(load.amounts, slots, strict=True):
            filled[slot] += amount
        total += load.price * sum(
            max(0, full - room) for full, room in zip(filled, load.room, strict=True)
        )
    for gap in problem.distances:
        apart = slots[gap.second] - slots[gap.first]
        over = 0 if gap.most is None else max(0, apart - gap.most)
        total += gap.price * (max(0, gap.least - apart) + over)
    return total


def solve(problem: Problem, effort: float = EFFORT) -> Answer:
    """The cheapest answer found within ``effort`` (deterministic time), the same for a seed.

    Always answers: nothing in a problem is forbidden but slots that are no option.

    >>> solve(Problem(((0, 1), (0, 1)), ((1, 0), (5, 0)), (Load((1, 1), (1, 1), 100),))).slots
    (0, 1)
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    chosen = [
        {slot: model.new_bool_var("") for slot in options} for options in problem.options
    ]
    terms, prices = [], []
    for bools, options, costs in zip(chosen, problem.options, problem.costs, strict=True):
        model.add_exactly_one(bools.values())
        terms += [bools[slot] for slot in options]
        prices += costs
    for load in problem.loads:
        held: dict[int, list[tuple[Any, int]]] = {}
        for bools, amount in zip(chosen, load.amounts, strict=True):
            if amount:
                for slot, bool_var in bools.items():
                    held.setdefault(slot, []).append((bool_var, amount))
        for slot, pairs in held.items():
            most = sum(amount for _, amount in pairs)
            if most > load.room[slot]:
                over = model.new_int_var(0, most - load.room[slot], "")
                filled = cp_model.LinearExpr.weighted_sum(
                    [one for one, _ in pairs], [amount for _, amount in pairs]
                )
                model.add(filled <= load.room[slot] + over)
                terms.append(over)
                prices.append(load.price)
    for gap in problem.distances:
        _keep_distance(cp_model, model, chosen, gap, terms, prices)
    model.minimize(cp_model.LinearExpr.weighted_sum(terms, prices))
    for bools, slot in zip(chosen, problem.start, strict=False):
        for option, bool_var in bools.items():
            model.add_hint(bool_var, option == slot)
    solver = cp_model.CpSolver()
    solver.parameters.random_seed = problem.seed
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = effort
    state = solver.solve(model)
    if state not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        if not problem.start:
            raise StandlightError("the search was ended before its first answer")
        cost = cost_of(problem, problem.start)
        return Answer(problem.start, cost, 0, False, len(model.proto.variables))
    slots = tuple(
        next(slot for slot, one in bools.items() if solver.boolean_value(one)) for bools in chosen
    )
    return Answer(
        slots,
        cost_of(problem, slots),
        int(solver.best_objective_bound),
        state == cp_model.OPTIMAL,
        len(model.proto.variables),
    )


def _keep_distance(
    cp_model: ModuleType,
    model: Any,
    chosen: list[dict[int, Any]],
    gap: Distance,
    terms: list[Any],
    prices: list[int],
) -> None:
    """Lay a distance over two items; what is short of it, or over it, has its price."""
    first, second = (
        cp_model.LinearExpr.weighted_sum(list(chosen[item].values()), list(chosen[item]))
        for item in (gap.first, gap.second)
    )
    lowest = min(chosen[gap.second]) - max(chosen[gap.first])
    highest = max(chosen[gap.second]) - min(chosen[gap.first])
    if lowest < gap.least:
        short = model.new_int_var(0, gap.least - lowest, "")
        model.add(second - first + short >= gap.least)
        terms.append(short)
        prices.append(gap.price)
    if gap.most is not None and highest > gap.most:
        over = model.new_int_var(0, highest - gap.most, "")
        model.add(second - first - over <= gap.most)
        terms.append(over)
        prices.append(gap.price)
