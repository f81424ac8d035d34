"""What each task was worth: how hard, how telling, how used, what it cost and added. Pure.

For the end of the year. Hardness comes from the many-facet model, within tasks that the
ratings join; how well a task tells musicians apart from the rest of their levels.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from standlight.ratings.comparable import comparable_classes
from standlight.ratings.given import GivenRating
from standlight.ratings.levels import LEVEL_NAMES
from standlight.ratings.rating_information import (
    RatingInformation,
    directors_rows,
    level_moments,
    rating_information,
)
from standlight.ratings.task_telling import Telling, task_tellings

FEWEST_TAKES = 8
"""Takes of a task below which nothing is said of it but counts (our choice)."""

ONE_END_SHARE, ONE_LEVEL_SHARE = 0.6, 0.9
"""Share of the levels at the lowest (highest) level from which a task was too hard (easy),
and at any one level from which it was rated by one level (our choice)."""

NORMAL_95 = 1.96

TASK_REMARKS = {
    "few_takes": "Too few takes to say more than counts.",
    "one_task": "It is the only task, so there is none to set it against.",
    "not_comparable": "Nothing joins this task to another, so its hardness cannot be told.",
    "too_hard": "Most levels were the lowest: it was too hard to show who can do more.",
    "too_easy": "Most levels were the highest: it was too easy to show who can do more.",
    "one_level": "Nearly everybody got the same level.",
    "told_nothing": "It hardly told musicians apart.",
    "backwards": "Who did well elsewhere did worse here: look at the passage or the levels.",
    "no_minutes": "Nobody noted the minutes.",
}


@dataclass(frozen=True, slots=True)
class TaskReview:
    """One task. ``None`` wherever a remark (codes of `TASK_REMARKS`) says why.

    ``hardness_points`` with ``low`` and ``high``: how much lower (rating points) the same
    musicians are rated here than on the ``n_compared`` other tasks that can be compared.
    ``tells`` is a word of `TELLS_WORDS` for ``correlation``, with its interval.
    ``level_counts`` are pairs of level and count for all four levels; ``unused`` those nobody
    got. ``added`` is this task's share of all that the tasks told about musicians, and
    ``added_a_minute`` that share over the task's share of the minutes: 1 is as much a minute
    as all tasks together.
    """

    task: str
    n_takes: int
    n_musicians: int
    hardness_points: float | None
    low: float | None
    high: float | None
    n_compared: int
    tells: str
    correlation: float | None
    correlation_low: float | None
    correlation_high: float | None
    level_counts: tuple[tuple[int, int], ...]
    unused: tuple[int, ...]
    minutes: float | None
    added: float | None
    added_a_minute: float | None
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Hardness:
    """Rating points with an interval; ``alone``: nothing joins the task to another."""

    points: float | None = None
    low: float | None = None
    high: float | None = None
    n_compared: int = 0
    alone: bool = False


def task_review(
    given: Sequence[GivenRating],
    minutes_by_task: Mapping[str, float],
    told: RatingInformation | None = None,
) -> tuple[TaskReview, ...]:
    """Every task that a director rated, by its key; minutes are the directors' own.

    ``told`` of the same rows, with its errors, saves a fit.
    """
    rows = directors_rows(given)
    if not rows:
        return ()
    tasks = sorted({row.task for row in rows})
    told = told or rating_information(rows, errors=True)
    tellings = task_tellings(told) if told else {}
    hardness = _hardness(told) if told else {}
    minutes = {task: _minutes(minutes_by_task.get(task)) for task in tasks}
    of_task: dict[str, list[GivenRating]] = {task: [] for task in tasks}
    for row in rows:
        of_task[row.task].append(row)
    rates = _added_a_minute({task: tellings[task].added for task in tellings}, minutes)
    return tuple(
        _review(
            of_task[task], hardness.get(task, _Hardness()), tellings.get(task, Telling()),
            minutes[task], rates.get(task), len(tasks),
        )
        for task in tasks
    )  # fmt: skip


def _review(
    rows: Sequence[GivenRating],
    hard: _Hardness,
    telling: Telling,
    minutes: float | None,
    rate: float | None,
    n_tasks: int,
) -> TaskReview:
    """One task's row."""
    n_takes = len({row.take for row in rows})
    counts = dict.fromkeys(LEVEL_NAMES, 0)
    for row in rows:
        counts[row.level] = counts.get(row.level, 0) + 1
    enough = n_takes >= FEWEST_TAKES
    hard = hard if enough else _Hardness(n_compared=hard.n_compared, alone=hard.alone)
    telling = telling if enough else Telling(added=telling.added)
    return TaskReview(
        task=rows[0].task,
        n_takes=n_takes,
        n_musicians=len({row.student for row in rows}),
        hardness_points=hard.points,
        low=hard.low,
        high=hard.high,
        n_compared=hard.n_compared,
        tells=telling.word,
        correlation=telling.correlation,
        correlation_low=telling.low,
        correlation_high=telling.high,
        level_counts=tuple(sorted(counts.items())),
        unused=tuple(level for level, count in sorted(counts.items()) if not count),
        minutes=minutes,
        added=telling.added,
        added_a_minute=rate,
        remarks=tuple(_remarks(counts, enough, hard, telling, minutes, n_tasks)),
    )


