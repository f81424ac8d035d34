"""The one place where a study meets the room of ratings: which review, and its edition."""

from __future__ import annotations

import statistics
from collections import defaultdict
from collections.abc import Sequence
from itertools import pairwise

from standlight.programme.queries.desk_queue import PACE_BREAK_S, UNTIMED_TAKE_S
from standlight.ratings.given import DIRECTOR, GivenRating, HeardAgain

METHOD = "4"
"""Edition of the method; a study of an older edition is made again at the next errand."""

MINUTES_A_DAY = 24 * 60


def review(given: Sequence[GivenRating], again: Sequence[HeardAgain]) -> object:
    """What the rows say: a ``RatingsReview``. Loads scipy, so only a worker asks."""
    from standlight.ratings.review import review_ratings

    return review_ratings(given, again, minutes_by_task(given))


def minutes_by_task(given: Sequence[GivenRating]) -> dict[str, float]:
    """How long directors rated each task, in minutes.

    A take took from the last level of the one before to its own last level; after a pause, the
    rater's median, or the Desk's budget while there is none.

    >>> def row(take, minute):
    ...     day = minute / (24 * 60)
    ...     return GivenRating("m1", "e1", "s1", "", "c1", take, 0.0, day, "rhythm", "a1", 3)
    >>> round(minutes_by_task([row("t1", 0), row("t2", 1), row("t3", 3), row("t4", 63)])["c1"], 6)
    6.0
    """
    ends: dict[str, dict[tuple[str, str], float]] = defaultdict(dict)
    for row in given:
        if row.rater_class == DIRECTOR:
            takes, key = ends[row.rater], (row.take, row.task)
            takes[key] = max(row.given_day * MINUTES_A_DAY, takes.get(key, float("-inf")))
    minutes: dict[str, float] = defaultdict(float)
    for takes in ends.values():
        order = sorted(takes, key=takes.__getitem__)
        gaps = [takes[later] - takes[sooner] for sooner, later in pairwise(order)]
        kept = [gap for gap in gaps if 0 < gap < PACE_BREAK_S / 60]
        usual = statistics.median(kept) if kept else UNTIMED_TAKE_S / 60
        for (_, task), gap in zip(order, [float("inf"), *gaps], strict=True):
            minutes[task] += gap if 0 < gap < PACE_BREAK_S / 60 else usual
    return dict(minutes)
