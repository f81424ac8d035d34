"""Anchor takes with agreed levels, and hearing them blind before a sitting."""

from __future__ import annotations

import datetime
from collections.abc import Mapping

from django.db import transaction
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.models import Account, AnchorTake, Calibration, PlayingCheck, Turn
from standlight.programme.queries.calibration import anchors_for, own_levels_whole
from standlight.programme.queries.desk_orders import drawn
from standlight.ratings.levels import LEVEL_NAMES, level_name

MOST_TAKES = 6
"""Two hearings of 20 seconds and three levels each come to about ten minutes for six; the fewest
that can show a lean beyond chance (2 in 64)."""

LONGEST_REASON = 400

TAKEN_UP_FOR = datetime.timedelta(hours=12)
"""A calibration left in the middle goes on within the same day; later a new one begins."""


@transaction.atomic
def agree_on(
    account: Account, turn: Turn, levels: Mapping[str, str], reason: str
) -> AnchorTake:
    """Make ``turn`` an anchor take with these agreed levels, or change what was agreed.

    A criterion without a level (not shown, not heard) stays out. Raises ``NotAllowed`` while
    ``account`` has not rated the take themself, ``StandlightError`` without a level or a reason.
    """
    reason = " ".join(reason.split())
    agreed = {key: value for key, value in levels.items() if value in map(str, LEVEL_NAMES)}
    if not own_levels_whole(account, turn):
        raise NotAllowed("give this take your own levels first; then agree")
    if not agreed:
        raise StandlightError("no level was agreed", slip="choose one for a criterion at least")
    for criterion in agreed:
        if criterion not in turn.check_row.criteria:
            raise NotAllowed(f"the check does not ask for {criterion!r}")
    if not reason:
        raise StandlightError("say what one hears that makes it so", slip="a sentence will do")
    if len(reason) > LONGEST_REASON:
        raise StandlightError(f"the reason has {len(reason)} letters, {LONGEST_REASON} fit")
    anchor, _ = AnchorTake.objects.update_or_create(
        turn=turn,
        defaults={
            "levels": agreed,
            "reason": reason,
            "agreed_by": account,
            "agreed_at": timezone.now(),
        },
    )
    return anchor


@transaction.atomic
def drop_anchor(anchor: AnchorTake) -> None:
    """Make a take a plain one again; calibrations that had it keep what they found."""
    anchor.delete()


@transaction.atomic
def begin_calibration(account: Account, check: PlayingCheck) -> Calibration:
    """Begin, or go on where ``account`` stopped: up to six anchor takes in an order by chance.

    Raises ``StandlightError`` where there is no anchor take to hear.
    """
    rows = Calibration.objects.filter(account=account, check_row=check, done_at__isnull=True)
    going = rows.filter(begun_at__gt=timezone.now() - TAKEN_UP_FOR).first()
    if going is not None:
        return going
    anchors = anchors_for(account, check)[:MOST_TAKES]
    if not anchors:
        raise StandlightError("there is no anchor take yet", slip="make some from rated takes")
    begun = Calibration.objects.create(account=account, check_row=check)
    anchors.sort(key=lambda anchor: drawn("calibration", begun.pk, anchor.turn_id))
    begun.takes = [
        {"turn": anchor.turn_id, "agreed": anchor.levels, "given": {}} for anchor in anchors
    ]
    begun.save(update_fields=["takes"])
    return begun


@transaction.atomic
def calibrate(calibration: Calibration, place: int, levels: Mapping[str, str]) -> Calibration:
    """Keep the levels given for anchor take number ``place`` (from 1); the last one ends it.

    The first answer stands: sent again, nothing changes. Raises ``StandlightError`` while a
    criterion that was agreed on has no level.
    """
    row = Calibration.objects.select_for_update().get(pk=calibration.pk)
    take = row.takes[place - 1]
    if take["given"]:
        return row
    missing = set(take["agreed"]) - set(levels)
    if missing:
        raise StandlightError("a level is missing", slip="every criterion needs one")
    for criterion in take["agreed"]:
        level_name(levels[criterion])
    take["given"] = {criterion: levels[criterion] for criterion in take["agreed"]}
    if all(one["given"] for one in row.takes):
        row.done_at = timezone.now()
    row.save(update_fields=["takes", "done_at"])
    return row
