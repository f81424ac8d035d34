"""What a director does at the Desk: give levels, remark, keep lines; answers are in ``answers``."""

from __future__ import annotations

from collections.abc import Mapping

from django.db import transaction
from django.utils import timezone

from standlight.criteria import CRITERIA
from standlight.errors import NotAllowed, StandlightError
from standlight.programme import jobs
from standlight.programme.actions.answers import measures_of, one_line
from standlight.programme.fill_ins import checked_line
from standlight.programme.models import (
    Account,
    CommentLine,
    GivenLevel,
    Remark,
    Report,
    Turn,
)
from standlight.programme.queries.hearing import passage_of
from standlight.ratings import level_name


@transaction.atomic
def rate(account: Account, turn: Turn, levels: Mapping[str, str]) -> list[GivenLevel]:
    """Save ``account``'s levels (criterion to ``"1"``..``"4"``, ``not_shown``, ``not_heard``).

    What comes back are the new rows: a level given again unchanged adds none, a changed
    one retires the old row. A level given after this rater's levels were complete and
    readings existed, or with readings shown first by preference, is marked so. Raises
    ``StandlightError`` for a level that is none, ``NotAllowed`` for a turn not sent or a
    criterion the check does not ask.
    """
    if turn.sent_at is None:
        raise NotAllowed("this turn has not been sent", where=str(turn.musician))
    asked = turn.check_row.criteria
    for criterion, value in levels.items():
        if criterion not in asked:
            raise NotAllowed(
                f"the check does not ask for {criterion!r}", where=turn.check_row.title
            )
        level_name(value)
    held = {
        row.criterion: row
        for row in GivenLevel.objects.select_for_update().filter(
            turn=turn, rater=account, retired_at__isnull=True
        )
    }
    with_readings = readings_in_view(account, turn, held)
    changed = {
        criterion: value
        for criterion, value in levels.items()
        if criterion not in held or held[criterion].value != value
    }
    if changed:
        jobs.ask_to_study(account.programme_id)
    GivenLevel.objects.filter(pk__in=[held[key].pk for key in changed if key in held]).update(
        retired_at=timezone.now()
    )
    return [
        GivenLevel.objects.create(
            turn=turn,
            rater=account,
            criterion=criterion,
            value=value,
            after_readings=with_readings,
        )
        for criterion, value in changed.items()
    ]


def readings_in_view(account: Account, turn: Turn, held: Mapping[str, object]) -> bool:
    """True when the Desk has shown ``account`` this turn's readings already.

    ``held`` are the levels this rater holds by criterion: readings are shown when the set is
    whole, or at once when the rater prefers that.
    """
    whole = set(turn.check_row.criteria) <= set(held)
    return (whole or account.readings_before_rating) and Report.objects.filter(
        take__turn=turn
    ).exists()


@transaction.atomic
def remark_on_turn(
    account: Account, turn: Turn, *, first_measure: int, last_measure: int, words: str
) -> Remark:
    """Keep a director's remark on measures (0-based in the piece) of what this turn played."""
    words = one_line(words, "remark")
    if not words:
        raise StandlightError("a remark needs words", slip="were only the measures chosen?")
    first, last = measures_of(turn, first_measure, last_measure)
    if first is None or last is None:
        raise StandlightError("a remark needs its measures")
    passage = passage_of(turn)
    return Remark.objects.create(
        piece=turn.check_row.piece,
        part=passage.part if passage else None,
        turn=turn,
        author=account,
        first_measure=first,
        last_measure=last,
        words=words,
    )


@transaction.atomic
def keep_line(
    account: Account,
    *,
    criterion: str,
    place: str,
    level: int | None,
    text: str,
    line: CommentLine | None = None,
) -> CommentLine:
    """Add a line to the comment bank, or change ``line``; the same line twice is kept once.

    Raises ``StandlightError`` for no words, too many, and braces that nothing fills.
    """
    text = one_line(text, "line")
    if not text:
        raise StandlightError("a comment line needs words")
    checked_line(text)
    if criterion not in CRITERIA:
        raise StandlightError(f"{criterion!r} is not a criterion", slip="choose one of the list")
    if place not in CommentLine.PLACES:
        raise StandlightError(f"{place!r} is not a place in an answer")
    if level is not None:
        level_name(str(level))
    fields = {"criterion": criterion, "place": place, "level": level, "text": text}
    if line is None:
        same = CommentLine.objects.filter(programme=account.programme, **fields).first()
        return same or CommentLine.objects.create(programme=account.programme, **fields)
    for name, value in fields.items():
        setattr(line, name, value)
    line.save()
    return line


@transaction.atomic
def drop_line(line: CommentLine) -> None:
    """Take a line out of the comment bank; answers already written keep their words."""
    line.delete()


@transaction.atomic
def prefer_readings_first(account: Account, first: bool) -> None:
    """Set whether this director sees readings before saving levels (default: after)."""
    account.readings_before_rating = first
    account.save(update_fields=["readings_before_rating"])

