"""Drawing by lot who is heard next, fairly over the weeks. Pure.

A round ends when everyone was heard in it once, so nobody is drawn a second time before
everyone was once. The lot is seeded by the day: the same day gives the same names again.
"""

from __future__ import annotations

import random
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

MOST_AT_ONCE = 8
"""Musicians heard side by side; more cannot be told apart by one pair of ears."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A musician drawn, and the round it counts for."""

    musician: int
    round: int


def draw(
    pot: Sequence[int],
    last_round: Mapping[int, int],
    *,
    today: Collection[int] = (),
    count: int,
    seed: str,
) -> tuple[Drawn, ...]:
    """Up to ``count`` of those of ``pot`` whom the present round still waits for.

    ``last_round`` is the round in which each was last heard (0, or absent from it, for never);
    who joined late comes in at the present round. ``today`` are drawn on this day already and
    are not drawn again, also when they were not there: they are in the pot on the next day. A
    new round begins only when the present one waits for nobody of the pot, so a draw may come
    out shorter than asked.

    >>> sorted(one.musician for one in draw([4, 7, 9], {7: 1}, count=5, seed="a"))
    [4, 9]
    >>> draw([4, 7], {4: 1, 7: 1}, count=1, seed="a")
    (Drawn(musician=7, round=2),)
    """
    chance = random.Random(seed)
    present = max(last_round.values(), default=1) or 1
    waits = [who for who in pot if last_round.get(who, 0) < present]
    if not waits:
        present, waits = present + 1, list(pot)
    # Sorted first, so that the lot does not depend on how the roster is arranged.
    drawable = sorted(who for who in waits if who not in today)
    drawn = chance.sample(drawable, min(max(count, 0), len(drawable)))
    return tuple(Drawn(who, present) for who in drawn)
