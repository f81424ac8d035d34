"""A first guess for the search: what stands stays, the rest goes where it costs least by then."""

from __future__ import annotations

from dataclasses import replace

from standlight.planning.season_solver import Problem

SWEEPS = 3
"""So often every item is looked at again; the guess of the benchmark's year settles within them."""


def first_guess(problem: Problem, stands: tuple[int, ...]) -> Problem:
    """The problem with a ``start``: ``stands`` where it is an option (-1: nothing stands).

    Items with few options go first; then each is moved, while that lowers the whole cost.
    """
    state = _State(problem)
    waiting = []
    for item, slot in enumerate(stands):
        if slot in problem.options[item]:
            state.put(item, slot)
        else:
            waiting.append(item)
    for item in sorted(waiting, key=lambda one: (len(problem.options[one]), one)):
        state.put(item, state.best(item))
    for _ in range(SWEEPS):
        moved = False
        for item in range(len(problem.options)):
            before = state.slots[item]
            state.take(item)
            best = state.best(item)
            state.put(item, best)
            moved = moved or best != before
        if not moved:
            break
    return replace(problem, start=tuple(slot if slot is not None else 0 for slot in state.slots))


class _State:
    """Slots so far, and what fills them; all costs are differences."""

    def __init__(self, problem: Problem) -> None:
        """Begin with nothing placed."""
        self.problem = problem
        self.slots: list[int | None] = [None] * len(problem.options)
        self.filled = [[0] * len(load.room) for load in problem.loads]
        self.near: list[list[int]] = [[] for _ in problem.options]
        for index, gap in enumerate(problem.distances):
            self.near[gap.first].append(index)
            self.near[gap.second].append(index)

    def put(self, item: int, slot: int) -> None:
        """Lay an item into a slot."""
        self.slots[item] = slot
        for filled, load in zip(self.filled, self.problem.loads, strict=True):
            filled[slot] += load.amounts[item]

    def take(self, item: int) -> None:
        """Take an item out."""
        slot = self.slots[item]
        if slot is not None:
            for filled, load in zip(self.filled, self.problem.loads, strict=True):
                filled[slot] -= load.amounts[item]
        self.slots[item] = None

    def best(self, item: int) -> int:
        """The slot that adds least, the earliest of equals."""
        costs = dict(zip(self.problem.options[item], self.problem.costs[item], strict=True))
        return min(costs, key=lambda slot: (costs[slot] + self._adds(item, slot), slot))

    def _adds(self, item: int, slot: int) -> int:
        """What loads and distances gain by an item in a slot."""
        added = 0
        for filled, load in zip(self.filled, self.problem.loads, strict=True):
            amount = load.amounts[item]
            if amount:
                room = load.room[slot]
                added += load.price * (
                    max(0, filled[slot] + amount - room) - max(0, filled[slot] - room)
                )
        for index in self.near[item]:
            gap = self.problem.distances[index]
            first = slot if gap.first == item else self.slots[gap.first]
            second = slot if gap.second == item else self.slots[gap.second]
            if first is not None and second is not None:
                apart = second - first
                over = 0 if gap.most is None else max(0, apart - gap.most)
                added += gap.price * (max(0, gap.least - apart) + over)
        return added
