"""Does a rater hear the same take the same way again, and does the ear drift? Pure.

Only hidden repeats and common takes can say: ordinary levels mix the rater's ear with the
music and the musicians. Each take counts once, as the mean over its criteria.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.special import stdtrit

from standlight.ratings.given import DIRECTOR, GivenRating, HeardAgain

FEWEST_TAKES, FEWEST_FOR_DRIFT = 8, 12
"""Takes below which no shift, and no drift, is told: our choice; the simulation in the
tests finds the intervals honest from here on."""

LEAST_SPREAD_MINUTES, LEAST_SPREAD_DAYS = 10.0, 14.0
"""Standard deviation of the time between both hearings below which there is no slope: our
choice."""

MINUTES, DAYS_A_MONTH = 30.0, 30.44
"""A drift is told for half an hour, and for a month."""

MOST_WRONG = 0.05
"""Shared by all raters, or pairs, and for drifts by both kinds (Bonferroni)."""

TOO_FEW, NO_SPREAD = "too_few", "no_spread"
BECAUSE = {
    TOO_FEW: "too few takes heard twice",
    NO_SPREAD: "the times between the two hearings are too much alike",
}
"""Why there is no figure."""


@dataclass(frozen=True, slots=True)
class Drift:
    """``stricter_by`` rating points (+ = stricter later) a unit of time, 95 percent interval."""

    n_takes: int
    stricter_by: float | None = None
    low: float | None = None
    high: float | None = None
    sure: bool = False
    because: str = ""


@dataclass(frozen=True, slots=True)
class Steadiness:
    """One rater's hidden repeats: levels the same and within one step, and the mean shift.

    ``stricter_by`` (rating points, + = stricter the second time) and ``because`` when there
    is none. ``in_session`` is for half an hour, ``over_year`` for a month.
    """

    rater: str
    n_levels: int
    n_takes: int
    n_same: int
    n_within_one: int
    stricter_by: float | None
    low: float | None
    high: float | None
    sure: bool
    because: str
    in_session: Drift
    over_year: Drift


@dataclass(frozen=True, slots=True)
class CommonDrift:
    """How ``rater`` moved against ``other`` for a month, by the takes both heard."""

    rater: str
    other: str
    over_year: Drift


def steadiness_of(again: Sequence[HeardAgain]) -> tuple[Steadiness, ...]:
    """Every rater with hidden repeats, by key.

    >>> row = HeardAgain("s", "t", "tone", "r", 3, 2, 1.0, 9.0, 5.0, 20.0)
    >>> found = steadiness_of([row])[0]
    >>> found.n_same, found.n_within_one, found.stricter_by, found.because
    (0, 1, None, 'too_few')
    """
    by_rater: dict[str, list[HeardAgain]] = {}
    for each in again:
        by_rater.setdefault(each.rater, []).append(each)
    return tuple(_of_one(rater, by_rater[rater], len(by_rater)) for rater in sorted(by_rater))


def drift_against_others(given: Sequence[GivenRating]) -> tuple[CommonDrift, ...]:
    """Every pair of directors with a common take; time is the mean day both gave a level."""
    heard: dict[str, dict[tuple[str, str, str], GivenRating]] = {}
    for each in given:
        if each.rater_class == DIRECTOR:
            heard.setdefault(each.rater, {})[each.student, each.take, each.criterion] = each
    shared = [
        (one, two, sorted(heard[one].keys() & heard[two].keys()))
        for one, two in combinations(sorted(heard), 2)
    ]
    shared = [each for each in shared if each[2]]
    found = []
    for one, two, keys in shared:
        rows = (
            (key[:2], heard[two][key].level - heard[one][key].level,
             (heard[one][key].given_day + heard[two][key].given_day) / 2)
            for key in keys
        )  # fmt: skip
        table, criteria = _by_take(rows)
        drift = _drift(table, criteria, 1, DAYS_A_MONTH, LEAST_SPREAD_DAYS,
                       MOST_WRONG / len(shared))  # fmt: skip
        found.append(CommonDrift(one, two, drift))
    return tuple(found)


def _of_one(rater: str, rows: Sequence[HeardAgain], n_raters: int) -> Steadiness:
    """The row of one rater."""
    steps = [row.first_level - row.again_level for row in rows]
    table, criteria = _by_take(
        ((row.student, row.take), step, row.again_minute - row.first_minute,
         row.again_day - row.first_day)
        for row, step in zip(rows, steps, strict=True)
    )  # fmt: skip
    shift = _line(table[:, :1], criteria, 0, MOST_WRONG / n_raters, FEWEST_TAKES)
    level = MOST_WRONG / n_raters / 2
    return Steadiness(
        rater=rater,
        n_levels=len(rows),
        n_takes=len(table),
        n_same=sum(step == 0 for step in steps),
        n_within_one=sum(abs(step) <= 1 for step in steps),
        stricter_by=shift.stricter_by,
        low=shift.low,
        high=shift.high,
        sure=shift.sure,
        because=shift.because,
        in_session=_drift(table, criteria, 1, MINUTES, LEAST_SPREAD_MINUTES, level),
        over_year=_drift(table, criteria, 2, DAYS_A_MONTH, LEAST_SPREAD_DAYS, level),
    )


def _by_take(rows: Iterable[tuple]) -> tuple[np.ndarray, float]:
    """(takes, columns) means over the criteria of each take, and the mean number of criteria."""
    of_take: dict[object, list[Sequence[float]]] = {}
    n_rows = 0
    for key, *values in rows:
        of_take.setdefault(key, []).append(values)
        n_rows += 1
    return np.array([np.mean(values, axis=0) for values in of_take.values()]), n_rows / len(of_take)


def _drift(
    table: np.ndarray, criteria: float, column: int, unit: float, least: float, level: float
) -> Drift:
    """The slope of the steps (column 0) on one ``column`` of times, the others held still.

    The mean step stays free: whatever only hearing a take again changes is no drift.
    """
    if len(table) < FEWEST_FOR_DRIFT:
        return Drift(len(table), because=TOO_FEW)
    times = table[:, 1:]
    wide = [place for place in range(times.shape[1]) if times[:, place].std() > 1e-9]
    if column - 1 not in wide:
        return Drift(len(table), because=NO_SPREAD)
    own = wide.index(column - 1)
    times = times[:, wide] - times[:, wide].mean(axis=0)
    rest = np.delete(times, own, axis=1)
    alone = times[:, own] - rest @ np.linalg.lstsq(rest, times[:, own], rcond=None)[0]
    if alone.std() < least:
        return Drift(len(table), because=NO_SPREAD)
    lines = np.column_stack([table[:, 0], np.delete(times, own, axis=1), alone / unit])
    return _line(lines, criteria, lines.shape[1] - 1, level, FEWEST_FOR_DRIFT)


def _line(table: np.ndarray, criteria: float, own: int, level: float, fewest: int) -> Drift:
    """Least squares of column 0 on a constant and the other columns; coefficient ``own``.

    Steps are few and whole, and often all zero. As Agresti & Min (2005) do for matched pairs,
    one step more than seen enters the squares, so that the interval never closes.
    """
    n = len(table)
    if n < fewest:
        return Drift(n, because=TOO_FEW)
    design = np.column_stack([np.ones(n), table[:, 1:]])
    found = np.linalg.lstsq(design, table[:, 0], rcond=None)[0]
    left = table[:, 0] - design @ found
    freedom = n - design.shape[1]
    variance = (left @ left + 1 / criteria) / freedom
    error = (variance * np.linalg.inv(design.T @ design)[own, own]) ** 0.5
    reach = float(stdtrit(freedom, 1 - level / 2) * error)
    low, high = float(found[own]) - reach, float(found[own]) + reach
    return Drift(n, float(found[own]), low, high, low > 0 or high < 0)
