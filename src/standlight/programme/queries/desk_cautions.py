"""What a rater should know about the state of a turn: said, and nothing is lost."""

from __future__ import annotations

from django.utils import timezone

from standlight.programme.dates import date_words
from standlight.programme.models import PeriodMarks, Seat, Turn
from standlight.programme.queries.terms import GRACE, terms_of


def desk_cautions(turn: Turn, seat: Seat | None, *, saved: bool) -> tuple[str, ...]:
    """Sentences on a turn with its check: a closed period; once the levels are ``saved`` also
    who left the group and what came late, which are nothing for the ear. Two queries.
    """
    return (*_closed(turn), *(_left(seat) + _late(turn) if saved else ()))


def _left(seat: Seat | None) -> tuple[str, ...]:
    """Who no longer sits in the group keeps what was sent and given."""
    if seat is not None and (seat.left_on is None or seat.left_on > timezone.localdate()):
        return ()
    return ("This musician is no longer in the group. Levels and answers are kept.",)


def _closed(turn: Turn) -> tuple[str, ...]:
    """A posted mark never changes by itself."""
    check = turn.check_row
    marks = (
        PeriodMarks.objects.filter(
            ensemble=check.ensemble_id,
            closed_at__isnull=False,
            period__starts_on__lte=check.due_on,
            period__ends_on__gte=check.due_on,
        )
        .select_related("period")
        .first()
    )
    if marks is None:
        return ()
    return (
        f"{marks.period.name} is closed. Your levels are kept. The posted mark stays as it is "
        "until you change it under Marks, with a reason.",
    )


def _late(turn: Turn) -> tuple[str, ...]:
    """A take may be on its way for long; that is no fault."""
    terms = terms_of(turn.check_row_id)
    closes = terms.closes_at
    if closes is None or turn.sent_at is None or turn.sent_at <= closes + GRACE:
        return ()
    return (
        f"Sent on {date_words(turn.sent_at, 'weekday')}, after the time to record was over. "
        "It may have been made in time and come late.",
    )
