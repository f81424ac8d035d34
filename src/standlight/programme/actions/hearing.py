"""Keeping what a hearing found."""

from __future__ import annotations

from functools import partial
from uuid import UUID

from django.db import transaction

from standlight.errors import UnreadableTake, WorkshopFailure
from standlight.listening import ListeningReport, report_as_json
from standlight.programme import store
from standlight.programme.forgetting import forget_files
from standlight.programme.models import Report, Take
from standlight.workshop import playback_copy

UNREADABLE = "unreadable"
"""The listening's verdict on bytes that hold no sound: there is nothing to play."""


def keep_report(key: UUID | str, report: ListeningReport, sound: bytes) -> None:
    """Store ``report`` under its edition and make the seekable copy; a second time changes nothing.

    The submission stays whatever the report says: it can always be rated by ear. Of a take that was
    let go while it was heard nothing is kept.
    """
    copy = _listening_copy(sound, report)
    with transaction.atomic():
        here = Take.objects.filter(key=key).update(
            state=Take.HEARD if copy else Take.REFUSED,
            playback_digest=copy,
            seconds=report.seconds or None,
            first_note_s=report.first_note_s,
            claimed_at=None,
        )
        if not here:
            transaction.on_commit(partial(forget_files, {copy} - {""}))
            return
        Report.objects.get_or_create(
            take_id=key, method=report.method, defaults={"body": report_as_json(report)}
        )


def _listening_copy(sound: bytes, report: ListeningReport) -> str:
    """Digest of the seekable copy, empty when the bytes hold no sound."""
    if any(verdict.code == UNREADABLE for verdict in report.verdicts):
        return ""
    try:
        return store.keep(playback_copy(sound))
    except (UnreadableTake, WorkshopFailure):
        return ""
