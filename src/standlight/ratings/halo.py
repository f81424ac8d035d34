"""One impression for all criteria: how much the criteria of one take move together. Pure.

Beyond what the musician's other takes, the task, the rater and a trend of the musician's own
explain. A likelihood of variance components (`take_effects`), tested against none of it. Yen
(1984) asked the same of test items by residual correlations, which lean below zero where
nothing is shared; a likelihood needs no such correction.

The day moves every rater who heard the take; an impression moves the criteria of one rater
only. They are told apart by takes that two raters heard, or by a rater in whose takes more
is shared than in the others'.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import chdtri

from standlight.errors import StandlightError
from standlight.ratings.given import GivenRating
from standlight.ratings.take_effects import (
    MOST_VARIANCE,
    hearings_of,
    likeliest,
    log_likelihood,
    points_of,
)
from standlight.ratings.take_stages import DAY, OTHERS, OWN, STUDENT, TREND, Hearings

FEWEST_TAKES, FEWEST_TWICE = 30, 10
"""Takes with two criteria or more, and takes heard by two raters, below which nothing is
said: our choice; below, the interval is wider than any spread that people have."""

MOST_WRONG = 0.05
"""Share of tables without it in which anything may be claimed; split over the raters
(Bonferroni)."""

TOO_FEW, NO_MEASURE, ONE_RATER, ONE_EACH = "too_few", "no_measure", "one_rater", "one_rater_each"
BECAUSE = {
    TOO_FEW: "too few takes with two criteria, from musicians with two takes",
    NO_MEASURE: "these levels tell nothing apart",
    ONE_RATER: "one rater alone cannot show whether it was the day or the impression",
    ONE_EACH: "hardly a take was heard by two raters, so day and impression cannot be told apart",
}
"""Why there is no figure, or why day and impression stay together; texts for the method pages."""


@dataclass(frozen=True, slots=True)
class SharedImpression:
    """Spread (rating points) that the criteria of one take share, for ``rater`` ("" = all).

    ``low`` to ``high`` at 95 percent (for raters: all of them together), ``sure`` when off
    zero. ``day_points`` is what raters of one take share, ``own_points`` what is one rater's
    alone, and ``own_sure`` that it is more than nothing and more than a day explains; both
    ``None`` while they cannot be told apart: ``apart`` says why. ``because``: no figure.
    """

    rater: str
    n_takes: int
    spread_points: float | None = None
    low: float | None = None
    high: float | None = None
    sure: bool = False
    day_points: float | None = None
    own_points: float | None = None
    own_sure: bool = False
    apart: str = ""
    because: str = ""


def shared_impressions(given: Sequence[GivenRating]) -> tuple[SharedImpression, ...]:
    """What criteria of one take share, over all raters first, then rater by rater."""
    try:
        heard = hearings_of(given)
    except StandlightError:
        return (SharedImpression("", 0, because=NO_MEASURE),)
    n_takes = heard.n_telling
    if n_takes < FEWEST_TAKES:
        return (SharedImpression("", n_takes, because=TOO_FEW),)
    apart = _apart(heard)
    free = [STUDENT, DAY, *([] if apart else [OWN]), *([TREND] if heard.years.any() else [])]
    found = likeliest(heard, sorted(free)).variances
    whole = _spread(heard, found, MOST_WRONG)
    if apart:
        first = SharedImpression("", n_takes, *whole, apart=apart)
    else:
        first = SharedImpression(
            "", n_takes, *whole, _points(heard, found[DAY]), _points(heard, found[OWN]),
            _own_sure(heard, found, None, MOST_WRONG),
        )  # fmt: skip
    if len(heard.raters) < 2:
        return (first, _of_one(heard, found, heard.raters[0], 1))
    rows = [_of_one(heard, found, rater, len(heard.raters)) for rater in heard.raters]
    return (first, *rows)


def _apart(heard: Hearings) -> str:
    """Why day and impression cannot be told apart over all takes; "" when they can."""
    if len(heard.raters) < 2:
        return ONE_RATER
    return ONE_EACH if heard.n_heard_twice < FEWEST_TWICE else ""


def _of_one(
    heard: Hearings, found: np.ndarray, rater: str, n_raters: int
) -> SharedImpression:
    """The row of one rater: the spread in own takes, and what is beyond the others' days."""
    own = heard.by(rater)
    n_takes = own.n_telling
    if n_takes < FEWEST_TAKES:
        return SharedImpression(rater, n_takes, because=TOO_FEW)
    level = MOST_WRONG / n_raters
    start = found.copy()
    start[OWN] = start[OTHERS] = 0.0
    start[DAY] = max(found[DAY] + found[OWN], 0.05)
    start[DAY] = likeliest(own, [DAY], start=start).variances[DAY]
    whole = _spread(own, start, level)
    if n_raters < 2:
        return SharedImpression(rater, n_takes, *whole, apart=ONE_RATER)
    number = heard.raters.index(rater)
    begin = found.copy()
    begin[OTHERS] = found[OWN]
    full = likeliest(heard, [DAY, OWN, OTHERS], number, begin)
    if not _own_sure(heard, full.variances, number, level):
        reason = ONE_EACH if heard.n_heard_twice < FEWEST_TWICE else ""
        points = (None, None) if reason else _parts(heard, full.variances)
        return SharedImpression(rater, n_takes, *whole, *points, apart=reason)
    return SharedImpression(rater, n_takes, *whole, *_parts(heard, full.variances), own_sure=True)


def _parts(heard: Hearings, found: np.ndarray) -> tuple[float, float]:
    """What is the day's and what is the rater's own, in rating points."""
    return _points(heard, found[DAY]), _points(heard, found[OWN])


def _points(heard: Hearings, variance: float) -> float:
    """The spread of a ``variance`` (square logits) in rating points."""
    return points_of(heard.estimate, float(variance) ** 0.5)


def _own_sure(heard: Hearings, found: np.ndarray, rater: int | None, level: float) -> bool:
    """Whether the likelihood falls too far for chance when the impression is taken away."""
    if found[OWN] <= 0:
        return False
    with_it = log_likelihood(heard, found, rater)
    free = [DAY] if rater is None else [DAY, OTHERS]
    bare = found.copy()
    bare[OWN] = 0.0
    without = likeliest(heard, free, rater, bare)
    return bool(2 * (with_it - without.log_likelihood) > chdtri(1, level))


def _spread(
    heard: Hearings, found: np.ndarray, level: float
) -> tuple[float, float, float, bool]:
    """Spread, low, high (rating points) and whether low is off zero.

    The ends are where the likelihood has fallen by what chance allows at ``level``, with
    day and impression scaled together.
    """
    fall = chdtri(1, level) / 2
    total = found[DAY] + found[OWN]
    best = log_likelihood(heard, found)
    share = found[OWN] / total if total > 0 else 0.0

    def drop(variance: float) -> float:
        tried = found.copy()
        tried[DAY], tried[OWN] = (1 - share) * variance, share * variance
        return best - log_likelihood(heard, tried) - fall

    low = brentq(drop, 0.0, total, xtol=1e-3) if total > 0 and drop(0.0) > 0 else 0.0
    far = drop(MOST_VARIANCE)
    high = brentq(drop, total, MOST_VARIANCE, xtol=1e-3) if far > 0 else MOST_VARIANCE
    spread, at_low, at_high = (_points(heard, each) for each in (total, low, high))
    return spread, at_low, at_high, low > 0
