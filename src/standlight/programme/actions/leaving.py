"""Removing a musician and everything they made: one action, and nothing of it comes back.

What leads from a musician's row goes with the row; the rest is done here by name: the test of
this module walks the relations, so that a new model cannot be forgotten.
"""

from __future__ import annotations

from axes.models import AccessAttempt, AccessFailureLog, AccessLog
from django.db import transaction
from django.db.models import Q

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.forgetting import forget_arrival, forget_recording, forget_sound_later
from standlight.programme.jobs import ask_to_study
from standlight.programme.models import (
    Account,
    AnswerSound,
    Arrival,
    Calibration,
    DeskSitting,
    Ensemble,
    LongRecording,
    MarkExport,
    Musician,
    RatingsStudy,
    Remark,
    SheetSound,
    Take,
    Turn,
)


@transaction.atomic
def forget_musician(account: Account, musician: Musician, typed_id: str) -> None:
    """Remove ``musician``, their account and all they made; ``typed_id`` confirms whom.

    Raises `NotAllowed` unless all their groups are the account's to see, and `StandlightError`
    when ``typed_id`` is not their roster id; nothing is changed then. Files that no other row
    names go once all is committed.
    """
    _refuse_foreign(account, musician)
    if typed_id.strip() != musician.roster_id:
        raise StandlightError(
            f"nothing was removed: {typed_id.strip()!r} is not the roster id of {musician.name}",
            slip="type it as it stands under the name",
        )
    owner = musician.account
    turns = set(Turn.objects.filter(musician=musician).values_list("pk", flat=True))
    _forget_sounds(musician)
    _forget_arrivals(musician)
    _forget_mentions(musician, turns)
    _forget_sign_ins(owner)
    # First the musician: their own version of a passage protects the account that asked for it.
    musician.delete()
    owner.delete()
    RatingsStudy.objects.filter(programme=account.programme_id).delete()
    ask_to_study(account.programme_id)


def groups_of_others(account: Account, musician: Musician) -> tuple[str, ...]:
    """Names of the musician's groups, former ones too, that ``account`` does not see."""
    groups = Ensemble.objects.filter(
        Q(sections__seats__musician=musician)
        | Q(checks__turns__musician=musician)
        | Q(assignments__sheets__author=musician.account_id)
        | Q(assignments__sheets__about=musician)
        | Q(marks__posted__musician=musician)
    )
    mine = Ensemble.objects.visible_to(account).values("pk")
    return tuple(groups.exclude(pk__in=mine).distinct().values_list("name", flat=True))


def _refuse_foreign(account: Account, musician: Musician) -> None:
    """Refuse whoever does not direct the musician in every group they are or were in."""
    seen = Musician.objects.visible_to(account).filter(pk=musician.pk)
    if not (account.is_director and seen.exists()):
        raise NotAllowed("this musician is in none of your ensembles")
    others = groups_of_others(account, musician)
    if others:
        raise NotAllowed(
            f"{musician.name} has work in {' and '.join(others)} too, which is not yours: "
            "the lead director can remove them"
        )


def _forget_sounds(musician: Musician) -> None:
    """Note what was recorded by the musician, and spoken to them, to go with the commit."""
    for take in Take.objects.filter(turn__musician=musician):
        forget_sound_later(take.key, {take.digest, take.playback_digest})
    theirs = Q(sheet__author=musician.account_id) | Q(sheet__about=musician)
    spoken = AnswerSound.objects.filter(turn__musician=musician)
    digests = set(SheetSound.objects.filter(theirs).values_list("digest", flat=True))
    forget_sound_later(None, digests | set(spoken.values_list("digest", flat=True)))


def _forget_arrivals(musician: Musician) -> None:
    """Remove what waits to be their take, and a long recording of which nothing is left then."""
    emptied = set()
    for arrival in Arrival.objects.filter(musician=musician):
        emptied.add(arrival.recording_id)
        forget_arrival(arrival)
    for recording in LongRecording.objects.filter(pk__in=emptied - {None}, spans=None):
        forget_recording(recording)


def _forget_mentions(musician: Musician, turns: set[int]) -> None:
    """Take the musician out of rows that belong to others and name them by number only."""
    Remark.objects.filter(turn__in=turns).delete()
    key = str(musician.pk)
    for export in MarkExport.objects.filter(marks__ensemble__programme=musician.programme_id):
        if export.told.pop(key, None) is not None:
            export.save(update_fields=["told"])
    checks = {"check_row__turns__in": turns}
    for sitting in DeskSitting.objects.filter(**checks).distinct():
        sitting.again = [one for one in sitting.again if one[0] not in turns]
        sitting.save(update_fields=["again"])
    for row in Calibration.objects.filter(check_row__ensemble__programme=musician.programme_id):
        kept = [one for one in row.takes if one["turn"] not in turns]
        if len(kept) == len(row.takes):
            continue
        # Begun anew in a minute; without its take it could not be finished.
        if row.done_at is None or not kept:
            row.delete()
            continue
        row.takes = kept
        row.save(update_fields=["takes"])


def _forget_sign_ins(owner: Account) -> None:
    """Remove the notes of when and from where the account signed in."""
    for model in (AccessAttempt, AccessFailureLog, AccessLog):
        model.objects.filter(username__iexact=owner.sign_in).delete()
