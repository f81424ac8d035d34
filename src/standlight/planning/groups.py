"""Discussion groups and sectionals by annealing over pairs, with reasons and broken wishes. Pure.

Every aim is a cost of pairs (`pair_costs`), so that a swap of two members changes the total by a
few numbers that are kept up to date. A step takes one member and draws the partner of the swap
among everybody with the chances of the temperature (heat bath), so that no step is thrown away.
The search starts, where one is found, from a grouping that holds every wish.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations
from math import exp

import numpy as np

from standlight.errors import StandlightError
from standlight.planning.group_values import (
    HELPER,
    SAME,
    Broken,
    CannotHold,
    Group,
    Grouping,
    GroupRequest,
    Member,
    Reason,
)
from standlight.planning.pair_costs import map_distances, pair_costs
from standlight.planning.wishes import Units, placed, units_of

SWEEPS, STARTS = 60, 2
"""Steps a member, and times that all is done: a search thirty times as long gains 1 to 2 percent
more of what is gained over chance (``benchmarks/discussion_groups.py``, seeds 0 to 3)."""

FEW, STARTS_OF_FEW = 20, 8
"""So few members are grouped more often from other starts: wishes leave hardly any way from one
grouping to a better one, and it costs nothing (found against every way for 5 to 9 members)."""

HOT, COLD = 1.0, 0.03
"""First and last temperature, in the unit of a pair's cost: same parts cost 1 (our choice)."""

BREAKS = 1000.0
"""What a broken wish costs: more than all else together."""


def make_groups(request: GroupRequest) -> Grouping:
    """Groups of at most ``request.size``, the best that the search finds with its seed.

    The order of the members changes nothing.

    >>> from standlight.planning.group_values import Member
    >>> eight = tuple(Member(f"m{n}", "FO"[n % 2]) for n in range(8))
    >>> asked = GroupRequest(eight, 4, parts="same", keep_apart=(("m0", "m2"),))
    >>> found = make_groups(asked)
    >>> [len(group.members) for group in found.groups], found.broken, found.cannot_hold
    ([4, 4], (), ())
    """
    request = replace(request, members=tuple(sorted(request.members, key=lambda one: one.key)))
    found = units_of(request)
    costs = _with_wishes(request, found)
    random = np.random.default_rng(request.seed)
    best: tuple[float, np.ndarray] | None = None
    proofs = found.proofs
    for _ in range(STARTS if len(request.members) > FEW else STARTS_OF_FEW):
        start, no_way = placed(found, request.sizes, random)
        proofs = (*found.proofs, *no_way)
        anneal = _Anneal(costs, found.units, _begin(found, request.sizes, start), random)
        total, groups = anneal.run()
        if best is None or total < best[0] - 1e-9:
            best = total, groups
    return _told(request, best[1], dict(_roles_of(request, best[1])), proofs)


def tell_groups(
    request: GroupRequest, groups: Sequence[Sequence[str]], roles: Mapping[str, str]
) -> Grouping:
    """Groups as they stand, after a swap by hand say: their reasons and the wishes they break.

    ``roles`` has the role of a key, where it has one. Nothing is searched or proved. Raises
    `StandlightError` where ``groups`` do not hold every member once.

    >>> from standlight.planning.group_values import Member
    >>> four = tuple(Member(key, "Flute") for key in "abcd")
    >>> asked = GroupRequest(four, 2, parts="same", keep_apart=(("a", "b"),))
    >>> [one.members for one in tell_groups(asked, (("a", "b"), ("c", "d")), {}).broken]
    [('a', 'b')]
    """
    request = replace(request, members=tuple(sorted(request.members, key=lambda one: one.key)))
    of = {key: number for number, group in enumerate(groups) for key in group}
    keys = [member.key for member in request.members]
    if sorted(of) != keys or sum(map(len, groups)) != len(keys):
        raise StandlightError("the groups do not hold every musician once", slip="an old page?")
    return _told(request, np.array([of[key] for key in keys]), roles, ())


def _told(
    request: GroupRequest,
    groups: np.ndarray,
    roles: Mapping[str, str],
    proofs: tuple[CannotHold, ...],
) -> Grouping:
    """Groups (n,) with everything that is said of them."""
    own = pair_costs(request)
    cost = float(own[groups[:, None] == groups[None, :]].sum() / 2)
    told = tuple(_groups(request, groups, roles))
    return Grouping(told, cost, tuple(_broken(request, groups)), proofs)


