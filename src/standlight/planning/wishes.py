"""Whether wishes to keep apart and together can hold in groups of given sizes. Pure.

Keeping apart is colouring a graph, which nobody can decide fast for all graphs. So: two reasons
found by arithmetic, a third by a search for too many who must all be apart, and a search for a
grouping that holds every wish. The searches stop at a stated number of steps; what they prove
before is proved, and where they stop nothing is claimed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from standlight.planning.group_values import (
    APART_INSIDE,
    NO_WAY,
    TOO_LARGE,
    TOO_MANY_APART,
    CannotHold,
    Fixes,
    GroupRequest,
)

MOST_STEPS = 20_000
"""Steps of each search: about a tenth of a second (our choice)."""

SIZES_TRIED, WISHES_TRIED = 8, 40
"""Other sizes and wishes that are looked at for a way out: some seconds at worst (our choice)."""


@dataclass(frozen=True, slots=True)
class Units:
    """Members (by index) that move as one, and which units must be apart from which.

    ``impossible`` are the sets of keep-together wishes that were dissolved, with the proofs.
    """

    units: tuple[tuple[int, ...], ...]
    apart: tuple[frozenset[int], ...]
    impossible: tuple[tuple[int, ...], ...]
    proofs: tuple[CannotHold, ...]


def units_of(request: GroupRequest) -> Units:
    """Join what is to be together, dissolve what cannot be, and lay out who is apart.

    >>> from standlight.planning.group_values import Member
    >>> four = tuple(Member(key, "Flute") for key in "abcd")
    >>> found = units_of(GroupRequest(four, 2, keep_together=(("a", "b", "c"),)))
    >>> [(proof.code, proof.members) for proof in found.proofs]
    [('too_large', ('a', 'b', 'c'))]
    """
    keys = [member.key for member in request.members]
    place = {key: index for index, key in enumerate(keys)}
    pairs = {frozenset(place[key] for key in pair) for pair in request.keep_apart}
    units, impossible, proofs = [], [], []
    largest = max(request.sizes)
    for joined in _joined(len(keys), [[place[key] for key in wish]
                                      for wish in request.keep_together]):  # fmt: skip
        names = tuple(keys[member] for member in joined)
        inside = sorted(tuple(sorted(pair)) for pair in pairs if pair <= set(joined))
        if len(joined) > largest:
            proofs.append(CannotHold(TOO_LARGE, names))
        proofs += [CannotHold(APART_INSIDE, (keys[a], keys[b])) for a, b in inside]
        if len(joined) > largest or inside:
            impossible.append(joined)
            units += [(member,) for member in joined]
        else:
            units.append(joined)
    unit_of = {member: n for n, unit in enumerate(units) for member in unit}
    apart: list[set[int]] = [set() for _ in units]
    for a, b in (sorted(pair) for pair in pairs):
        apart[unit_of[a]].add(unit_of[b])
        apart[unit_of[b]].add(unit_of[a])
    together = _too_many_apart(apart, len(request.sizes))
    if together:
        names = tuple(keys[member] for unit in sorted(together) for member in units[unit])
        proofs.append(CannotHold(TOO_MANY_APART, names))
    return Units(tuple(units), tuple(map(frozenset, apart)), tuple(impossible), tuple(proofs))


def placed(
    found: Units, sizes: Sequence[int], random: np.random.Generator
) -> tuple[list[int] | None, tuple[CannotHold, ...]]:
    """A group for each unit that holds every wish; None, with a proof where there is none.

    ``random`` draws which groups are tried first, so that the next call starts elsewhere.

    The unit with the fewest open groups goes first (DSATUR: Brelaz 1979, Comm. ACM 22:251).
    """
    if found.proofs:
        return None, ()
    search = _Search(found, list(sizes), [-1] * len(found.units), random)
    if search.run():
        return search.group, ()
    stopped = search.steps >= MOST_STEPS
    return None, () if stopped else (CannotHold(NO_WAY, ()),)


def proofs_of(request: GroupRequest) -> tuple[CannotHold, ...]:
    """Proofs that wishes cannot all hold; none where they can, or where the search had to stop.

    >>> from standlight.planning.group_values import Member
    >>> three = tuple(Member(key, "Flute") for key in "abc")
    >>> proofs_of(GroupRequest(three, 3, keep_apart=(("a", "b"),)))[0].code
    'too_many_apart'
    """
    found = units_of(request)
    _, no_way = placed(found, request.sizes, np.random.default_rng(request.seed))
    return (*found.proofs, *no_way)


def nearest_fixes(request: GroupRequest) -> Fixes:
    """What would let all wishes hold: the nearest other size, or one wish given up.

    Each was tried and holds; what is not named may hold too where a search had to stop.

    >>> from standlight.planning.group_values import Member
    >>> six = tuple(Member(key, "Flute") for key in "abcdef")
    >>> apart = (("a", "b"), ("b", "c"), ("a", "c"))
    >>> found = nearest_fixes(GroupRequest(six, 3, keep_apart=apart))
    >>> found.size, [sorted(wish) for wish in found.give_up]
    (2, [['a', 'b'], ['b', 'c'], ['a', 'c']])
    """
    size = next((one for one in _sizes_near(request) if _holds(replace(request, size=one))), None)
    give_up = tuple(
        wish for wish, without in list(_one_wish_less(request))[:WISHES_TRIED] if _holds(without)
    )
    return Fixes(size, give_up)


def _holds(request: GroupRequest) -> bool:
    """True when a grouping that holds every wish was found."""
    start, _ = placed(units_of(request), request.sizes, np.random.default_rng(request.seed))
    return start is not None


def _sizes_near(request: GroupRequest) -> list[int]:
    """Other sizes, the nearest first, the smaller of two as near."""
    others = (size for size in range(2, len(request.members) + 1) if size != request.size)
    return sorted(others, key=lambda size: (abs(size - request.size), size))[:SIZES_TRIED]


def _one_wish_less(request: GroupRequest) -> Iterator[tuple[tuple[str, ...], GroupRequest]]:
    """Every wish with the request that gives it up."""
    for name in ("keep_apart", "keep_together"):
        wishes = getattr(request, name)
        for n, wish in enumerate(wishes):
            yield wish, replace(request, **{name: (*wishes[:n], *wishes[n + 1 :])})


@dataclass(slots=True)
class _Search:
    """Depth first over units; ``room`` and ``group`` are the state."""

    found: Units
    room: list[int]
    group: list[int]
    random: np.random.Generator
    steps: int = 0

    def run(self) -> bool:
        """Place what is left; True when all units have a group."""
        # Members without any wish fill what is left over: they never stand in the way.
        units, apart = self.found.units, self.found.apart
        waiting = [n for n, group in enumerate(self.group)
                   if group < 0 and (apart[n] or len(units[n]) > 1)]  # fmt: skip
        if not waiting:
            self._fill()
            return True
        options = {n: self._open(n) for n in waiting}
        unit = min(waiting, key=lambda n: (len(options[n]), -len(units[n]), -len(apart[n])))
        for group in options[unit]:
            self.steps += 1
            if self.steps >= MOST_STEPS:
                return False
            self.group[unit] = group
            self.room[group] -= len(units[unit])
            if self.run():
                return True
            self.room[group] += len(units[unit])
            self.group[unit] = -1
        return False

    def _open(self, unit: int) -> list[int]:
        """Groups that the unit could join; of untouched groups of one size only the first."""
        taken = {self.group[other] for other in self.found.apart[unit]}
        touched = set(self.group)
        options, seen = [], set()
        for group, room in enumerate(self.room):
            if group in taken or room < len(self.found.units[unit]):
                continue
            if group not in touched:
                if room in seen:
                    continue
                seen.add(room)
            options.append(group)
        self.random.shuffle(options)
        return options

    def _fill(self) -> None:
        """Put everybody without a wish where there is room."""
        for unit, group in enumerate(self.group):
            if group < 0:
                most = max(self.room)
                free = int(self.random.choice([n for n, k in enumerate(self.room) if k == most]))
                self.group[unit] = free
                self.room[free] -= 1


def _joined(number: int, wishes: Sequence[Sequence[int]]) -> list[tuple[int, ...]]:
    """Indexes 0 to ``number`` - 1 in sets: wishes that share a member are one."""
    label = list(range(number))
    for wish in wishes:
        for member in wish[1:]:
            old, new = label[member], label[wish[0]]
            label = [new if one == old else one for one in label]
    sets: dict[int, list[int]] = {}
    for member, one in enumerate(label):
        sets.setdefault(one, []).append(member)
    return [tuple(members) for members in sets.values()]


def _too_many_apart(apart: Sequence[set[int]], groups: int) -> set[int] | None:
    """More than ``groups`` units that must all be apart from each other, if the search finds any.

    Bron and Kerbosch 1973, Comm. ACM 16:575, with a pivot; stops at ``MOST_STEPS``.
    """
    stack = [(set(), {n for n, own in enumerate(apart) if len(own) >= groups}, set())]
    steps = 0
    while stack and steps < MOST_STEPS:
        steps += 1
        clique, candidates, done = stack.pop()
        if len(clique) > groups:
            return clique
        if len(clique) + len(candidates) <= groups:
            continue
        pivot = max(candidates | done, key=lambda n: len(apart[n] & candidates))
        for unit in sorted(candidates - apart[pivot]):
            stack.append((clique | {unit}, candidates & apart[unit], done & apart[unit]))
            candidates = candidates - {unit}
            done = done | {unit}
    return None
