"""Removing the files of a take that is gone: the one place where kept sound is deleted."""

from __future__ import annotations

from uuid import UUID

from standlight.programme import pieces, store
from standlight.programme.models import PlayingCheck, Take


def forget_sound(key: UUID, digests: set[str]) -> None:
    """Remove pieces and files of a take that is gone, but no file another take still needs."""
    pieces.drop(key)
    for digest in digests:
        used = Take.objects.filter(digest=digest) | Take.objects.filter(playback_digest=digest)
        shown = PlayingCheck.objects.filter(model_take_digest=digest)
        if not used.exists() and not shown.exists():
            store.path_of(digest).unlink(missing_ok=True)
