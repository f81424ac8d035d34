"""Levels gathered into lines and sittings, numbered. Pure.

A line is one musician on one instrument in one ensemble. A sitting is one task asked of one
ensemble at one time: takes of it with no long gap between them.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from standlight.errors import StandlightError
from standlight.ratings.given import DIRECTOR, GivenRating
from standlight.ratings.growth_places import Levels, Scale, scale_of
from standlight.ratings.growth_values import DAYS_A_YEAR
from standlight.ratings.ratings_table import gather_ratings

SITTING_GAP_DAYS = 21.0
"""Days without a take of a task after which its next take is a new sitting: our choice, so that
whoever was ill and came late still sat with the others."""


MOST_SCALED_TAKES = 3000
"""Takes that place the scale; of more, every second, third and so on, with all that two raters
heard. Thresholds are then known to about .03 logit, and the time stays that of a small year."""


@dataclass(frozen=True, slots=True)
class Sitting:
    """One task asked of one ensemble around one ``day`` (the mean of its takes)."""

    ensemble: str
    task: str
    day: float


@dataclass(frozen=True, slots=True)
class LineKey:
    """Who, where and on what; and the section they sat in most."""

    student: str
    ensemble: str
    instrument: str
    section: str


@dataclass(frozen=True, slots=True, eq=False)
class Gathered:
    """One row a level: ``line``, ``sitting``, ``take`` numbers, ``day`` and ``criterion``.

    ``levels`` speaks of takes as units; ``tasks`` and ``takes`` are keys by take number;
    ``centre_day`` is where time is zero.
    """

    keys: tuple[LineKey, ...]
    sittings: tuple[Sitting, ...]
    takes: tuple[str, ...]
    criteria: tuple[str, ...]
    line: np.ndarray
    sitting: np.ndarray
    take: np.ndarray
    day: np.ndarray
    criterion: np.ndarray
    level: np.ndarray
    levels: Levels
    scale: Scale
    centre_day: float

    def years(self, days: np.ndarray) -> np.ndarray:
        """Years from the table's middle."""
        return (days - self.centre_day) / DAYS_A_YEAR


def gather_given(given: Sequence[GivenRating]) -> tuple[Gathered | None, tuple[str, ...]]:
    """The directors' levels on one scale, and remarks; ``None`` where nothing can be scaled."""
    rows, remarks = _rows(given)
    if not rows:
        return None, (*remarks, "no_ratings")
    if len({row.level for row in rows}) < 2:
        return None, (*remarks, "one_level")
    sittings, of_take = _sittings(rows)
    keys, line = _lines(rows)
    takes = sorted(of_take)
    take_number = {take: number for number, take in enumerate(takes)}
    take = np.array([take_number[_take(row)] for row in rows])
    sitting = np.array([of_take[_take(row)] for row in rows])
    criteria = sorted({row.criterion for row in rows})
    scale = _scale(rows, sitting, _scaled(rows, take))
    if scale is None:
        return None, (*remarks, "no_scale")
    number = {level: place for place, level in enumerate(scale.levels.astype(int).tolist())}
    remarks += _more_remarks(rows, keys, scale)
    day = np.array([row.day for row in rows])
    levels = Levels(
        unit=take,
        category=np.array([number[row.level] for row in rows]),
        offset=np.array([scale.criteria[row.criterion] + scale.raters[row.rater] for row in rows]),
        n_units=len(takes),
    )
    return Gathered(
        keys=keys,
        sittings=sittings,
        takes=tuple(each[-1] for each in takes),
        criteria=tuple(criteria),
        line=line,
        sitting=sitting,
        take=take,
        day=day,
        criterion=np.array([criteria.index(row.criterion) for row in rows]),
        level=np.array([row.level for row in rows], dtype=float),
        levels=levels,
        scale=scale,
        centre_day=float((day.min() + day.max()) / 2),
    ), tuple(remarks)


def _take(row: GivenRating) -> tuple[str, ...]:
    """What makes a take one of its own, even where keys of takes are not."""
    return (row.ensemble, row.task, row.student, row.instrument, row.take)


