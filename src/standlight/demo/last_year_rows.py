"""Last school year as rows: written at once, for nobody waits at a first start for the past."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db import connection
from django.db.models import F
from django.utils import timezone

from standlight.demo.last_year import LastYear, PastCheck, PastTurn, last_year
from standlight.demo.last_year_table import CYCLES, PAST_PIECES, YEAR_NAME
from standlight.demo.loading import Loading
from standlight.demo.words import BANK
from standlight.programme.models import (
    Answer,
    CheckPassage,
    ConcertCycle,
    GivenLevel,
    Piece,
    PlayingCheck,
    SchoolYear,
    Seat,
    SecondHearing,
    Take,
    Turn,
)

TEMPO_QPM = 84.0
TAKE_TYPE = "audio/webm;codecs=opus"


def write_last_year(loading: Loading, seed: int) -> LastYear:
    """Write last school year beside the present one; what comes back is its plan."""
    plan = loading.plan
    year = last_year(plan.today, plan.musicians, dict(plan.ability), seed)
    SchoolYear.objects.create(
        programme=loading.programme,
        name=YEAR_NAME,
        starts_on=year.starts_on,
        ends_on=year.ends_on,
    )
    _newcomers(loading, year)
    checks = _checks(loading, year, _pieces(loading, year))
    turns = _turns(loading, year, checks)
    _takes(year, turns)
    _levels(loading, year, turns)
    _answers(loading, year, turns)
    _second_hearings(loading, year, turns)
    return year


def _aware(local: datetime) -> datetime:
    return timezone.make_aware(local)


def _newcomers(loading: Loading, year: LastYear) -> None:
    """Who came this year was asked for nothing last year."""
    came = [loading.seats[group, roster_id].pk for roster_id, group in year.newcomers]
    Seat.objects.filter(pk__in=came, joined_on=None).update(
        joined_on=loading.plan.year_starts_on
    )


def _pieces(loading: Loading, year: LastYear) -> dict[str, Piece]:
    """Last year's pieces, on paper, in last year's cycles."""
    cycles = {
        (group, place): ConcertCycle.objects.create(
            ensemble=loading.ensembles[group],
            name=f"{name}, last year",
            starts_on=year.starts_on + timedelta(days=first),
            concert_on=year.starts_on + timedelta(days=concert),
        )
        for group in dict.fromkeys(piece.group for piece in PAST_PIECES)
        for place, (name, first, concert) in enumerate(CYCLES)
    }
    rows = Piece.objects.bulk_create(
        Piece(
            ensemble=loading.ensembles[piece.group],
            cycle=cycles[piece.group, piece.cycle],
            title=piece.title,
            credit="Invented for this demo; there is no music to it",
        )
        for piece in PAST_PIECES
    )
    return {piece.key: row for piece, row in zip(PAST_PIECES, rows, strict=True)}


def _checks(
    loading: Loading, year: LastYear, pieces: dict[str, Piece]
) -> dict[str, PlayingCheck]:
    directors = {group.key: group.director for group in loading.plan.groups}
    rows = PlayingCheck.objects.bulk_create(
        PlayingCheck(
            ensemble=loading.ensembles[check.group],
            piece=pieces[check.piece],
            title=check.title,
            criteria=list(check.criteria),
            tempo_qpm=TEMPO_QPM,
            due_on=check.heard_on,
            asks_self_rating=True,
            made_by=loading.directors[directors[check.group]],
            published_at=_published(check),
        )
        for check in year.checks
    )
    PlayingCheck.objects.filter(pk__in=[row.pk for row in rows]).update(made_at=F("published_at"))
    CheckPassage.objects.bulk_create(
        CheckPassage(check_row=row, printed=check.measures)
        for check, row in zip(year.checks, rows, strict=True)
    )
    return {check.key: row for check, row in zip(year.checks, rows, strict=True)}


def _published(check: PastCheck) -> datetime:
    return _aware(datetime.combine(check.heard_on - timedelta(days=7), datetime.min.time()))


def _turns(
    loading: Loading, year: LastYear, checks: dict[str, PlayingCheck]
) -> tuple[Turn, ...]:
    """One turn for each of the year's, in order; who was not there was excused."""
    return tuple(
        Turn.objects.bulk_create(
            Turn(
                check_row=checks[turn.check.key],
                musician=loading.musicians[turn.roster_id],
                section=loading.sections[turn.check.group, turn.section],
                way=Turn.WEB if turn.check.recorded else Turn.LIVE,
                self_levels=dict(turn.self_levels),
                excused=not turn.given,
                sent_at=_aware(turn.heard_at) if turn.given else None,
                answered_at=_aware(turn.given[-1].given_at) if turn.given else None,
            )
            for turn in year.turns
        )
    )


