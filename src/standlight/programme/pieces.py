"""Takes on their way: numbered pieces in a folder of their own until a take is whole.

Unlike kept files a piece is named by take and number, because it is thrown away as soon
as the take is joined or let go.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from uuid import UUID

from django.conf import settings

from standlight.errors import StandlightError


def put(key: UUID, number: int, data: bytes) -> None:
    """Write piece ``number`` (0 or more) of the take ``key``; safe to repeat."""
    place = _folder(key) / str(number)
    place.parent.mkdir(parents=True, exist_ok=True)
    # A crash half-way must not leave a short piece under its final name.
    unfinished = place.with_name(f"{number}.{os.getpid()}.{os.urandom(4).hex()}")
    unfinished.write_bytes(data)
    os.replace(unfinished, place)


def joined(key: UUID, n_pieces: int) -> bytes:
    """Pieces 0 to ``n_pieces`` - 1 as one; raises ``StandlightError`` when one is gone."""
    try:
        return b"".join((_folder(key) / str(number)).read_bytes() for number in range(n_pieces))
    except FileNotFoundError as gone:
        raise StandlightError(
            "a piece of this take is missing",
            where=f"piece {Path(gone.filename).name}",
            slip="was the files folder moved or pruned?",
        ) from None


def bytes_so_far(key: UUID) -> int:
    """How many bytes of the take ``key`` are here, 0 when none."""
    folder = _folder(key)
    if not folder.exists():
        return 0
    return sum(piece.stat().st_size for piece in folder.iterdir())


def drop(key: UUID) -> None:
    """Throw the pieces of the take ``key`` away; safe to repeat."""
    shutil.rmtree(_folder(key), ignore_errors=True)


def _folder(key: UUID) -> Path:
    """Where the pieces of ``key`` lie."""
    return Path(settings.STANDLIGHT_FILES) / "arriving" / str(key)