def _rows(given: Sequence[GivenRating]) -> tuple[list[GivenRating], list[str]]:
    """The directors' levels, each once, in an order that the caller's does not change."""
    remarks = []
    own = [row for row in given if row.rater_class == DIRECTOR]
    dated = [row for row in own if math.isfinite(row.day)]
    if len(dated) < len(own):
        remarks.append("no_day")
    by_key: dict[tuple[str, ...], list[GivenRating]] = {}
    for row in dated:
        by_key.setdefault((*_take(row), row.criterion, row.rater), []).append(row)
    torn = {key for key, rows in by_key.items() if len({row.level for row in rows}) > 1}
    if torn:
        remarks.append("torn")
    kept = sorted(by_key.keys() - torn)
    return [min(by_key[key], key=lambda row: (row.day, row.section)) for key in kept], remarks


def _sittings(
    rows: Sequence[GivenRating],
) -> tuple[tuple[Sitting, ...], dict[tuple[str, ...], int]]:
    """The sittings, and each take's number among them."""
    days: dict[tuple[str, str], dict[tuple[str, ...], float]] = {}
    for row in rows:
        days.setdefault((row.ensemble, row.task), {})[_take(row)] = row.day
    sittings: list[Sitting] = []
    of_take: dict[tuple[str, ...], int] = {}
    for (ensemble, task), takes in sorted(days.items()):
        ordered = sorted(takes.items(), key=lambda item: (item[1], item[0]))
        groups, last = [[]], ordered[0][1]
        for take, day in ordered:
            if day - last > SITTING_GAP_DAYS:
                groups.append([])
            groups[-1].append((take, day))
            last = day
        for group in groups:
            for take, _ in group:
                of_take[take] = len(sittings)
            mean = sum(day for _, day in group) / len(group)
            sittings.append(Sitting(ensemble, task, mean))
    return tuple(sittings), of_take


def _lines(rows: Sequence[GivenRating]) -> tuple[tuple[LineKey, ...], np.ndarray]:
    """The lines, and each row's number among them."""
    sections: dict[tuple[str, str, str], Counter[str]] = {}
    for row in rows:
        key = (row.student, row.ensemble, row.instrument)
        sections.setdefault(key, Counter())[row.section] += 1
    ordered = sorted(sections)
    number = {key: place for place, key in enumerate(ordered)}
    keys = tuple(
        LineKey(*key, max(sorted(sections[key]), key=sections[key].__getitem__))
        for key in ordered
    )
    line = np.array([number[row.student, row.ensemble, row.instrument] for row in rows])
    return keys, line


def _scaled(rows: Sequence[GivenRating], take: np.ndarray) -> np.ndarray:
    """Numbers of the rows that place the scale: all, or enough of many takes."""
    every = np.arange(len(rows))
    n_takes = int(take.max()) + 1
    if n_takes <= MOST_SCALED_TAKES:
        return every
    raters: dict[int, set[str]] = {}
    for row, number in zip(rows, take.tolist(), strict=True):
        raters.setdefault(number, set()).add(row.rater)
    stride = -(-n_takes // MOST_SCALED_TAKES)
    kept = np.array([number % stride == 0 or len(raters[number]) > 1 for number in take.tolist()])
    some = every[kept]
    for name in ("rater", "criterion", "level"):
        if {getattr(rows[each], name) for each in some} < {getattr(row, name) for row in rows}:
            return every
    return some


def _scale(
    rows: Sequence[GivenRating], sitting: np.ndarray, chosen: np.ndarray
) -> Scale | None:
    """The scale the takes share, from the ``chosen`` rows; each sitting is a population."""
    own = [rows[each] for each in chosen.tolist()]
    try:
        return scale_of(
            gather_ratings(
                [repr(_take(row)) for row in own],
                ["any"] * len(own),
                [row.criterion for row in own],
                [row.rater for row in own],
                [row.level for row in own],
                [f"{number:05}" for number in sitting[chosen].tolist()],
            )
        )
    except StandlightError:
        return None


def _more_remarks(
    rows: Sequence[GivenRating], keys: Sequence[LineKey], scale: Scale
) -> list[str]:
    """Codes for what a reader of the lines must know."""
    remarks = []
    if len({row.rater for row in rows}) == 1:
        remarks.append("one_rater")
    if len({(key.student, key.ensemble) for key in keys}) < len(keys):
        remarks.append("instrument_changed")
    if any("settle" in remark or "ran off" in remark for remark in scale.remarks):
        remarks.append("unsettled")
    return remarks
