"""Letting sound go when its time is over: the promise that musicians read on their page."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import partial

from django.conf import settings
from django.db import transaction

from standlight.programme.actions.groups import remove_old_drafts
from standlight.programme.actions.talks import remove_old_talks
from standlight.programme.forgetting import (
    forget_arrival,
    forget_files,
    forget_recording,
    forget_sound,
)
from standlight.programme.models import (
    AnswerSound,
    Arrival,
    LongRecording,
    PeerLine,
    SheetSound,
    Take,
)

UNFINISHED_DAYS = 15
"""A take still arriving after this was given up: its permit ended after fourteen days."""

UNCLAIMED_DAYS = 14
"""What a director brought in and nobody was given goes after this: two weeks of lessons to settle
whose it is (our choice)."""


@transaction.atomic
def remove_expired_sound(now: datetime) -> int:
    """Remove sound older than the school keeps it, of takes, sheets and answers; how many lost it.

    Levels, answers and readings stay: they are the musician's record, the sound is not.
    Takes that never became whole are removed as rows, too, and what was spoken for an answer and
    went into none; so are lines that musicians wrote about a take and nobody passed on. Safe to
    repeat.
    """
    unfinished = Take.objects.filter(
        state=Take.ARRIVING, started_at__lt=now - timedelta(days=UNFINISHED_DAYS)
    )
    remove_old_drafts(now)
    remove_old_talks(now)
    removed = 0
    for take in unfinished.exclude(made_by_machine=True):
        _forget_after_commit(take)
        take.delete()
        removed += 1
    last_kept = now - timedelta(days=settings.STANDLIGHT_KEEP_TAKES_DAYS)
    for take in Take.objects.filter(started_at__lt=last_kept).exclude(state=Take.REMOVED):
        _forget_after_commit(take)
        take.state, take.digest, take.playback_digest = Take.REMOVED, "", ""
        take.save(update_fields=("state", "digest", "playback_digest"))
        removed += 1
    for sound in SheetSound.objects.filter(made_at__lt=last_kept, removed_at=None):
        transaction.on_commit(partial(forget_files, {sound.digest}))
        sound.removed_at, sound.digest = now, ""
        sound.save(update_fields=("removed_at", "digest"))
        removed += 1
    # Kept back, they are nobody's record.
    PeerLine.objects.filter(passed=False, hearing__sent_at__lt=last_kept).delete()
    return removed + _remove_unclaimed(now) + _remove_spoken(now, last_kept)


def _remove_unclaimed(now: datetime) -> int:
    """Remove arrivals and long recordings that are nobody's after `UNCLAIMED_DAYS`; how many."""
    old = {"brought_at__lt": now - timedelta(days=UNCLAIMED_DAYS)}
    arrivals = list(Arrival.objects.filter(recording__isnull=True, **old))
    recordings = list(LongRecording.objects.filter(**old))
    for arrival in arrivals:
        forget_arrival(arrival)
    for recording in recordings:
        forget_recording(recording)
    return len(arrivals) + len(recordings)


def _remove_spoken(now: datetime, last_kept: datetime) -> int:
    """Remove spoken answers whose time is over, and recordings that no answer took; how many."""
    unused = AnswerSound.objects.filter(
        made_at__lt=now - timedelta(days=UNFINISHED_DAYS),
        answers=None,
        kept_answers=None,
        earlier_answers=None,
    )
    removed = 0
    for sound in unused:
        transaction.on_commit(partial(forget_files, {sound.digest} - {""}))
        sound.delete()
        removed += 1
    for sound in AnswerSound.objects.filter(made_at__lt=last_kept, removed_at=None):
        transaction.on_commit(partial(forget_files, {sound.digest}))
        sound.removed_at, sound.digest = now, ""
        sound.save(update_fields=("removed_at", "digest"))
        removed += 1
    return removed


def _forget_after_commit(take: Take) -> None:
    """Remove the files once no row names them any more."""
    key, digests = take.key, {take.digest, take.playback_digest} - {""}
    transaction.on_commit(lambda: forget_sound(key, digests))
