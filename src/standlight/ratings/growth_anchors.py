"""What the whole group grew: from passages asked again, and from nothing else. Pure.

Where all play the same tasks and each task once, the mean growth and the tasks' difficulty are
one and the same number (simulated: -.13 found of a true .80). A task asked again far enough
apart has one difficulty, so what changed between its two sittings is growth. It is growth on
that passage: that it was practised in between, or that the rater's standard moved, is in it too.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standlight.ratings.growth_gather import Gathered
from standlight.ratings.growth_lines import CriterionLines

FAR_APART_DAYS = 60.0
"""Days between two sittings of a task that make it an anchor: our choice, long enough for the
passage to have left the fingers and for growth to be larger than an evening's luck."""

ANCHOR_SHARE, LEAST_ANCHOR_STUDENTS = 1 / 3, 5
"""How many of the group must have played both sittings: a third of them and five (all of a
smaller group): our choice."""


@dataclass(frozen=True, slots=True, eq=False)
class GroupLine:
    """An ensemble's line: ``combination`` (sittings,) of the sittings' places that is its slope,
    ``slope`` and ``variance`` (logits a year), or no anchors and a flat line.

    ``middle`` is the place of the group at ``time``, on a task as hard as its tasks are on
    average; ``own`` (sittings,) tells which sittings are the ensemble's.
    """

    combination: np.ndarray
    slope: float
    variance: float
    anchors: tuple[str, ...]
    n_sittings: int
    middle: float
    time: float
    own: np.ndarray
    n_students: int

    @property
    def anchored(self) -> bool:
        """Whether a passage was asked again far enough apart."""
        return bool(self.anchors)


def group_lines(table: Gathered, lines: CriterionLines) -> dict[str, GroupLine]:
    """Each ensemble's line, by its key."""
    ensembles = sorted({table.sittings[each].ensemble for each in lines.sitting_of})
    return {ensemble: _group_line(table, lines, ensemble) for ensemble in ensembles}


def _group_line(table: Gathered, lines: CriterionLines, ensemble: str) -> GroupLine:
    """The line of one ensemble."""
    sittings = [table.sittings[each] for each in lines.sitting_of]
    own = np.array([sitting.ensemble == ensemble for sitting in sittings])
    times = table.years(np.array([sitting.day for sitting in sittings]))
    n_takes = np.bincount(lines.points.sitting, minlength=len(sittings)) * own
    students = _students(table, lines)
    played = {number: students[number] for number in np.flatnonzero(own)}
    in_group = set().union(*played.values())
    by_task: dict[str, list[int]] = {}
    for number in played:
        by_task.setdefault(sittings[number].task, []).append(number)
    enough = min(len(in_group), max(LEAST_ANCHOR_STUDENTS, ANCHOR_SHARE * len(in_group)))
    anchors = {
        task: numbers
        for task, numbers in sorted(by_task.items())
        if any(
            abs(sittings[one].day - sittings[other].day) >= FAR_APART_DAYS
            and len(played[one] & played[other]) >= enough
            for one in numbers
            for other in numbers
        )
    }
    combination = np.zeros(len(sittings))
    slope = variance = 0.0
    if anchors:
        combination, slope, variance = _slope(lines, times, list(anchors.values()))
    return GroupLine(
        combination=combination,
        slope=slope,
        variance=variance,
        anchors=tuple(anchors),
        n_sittings=sum(len(numbers) for numbers in anchors.values()),
        middle=float(n_takes @ lines.fit.sittings / n_takes.sum()),
        time=float(n_takes @ times / n_takes.sum()),
        own=own,
        n_students=len(in_group),
    )


def _students(table: Gathered, lines: CriterionLines) -> dict[int, set[str]]:
    """Who played at each sitting."""
    played: dict[int, set[str]] = {}
    for line, sitting in zip(
        lines.points.line.tolist(), lines.points.sitting.tolist(), strict=True
    ):
        played.setdefault(sitting, set()).add(table.keys[line].student)
    return played


def _slope(
    lines: CriterionLines, times: np.ndarray, tasks: list[list[int]]
) -> tuple[np.ndarray, float, float]:
    """Generalised least squares over the anchors' sittings: a place for each task, one slope.

    Where more sittings than one pair tell it, and they agree worse than their errors allow,
    the error is widened by that much (Birge 1932).
    """
    used = [number for task in tasks for number in task]
    design = np.zeros((len(used), len(tasks) + 1))
    design[:, -1] = times[used]
    for place, task in enumerate(tasks):
        design[[used.index(number) for number in task], place] = 1.0
    covariance = lines.fit.covariance[np.ix_(used, used)]
    weight = np.linalg.inv(covariance)
    inverse = np.linalg.inv(design.T @ weight @ design)
    weights = (inverse @ design.T @ weight)[-1]
    combination = np.zeros(len(times))
    combination[used] = weights
    places = lines.fit.sittings[used]
    rest = places - design @ (inverse @ design.T @ weight @ places)
    freedom = len(used) - design.shape[1]
    stretch = max(1.0, float(rest @ weight @ rest) / freedom) if freedom else 1.0
    return combination, float(weights @ places), float(inverse[-1, -1]) * stretch
