"""A table of ratings as arrays: who was rated, on what, for what, by whom. Pure.

``gather_ratings`` takes five columns and gives them sorted and numbered, so that the
order of the rows changes nothing; what it left out it says in remarks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from standlight.errors import StandlightError

FACETS = ("task", "criterion", "rater")
"""The facets beside the student, in the order of every array here."""


@dataclass(frozen=True, slots=True, eq=False)
class Ratings:
    """Ratings by number: ``student`` (n,), ``elements`` (n, 3) in the order of ``FACETS``.

    ``category`` (n,) counts from 0 along ``levels``, the levels that were observed;
    ``names`` are the elements of each facet; ``ensemble`` (students,) numbers ``ensembles``.
    """

    students: tuple[str, ...]
    names: tuple[tuple[str, ...], ...]
    levels: tuple[int, ...]
    student: np.ndarray
    elements: np.ndarray
    category: np.ndarray
    ensembles: tuple[str, ...]
    ensemble: np.ndarray
    remarks: tuple[str, ...] = ()

    @property
    def n_ratings(self) -> int:
        """How many ratings there are."""
        return len(self.category)


def gather_ratings(
    students: Sequence[str],
    tasks: Sequence[str],
    criteria: Sequence[str],
    raters: Sequence[str],
    levels: Sequence[int | None],
    ensembles: Sequence[str] | None = None,
    recordings: Sequence[str] | None = None,
) -> Ratings:
    """Number and sort the rows of columns of equal length; ``None`` is not rated.

    The same rating of the same recording twice counts once; with two levels it is left out.
    Without ``recordings`` a student has one recording of a task.
    A student keeps the first ensemble in the alphabet that stands beside the name.
    ``StandlightError`` when nothing is rated, or only one level was ever given.

    >>> table = gather_ratings("aabb", "xyxy", "cccc", "rrrr", [1, 2, 2, None])
    >>> table.n_ratings, table.levels, table.names
    (3, (1, 2), (('x', 'y'), ('c',), ('r',)))
    >>> gather_ratings("ab", "xx", "cc", "rr", [3, 3])
    Traceback (most recent call last):
    ...
    standlight.errors.StandlightError: every rating is level 3, so nothing can be told apart
    """
    recordings = recordings or [""] * len(students)
    columns = [students, tasks, criteria, raters, recordings]
    lengths = {len(column) for column in [*columns, levels, *([ensembles] if ensembles else [])]}
    if len(lengths) > 1:
        raise StandlightError("the columns of the ratings differ in length")
    empty = _empty_criteria(criteria, levels)
    rated = np.array([level is not None for level in levels], dtype=bool)
    level = np.array([level for level in levels if level is not None], dtype=np.int64)
    names, codes = zip(*(_coded(column) for column in columns), strict=True)
    keys = np.column_stack(codes)[rated]
    keys, level, remarks = _each_once(keys, level)
    if not len(level):
        raise StandlightError("no rating is left to measure from", slip="are the cells empty?")
    used, category = np.unique(level, return_inverse=True)
    if len(used) < 2:
        raise StandlightError(f"every rating is level {used[0]}, so nothing can be told apart")
    missing = sorted(set(range(used[0], used[-1])) - set(used.tolist()))
    if missing:
        words = ", ".join(map(str, missing))
        remarks.append(f"Nobody gave level {words}; the levels beside it count as neighbours.")
    groups, ensemble = _ensembles(students, ensembles, names[0])
    table = _renumbered(
        Ratings(
            students=names[0],
            names=names[1:4],
            levels=tuple(used.tolist()),
            student=keys[:, 0],
            elements=keys[:, 1:4],
            category=category,
            ensembles=groups,
            ensemble=ensemble,
        )
    )
    if len(table.names[2]) == 1:
        remarks.append("There is one rater, so nothing can be said of how raters differ.")
    return replace(table, remarks=(*empty, *remarks))


def without_criteria(ratings: Ratings, left_out: Sequence[int], remark: str) -> Ratings:
    """The table without some criteria (by number), renumbered, with one more remark."""
    rows = ~np.isin(ratings.elements[:, 1], list(left_out))
    if not rows.any():
        raise StandlightError("each criterion was given one level only")
    return replace(_only(ratings, rows), remarks=(*ratings.remarks, remark))


def only_students(ratings: Ratings, students: Sequence[int]) -> Ratings:
    """The table of some students only (by number), renumbered."""
    return _only(ratings, np.isin(ratings.student, students))


def _only(ratings: Ratings, rows: np.ndarray) -> Ratings:
    """The ratings of some rows, renumbered."""
    return _renumbered(
        replace(
            ratings,
            student=ratings.student[rows],
            elements=ratings.elements[rows],
            category=ratings.category[rows],
        )
    )


def _renumbered(ratings: Ratings) -> Ratings:
    """The same ratings, with only the names and levels that still have one."""
    students, student = _packed(ratings.student)
    levels, category = _packed(ratings.category)
    names, elements = [], []
    for place, column in enumerate(ratings.elements.T):
        used, number = _packed(column)
        names.append(tuple(ratings.names[place][each] for each in used))
        elements.append(number)
    groups, ensemble = _packed(ratings.ensemble[students])
    return replace(
        ratings,
        students=tuple(ratings.students[each] for each in students),
        names=tuple(names),
        levels=tuple(ratings.levels[each] for each in levels),
        student=student,
        elements=np.column_stack(elements),
        category=category,
        ensembles=tuple(ratings.ensembles[each] for each in groups),
        ensemble=ensemble,
    )


def _packed(numbers: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The numbers that occur, and each one's place among them; no sorting.

    >>> [found.tolist() for found in _packed(np.array([5, 2, 5]))]
    [[2, 5], [1, 0, 1]]
    """
    occurs = np.bincount(numbers) > 0
    return np.flatnonzero(occurs), (np.cumsum(occurs) - 1)[numbers]


