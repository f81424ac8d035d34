"""Which take a musician hears next, so that all are heard about equally often. Pure.

Takes are handed out one at a time, when somebody asks for one: who never comes leaves no gap, and
a take that comes or goes moves nobody else's.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from standlight.programme.queries.desk_orders import drawn


@dataclass(frozen=True, slots=True)
class Offered:
    """A take that may be heard: its turn, its musician, and the passage it plays (0: none)."""

    turn: int
    musician: int
    passage: int


def next_take(
    listener: Offered,
    takes: Sequence[Offered],
    handed: Collection[tuple[int, int]] = (),
    apart: Collection[frozenset[int]] = (),
    seed: int = 0,
) -> Offered | None:
    """The take that ``listener`` hears next; ``None`` when there is none for them.

    ``handed`` is what was handed out before, a turn and its listener each; ``apart`` are pairs of
    musicians to keep apart. Never their own, none twice. Of those handed out least often one of
    the listener's own passage comes first, then one of who has listened least: nobody shall be
    the last to listen with their own take the only one left. Else the seed decides.

    >>> me, near, far = Offered(1, 1, 7), Offered(2, 2, 7), Offered(3, 3, 8)
    >>> next_take(me, [me, near, far]).turn, next_take(me, [me, near, far], [(2, 3)]).turn
    (2, 3)
    >>> next_take(me, [me, near], apart=[frozenset({1, 2})]) is None
    True
    """
    times = Counter(turn for turn, _ in handed)
    listened = Counter(musician for _, musician in handed)
    had = {turn for turn, musician in handed if musician == listener.musician}
    free = [
        take
        for take in takes
        if take.musician != listener.musician
        and take.turn not in had
        and frozenset({take.musician, listener.musician}) not in apart
    ]
    return min(
        free,
        key=lambda take: (
            times[take.turn],
            take.passage != listener.passage,
            listened[take.musician],
            drawn("peers", seed, listener.musician, take.turn),
        ),
        default=None,
    )
