"""A spot that the group calls out in class, kept without anybody's name."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from standlight.errors import StandlightError
from standlight.programme.actions.checks import may_direct
from standlight.programme.actions.rehearse_podium import measure_index
from standlight.programme.models import Account, Assignment, Piece, Remark
from standlight.programme.queries.class_screen import spot_asked, what_happens
from standlight.programme.queries.kinds import kind_in


@transaction.atomic
def say_in_class(
    account: Account, assignment: Assignment, piece: Piece, measures: tuple[int, int], what: str
) -> Remark:
    """Keep one spot: printed ``measures`` of a piece of the ensemble, and what happened there.

    Raises `NotAllowed` for another's ensemble, `StandlightError` for measures that the piece does
    not have and for words that the kind does not offer. On paper a piece has as many measures as
    somebody said, else as many as any piece may have.
    """
    may_direct(account, assignment.ensemble_id)
    field = spot_asked(kind_in(assignment.kind))
    if field is None or what not in what_happens(field):
        raise StandlightError("choose what happened there", slip="an old page? Load it again")
    if piece.ensemble_id != assignment.ensemble_id:
        raise StandlightError("this piece is not the ensemble's")
    found = [measure_index(piece, printed) for printed in measures]
    return Remark.objects.create(
        piece=piece,
        author=account,
        said_in_class=True,
        first_measure=min(found),
        last_measure=max(found),
        words=what,
    )


@transaction.atomic
def take_back_said(account: Account, assignment: Assignment) -> bool:
    """Take the last spot of today back; True when there was one."""
    may_direct(account, assignment.ensemble_id)
    last = (
        Remark.objects.filter(
            piece__ensemble=assignment.ensemble_id,
            said_in_class=True,
            made_at__date=timezone.localdate(),
        )
        .order_by("-made_at", "-pk")
        .first()
    )
    if last is None:
        return False
    last.delete()
    return True
