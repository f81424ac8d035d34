"""Keeping what a study of a programme's levels found, for the pages to show with its day."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction

from standlight.programme.models import Ensemble, Musician, MusicianGrowth, RatingsStudy
from standlight.programme.queries.given_ratings import ENSEMBLE, MUSICIAN, GivenLevels

Json = dict[str, Any]


@transaction.atomic
def keep_study(programme_pk: int, levels: GivenLevels, review: object, method: str) -> RatingsStudy:
    """Store a review of ``levels`` as the programme's study; the one before goes.

    A musician's own lines and self-views become a row for each ensemble, so that a director of
    one group does not read the other's. Safe to repeat.
    """
    body = review_as_json(review)
    lines = body["growth"].pop("lines")
    own = body.pop("self_views")
    RatingsStudy.objects.filter(programme=programme_pk).delete()
    study = RatingsStudy.objects.create(
        programme_id=programme_pk,
        method=method,
        n_levels=len(levels.given),
        first_day=levels.first_day,
        state=levels.state,
        body=body,
    )
    _keep_growth(study, levels, lines, own)
    return study


def drop_study(programme_pk: int) -> None:
    """Throw a programme's study away: there are no levels any more that it could rest on."""
    RatingsStudy.objects.filter(programme=programme_pk).delete()


def review_as_json(value: Any) -> Any:
    """Frozen values as plain JSON; what is no number (nan, infinite) becomes ``None``.

    >>> @dataclasses.dataclass(frozen=True, slots=True)
    ... class Found:
    ...     points: float
    ...     sections: tuple[str, ...]
    >>> review_as_json((Found(0.5, ("s1",)), Found(float("nan"), ())))
    [{'points': 0.5, 'sections': ['s1']}, {'points': None, 'sections': []}]
    """
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if dataclasses.is_dataclass(value):
        return {
            field.name: review_as_json(getattr(value, field.name))
            for field in dataclasses.fields(value)
        }
    if isinstance(value, Mapping):
        return {str(key): review_as_json(one) for key, one in value.items()}
    if isinstance(value, (list, tuple, set, frozenset)):
        return [review_as_json(one) for one in value]
    return value


def _keep_growth(
    study: RatingsStudy, levels: GivenLevels, lines: Sequence[Json], own: Sequence[Json]
) -> None:
    """A row for every musician and ensemble with levels, whatever could be said of them."""
    seen: dict[tuple[str, str], Json] = {
        (row.student, row.ensemble): {"lines": [], "self_views": []} for row in levels.given
    }
    for name, found in (("lines", lines), ("self_views", own)):
        for one in found:
            seen[one["student"], one["ensemble"]][name].append(one)
    here = _here(Musician, study, MUSICIAN), _here(Ensemble, study, ENSEMBLE)
    MusicianGrowth.objects.bulk_create(
        MusicianGrowth(
            study=study, musician_id=here[0][student], ensemble_id=here[1][ensemble], body=body
        )
        for (student, ensemble), body in seen.items()
        if student in here[0] and ensemble in here[1]
    )


def _here(
    model: type[Musician] | type[Ensemble], study: RatingsStudy, letter: str
) -> dict[str, int]:
    """Numbers by key of those the programme still has: somebody may have gone meanwhile."""
    rows = model.objects.filter(programme=study.programme_id).order_by()
    return {f"{letter}{pk}": pk for pk in rows.values_list("pk", flat=True)}
