"""Everything a period's marks are made of, gathered at once: its work, who is asked, their levels.

The number of queries does not grow with the musicians, the checks or the levels.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Q
from django.utils import timezone

from standlight.criteria import CRITERIA
from standlight.programme.marking_terms import Terms
from standlight.programme.models import (
    Assignment,
    Ensemble,
    MarkingPeriod,
    PlayingCheck,
    SheetLevel,
)
from standlight.programme.queries import assignments as given_out
from standlight.programme.queries import standing as heard
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.standing import (
    SeatRow,
    Standing,
    TurnRow,
    one_seat_each,
    seats_of,
    standing,
    turns_of,
)
from standlight.ratings import Work
from standlight.ratings import marking_values as states

CHECK, WRITING = "c", "w"
"""First letter of a column's key: a check's number or an assignment's follows."""

_OF_CHECK = {
    heard.MISSING: states.MISSING,
    heard.EXCUSED: states.EXCUSED,
    heard.NOT_ASKED: states.NOT_ASKED,
    heard.DUE: states.TO_COME,
    heard.TO_HEAR: states.TO_HEAR,
}
"""Standing with a check to the marking's state; anything else waits for levels."""

_OF_WRITING = {
    given_out.NOT_DUE: states.TO_COME,
    given_out.OPEN: states.TO_COME,
    given_out.BEGUN: states.TO_COME,
    given_out.MISSING: states.MISSING,
    given_out.ABSENT: states.ABSENT,
    given_out.EXCUSED: states.EXCUSED,
    given_out.NOT_ASSESSED: states.NOT_ASSESSED,
    given_out.LATE_JOINER: states.NOT_ASKED,
}
"""Standing with written work to the marking's state; anything else waits for levels."""


@dataclass(frozen=True, slots=True)
class Column:
    """One piece of work of the period: a check, or written work. ``names`` fit ``criteria``."""

    key: str
    title: str
    due_on: datetime.date
    criteria: tuple[str, ...]
    names: tuple[str, ...]

    @property
    def pk(self) -> int:
        """The number of the check or assignment."""
        return int(self.key[1:])

    @property
    def is_check(self) -> bool:
        """True for a playing or singing check."""
        return self.key[0] == CHECK


@dataclass(frozen=True, slots=True)
class OneWork:
    """A musician's work in a column as the marking reads it, with the state in the page's words."""

    work: Work
    words: str
    can_excuse: bool = False
    is_excused: bool = False


@dataclass(frozen=True, slots=True)
class Gathered:
    """The columns, who stands in the rows in roster order, and their work in column order."""

    columns: tuple[Column, ...]
    people: tuple[SeatRow, ...]
    works: dict[int, tuple[OneWork, ...]]
    names: dict[str, str]
    span_days: float


def gather(
    ensemble: Ensemble, period: MarkingPeriod, terms: Terms, today: datetime.date
) -> Gathered:
    """All of one ensemble's period as it stands ``today``."""
    checks = _checks(ensemble, period)
    writing = _writing(ensemble, period) if terms.with_writing else []
    columns = [_check_column(check) for check in checks]
    columns += [_writing_column(row) for row in writing]
    turns = turns_of(checks)
    written = _written(writing, today)
    people, works = [], {}
    for seat in sorted(one_seat_each(seats_of(ensemble), today), key=roster_order):
        mine = [
            _of_check(check, standing(seat, check.due_on, today, given), period, terms)
            for check in checks
            for given in [turns.get((check.pk, seat.musician_pk), ())]
        ]
        mine += [
            _of_writing(row, written.get((row.pk, seat.musician_pk)), period, terms)
            for row in writing
        ]
        was_asked = any(one.work.state != states.NOT_ASKED for one in mine)
        joined_in_time = seat.joined_on is None or seat.joined_on <= period.ends_on
        if was_asked or (seat.here_on(today) and joined_in_time):
            people.append(seat)
            works[seat.musician_pk] = tuple(mine)
    names = {
        key: name
        for column in columns
        for key, name in zip(column.criteria, column.names, strict=True)
    }
    span = float((period.ends_on - period.starts_on).days)
    return Gathered(tuple(columns), tuple(people), works, names, span)


def columns_of(ensemble: Ensemble, period: MarkingPeriod) -> tuple[Column, ...]:
    """Every piece of work that may count in the period."""
    return (
        *(_check_column(check) for check in _checks(ensemble, period)),
        *(_writing_column(row) for row in _writing(ensemble, period)),
    )


def roster_order(seat: SeatRow) -> tuple[str, str, str]:
    """By family name, given name, roster id."""
    return seat.family_name, seat.given_name, seat.roster_id


def _checks(ensemble: Ensemble, period: MarkingPeriod) -> list[PlayingCheck]:
    """Published checks due in the period, in order of the day."""
    return list(
        PlayingCheck.objects.filter(
            ensemble=ensemble,
            published_at__isnull=False,
            due_on__range=(period.starts_on, period.ends_on),
        ).order_by("due_on", "pk")
    )