def _with_wishes(request: GroupRequest, found: Units) -> np.ndarray:
    """Pair costs with the price of breaking a wish."""
    costs = pair_costs(request)
    place = {member.key: index for index, member in enumerate(request.members)}
    for a, b in {tuple(sorted(pair)) for pair in request.keep_apart}:
        costs[place[a], place[b]] += BREAKS
        costs[place[b], place[a]] += BREAKS
    for dissolved in found.impossible:
        for a, b in combinations(dissolved, 2):
            # As many as can be stay together; who is to be kept apart still is.
            costs[a, b] -= BREAKS / 10
            costs[b, a] -= BREAKS / 10
    return costs


def _begin(found: Units, sizes: Sequence[int], start: Sequence[int] | None) -> np.ndarray:
    """(n,) a group for each member: the start that was found, else units as they fit.

    A unit for which no group has room left is taken apart (its wish is then told as broken).
    """
    groups = np.zeros(sum(len(unit) for unit in found.units), dtype=np.int64)
    if start is not None:
        for unit, group in zip(found.units, start, strict=True):
            groups[list(unit)] = group
        return groups
    room = list(sizes)
    for unit in sorted(found.units, key=lambda one: -len(one)):
        free = int(np.argmax(room))
        for member in unit:
            if room[free] == 0:
                free = int(np.argmax(room))
            groups[member] = free
            room[free] -= 1
    return groups


class _Anneal:
    """One run. ``with_group`` (n, groups) is the cost of each member with each whole group."""

    def __init__(
        self,
        costs: np.ndarray,
        units: Sequence[tuple[int, ...]],
        groups: np.ndarray,
        random: np.random.Generator,
    ) -> None:
        """Keep ``groups`` (n,) as the start."""
        self.costs, self.random = costs, random
        self.groups = groups.copy()
        whole = [unit for unit in units if len({int(groups[member]) for member in unit}) == 1]
        self.large = [np.array(unit) for unit in whole if len(unit) > 1]
        bound = {int(member) for unit in self.large for member in unit}
        self.single = np.array([n for n in range(len(groups)) if n not in bound], dtype=np.int64)
        self.n_groups = int(groups.max()) + 1
        self.with_group = costs @ np.eye(self.n_groups)[self.groups]
        same = self.groups[:, None] == self.groups[None, :]
        self.total = float(costs[same].sum() / 2)

    def run(self) -> tuple[float, np.ndarray]:
        """The lowest total and its groups."""
        best, best_groups = self.total, self.groups.copy()
        if self.n_groups == 1:
            return best, best_groups
        steps = SWEEPS * len(self.groups)
        share_large = sum(len(unit) for unit in self.large) / len(self.groups)
        for step, heat in enumerate(HOT * (COLD / HOT) ** (np.arange(steps) / steps)):
            if share_large and self.random.random() < share_large:
                self._move_unit(float(heat))
            elif len(self.single):
                self._swap(int(self.single[step % len(self.single)]), float(heat))
            if self.total < best - 1e-9:
                best, best_groups = self.total, self.groups.copy()
        return best, best_groups

    def _swap(self, member: int, heat: float) -> None:
        """Draw whom ``member`` changes places with; nobody is among the choices."""
        others, own = self.single, self.groups[member]
        theirs = self.groups[others]
        change = (self.with_group[others, own] - self.with_group[others, theirs]
                  + self.with_group[member, theirs] - self.with_group[member, own]
                  - 2.0 * self.costs[member, others])  # fmt: skip
        change[theirs == own] = 0.0
        low = min(0.0, float(change.min()))
        chances = np.exp((low - change) / heat)
        # Those of the own group stand for staying: together they count once.
        chances[theirs == own] = exp(low / heat) / max(1, int((theirs == own).sum()))
        running = np.cumsum(chances)
        drawn = int(np.searchsorted(running, self.random.random() * running[-1]))
        drawn = min(drawn, len(others) - 1)
        if theirs[drawn] != own:
            self._exchange(np.array([member]), np.array([others[drawn]]), float(change[drawn]))

    def _move_unit(self, heat: float) -> None:
        """Change a unit with as many members of another group, whose units stay whole."""
        unit = self.large[int(self.random.integers(len(self.large)))]
        own = int(self.groups[unit[0]])
        other = int(self.random.integers(self.n_groups - 1))
        other += other >= own
        taken = self._as_many(len(unit), other)
        if taken is None:
            return
        change = (
            (self.with_group[unit, other] - self.with_group[unit, own]).sum()
            + (self.with_group[taken, own] - self.with_group[taken, other]).sum()
            + self.costs[np.ix_(unit, unit)].sum() + self.costs[np.ix_(taken, taken)].sum()
            - 2.0 * self.costs[np.ix_(unit, taken)].sum()
        )  # fmt: skip
        if change <= 0 or self.random.random() < exp(-change / heat):
            self._exchange(unit, taken, float(change))

    def _as_many(self, number: int, group: int) -> np.ndarray | None:
        """Whole units and singles of a group, ``number`` in all, drawn; None if they do not fit."""
        there = [one for one in self.large if self.groups[one[0]] == group]
        there += [np.array([n]) for n in self.single[self.groups[self.single] == group]]
        taken: list[int] = []
        for place in self.random.permutation(len(there)):
            if len(taken) + len(there[place]) <= number:
                taken += there[place].tolist()
        return np.array(taken) if len(taken) == number else None

    def _exchange(self, some: np.ndarray, others: np.ndarray, change: float) -> None:
        """Swap two sets of members, and keep all sums right."""
        own, other = int(self.groups[some[0]]), int(self.groups[others[0]])
        moved = self.costs[:, others].sum(axis=1) - self.costs[:, some].sum(axis=1)
        self.with_group[:, own] += moved
        self.with_group[:, other] -= moved
        self.groups[some], self.groups[others] = other, own
        self.total += change


