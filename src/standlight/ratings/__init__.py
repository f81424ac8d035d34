"""Ratings: levels people give, and what follows from them. Pure.

The door names the levels; the marking policy and its reasons are beside it.
"""

from standlight.ratings.levels import LEVEL_NAMES, NO_LEVEL_NAMES, NOT_HEARD, NOT_SHOWN, level_name

__all__ = ["LEVEL_NAMES", "NOT_HEARD", "NOT_SHOWN", "NO_LEVEL_NAMES", "level_name"]