def _writing(ensemble: Ensemble, period: MarkingPeriod) -> list[Assignment]:
    """Published work due in the period whose kind may count and has rows for levels."""
    rows = (
        Assignment.objects.filter(
            ensemble=ensemble,
            published_at__isnull=False,
            due_on__range=(period.starts_on, period.ends_on),
        )
        .select_related("kind")
        .order_by("due_on", "pk")
    )
    return [row for row in rows if kind_in(row.kind).marked and kind_in(row.kind).rubric]


def _check_column(check: PlayingCheck) -> Column:
    return Column(
        f"{CHECK}{check.pk}",
        check.title,
        check.due_on,
        tuple(check.criteria),
        tuple(CRITERIA[key].name for key in check.criteria),
    )


def _writing_column(row: Assignment) -> Column:
    kind = kind_in(row.kind)
    return Column(
        f"{WRITING}{row.pk}",
        row.title,
        row.due_on,
        tuple(_row_key(kind.key, one.key) for one in kind.rubric),
        tuple(one.name for one in kind.rubric),
    )


def _row_key(kind: str, row: str) -> str:
    """The key of a rubric's row among all criteria: the same kind's rows belong together."""
    return f"{kind}:{row}"


def _of_check(
    check: PlayingCheck, found: Standing, period: MarkingPeriod, terms: Terms
) -> OneWork:
    """One musician's work for a check: of several tries the one that counts."""
    weight = terms.weights.get(f"{CHECK}{check.pk}", 1.0)
    rated = found.counting(check)
    if rated is None:
        work = Work(check.title, _OF_CHECK.get(found.state, states.WAITING), weight=weight)
        return OneWork(
            work, heard.WORDS[found.state], found.state in heard.OPEN, found.state == heard.EXCUSED
        )
    waits = found.state not in (heard.ANSWERED, heard.RATED)
    work = Work(
        check.title,
        states.RATED,
        {key: rated.levels[key] for key in check.criteria if key in rated.levels},
        rated.attempt,
        _day_of(rated.sent_at, period),
        weight,
        waits,
    )
    return OneWork(work, _rated_words(found, rated, waits))


def _rated_words(found: Standing, rated: TurnRow, waits: bool) -> str:
    """Heard live, a later try, a newer one waiting: told apart in words."""
    words = ["answered" if found.state == heard.ANSWERED else "rated"]
    if found.heard_live:
        words.append("heard live")
    if rated.attempt > 1:
        words.append(f"try {rated.attempt}")
    if waits:
        words.append("a newer try waits")
    return ", ".join(words)


@dataclass(frozen=True, slots=True)
class _Written:
    """Where a musician stands with written work, the levels on it, and when it was sent."""

    state: str
    levels: dict[str, str]
    sent_at: datetime.datetime | None


def _written(
    writing: Sequence[Assignment], today: datetime.date
) -> dict[tuple[int, int], _Written]:
    """Standing and levels by (assignment, musician)."""
    if not writing:
        return {}
    given = (
        SheetLevel.objects.filter(
            Q(sheet__assignment__in=writing), retired_at__isnull=True, sheet__sent_at__isnull=False
        )
        .order_by("sheet__sent_at", "given_at", "pk")
        .values_list(
            "sheet__assignment_id",
            "sheet__author__musician__pk",
            "sheet__sent_at",
            "criterion",
            "value",
        )
    )
    levels: dict[tuple[int, int], dict[str, str]] = {}
    sent: dict[tuple[int, int], datetime.datetime] = {}
    for assignment_pk, musician_pk, sent_at, criterion, value in given:
        levels.setdefault((assignment_pk, musician_pk), {})[criterion] = value
        sent[assignment_pk, musician_pk] = sent_at
    return {
        (pk, stand.musician_pk): _Written(
            stand.state,
            levels.get((pk, stand.musician_pk), {}),
            sent.get((pk, stand.musician_pk)),
        )
        for pk, stands in given_out.work_standings(writing, today).items()
        for stand in stands
    }


def _of_writing(
    row: Assignment, found: _Written | None, period: MarkingPeriod, terms: Terms
) -> OneWork:
    """One musician's written work; who is not among those asked was not asked."""
    weight = terms.weights.get(f"{WRITING}{row.pk}", 1.0)
    if found is None:
        return OneWork(Work(row.title, states.NOT_ASKED, weight=weight), "not asked")
    if not found.levels:
        state = _OF_WRITING.get(found.state, states.WAITING)
        words = {states.WAITING: states.WORK_STATES[states.WAITING]}
        return OneWork(
            Work(row.title, state, weight=weight), words.get(state, given_out.WORDS[found.state])
        )
    kind = kind_in(row.kind)
    asked = {
        _row_key(kind.key, one.key): found.levels[one.key]
        for one in kind.rubric
        if one.key in found.levels
    }
    day = _day_of(found.sent_at, period)
    return OneWork(Work(row.title, states.RATED, asked, day=day, weight=weight), "rated")


def _day_of(moment: datetime.datetime | None, period: MarkingPeriod) -> float:
    """Days of the school's clock from the period's first day, kept inside it."""
    if moment is None:
        return 0.0
    days = (timezone.localdate(moment) - period.starts_on).days
    return float(min(max(days, 0), (period.ends_on - period.starts_on).days))
