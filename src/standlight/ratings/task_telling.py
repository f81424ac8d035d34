"""Whether a task tells musicians apart, and how much it added to what is known. Pure.

A task's levels are set beside the same musicians' levels on the other tasks, both freed of
how hard the task, the criterion and the rater were, and both within their ensemble.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from standlight.ratings.rating_information import RatingInformation, level_moments

FEWEST_MUSICIANS = 8
"""Musicians with other tasks below which no correlation is said (our choice)."""

TELLS_WORDS = ((0.4, "well"), (0.2, "somewhat"), (-1.0, "hardly"))
"""Least correlation of each word; surely below zero it is "backwards". The steps .40 and .20
are those of Ebel's guide for test items (Essentials of Educational Measurement, 1972; from
memory)."""

NOTHING_BELOW = 0.4
"""A task told nothing only if even the upper end of its interval is below: the first word is
then out of reach."""

NORMAL_95 = 1.96


@dataclass(frozen=True, slots=True)
class Telling:
    """``correlation`` with interval and its ``word`` (empty when unknown), ``added`` share.

    ``slope`` is of the task's levels on the rest, with its standard ``slope_error``.
    """

    correlation: float | None = None
    low: float | None = None
    high: float | None = None
    word: str = ""
    slope: float | None = None
    slope_error: float | None = None
    added: float | None = None

    @property
    def tells_nothing(self) -> bool:
        """Whether it surely hardly tells musicians apart."""
        return (
            self.word in ("hardly", "backwards")
            and self.high is not None
            and self.high < NOTHING_BELOW
        )


def task_tellings(told: RatingInformation) -> dict[str, Telling]:
    """Every task of ``told``.

    ``added``: over its takes, the information about the musician that is left when a take's
    levels share its day, times the square of the task's slope against the mean slope; then
    each task's share of the sum.
    """
    names = told.estimate.design.ratings.names[0]
    freed = told.level - _asked_levels(told)
    found = [_telling(told, freed, number) for number in range(len(names))]
    gained = _sharpness(found) * _information(told, len(names))
    total = float(gained.sum())
    shares = gained / total if total > 0 else [None] * len(names)
    return {
        name: Telling(
            each.correlation, each.low, each.high, each.word, each.slope, each.slope_error,
            None if share is None else float(share),
        )
        for name, each, share in zip(names, found, shares, strict=True)
    }  # fmt: skip


def _asked_levels(told: RatingInformation) -> np.ndarray:
    """(ratings,) the level that the mean musician would get for the same task from the rater."""
    levels = told.estimate.design.ratings.levels
    step = np.ptp(levels) / (len(levels) - 1)
    centre = float((told.estimate.posterior @ told.estimate.nodes).mean())
    expected, _ = level_moments(told.estimate, centre - told.places)
    return levels[0] + step * expected


def _telling(told: RatingInformation, freed: np.ndarray, number: int) -> Telling:
    """The correlation of one task with the musicians' rest, pooled within ensembles."""
    here = told.elements[:, 0] == number
    n = len(told.estimate.design.ratings.students)
    own, rest = (_means(told.student[rows], freed[rows], n) for rows in (here, ~here))
    both = np.isfinite(own) & np.isfinite(rest)
    ensemble = told.estimate.design.ratings.ensemble[both]
    own, rest = (_within(values[both], ensemble) for values in (own, rest))
    n_free = len(own) - len(set(ensemble.tolist())) - 1
    squares = float(rest @ rest) * float(own @ own)
    if len(own) < FEWEST_MUSICIANS or n_free < 2 or squares <= 1e-12:
        return Telling()
    correlation = float(np.clip(own @ rest / squares**0.5, -0.999999, 0.999999))
    # Fisher's z with the degrees that the ensembles' means leave: n - 3 of one ensemble.
    reach = NORMAL_95 / (n_free - 1) ** 0.5
    low, high = np.tanh(np.arctanh(correlation) + np.array([-reach, reach]))
    slope = float(own @ rest / (rest @ rest))
    left = own - slope * rest
    error = float((left @ left) / n_free / (rest @ rest)) ** 0.5
    word = next(word for least, word in TELLS_WORDS if correlation >= least)
    word = "backwards" if high < 0 else word
    return Telling(correlation, float(low), float(high), word, slope, error)


def _sharpness(tellings: Sequence[Telling]) -> np.ndarray:
    """(tasks,) square of each slope over the mean one; 1 where it is unknown.

    Slopes are drawn to their mean as far as their errors alone would scatter them (Efron &
    Morris 1973, J. Am. Stat. Assoc. 68:117), so that chance makes no task look sharp.
    """
    known = [place for place, each in enumerate(tellings) if each.slope is not None]
    slopes = np.array([tellings[place].slope for place in known], dtype=float)
    errors = np.array([tellings[place].slope_error for place in known], dtype=float)
    sharpness = np.ones(len(tellings))
    usual = float(slopes.mean()) if known else 0.0
    if len(known) < 2 or usual <= 0:
        return sharpness
    true = max(float(slopes.var(ddof=1) - (errors**2).mean()), 0.0)
    drawn = usual + (slopes - usual) * true / np.maximum(true + errors**2, 1e-12)
    sharpness[known] = (np.maximum(drawn, 0.0) / usual) ** 2
    return sharpness


def _information(told: RatingInformation, n_tasks: int) -> np.ndarray:
    """(tasks,) information about musicians that the takes of each task leave."""
    alone = np.bincount(told.take, told.information)
    task = np.zeros(len(told.takes), dtype=np.int64)
    task[told.take] = told.elements[:, 0]
    return np.bincount(task, alone / (1 + told.day_variance * alone), n_tasks)


def _means(student: np.ndarray, values: np.ndarray, n: int) -> np.ndarray:
    """(n,) mean of each student's values, not a number without any."""
    count = np.bincount(student, minlength=n)
    total = np.bincount(student, values, n)
    return np.divide(total, count, out=np.full(n, np.nan), where=count > 0)


def _within(values: np.ndarray, ensemble: np.ndarray) -> np.ndarray:
    """``values`` less the mean of their ensemble."""
    count = np.maximum(np.bincount(ensemble), 1) if len(ensemble) else np.ones(1)
    return values - (np.bincount(ensemble, values) / count)[ensemble] if len(ensemble) else values
