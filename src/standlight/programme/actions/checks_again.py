"""Asking the same passage again: the anchor that growth hangs on."""

from __future__ import annotations

from datetime import date

from django.db import transaction
from django.utils import timezone

from standlight.errors import StandlightError
from standlight.programme.actions.checks import may_direct
from standlight.programme.models import (
    Account,
    CheckPassage,
    CheckTerms,
    OwnVersion,
    PlayingCheck,
)

AGAIN = ", again"
"""What a title ends with when the same is asked another time."""

LONGEST_TITLE = 120

COPIED = (
    "ensemble_id", "piece_id", "criteria", "tempo_qpm", "asks_self_rating", "together",
    "pitch_target", "tonic", "note", "model_take_digest", "try_counts",
)  # fmt: skip
"""What a check has in common with the one it asks again."""

COPIED_PASSAGE = (
    "part_id", "section_id", "first_measure", "last_measure", "printed", "reason", "demand",
    "shows", "alternatives", "moved_by_hand", "notation_digest",
)  # fmt: skip

COPIED_VERSION = (
    "musician_id", "semitones", "line", "skipped", "notation_digest", "asked_by_id",
)  # fmt: skip

COPIED_TERMS = ("one_take", "at_station", "own_start", "seed")
"""The window is not copied: it was about other days. The seed is: the same start again."""


@transaction.atomic
def ask_again(account: Account, check: PlayingCheck, due_on: date) -> PlayingCheck:
    """A draft of the same check: piece, passages, criteria and tempo, due on another day.

    The passages are not found or cut anew, so that everyone plays the very same music;
    musicians' own versions come along. Asked again on the same day while the draft is still
    one, it is that draft. Raises ``NotAllowed`` for another's ensemble and
    ``StandlightError`` for a day that has passed or for a check that nobody has seen yet.
    """
    may_direct(account, check.ensemble_id)
    if check.published_at is None:
        raise StandlightError(
            f"{check.title} is still a draft itself", slip="publish it first; ask again later"
        )
    if due_on < timezone.localdate():
        raise StandlightError("the due day has already passed")
    title = _title(check.title)
    draft = PlayingCheck.objects.filter(
        ensemble=check.ensemble_id, piece=check.piece_id, title=title, due_on=due_on,
        published_at__isnull=True,
    ).first()  # fmt: skip
    if draft is not None:
        return draft
    made = PlayingCheck.objects.create(
        title=title,
        due_on=due_on,
        made_by=account,
        **{name: getattr(check, name) for name in COPIED},
    )
    terms = CheckTerms.objects.filter(check_row=check).first()
    if terms is not None:
        CheckTerms.objects.create(
            check_row=made, **{name: getattr(terms, name) for name in COPIED_TERMS}
        )
    for old in check.passages.all():
        row = CheckPassage.objects.create(
            check_row=made, **{name: getattr(old, name) for name in COPIED_PASSAGE}
        )
        OwnVersion.objects.bulk_create(
            OwnVersion(passage=row, **{name: getattr(one, name) for name in COPIED_VERSION})
            for one in old.own_versions.all()
        )
    return made


def _title(title: str) -> str:
    """The title with what says that it is asked again, once.

    >>> _title("March"), _title("March, again")
    ('March, again', 'March, again')
    """
    bare = title.removesuffix(AGAIN)
    return bare[: LONGEST_TITLE - len(AGAIN)].rstrip() + AGAIN
