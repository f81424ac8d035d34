"""A count out of others with its 95 percent interval. Pure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

INTERVAL_Z = 1.959964
"""Two-sided 95 percent of the normal distribution."""


@dataclass(frozen=True, slots=True)
class Share:
    """``hits`` of ``count`` witnesses (takes or musicians).

    >>> some = Share(5, 10)
    >>> some.share, round(some.low, 3), round(some.high, 3)
    (0.5, 0.237, 0.763)
    """

    hits: int
    count: int

    def __post_init__(self) -> None:
        """Refuse more hits than witnesses."""
        if not 0 <= self.hits <= self.count:
            raise ValueError(f"{self.hits} of {self.count} is no share")

    @property
    def share(self) -> float | None:
        """0 to 1; None without witnesses."""
        return self.hits / self.count if self.count else None

    @property
    def low(self) -> float:
        """Lower end of Wilson's interval; 0 without witnesses."""
        return float(wilson(self.hits, self.count)[0])

    @property
    def high(self) -> float:
        """Upper end of Wilson's interval; 1 without witnesses."""
        return float(wilson(self.hits, self.count)[1])


def wilson(hits: ArrayLike, count: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    """95 percent intervals of the shares ``hits / count``, same shape; 0 and 1 where count is 0.

    Wilson 1927, J. Am. Stat. Assoc. 22:209.

    >>> low, high = wilson([0, 3], [0, 3])
    >>> low.round(2).tolist(), high.round(2).tolist()
    ([0.0, 0.44], [1.0, 1.0])
    """
    hits, count = np.asarray(hits, dtype=float), np.asarray(count, dtype=float)
    n, z2 = np.maximum(count, 1.0), INTERVAL_Z**2
    share = hits / n
    middle = (share + z2 / (2 * n)) / (1 + z2 / n)
    reach = INTERVAL_Z / (1 + z2 / n) * np.sqrt(share * (1 - share) / n + z2 / (4 * n * n))
    low = np.where(count > 0, np.maximum(0.0, middle - reach), 0.0)
    high = np.where(count > 0, np.minimum(1.0, middle + reach), 1.0)
    return low, high