def _takes(year: LastYear, turns: Iterable[Turn]) -> None:
    """What was recorded then has been removed since: the sound is not kept for a year."""
    Take.objects.bulk_create(
        Take(
            turn=row,
            chosen=True,
            made_by_machine=True,
            state=Take.REMOVED,
            media_type=TAKE_TYPE,
        )
        for turn, row in zip(year.turns, turns, strict=True)
        if turn.check.recorded and turn.given
    )


def _levels(loading: Loading, year: LastYear, turns: Iterable[Turn]) -> None:
    """Every level with the moment it was given in."""
    given = [
        (row, one, criterion, level)
        for turn, row in zip(year.turns, turns, strict=True)
        for one in turn.given
        for criterion, level in one.levels
    ]
    rows = GivenLevel.objects.bulk_create(
        GivenLevel(
            turn=row,
            criterion=criterion,
            value=str(level),
            rater=loading.directors[one.director],
        )
        for row, one, criterion, level in given
    )
    for row, (_, one, _, _) in zip(rows, given, strict=True):
        row.given_at = _aware(one.given_at)
    _stamp(GivenLevel, "given_at", rows)


def _stamp(model: type, name: str, rows: list) -> None:
    """Set one time that rows stamp themselves when made: thousands of them in one statement.

    Django's own bulk update builds a condition a row, which takes seconds here.
    """
    column = model._meta.get_field(name)
    quote = connection.ops.quote_name
    with connection.cursor() as cursor:
        cursor.executemany(
            f"UPDATE {quote(model._meta.db_table)} SET {quote(column.column)} = %s"
            f" WHERE {quote(model._meta.pk.column)} = %s",
            [(column.get_db_prep_save(getattr(row, name), connection), row.pk) for row in rows],
        )


def _answers(loading: Loading, year: LastYear, turns: Iterable[Turn]) -> None:
    """The next step for the lowest level, read long ago."""
    answered = [
        (turn, row) for turn, row in zip(year.turns, turns, strict=True) if turn.given
    ]
    rows = Answer.objects.bulk_create(
        Answer(
            turn=row,
            next_step=_next_step(turn),
            written_by=loading.directors[turn.given[-1].director],
            seen_at=row.answered_at + timedelta(days=1),
        )
        for turn, row in answered
    )
    for answer, (_, row) in zip(rows, answered, strict=True):
        answer.written_at = row.answered_at
    _stamp(Answer, "written_at", rows)


def _next_step(turn: PastTurn) -> str:
    criterion, level = min(turn.given[-1].levels, key=lambda pair: pair[1])
    return BANK[criterion]["next_step"][level - 1]


def _second_hearings(loading: Loading, year: LastYear, turns: Iterable[Turn]) -> None:
    """The takes that came a second time, with both sets of levels."""
    SecondHearing.objects.bulk_create(
        SecondHearing(
            turn=row,
            rater=loading.directors[turn.again.director],
            levels={key: str(level) for key, level in turn.again.levels},
            first_levels={key: str(level) for key, level in first.levels},
            first_at=_aware(first.given_at),
            asked_at=_aware(first.given_at),
            done_at=_aware(turn.again.given_at),
            first_minute=first.minute,
            again_minute=turn.again.minute,
        )
        for turn, row in zip(year.turns, turns, strict=True)
        if turn.again is not None
        for first in turn.given
        if first.director == turn.again.director
    )
