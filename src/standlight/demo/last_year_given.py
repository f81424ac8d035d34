"""Last year as the ratings room reads it: one row for every level. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time

from standlight.demo.last_year import LastYear, PastTurn
from standlight.ratings.given import DIRECTOR, SELF, GivenRating, HeardAgain


def given_of(year: LastYear) -> tuple[GivenRating, ...]:
    """Every level of last year, the directors' and the musicians' own."""
    return tuple(row for turn in year.turns for row in _rows(turn, year.starts_on))


def again_of(year: LastYear) -> tuple[HeardAgain, ...]:
    """Every level that was given a second time."""
    return tuple(
        HeardAgain(
            student=turn.roster_id,
            take=take_key(turn),
            criterion=criterion,
            rater=turn.again.director,
            first_level=first.get(criterion, level),
            again_level=level,
            first_day=days_since(year.starts_on, given.given_at),
            again_day=days_since(year.starts_on, turn.again.given_at),
            first_minute=given.minute,
            again_minute=turn.again.minute,
        )
        for turn in year.turns
        if turn.again is not None
        for given in turn.given
        if given.director == turn.again.director
        for first in (dict(given.levels),)
        for criterion, level in turn.again.levels
    )


def take_key(turn: PastTurn) -> str:
    """The key of one take: who, and which check."""
    return f"{turn.check.key}/{turn.roster_id}"


def days_since(first: date, moment: datetime) -> float:
    """Days with fractions from the beginning of ``first``.

    >>> days_since(date(2026, 9, 1), datetime(2026, 9, 2, 12, 0))
    1.5
    """
    return (moment - datetime.combine(first, time())).total_seconds() / 86400


def _rows(turn: PastTurn, first: date) -> Iterator[GivenRating]:
    """The rows of one take."""
    day = days_since(first, turn.heard_at)
    raters = [(one.director, DIRECTOR, one.given_at, one.levels) for one in turn.given]
    if turn.self_levels:
        raters.append((turn.roster_id, SELF, turn.heard_at, turn.self_levels))
    for rater, rater_class, at, levels in raters:
        for criterion, level in levels:
            yield GivenRating(
                student=turn.roster_id,
                ensemble=turn.check.group,
                section=f"{turn.check.group}/{turn.section}",
                instrument=turn.instrument,
                task=turn.check.task,
                take=take_key(turn),
                day=day,
                given_day=days_since(first, at),
                criterion=criterion,
                rater=rater,
                level=level,
                rater_class=rater_class,
            )
