"""Proportions with their intervals, and words for figures."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

Z_95 = 1.959964
"""The 97.5th percentile of the normal distribution."""

FEWEST_EVENTS = 200
"""The issue asks for so many events or clean takes under each proportion."""


def wilson(hits: int, of: int) -> tuple[float, float]:
    """The 95 percent interval of ``hits`` in ``of`` trials (Wilson 1927); (0, 1) for none.

    The worked example is the textbook's 10 of 20:

    >>> [round(end, 3) for end in wilson(10, 20)]
    [0.299, 0.701]
    """
    if not of:
        return 0.0, 1.0
    share = hits / of
    middle = (share + Z_95**2 / (2 * of)) / (1 + Z_95**2 / of)
    reach = Z_95 * np.sqrt(share * (1 - share) / of + Z_95**2 / (4 * of * of)) / (1 + Z_95**2 / of)
    return float(max(0.0, middle - reach)), float(min(1.0, middle + reach))


def proportion(hits: int, of: int) -> str:
    """Share, interval and numbers in one cell; marked where under `FEWEST_EVENTS`.

    >>> proportion(190, 200)
    '.950 (.910 to .973; 190 of 200)'
    """
    if not of:
        return "none"
    low, high = wilson(hits, of)
    few = "" if of >= FEWEST_EVENTS else ", few"
    return f"{short(hits / of)} ({short(low)} to {short(high)}; {hits} of {of}{few})"


def short(share: float) -> str:
    """A share with three decimals and no leading nought.

    >>> short(0.5), short(1.0)
    ('.500', '1.000')
    """
    return f"{share:.3f}".removeprefix("0") if share < 1 else f"{share:.3f}"


def middle_and_tail(errors: Sequence[float], unit: str) -> str:
    """Median and 95th percentile of absolute errors with the 95 percent interval of the median.

    The interval is that of order statistics (binomial), free of any distribution.
    """
    size = np.sort(np.abs(np.asarray(errors, dtype=float)))
    if not len(size):
        return "none"
    reach = Z_95 * np.sqrt(len(size)) / 2
    low = size[max(0, int(np.floor(len(size) / 2 - reach)))]
    high = size[min(len(size) - 1, int(np.ceil(len(size) / 2 + reach)))]
    return (
        f"{np.median(size):.1f} ({low:.1f} to {high:.1f}) / {np.percentile(size, 95):.1f} {unit}"
        f" (n {len(size)})"
    )
