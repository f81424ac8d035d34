"""Measures that an answer is about, made to stand out in the drawn passage."""

from __future__ import annotations

import re

_MEASURE = re.compile(r'class="measure"')


def with_measures(svg: str, count: int, first: int, last: int) -> str:
    """``svg`` with all measures but ``first`` to ``last`` (from 0, both included) marked as beside.

    ``count`` is how many measures the passage has: where the drawing has another number (a long
    rest drawn as one), nothing is marked rather than a wrong measure.

    >>> drawn = '<svg><g class="measure"/><g class="measure"/><g class="measure"/></svg>'
    >>> with_measures(drawn, 3, 1, 2)
    '<svg><g class="measure beside"/><g class="measure"/><g class="measure"/></svg>'
    >>> with_measures(drawn, 4, 1, 2) == drawn
    True
    """
    places = len(_MEASURE.findall(svg))
    if places != count or not 0 <= first <= last < count or last - first + 1 == count:
        return svg
    numbers = iter(range(places))

    def marked(found: re.Match[str]) -> str:
        return found[0] if first <= next(numbers) <= last else 'class="measure beside"'

    return _MEASURE.sub(marked, svg)
