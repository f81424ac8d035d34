"""Links from a sentence to the definitions of its figures."""

from __future__ import annotations

from standlight.programme.queries.raters_values import FigureLink
from standlight.ratings.figures import FIGURES


def linked(*keys: str) -> tuple[FigureLink, ...]:
    """The figures by their keys, as a page links to them.

    >>> linked("growth")
    (FigureLink(key='growth', name='Growth'),)
    """
    return tuple(FigureLink(key, FIGURES[key].name) for key in keys)
