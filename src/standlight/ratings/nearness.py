"""How near one rater's levels come to agreed ones: calibration on anchor takes. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import comb

from standlight.ratings.agreement_figure import AgreementFigure
from standlight.ratings.agreement_pairs import cohens_kappa, percent_agreement

LEANS_AT = 0.05
"""A lean is told when chance alone would lean as far in fewer of 100 calibrations than 5:
common practice, no source."""

FEWEST_TO_LEAN = 6
"""With fewer takes even all of them on one side happen by chance oftener than that: 2 in 2**5."""


@dataclass(frozen=True, slots=True)
class Nearness:
    """Given beside agreed levels: how many are the same, within one, lower, higher.

    ``n_takes`` counts those with a level; ``takes_lower`` and ``takes_higher`` those heard below
    and above what was agreed, all criteria together. ``kappa`` weighs far misses more (quadratic
    weights).
    """

    n_takes: int
    n: int
    n_same: int
    n_within_one: int
    n_lower: int
    n_higher: int
    takes_lower: int
    takes_higher: int
    same: AgreementFigure
    kappa: AgreementFigure

    @property
    def can_lean(self) -> bool:
        """False where the takes with a level are too few to tell."""
        return self.n_takes >= FEWEST_TO_LEAN

    @property
    def leans(self) -> int:
        """-1 where the rater is surely stricter than agreed, 1 surely milder, 0 maybe chance."""
        if sign_chance(self.takes_lower, self.takes_higher) >= LEANS_AT:
            return 0
        return -1 if self.takes_lower > self.takes_higher else 1


def nearness(takes: Sequence[Sequence[tuple[int, int]]]) -> Nearness:
    """How near the first of each pair (given) comes to the second (agreed), a row of pairs a take.

    The criteria of one take are one impression as often as not, so that a lean is judged by
    takes: each is one witness.

    >>> found = nearness([[(3, 3), (2, 3)], [(4, 2)]])
    >>> found.n_same, found.n_within_one, found.n_lower, found.n_higher, found.leans
    (1, 2, 1, 1, 0)
    >>> nearness([[(1, 2)]] * 6).leans, nearness([[(1, 2)]] * 5).leans
    (-1, 0)
    """
    grid = [list(pair) for take in takes for pair in take]
    off = [sum(given - agreed for given, agreed in take) for take in takes]
    return Nearness(
        n_takes=sum(bool(take) for take in takes),
        n=len(grid),
        n_same=sum(given == agreed for given, agreed in grid),
        n_within_one=sum(abs(given - agreed) <= 1 for given, agreed in grid),
        n_lower=sum(given < agreed for given, agreed in grid),
        n_higher=sum(given > agreed for given, agreed in grid),
        takes_lower=sum(one < 0 for one in off),
        takes_higher=sum(one > 0 for one in off),
        same=percent_agreement(grid),
        kappa=cohens_kappa(grid, weights="quadratic"),
    )


def sign_chance(lower: int, higher: int) -> float:
    """How often chance alone splits the misses as unevenly: the two-sided sign test.

    >>> sign_chance(0, 0), sign_chance(5, 0), sign_chance(3, 3)
    (1.0, 0.0625, 1.0)
    """
    n, most = lower + higher, max(lower, higher)
    tail = sum(comb(n, k) for k in range(most, n + 1)) / 2**n
    return min(1.0, 2 * tail)
