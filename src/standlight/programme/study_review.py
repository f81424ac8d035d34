"""The one place where a study meets the room of ratings: which review, and its edition."""

from __future__ import annotations

from collections.abc import Sequence

from standlight.ratings.given import GivenRating, HeardAgain

METHOD = "1"
"""Edition of the method; a study of an older edition is made again at the next errand."""


def review(given: Sequence[GivenRating], again: Sequence[HeardAgain]) -> object:
    """What the rows say: a ``RatingsReview``. Loads numpy and scipy, so only a worker asks."""
    from standlight.ratings.review import review_ratings

    return review_ratings(given, again)
