"""A table of which only the rows still in reach are kept."""

from __future__ import annotations

import numpy as np


class Recent:
    """A table of which only the rows still in reach are kept; rows count as in the whole table.

    Ten minutes of music have ten thousand boundaries, of which a segment sees a few hundred.
    """

    def __init__(self, shape: tuple[int, int, int], reach: int, empty: float) -> None:
        """An ``empty`` table of ``shape`` that keeps ``reach`` rows and moves on in blocks."""
        self.reach, self.empty, self.base = reach, empty, 0
        rows = min(2 * reach, shape[0])
        self.rows = np.full((rows, *shape[1:]), empty, dtype=np.float32)

    def begin(self, row: int) -> None:
        """Make room for ``row``, the next one."""
        if row - self.base == len(self.rows):
            gone = len(self.rows) - self.reach
            self.rows[: self.reach] = self.rows[gone:]
            self.rows[self.reach :] = self.empty
            self.base += gone

    def row(self, row: int) -> np.ndarray:
        """One row, to be read and written."""
        return self.rows[row - self.base]

    def between(self, first: int, last: int) -> np.ndarray:
        """Rows ``first`` up to ``last``, to be read."""
        return self.rows[first - self.base : last - self.base]
