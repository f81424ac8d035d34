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
) -> Ratings:
    """Number and sort the rows of six columns of equal length; ``None`` is not rated.

    The same rating twice counts once; the same rating with two levels is left out.
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
    columns = [students, tasks, criteria, raters, levels]
    lengths = {len(column) for column in [*columns, *([ensembles] if ensembles else [])]}
    if len(lengths) > 1:
        raise StandlightError("the columns of the ratings differ in length")
    empty = _empty_criteria(criteria, levels)
    kept, remarks = _without_duplicates(columns)
    remarks = [*empty, *remarks]
    if not kept:
        raise StandlightError("no rating is left to measure from", slip="are the cells empty?")
    used = sorted({row[4] for row in kept})
    if len(used) < 2:
        raise StandlightError(f"every rating is level {used[0]}, so nothing can be told apart")
    missing = sorted(set(range(used[0], used[-1])) - set(used))
    if missing:
        words = ", ".join(map(str, missing))
        remarks.append(f"Nobody gave level {words}; the levels beside it count as neighbours.")
    names = [tuple(sorted({row[place] for row in kept})) for place in range(4)]
    codes = [{name: number for number, name in enumerate(column)} for column in names]
    numbered = np.array(
        [[codes[place][row[place]] for place in range(4)] for row in kept], dtype=np.int64
    )
    rank = {level: number for number, level in enumerate(used)}
    if len(names[3]) == 1:
        remarks.append("There is one rater, so nothing can be said of how raters differ.")
    groups, ensemble = _ensembles(students, ensembles, names[0])
    return Ratings(
        students=names[0],
        names=tuple(names[1:]),
        levels=tuple(used),
        student=numbered[:, 0].copy(),
        elements=numbered[:, 1:].copy(),
        category=np.array([rank[row[4]] for row in kept], dtype=np.int64),
        ensembles=groups,
        ensemble=ensemble,
        remarks=tuple(remarks),
    )


def without_criteria(ratings: Ratings, left_out: Sequence[int], remark: str) -> Ratings:
    """The table without some criteria (by number), renumbered, with one more remark."""
    keep = ~np.isin(ratings.elements[:, 1], list(left_out))
    rows = np.flatnonzero(keep)
    if not len(rows):
        raise StandlightError("each criterion was given one level only")
    columns = [
        [ratings.students[number] for number in ratings.student[rows]],
        *(
            [ratings.names[place][number] for number in ratings.elements[rows, place]]
            for place in range(3)
        ),
        [ratings.levels[number] for number in ratings.category[rows]],
        [ratings.ensembles[ratings.ensemble[number]] for number in ratings.student[rows]],
    ]
    fresh = gather_ratings(*columns)
    remarks = (*ratings.remarks, remark)
    new = tuple(sentence for sentence in fresh.remarks if sentence not in remarks)
    return replace(fresh, remarks=(*remarks, *new))


def _empty_criteria(criteria: Sequence[str], levels: Sequence[int | None]) -> list[str]:
    """A remark for criteria that stand in the table without one rating."""
    rated = {name for name, level in zip(criteria, levels, strict=True) if level is not None}
    empty = sorted(set(criteria) - rated)
    return [f"Nobody rated {', '.join(empty)}, so it is left out."] if empty else []


def _without_duplicates(columns: Sequence[Sequence]) -> tuple[list[tuple], list[str]]:
    """Sorted rows with a level, each key once, and remarks on what stood there twice."""
    rows = sorted({row for row in zip(*columns, strict=True) if row[4] is not None})
    n_rated = sum(level is not None for level in columns[4])
    remarks = []
    if n_rated > len(rows):
        count = n_rated - len(rows)
        remarks.append(f"{count} rating{'s' * (count > 1)} stood there twice and counted once.")
    seen: dict[tuple, int] = {}
    for row in rows:
        seen[row[:4]] = seen.get(row[:4], 0) + 1
    kept = [row for row in rows if seen[row[:4]] == 1]
    n_torn = sum(count > 1 for count in seen.values())
    if n_torn:
        remarks.append(
            f"{n_torn} time{'s' * (n_torn > 1)} one rater gave the same work two levels;"
            " these are left out. Name the occasion to keep both."
        )
    return kept, remarks


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
