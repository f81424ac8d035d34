"""What was found in the levels, as far as an account may read it, always with its day.

A finding about a rater is that rater's and the lead's. A finding about ensembles, sections,
tasks or musicians is for those who direct them.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, replace
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet

from standlight.programme.models import (
    Account,
    Ensemble,
    Musician,
    MusicianGrowth,
    PlayingCheck,
    RatingsStudy,
    Section,
    StudyErrand,
    Turn,
)
from standlight.programme.queries.given_ratings import (
    ENSEMBLE,
    GUEST_RATER,
    MUSICIAN,
    RATER,
    SECTION,
    TAKE,
    TASK,
)

KEY = re.compile(r"([a-z])([0-9]+)")
"""A key of a row, as ``queries.given_ratings`` makes them; no code of a table looks so."""

SEEN_BY_KEY = {ENSEMBLE: Ensemble, SECTION: Section, MUSICIAN: Musician, TASK: PlayingCheck}
"""Letters of keys to the rows whose sight decides."""

NOT_SHOWN = "not_shown"
"""State of a musician's own line that rests on a take they were not shown yet."""

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class StudySeen:
    """A programme's study for one account.

    ``body`` is a review without the musicians' lines, with the rows this account may read.
    Days in it count from ``first_day``. ``changed_since`` is true when levels have changed
    after ``made_at``.
    """

    made_at: datetime.datetime
    method: str
    n_levels: int
    first_day: datetime.date | None
    changed_since: bool
    body: Json


@dataclass(frozen=True, slots=True)
class GrowthSeen:
    """A musician's growth in one ensemble: ``lines`` and ``self_views`` as the study found them.

    For the musician themself a line may say ``NOT_SHOWN`` instead.
    """

    musician_pk: int
    ensemble_pk: int
    ensemble_name: str
    made_at: datetime.datetime
    first_day: datetime.date | None
    changed_since: bool
    lines: tuple[Json, ...]
    self_views: tuple[Json, ...]


def study_for(account: Account) -> StudySeen | None:
    """The newest study that ``account`` may see, with what they may read of it; few queries."""
    study = RatingsStudy.objects.visible_to(account).first()
    if study is None:
        return None
    body = study.body if account.is_lead else _readable(study.body, _may_read(account))
    return StudySeen(
        study.made_at,
        study.method,
        study.n_levels,
        study.first_day,
        changed_since(account),
        body,
    )


def growth_of(account: Account, musician: Musician) -> tuple[GrowthSeen, ...]:
    """One musician's growth, an ensemble each, as far as ``account`` may see it.

    To the musician themself nothing is told that rests on a take not answered yet.
    """
    found = _growth(account, MusicianGrowth.objects.visible_to(account).filter(musician=musician))
    return tuple(_answered(musician, one) for one in found) if account.is_musician else found


def growth_in(account: Account, ensemble: Ensemble) -> tuple[GrowthSeen, ...]:
    """The growth of everyone in an ensemble, for who directs it. Two queries."""
    if not account.is_director:
        return ()
    return _growth(account, MusicianGrowth.objects.visible_to(account).filter(ensemble=ensemble))


def changed_since(account: Account) -> bool:
    """True when levels of the account's programme have changed and are not studied yet."""
    waiting = StudyErrand.objects.filter(programme=account.programme_id, asked_at__isnull=False)
    return waiting.exists()


def _growth(account: Account, rows: QuerySet[MusicianGrowth]) -> tuple[GrowthSeen, ...]:
    """Rows as values; each carries the day of its study."""
    changed = changed_since(account)
    return tuple(
        GrowthSeen(
            row.musician_id,
            row.ensemble_id,
            row.ensemble.name,
            row.study.made_at,
            row.study.first_day,
            changed,
            tuple(row.body["lines"]),
            tuple(row.body["self_views"]),
        )
        for row in rows.select_related("study", "ensemble").defer("study__body")
    )


def _answered(musician: Musician, seen: GrowthSeen) -> GrowthSeen:
    """Without what the musician has not been shown: levels of takes not answered yet.

    A line's direction and a self-view would tell such a level as well as its point does, so
    neither is told until every take that it rests on is answered; the other points stay. Drawing
    the lines anew without those takes would be a second study after each answer. A level given
    live is no exception: ``GivenLevel`` lets a musician see it with the answer, as any other.

    A try with a newer one answered is never answered itself: it hides its point alone, or the
    line would be gone for good.
    """
    newer = Turn.objects.filter(
        check_row=OuterRef("check_row"),
        musician=musician,
        attempt__gt=OuterRef("attempt"),
        answered_at__isnull=False,
    )
    rows = Turn.objects.filter(
        musician=musician,
        check_row__ensemble=seen.ensemble_pk,
        sent_at__isnull=False,
        answered_at__isnull=True,
    ).annotate(given_way=Exists(newer))
    given_way = dict(rows.order_by().values_list("pk", "given_way"))
    hidden = {f"{TAKE}{pk}" for pk in given_way}
    awaited = {f"{TAKE}{pk}" for pk, gone in given_way.items() if not gone}
    lines = (_shown(line, hidden, awaited) for line in seen.lines)
    return replace(
        seen,
        lines=tuple(line for line in lines if line["points"]),
        # A study of an edition before does not say on what a view rests.
        self_views=tuple(
            view for view in seen.self_views if awaited.isdisjoint(view.get("takes", awaited))
        ),
    )


def _shown(line: Json, hidden: Collection[str], awaited: Collection[str]) -> Json:
    """A line without the points of ``hidden`` takes; its direction goes with ``awaited`` ones."""
    shown = {**line, "points": [one for one in line["points"] if one["take"] not in hidden]}
    if not any(one["take"] in awaited for one in line["points"]):
        return shown
    untold = {"state": NOT_SHOWN, "because": "", "pooled": None, "unpooled": None, "change": None}
    return {**shown, **untold}


def _may_read(account: Account) -> Callable[[Json], bool]:
    """Whether a finding, a row of the body, may be read by a director who is not the lead."""
    own = f"{RATER}{account.pk}"
    seen = {
        f"{letter}{pk}"
        for letter, model in SEEN_BY_KEY.items()
        for pk in model.objects.visible_to(account).order_by().values_list("pk", flat=True)
    }

    def may(finding: Json) -> bool:
        keys = set(_keys(finding))
        raters = {key for key in keys if key[0] in (RATER, GUEST_RATER)}
        of_all = finding.get("rater") == ""
        others = {key for key in keys if key[0] in SEEN_BY_KEY}
        return not of_all and (not raters or own in raters) and others <= seen

    return may


def _readable(value: Any, may: Callable[[Json], bool]) -> Any:
    """The body without the rows that may not be read."""
    if isinstance(value, dict):
        return {key: _readable(one, may) for key, one in value.items()}
    if isinstance(value, list):
        return [one for one in value if not isinstance(one, dict) or may(one)]
    return value


def _keys(value: Any) -> Iterator[str]:
    """Every key of a row that stands anywhere in a finding."""
    if isinstance(value, dict):
        for one in value.values():
            yield from _keys(one)
    elif isinstance(value, list):
        for one in value:
            yield from _keys(one)
    elif isinstance(value, str) and KEY.fullmatch(value):
        yield value
