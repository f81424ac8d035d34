"""One review of a programme's ratings: every finding, and what may be said of them. Pure.

``review_ratings`` asks each module of the room once; a page shows what it needs of the answer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from standlight.ratings.given import GivenRating, HeardAgain
from standlight.ratings.growth import growth_together, measure_growth
from standlight.ratings.growth_values import Growth
from standlight.ratings.halo import SharedImpression, shared_impressions
from standlight.ratings.joining import Join, join_plan
from standlight.ratings.rating_information import rating_information
from standlight.ratings.seasons import seasons
from standlight.ratings.self_view import SelfView, self_views
from standlight.ratings.severity import RaterContrast, rater_contrasts, recent_contrasts
from standlight.ratings.statements import Refusal, Statement, refusals_of, statements_of
from standlight.ratings.steadiness import (
    CommonDrift,
    Steadiness,
    drift_against_others,
    steadiness_of,
)
from standlight.ratings.task_review import TaskReview, task_review

YEARS_TOLD = 2
"""Sections and groups are told of the present school year and, while it is young, of the last."""


@dataclass(frozen=True, slots=True)
class RatingsReview:
    """What a table of ratings says (``statements``), must not say (``refusals``), and why.

    A section is told of the latest school year that can tell it; lines go on through all of them.
    ``month`` are contrasts of the last days alone; ``drifts`` how raters moved beside each other.
    ``remarks`` are codes of the modules, such as those of ``growth_values.GROWTH_REMARKS``.
    """

    statements: tuple[Statement, ...]
    refusals: tuple[Refusal, ...]
    growth: Growth
    contrasts: tuple[RaterContrast, ...]
    month: tuple[RaterContrast, ...]
    impressions: tuple[SharedImpression, ...]
    steadiness: tuple[Steadiness, ...]
    drifts: tuple[CommonDrift, ...]
    joins: tuple[Join, ...]
    tasks: tuple[TaskReview, ...]
    self_views: tuple[SelfView, ...]
    remarks: tuple[str, ...]


def review_ratings(
    given: Sequence[GivenRating],
    again: Sequence[HeardAgain] = (),
    minutes_by_task: Mapping[str, float] | None = None,
) -> RatingsReview:
    """Every finding of ``given`` and ``again``; odd tables bring codes and empty findings."""
    growth = measure_growth(given)
    years = _years(given, growth)
    rows, latest = next((each for each in years[::-1] if each[1].sections), ((), growth))
    days = [row.day for row in rows] or [None]
    contrasts = rater_contrasts(given)
    impressions = shared_impressions(given)
    told = rating_information(given, errors=True)
    plan = join_plan(given, told)
    return RatingsReview(
        statements=statements_of(
            contrasts, impressions, latest.sections, (min(days), max(days))
        ),
        refusals=refusals_of(
            given, contrasts, [(part, each.groups) for part, each in years], plan.joins
        ),
        growth=growth,
        contrasts=contrasts,
        month=recent_contrasts(given),
        impressions=impressions,
        steadiness=steadiness_of(again),
        drifts=drift_against_others(given),
        joins=plan.joins,
        tasks=task_review(given, minutes_by_task or {}, told),
        self_views=self_views(given),
        remarks=growth.remarks,
    )


def _years(
    given: Sequence[GivenRating], whole: Growth
) -> list[tuple[Sequence[GivenRating], Growth]]:
    """The last ``YEARS_TOLD`` school years with their growth; ``whole`` where there is one."""
    parts = seasons(given)
    if len(parts) < 2:
        return [(given, whole)]
    return [(part, growth_together(part)) for part in parts[-YEARS_TOLD:]]