def _empty_criteria(criteria: Sequence[str], levels: Sequence[int | None]) -> list[str]:
    """A remark for criteria that stand in the table without one rating."""
    rated = {name for name, level in zip(criteria, levels, strict=True) if level is not None}
    empty = sorted(set(criteria) - rated)
    return [f"Nobody rated {', '.join(empty)}, so it is left out."] if empty else []


def _coded(column: Sequence[str]) -> tuple[tuple[str, ...], np.ndarray]:
    """The names of a column in order, and the number of each row's."""
    names = tuple(sorted(set(column)))
    number = {name: place for place, name in enumerate(names)}
    return names, np.fromiter((number[name] for name in column), np.int64, len(column))


def _each_once(
    keys: np.ndarray, level: np.ndarray
) -> tuple[np.ndarray, np.ndarray, list[str]]:
    """Keys (n, 5) and levels sorted, each key once, and remarks on what stood there twice."""
    remarks = []
    order = np.lexsort((level, *keys.T[::-1]))
    keys, level = keys[order], level[order]
    same_key = (keys[1:] == keys[:-1]).all(axis=1)
    again = np.concatenate([[False], same_key & (level[1:] == level[:-1])])[: len(level)]
    if again.any():
        count = int(again.sum())
        remarks.append(f"{count} rating{'s' * (count > 1)} stood there twice and counted once.")
        keys, level = keys[~again], level[~again]
    torn = np.zeros(len(level), dtype=bool)
    same_key = (keys[1:] == keys[:-1]).all(axis=1)
    torn[1:] |= same_key
    torn[:-1] |= same_key
    if torn.any():
        count = len(np.unique(keys[torn], axis=0))
        remarks.append(
            f"{count} time{'s' * (count > 1)} one rater gave the same work two levels;"
            " these are left out. Name the occasion to keep both."
        )
        keys, level = keys[~torn], level[~torn]
    return keys, level, remarks


def _ensembles(
    students: Sequence[str], ensembles: Sequence[str] | None, kept: Sequence[str]
) -> tuple[tuple[str, ...], np.ndarray]:
    """The ensembles' names, and the number of each kept student's ensemble."""
    if not ensembles:
        return ("",), np.zeros(len(kept), dtype=np.int64)
    of: dict[str, str] = {}
    for student, ensemble in zip(students, ensembles, strict=True):
        of[student] = min(ensemble, of.get(student, ensemble))
    groups = tuple(sorted({of[student] for student in kept}))
    number = {name: place for place, name in enumerate(groups)}
    return groups, np.array([number[of[student]] for student in kept], dtype=np.int64)
