"""How whole minutes are shared out: the next minute goes where it is worth most. Pure.

The rule. A spot with need ``worth`` and ``spent`` minutes still fresh in everybody's fingers gains

    worth * (exp(-spent / T) - exp(-(spent + k) / T)),    T = ``MINUTES_THAT_TEACH``

from ``k`` more minutes: each minute teaches less than the one before. The gain is concave and the
spots do not touch each other, so that giving minute after minute to the greatest next gain is the
best of all ways to share whole minutes (Fox 1966, Operations Research 14:210, marginal analysis;
the tests hold it against every way). Minutes fade with days (`fresh_minutes`), so that a spot
worked yesterday gains less today than tomorrow: that is what spaces hard spots over days.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import exp

MINUTES_THAT_TEACH = 5.0
"""After so many minutes a spot has given 63 percent of what it can give in one day (our choice)."""

GAP_SHARE, LONGEST_GAP_DAYS = 0.15, 7
"""A spot comes back after about this share of the days that it must last: 10 to 20 percent was
best in Cepeda and others 2008, Psychological Science 19:1095 (from memory); a week at the most,
since rehearsals go by weeks (our choice)."""

LEAST_BLOCK_MINUTES, MOST_BLOCK_MINUTES = 3, 12
"""Less is gone before everybody has found the place; more on one spot tires (common practice, no
source)."""


@dataclass(frozen=True, slots=True)
class Claim:
    """A spot that asks for minutes: at least ``least`` and at most ``most`` of them."""

    worth: float
    spent: float = 0.0
    least: int = 0
    most: int = MOST_BLOCK_MINUTES


def gain(claim: Claim, minutes: int) -> float:
    """What ``minutes`` of work on a spot are worth, in the unit of its need.

    >>> [round(gain(Claim(1.0), k), 2) for k in (0, 1, 5, 10)]
    [0.0, 0.18, 0.63, 0.86]
    >>> gain(Claim(1.0, spent=5.0), 5) < gain(Claim(1.0), 5) / 2
    True
    """
    before = exp(-claim.spent / MINUTES_THAT_TEACH)
    return claim.worth * before * (1.0 - exp(-minutes / MINUTES_THAT_TEACH))


def gap_days(days_to_concert: int) -> int:
    """After how many days a spot is best come back to.

    >>> gap_days(30), gap_days(10), gap_days(1), gap_days(200)
    (4, 2, 1, 7)
    """
    return min(max(1, round(GAP_SHARE * days_to_concert)), LONGEST_GAP_DAYS)


def fresh_minutes(worked: Iterable[tuple[float, int]], days_to_concert: int) -> float:
    """Minutes of earlier work that still count as just done; halved at each `gap_days`.

    ``worked`` holds minutes and how many days ago.

    >>> fresh_minutes([(8, 0), (8, 4)], 30)
    12.0
    """
    half_life = gap_days(days_to_concert)
    return sum(minutes * 0.5 ** (days_ago / half_life) for minutes, days_ago in worked)


def share_out(claims: Sequence[Claim], minutes: int) -> tuple[int, ...]:
    """Whole minutes for each claim, ``minutes`` in all or as many as the claims can take.

    Every claim first gets its ``least``; the first of equal gains comes first.

    >>> share_out([Claim(2.0), Claim(1.0), Claim(0.1)], 12)
    (8, 4, 0)
    """
    given = [claim.least for claim in claims]
    for _ in range(minutes - sum(given)):
        open_claims = [n for n, claim in enumerate(claims) if given[n] < claim.most]
        if not open_claims:
            break
        best = max(open_claims, key=lambda n: _next_gain(claims[n], given[n]))
        given[best] += 1
    return tuple(given)


def share_in_blocks(claims: Sequence[Claim], minutes: int, most_blocks: int) -> tuple[int, ...]:
    """As `share_out`, but in at most ``most_blocks`` blocks of ``LEAST_BLOCK_MINUTES`` or more.

    Claims with a ``least`` always stand, whatever their number. Of the others the 0, 1, 2, ...
    that a minute is worth most on get a block each, and the number that gains most is taken.
    That is the best of all choices: two claims differ by a factor only, so that a block of the
    lesser one could be given to the greater. (All open claims share one ``most``.)

    >>> share_in_blocks([Claim(2.0), Claim(0.5), Claim(0.5)], 7, 5)
    (7, 0, 0)
    >>> share_in_blocks([Claim(2.0), Claim(1.9), Claim(1.0)], 7, 5)
    (4, 3, 0)
    """
    kept = [n for n, claim in enumerate(claims) if claim.least]
    others = sorted((n for n, claim in enumerate(claims) if not claim.least),
                    key=lambda n: -gain(claims[n], 1))  # fmt: skip
    free = minutes - sum(claims[n].least for n in kept)
    # In a period too short for any block, one short block is all there is.
    shortest = LEAST_BLOCK_MINUTES if kept else min(LEAST_BLOCK_MINUTES, free)
    best, best_total = [0] * len(claims), -1.0
    for number in range(max(0, most_blocks - len(kept)) + 1):
        if number > len(others) or (number and number * shortest > free) or (number and not free):
            break
        chosen = [*kept, *others[:number]]
        asked = [claims[n] if claims[n].least else replace(claims[n], least=shortest)
                 for n in chosen]  # fmt: skip
        given = share_out(asked, minutes)
        total = sum(gain(claim, k) for claim, k in zip(asked, given, strict=True))
        if total > best_total:
            best, best_total = [0] * len(claims), total
            for n, k in zip(chosen, given, strict=True):
                best[n] = k
    return tuple(best)


def _next_gain(claim: Claim, given: int) -> float:
    """What one minute more is worth."""
    return gain(claim, given + 1) - gain(claim, given)