def _broken(request: GroupRequest, groups: np.ndarray) -> Iterator[Broken]:
    """Every wish that the grouping breaks, as it was wished."""
    of = {member.key: int(group) for member, group in zip(request.members, groups, strict=True)}
    for pair in request.keep_apart:
        if of[pair[0]] == of[pair[1]]:
            yield Broken(pair, apart=True)
    for wish in request.keep_together:
        if len({of[key] for key in wish}) > 1:
            yield Broken(wish, apart=False)


def _groups(
    request: GroupRequest, groups: np.ndarray, roles: Mapping[str, str]
) -> Iterator[Group]:
    """Each group with its roles, in the order they were asked for, and reasons."""
    distances = map_distances(request)
    order = {role: place for place, role in enumerate(request.roles)}
    for group in range(int(groups.max()) + 1):
        own = np.flatnonzero(groups == group)
        members = [request.members[n] for n in own]
        held = [(roles[one.key], one.key) for one in members if roles.get(one.key)]
        held.sort(key=lambda pair: order.get(pair[0], len(order)))
        reasons = tuple(_reasons(request, members, distances[np.ix_(own, own)]))
        yield Group(tuple(member.key for member in members), tuple(held), reasons)


def _roles_of(request: GroupRequest, groups: np.ndarray) -> Iterator[tuple[str, str]]:
    """Whoever has a role (key), and which."""
    random = np.random.default_rng(request.seed)
    lot = random.permutation(len(request.members))
    for group in range(len(request.sizes)):
        own = np.flatnonzero(groups == group)
        members = [request.members[n] for n in own]
        for role, key in _roles(request, members, [int(lot[n]) for n in own]):
            yield key, role


def _roles(
    request: GroupRequest, members: Sequence[Member], lot: Sequence[int]
) -> Iterator[tuple[str, str]]:
    """Each role to who had it least often; helpers by level next; then by lot."""
    left = list(range(len(members)))
    for role in request.roles[: len(members)]:
        def order(n: int, role: str = role) -> tuple[float, float, int]:
            level = members[n].level or 0.0
            had = members[n].roles_before.count(role)
            return had, -level if role == HELPER else 0.0, lot[n]

        chosen = min(left, key=order)
        left.remove(chosen)
        yield role, members[chosen].key


def _reasons(
    request: GroupRequest, members: Sequence[Member], distances: np.ndarray
) -> Iterator[Reason]:
    """What speaks for a group; nothing about wishes."""
    parts = Counter(member.part for member in members)
    if request.parts == SAME:
        yield Reason("parts_same", max(parts.values()), len(members))
    else:
        yield Reason("parts_mixed", len(parts), len(members))
    answers = [member.answer for member in members if member.answer]
    if answers:
        yield Reason("answers_differ", len(set(answers)), len(answers))
    known = distances[np.triu_indices(len(members), 1)]
    if np.isfinite(known).any():
        yield Reason("maps_differ", value=round(float(np.nanmean(known)), 1))
    levels = [member.level for member in members if member.level is not None]
    everybody = [one.level for one in request.members if one.level is not None]
    if levels:
        away = float(np.mean(levels) - np.mean(everybody))
        yield Reason("levels_near", len(levels), len(members), round(away, 2))
    if request.earlier:
        keys = {member.key for member in members}
        met = {frozenset(pair) for grouping in request.earlier for group in grouping
               for pair in combinations(sorted(keys & set(group)), 2)}  # fmt: skip
        pairs = len(members) * (len(members) - 1) // 2
        yield Reason("new_together", pairs - len(met), pairs)
