"""Files kept by the digest of their bytes: scores, passages, takes, listening copies.

A second keep of the same bytes is harmless, and a name tells nothing about a
person. The folder is the setting ``STANDLIGHT_FILES``.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from pathlib import Path

from django.conf import settings

from standlight.errors import StandlightError


def keep(data: bytes) -> str:
    """Write ``data`` once and give its SHA-256 digest (64 hex digits); safe to repeat."""
    digest = hashlib.sha256(data).hexdigest()
    place = path_of(digest)
    if place.exists():
        return digest
    place.parent.mkdir(parents=True, exist_ok=True)
    # A crash half-way must not leave a short file under the full digest's name.
    handle, temporary = tempfile.mkstemp(dir=place.parent)
    with os.fdopen(handle, "wb") as out:
        out.write(data)
    os.replace(temporary, place)
    return digest


def fetch(digest: str) -> bytes:
    """The bytes kept under ``digest``; raises ``StandlightError`` when they are gone."""
    try:
        return path_of(digest).read_bytes()
    except FileNotFoundError:
        raise StandlightError(
            "a kept file is missing",
            where=digest[:12],
            slip="was the files folder moved or pruned?",
        ) from None


def path_of(digest: str) -> Path:
    """Where the bytes of ``digest`` are or would be; raises ``ValueError`` for no digest."""
    if len(digest) != 64 or not set(digest) <= set("0123456789abcdef"):
        raise ValueError(f"{digest!r} is no SHA-256 digest")
    return Path(settings.STANDLIGHT_FILES) / digest[:2] / digest
