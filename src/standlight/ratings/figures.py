"""What every figure about raters, growth and tasks means: one table, for the pages. Pure.

``docs/measures.md`` holds the same rows in the same words, and a test keeps them equal.
"""

from __future__ import annotations

from dataclasses import dataclass

from standlight.ratings.figures_growth import GROWTH_ROWS
from standlight.ratings.figures_raters import RATER_ROWS
from standlight.ratings.figures_tasks import TASK_ROWS


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure: its ``name``, a ``sentence`` that a director understands, the exact
    ``definition``, its ``source``, and when it says nothing (``silent_when``).
    """

    key: str
    name: str
    sentence: str
    definition: str
    source: str
    silent_when: str


FIGURES: dict[str, Figure] = {
    row[0]: Figure(*row) for row in (*GROWTH_ROWS, *RATER_ROWS, *TASK_ROWS)
}
"""Every figure that a page shows, in the order in which a page explains them."""
