"""Hearing musicians live at the stand: levels without a recording; drawing; hearing again."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from django.db import transaction
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions.answers import answer_turn
from standlight.programme.actions.desk import rate
from standlight.programme.drawing import MOST_AT_ONCE, draw
from standlight.programme.models import (
    Account,
    Draw,
    GivenLevel,
    HeardAgain,
    Musician,
    PlayingCheck,
    Turn,
)
from standlight.programme.queries.hearing import section_in

MOST_DRAWN = 40
"""Musicians drawn for one rehearsal: at half a minute each, forty are a whole period."""


@dataclass(frozen=True, slots=True)
class HeardAtStand:
    """What a director gave one musician: levels by criterion, and a next step if there was time.

    ``attempt`` is the number the form was made for, so that the same form sent twice is one turn.
    """

    musician: Musician
    attempt: int
    levels: dict[str, str]
    next_step: str = ""


@transaction.atomic
def hear_live(account: Account, check: PlayingCheck, heard: Sequence[HeardAtStand]) -> list[Turn]:
    """Keep a live turn for each of ``heard`` who got a level; all of them or, on an error, none.

    Raises ``NotAllowed`` for an unpublished check or a try that was sent as a recording, and
    ``StandlightError`` for more than eight at once or a next step without a level.
    """
    if check.published_at is None:
        raise NotAllowed("this check is not published yet", where=check.title)
    if len(heard) > MOST_AT_ONCE:
        raise StandlightError(f"{len(heard)} musicians at once; at most {MOST_AT_ONCE}")
    turns = []
    for row in heard:
        if not row.levels:
            if row.next_step.strip():
                raise StandlightError(
                    "a next step without a level", where=row.musician.name, slip="give one first"
                )
            continue
        turn, made = Turn.objects.get_or_create(
            check_row=check,
            musician=row.musician,
            attempt=row.attempt,
            defaults={
                "way": Turn.LIVE,
                "sent_at": timezone.now(),
                "section": partial(section_in, Turn(check_row=check, musician=row.musician)),
            },
        )
        if not made and turn.way != Turn.LIVE:
            raise NotAllowed(
                "a recording came in meanwhile", where=row.musician.name, slip="open the page again"
            )
        rate(account, turn, row.levels)
        if row.next_step.strip():
            answer_turn(account, turn, next_step=row.next_step)
        turns.append(turn)
    Draw.objects.filter(
        check_row=check,
        musician__in=[turn.musician_id for turn in turns],
        day=timezone.localdate(),
        heard_at=None,
    ).update(heard_at=timezone.now(), absent=False)
    return turns


@transaction.atomic
def hear_again(
    account: Account,
    turn: Turn,
    levels: Mapping[str, str],
    *,
    hearing: int = 2,
    next_step: str = "",
) -> HeardAgain:
    """Keep the levels of another hearing of a live turn; those it gives anew count from now on.

    Levels of the hearings before are retired, whoever gave them, and stay on record with the
    turn; a criterion left open keeps its level. ``hearing`` is the number the form was made for,
    so that the same form sent twice is one hearing. Raises ``NotAllowed`` for a turn that was
    recorded, and ``StandlightError`` without a level.
    """
    if turn.way != Turn.LIVE or turn.sent_at is None:
        raise NotAllowed("only what was heard live can be heard again live")
    before = list(turn.heard_again.select_for_update())
    if len(before) >= hearing - 1:
        return before[hearing - 2]
    if not levels:
        raise StandlightError("no level was given", where=turn.musician.name)
    standing = turn.levels.filter(retired_at__isnull=True).order_by("given_at", "pk")
    earlier = dict(standing.values_list("criterion", "value"))
    GivenLevel.objects.filter(
        turn=turn, retired_at__isnull=True, criterion__in=list(levels)
    ).update(retired_at=timezone.now())
    rate(account, turn, levels)
    if next_step.strip():
        answer_turn(account, turn, next_step=next_step)
    return HeardAgain.objects.create(
        turn=turn,
        heard_by=account,
        earlier=earlier,
        earlier_at=before[-1].heard_at if before else turn.sent_at,
        levels=dict(levels),
    )


@transaction.atomic
def draw_for(
    check: PlayingCheck, pot: Sequence[int], *, count: int, day: datetime.date
) -> list[Draw]:
    """Draw up to ``count`` more musicians of ``pot`` (keys) for ``day``; the new rows.

    Who was absent, or not heard on an earlier day, is in the pot as if never drawn. Raises
    ``StandlightError`` for a count that is none.
    """
    if not 1 <= count <= MOST_DRAWN:
        raise StandlightError(f"{count} to draw; between 1 and {MOST_DRAWN}")
    rows = list(Draw.objects.select_for_update().filter(ensemble=check.ensemble_id))
    here = {row.musician_id for row in rows if row.day == day and row.check_row_id == check.pk}
    last: dict[int, int] = {}
    for row in rows:
        if row.heard_at:
            last[row.musician_id] = max(row.round, last.get(row.musician_id, 0))
    seed = f"{check.ensemble_id} {day.isoformat()} {len(here)}"
    drawn = draw(pot, last, today=here, count=count, seed=seed)
    return [
        Draw.objects.create(
            ensemble=check.ensemble,
            check_row=check,
            musician_id=one.musician,
            round=one.round,
            day=day,
            order=len(here) + place,
        )
        for place, one in enumerate(drawn)
    ]


@transaction.atomic
def tell_absent(row: Draw, absent: bool) -> None:
    """Say that a drawn musician is not here today, or is after all; who was heard is here."""
    if row.heard_at is None:
        Draw.objects.filter(pk=row.pk).update(absent=absent)