def _remarks(
    counts: Mapping[int, int],
    enough: bool,
    hard: _Hardness,
    telling: Telling,
    minutes: float | None,
    n_tasks: int,
) -> list[str]:
    """Codes of `TASK_REMARKS`, in the order of the table."""
    total = sum(counts.values())
    share = {level: count / total for level, count in counts.items()}
    facts = {
        "few_takes": not enough,
        "one_task": n_tasks == 1,
        "not_comparable": n_tasks > 1 and hard.alone,
        "too_hard": enough and share[min(share)] >= ONE_END_SHARE,
        "too_easy": enough and share[max(share)] >= ONE_END_SHARE,
        "one_level": enough and max(share.values()) >= ONE_LEVEL_SHARE,
        "told_nothing": telling.tells_nothing,
        "backwards": telling.word == "backwards",
        "no_minutes": minutes is None,
    }
    return [code for code in TASK_REMARKS if facts[code]]


def _minutes(minutes: float | None) -> float | None:
    """Minutes that can be counted, or none."""
    return float(minutes) if minutes is not None and 0 < minutes < float("inf") else None


def _added_a_minute(
    added: Mapping[str, float | None], minutes: Mapping[str, float | None]
) -> dict[str, float]:
    """Share of what was told over share of the minutes, among tasks whose minutes are known."""
    known = {
        task: (share, minutes[task])
        for task, share in added.items()
        if share is not None and minutes[task]
    }
    told = sum(share for share, _ in known.values())
    spent = sum(spent for _, spent in known.values())
    if told <= 0:
        return {}
    return {task: share / told / (own / spent) for task, (share, own) in known.items()}


def _hardness(told: RatingInformation) -> dict[str, _Hardness]:
    """Each task against the mean of the others in its class, for the class's own musicians."""
    names = told.estimate.design.ratings.names[0]
    number = {name: place for place, name in enumerate(names)}
    widened = _design_effects(told, len(names))
    found = {}
    for group in comparable_classes(told.estimate.design.ratings).facets["task"]:
        tasks = np.array([number[name] for name in group])
        if len(tasks) == 1:
            found[group[0]] = _Hardness(alone=True)
            continue
        level, slope = _class_levels(told, tasks)
        for place, task in enumerate(tasks):
            points = float(np.delete(level, place).mean() - level[place])
            reach = NORMAL_95 * slope * _contrast_error(told, task, tasks, widened[task])
            found[names[task]] = _Hardness(points, points - reach, points + reach, len(tasks) - 1)
    return found


def _class_levels(told: RatingInformation, tasks: np.ndarray) -> tuple[np.ndarray, float]:
    """(tasks,) mean expected level of the musicians who played any of them; points a logit."""
    estimate = told.estimate
    played = np.unique(told.student[np.isin(told.elements[:, 0], tasks)])
    centre = (estimate.posterior @ estimate.nodes)[played]
    places = estimate.parameters[tasks]
    expected, information = level_moments(estimate, centre[None, :] - places[:, None])
    levels = estimate.design.ratings.levels
    step = np.ptp(levels) / (len(levels) - 1)
    return step * expected.mean(axis=1), float(step * information.mean())


def _contrast_error(
    told: RatingInformation, task: int, tasks: np.ndarray, widened: float
) -> float:
    """Standard error (logits) of a task against the mean of the others of its class.

    The weights sum to zero, so that what nothing fixes (the whole class against another)
    falls out. ``widened``: how much less the task's levels tell when they share a day.
    """
    lean = np.zeros(len(told.estimate.parameters))
    lean[tasks] = -1 / (len(tasks) - 1)
    lean[task] = 1.0
    return float(max(lean @ told.estimate.covariance @ lean, 0.0) * widened) ** 0.5


def _design_effects(told: RatingInformation, n_tasks: int) -> np.ndarray:
    """(tasks,) information as if every level stood alone, over what is left with shared days."""
    alone = np.bincount(told.take, told.information)
    task = np.zeros(len(told.takes), dtype=np.int64)
    task[told.take] = told.elements[:, 0]
    shared = alone / (1 + told.day_variance * alone)
    return np.bincount(task, alone, n_tasks) / np.bincount(task, shared, n_tasks)
