"""Ratings: levels people give, and what follows from them. Pure.

The door names the levels, the marking policy and a mark with its reasons.
"""

from standlight.ratings.levels import LEVEL_NAMES, NO_LEVEL_NAMES, NOT_HEARD, NOT_SHOWN, level_name
from standlight.ratings.marking import (
    PLAIN_POLICY,
    WORK_STATES,
    CriterionMean,
    Mark,
    MarkPolicy,
    Work,
    mark,
)

__all__ = [
    "LEVEL_NAMES",
    "NOT_HEARD",
    "NOT_SHOWN",
    "NO_LEVEL_NAMES",
    "PLAIN_POLICY",
    "WORK_STATES",
    "CriterionMean",
    "Mark",
    "MarkPolicy",
    "Work",
    "level_name",
    "mark",
]
