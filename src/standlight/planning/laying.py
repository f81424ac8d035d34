"""Rows of the three voices laid on the measures as arrays, and what any window of them holds. Pure.

S sections, M measures; a window of ``width`` measures is told by its first, so there are
M - width + 1 of them. A witness (a take, a musician, a remark) counts once a window.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from standlight.planning.outline import Outline
from standlight.planning.voices import (
    DirectorRemark,
    HeardTake,
    MusicianRemark,
    Placed,
    RatedTake,
)


@dataclass(frozen=True, slots=True)
class Marks:
    """Witnesses of one kind: which measures each marks (N, M), and of which sections (S, N)."""

    marks: np.ndarray
    of_section: np.ndarray

    def touching(self, width: int) -> np.ndarray:
        """(S, windows) witnesses that mark any measure of a window."""
        return self._by_section(window_sums(self.marks, width) > 0)

    def measures(self, width: int) -> np.ndarray:
        """(S, windows) marked measures of all witnesses."""
        return window_sums(self._by_section(self.marks), width)

    def _by_section(self, counted: np.ndarray) -> np.ndarray:
        """(S, ...) how many witnesses a section."""
        # Sums far below 2**24, so that single precision is exact and the product fast.
        return (self.of_section @ counted.astype(np.float32)).astype(np.int64)


@dataclass(frozen=True, slots=True)
class Laid:
    """Everything on the measures: takes' measures heard and troubled, levels, remarks.

    ``low`` has the rows of ``rated``: where each is low, if at all.
    """

    heard: Marks
    troubled: Marks
    rated: Marks
    low: Marks
    director: Marks
    said: Marks
    speakers: np.ndarray

    def takes(self, width: int) -> tuple[np.ndarray, np.ndarray]:
        """(S, windows) takes troubled, and takes that can tell: heard in half of the window.

        A take is troubled in a window when half the measures that it heard there are.
        """
        heard = window_sums(self.heard.marks, width)
        troubled = window_sums(self.troubled.marks, width)
        can_tell = 2 * heard >= width
        hit = can_tell & (troubled > 0) & (2 * troubled >= heard)
        of_section = self.heard.of_section
        return (
            (of_section @ hit.astype(np.float32)).astype(np.int64),
            (of_section @ can_tell.astype(np.float32)).astype(np.int64),
        )

    def levels(self, width: int) -> tuple[np.ndarray, np.ndarray]:
        """(S, windows) rated takes low in a window, and those rated on half of it or more."""
        can_tell = 2 * window_sums(self.rated.marks, width) >= width
        hit = can_tell & (window_sums(self.low.marks, width) > 0)
        of_section = self.rated.of_section
        return (
            (of_section @ hit.astype(np.float32)).astype(np.int64),
            (of_section @ can_tell.astype(np.float32)).astype(np.int64),
        )


def lay(
    outline: Outline,
    takes: Sequence[HeardTake],
    rated: Sequence[RatedTake],
    director: Sequence[DirectorRemark],
    musicians: Sequence[MusicianRemark],
) -> Laid:
    """Rows that have all been found to lie on the score, as arrays."""
    place = {name: index for index, name in enumerate(outline.sections)}
    of_part = {part.key: place[part.section] for part in outline.parts}
    take_sections = [[of_part[take.part]] for take in takes]
    everybody = list(range(len(place)))
    levels = _spans(outline, rated, [[of_part[row.part]] for row in rated])
    low = np.zeros((len(rated), outline.n_measures), dtype=bool)
    for index, row in enumerate(rated):
        if row.low:
            first, last = row.low_at or (row.first, row.last)
            low[index, first : last + 1] = True
    people: dict[tuple[str, int], int] = {}
    rows = [people.setdefault((row.who, of_part[row.part]), len(people)) for row in musicians]
    said = np.zeros((len(people), outline.n_measures), dtype=bool)
    for row, person in zip(musicians, rows, strict=True):
        if row.worry:
            said[person, row.first : row.last + 1] = True
    of_section = _one_hot(len(place), [[section] for _, section in people])
    return Laid(
        _points(outline, (take.heard for take in takes), take_sections),
        _points(outline, ({m for _, m in take.troubles} for take in takes), take_sections),
        levels,
        Marks(low, levels.of_section),
        _spans(outline, director, [[place[s] for s in row.sections] or everybody
                                   for row in director]),
        Marks(said, of_section),
        of_section.sum(axis=1).astype(np.int64),
    )  # fmt: skip


def window_sums(values: np.ndarray, width: int) -> np.ndarray:
    """(rows, M) to (rows, M - width + 1): the sum of each window.

    >>> window_sums(np.array([[1, 0, 2, 3]]), 2).tolist()
    [[1, 2, 5]]
    """
    running = np.zeros((len(values), values.shape[1] + 1), dtype=np.int64)
    np.cumsum(values, axis=1, out=running[:, 1:])
    return running[:, width:] - running[:, :-width]


def _points(
    outline: Outline, measures: Iterable[Iterable[int]], sections: Sequence[Sequence[int]]
) -> Marks:
    """Witnesses that mark single measures."""
    marks = np.zeros((len(sections), outline.n_measures), dtype=bool)
    for row, marked in enumerate(measures):
        marks[row, list(marked)] = True
    return Marks(marks, _one_hot(len(outline.sections), sections))


def _spans(
    outline: Outline, rows: Sequence[Placed], sections: Sequence[Sequence[int]]
) -> Marks:
    """Witnesses that mark measures ``first`` to ``last``."""
    marks = np.zeros((len(rows), outline.n_measures), dtype=bool)
    for index, row in enumerate(rows):
        marks[index, row.first : row.last + 1] = True
    return Marks(marks, _one_hot(len(outline.sections), sections))


def _one_hot(n_sections: int, sections: Sequence[Sequence[int]]) -> np.ndarray:
    """(S, N) 1 where the witness speaks for the section."""
    grid = np.zeros((n_sections, len(sections)), dtype=np.float32)
    for column, own in enumerate(sections):
        grid[own, column] = 1.0
    return grid
