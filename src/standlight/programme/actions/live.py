"""Hearing musicians live at the stand: levels without a recording."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from django.db import transaction
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions.answers import answer_turn
from standlight.programme.actions.desk import rate
from standlight.programme.models import Account, Musician, PlayingCheck, Turn
from standlight.programme.queries.hearing import section_in

MOST_AT_ONCE = 8
"""Musicians heard side by side; more cannot be told apart by one pair of ears."""


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
    return turns
