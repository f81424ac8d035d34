"""Removing the files of sound that is gone: the one place where kept sound is deleted."""

from __future__ import annotations

from functools import partial
from uuid import UUID

from django.db import transaction
from django.db.models import Q

from standlight.programme import pieces, store
from standlight.programme.models import (
    AnswerSound,
    Arrival,
    Assignment,
    LongRecording,
    PlayingCheck,
    SheetSound,
    Take,
)


def forget_sound(key: UUID, digests: set[str]) -> None:
    """Remove pieces and files of a take that is gone, but no file another take still needs."""
    pieces.drop(key)
    forget_files(digests)


def forget_sound_later(key: UUID | None, digests: set[str]) -> None:
    """With the present transaction's commit, remove these files, and a take's pieces (``key``)."""
    digests = digests - {""}
    if key is None:
        transaction.on_commit(partial(forget_files, digests))
    else:
        transaction.on_commit(partial(forget_sound, key, digests))


def forget_files(digests: set[str]) -> None:
    """Remove kept files that no take, sheet, answer, check or assignment names any more."""
    for digest in digests:
        users = (
            Take.objects.filter(Q(digest=digest) | Q(playback_digest=digest)),
            PlayingCheck.objects.filter(model_take_digest=digest),
            SheetSound.objects.filter(digest=digest),
            AnswerSound.objects.filter(digest=digest),
            Assignment.objects.filter(sound_digest=digest),
            Arrival.objects.filter(Q(digest=digest) | Q(playback_digest=digest)),
            LongRecording.objects.filter(copy_digest=digest),
        )
        if not any(rows.exists() for rows in users):
            store.path_of(digest).unlink(missing_ok=True)


@transaction.atomic
def forget_arrival(arrival: Arrival) -> None:
    """Remove what was brought in, and its sound unless a take has it now."""
    digests = {arrival.digest, arrival.playback_digest} - {""}
    Arrival.objects.filter(pk=arrival.pk).delete()
    transaction.on_commit(partial(forget_files, digests))


@transaction.atomic
def forget_recording(recording: LongRecording) -> None:
    """Remove a long recording with the parts that nobody was given."""
    digests = {recording.copy_digest}
    LongRecording.objects.filter(pk=recording.pk).delete()
    transaction.on_commit(partial(forget_files, digests))
