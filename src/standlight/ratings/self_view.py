"""How a musician's own levels stand beside the director's, for the musician alone. Pure.

Only takes that both rated for a criterion count; several directors are averaged. The differences
are few and whole steps, so their own spread is often nothing by luck: it leans on the spread
of all musicians (moderated variance, Smyth 2004, with a prior weight of our choice), and the
interval is Student's t with the degrees of freedom of both. A musician of two ensembles has a
view in each, so that what one director gave is never told beside the other's. Nothing here
enters a mark.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from standlight.ratings.given import DIRECTOR, SELF, GivenRating

LEAST_TAKES, LEAST_TREND_TAKES = 4, 6
"""Takes below which nothing is said, and nothing of a change over time: our choice."""

ALIKE_POINTS = 0.5
"""Half a level: whole-step levels cannot show less. Our choice."""

PRIOR_TAKES = 4
"""How many takes' worth the spread of all musicians weighs beside the own: our choice."""

LEAST_SPREAD = 0.41
"""Floor of the spread (points): two whole-step levels rounded by themselves differ by chance
with a standard deviation of (1/12 + 1/12) ** .5 = .41."""

WIDEST = 3.0
"""No difference of levels of 1 to 4 is larger."""

ALIKE, KINDER, HARDER, UNCLEAR, TOO_FEW = "alike", "kinder", "harder", "unclear", "too_few"
SELF_STATES = {
    ALIKE: "the mean difference lies within half a level, surely (95 percent)",
    KINDER: "surely kinder to themselves than the director",
    HARDER: "surely harder on themselves than the director",
    UNCLEAR: "could be chance",
    TOO_FEW: f"fewer than {LEAST_TAKES} takes that both rated",
}

NEARER, FURTHER, COULD_BE_CHANCE = "nearer", "further", "could_be_chance"
TREND_STATES = {
    NEARER: "the distance surely shrinks over time",
    FURTHER: "the distance surely grows over time",
    COULD_BE_CHANCE: "a change of the distance could be chance",
}

_DAYS_A_YEAR = 365.0


@dataclass(frozen=True, slots=True)
class SelfTrend:
    """Change of the distance (points a year, minus is nearer) with a 95 percent interval;
    ``state`` is a key of ``TREND_STATES``.
    """

    points_a_year: float
    low: float
    high: float
    state: str


@dataclass(frozen=True, slots=True)
class SelfView:
    """One musician, ensemble and criterion (empty: all together, a take counting once).

    ``mean_difference`` is self minus director (points) with its 95 percent interval; these are
    ``None`` when too few. ``same_share`` is the share of level pairs that are the same;
    ``trend`` is ``None`` below ``LEAST_TREND_TAKES`` takes or when all were on one day. ``takes``
    are the takes that it all rests on.
    """

    student: str
    ensemble: str
    criterion: str
    n: int
    mean_difference: float | None
    low: float | None
    high: float | None
    same_share: float
    trend: SelfTrend | None
    state: str
    takes: tuple[str, ...]


_Who = tuple[str, str]
"""A student in an ensemble."""


@dataclass(frozen=True, slots=True)
class _Take:
    """One take that both rated: its day, the mean difference, and the share the same."""

    key: str
    day: float
    difference: float
    same: float


def self_views(given: Sequence[GivenRating]) -> tuple[SelfView, ...]:
    """Every musician who rated a take that a director rated too, by name, ensemble, criterion."""
    pairs = _pairs(given)
    by_view: dict[str, dict[_Who, list[_Take]]] = {}
    for (who, _, criterion), take in sorted(pairs.items()):
        by_view.setdefault(criterion, {}).setdefault(who, []).append(take)
    by_view[""] = _together(pairs)
    views = []
    for criterion, people in by_view.items():
        spread = _shared_spread([_differences(takes) for takes in people.values()])
        from_line = _shared_spread([_off_line(takes) for takes in people.values()], lost=2)
        views += [
            _view(who, criterion, takes, spread, from_line) for who, takes in people.items()
        ]
    return tuple(sorted(views, key=lambda view: (view.student, view.ensemble, view.criterion)))


def _pairs(given: Sequence[GivenRating]) -> dict[tuple[_Who, str, str], _Take]:
    """(who, take, criterion) -> the difference, where both rated it."""
    levels: dict[str, dict[tuple[_Who, str, str], list[int]]] = {DIRECTOR: {}, SELF: {}}
    days: dict[tuple[_Who, str, str], float] = {}
    for row in given:
        if row.rater_class not in levels or not np.isfinite(row.day):
            continue
        key = ((row.student, row.ensemble), row.take, row.criterion)
        levels[row.rater_class].setdefault(key, []).append(row.level)
        days[key] = min(row.day, days.get(key, row.day))
    found = {}
    for key in levels[SELF].keys() & levels[DIRECTOR].keys():
        own, other = levels[SELF][key], levels[DIRECTOR][key]
        same = sum(one == another for one in own for another in other)
        found[key] = _Take(
            key=key[1],
            day=days[key],
            difference=sum(own) / len(own) - sum(other) / len(other),
            same=same / (len(own) * len(other)),
        )
    return found


def _together(pairs: dict[tuple[_Who, str, str], _Take]) -> dict[_Who, list[_Take]]:
    """Everyone's takes with the criteria averaged: those of one take are no two witnesses."""
    by_take: dict[tuple[_Who, str], list[_Take]] = {}
    for (who, take, _), pair in sorted(pairs.items()):
        by_take.setdefault((who, take), []).append(pair)
    people: dict[_Who, list[_Take]] = {}
    for (who, key), takes in by_take.items():
        people.setdefault(who, []).append(
            _Take(
                key=key,
                day=min(take.day for take in takes),
                difference=float(np.mean([take.difference for take in takes])),
                same=float(np.mean([take.same for take in takes])),
            )
        )
    return people


def _differences(takes: Sequence[_Take]) -> np.ndarray:
    """Differences from their own mean."""
    values = np.array([take.difference for take in takes])
    return values - values.mean()


def _off_line(takes: Sequence[_Take]) -> np.ndarray:
    """Distances from their own straight line over time; none where there is no line."""
    if len(takes) < LEAST_TREND_TAKES or len({take.day for take in takes}) < 2:
        return np.zeros(0)
    time = np.array([take.day for take in takes])
    time = time - time.mean()
    distance = np.array([abs(take.difference) for take in takes])
    return distance - distance.mean() - time * (time @ distance / (time @ time))


def _shared_spread(residuals: Sequence[np.ndarray], lost: int = 1) -> float:
    """The variance within musicians over all of them, floored; each lost degrees of freedom."""
    freedom = sum(max(len(each) - lost, 0) for each in residuals)
    square = sum(float(each @ each) for each in residuals)
    return max(square / freedom if freedom else 0.0, LEAST_SPREAD**2)


def _view(
    who: _Who, criterion: str, takes: Sequence[_Take], spread: float, from_line: float
) -> SelfView:
    """One row of the answer."""
    n, keys = len(takes), tuple(take.key for take in takes)
    same_share = float(np.mean([take.same for take in takes]))
    if n < LEAST_TAKES:
        return SelfView(*who, criterion, n, None, None, None, same_share, None, TOO_FEW, keys)
    mean = float(np.mean([take.difference for take in takes]))
    reach = _reach(_differences(takes), spread, n - 1) / n**0.5
    low, high = max(mean - reach, -WIDEST), min(mean + reach, WIDEST)
    return SelfView(
        *who, criterion, n, mean, low, high, same_share, _trend(takes, from_line),
        _state(low, high), keys,
    )  # fmt: skip


def _reach(residuals: np.ndarray, spread: float, freedom: int) -> float:
    """Half a 95 percent interval of one value: own and shared variance weighed together."""
    together = PRIOR_TAKES + freedom
    variance = (PRIOR_TAKES * spread + float(residuals @ residuals)) / together
    return float(stats.t.ppf(0.975, together)) * variance**0.5


def _state(low: float, high: float) -> str:
    """What an interval of the mean difference says."""
    if low >= -ALIKE_POINTS and high <= ALIKE_POINTS:
        return ALIKE
    if low > 0:
        return KINDER
    return HARDER if high < 0 else UNCLEAR


def _trend(takes: Sequence[_Take], spread: float) -> SelfTrend | None:
    """Whether the distance shrinks over time."""
    residuals = _off_line(takes)
    if not len(residuals):
        return None
    time = np.array([take.day for take in takes]) / _DAYS_A_YEAR
    time = time - time.mean()
    slope = float(time @ np.array([abs(take.difference) for take in takes]) / (time @ time))
    reach = _reach(residuals, spread, len(takes) - 2) / float(time @ time) ** 0.5
    low, high = slope - reach, slope + reach
    state = NEARER if high < 0 else FURTHER if low > 0 else COULD_BE_CHANCE
    return SelfTrend(slope, low, high, state)
