"""Decode what phones and browsers record, in a child process with limits.

``decode``, ``playback_copy`` and ``decode_with_copy`` refuse what needs no decoder to refuse
and hand the rest to the tool ``decoder``, whose child stays warm for the next take.
"""

from __future__ import annotations

import json

import numpy as np

from standlight.errors import UnreadableTake
from standlight.sound.values import Recording
from standlight.workshop.child import Limits
from standlight.workshop.decoder import HEAD
from standlight.workshop.warm import ask_warm, warm_up

LARGEST_BYTES = 200_000_000
"""Largest file taken: ten minutes of 48 kHz stereo 24-bit WAV are 173 MB."""

_TEXT_BYTES = 1024

OTHER_FILES = (
    (b"PK\x03\x04", "a packed folder or a document (zip)", "unpack it and send the sound in it"),
    (b"Rar!", "a packed folder (rar)", "unpack it and send the sound in it"),
    (b"7z\xbc\xaf", "a packed folder (7z)", "unpack it and send the sound in it"),
    (b"\x1f\x8b", "a packed file (gzip)", "unpack it and send the sound in it"),
    (b"%PDF", "a PDF document", "the part instead of the recording?"),
    (b"\x89PNG", "a picture", "a photograph instead of the recording?"),
    (b"\xff\xd8\xff", "a picture", "a photograph instead of the recording?"),
    (b"GIF8", "a picture", "a photograph instead of the recording?"),
    (b"MZ", "a program", "the wrong file?"),
    (b"\x7fELF", "a program", "the wrong file?"),
    (b"MThd", "a MIDI file: notes, not sound", "record the playing itself"),
)
"""First bytes of what people send by mistake (public file signatures), its name, and advice."""

_LIMITS = Limits(
    memory_bytes=2_000_000_000, cpu_seconds=1_800, file_bytes=1, wall_seconds=90.0
)
"""The wall clock is for one take, the rest for the life of a child; it writes no file."""


def decode(take: bytes) -> Recording:
    """The sound of ``take`` as a mono `Recording`.

    Raises `UnreadableTake` with a sentence for a person (not audio, empty, no sound in a
    video, over ten minutes) and `WorkshopFailure` when the child dies.
    """
    return _ask(take, "samples")[0]


def playback_copy(take: bytes) -> bytes:
    """``take`` as a mono 16-bit FLAC file that every browser plays and can seek in.

    Raises like `decode`.
    """
    return _ask(take, "copy")[1]


def decode_with_copy(take: bytes) -> tuple[Recording, bytes]:
    """`decode` and `playback_copy` by one child, in half the time of both."""
    return _ask(take, "both")


def get_ready() -> None:
    """Start the decoder's child now, while there is still other work to do before a take."""
    warm_up("decoder", _LIMITS)


def _ask(take: bytes, wanted: str) -> tuple[Recording, bytes]:
    """Refuse what needs no decoder to refuse, then run the child and read its answer."""
    refuse_what_is_no_sound(take)
    if len(take) > LARGEST_BYTES:
        raise UnreadableTake(
            f"the file has {len(take) / 1e6:.0f} MB, more than {LARGEST_BYTES / 1e6:.0f} MB",
            slip="the whole rehearsal instead of the passage?",
        )
    answer = ask_warm("decoder", take, word=wanted, limits=_LIMITS, refusal=UnreadableTake)
    facts_bytes, samples_bytes = HEAD.unpack_from(answer)
    start = HEAD.size + facts_bytes
    facts = json.loads(answer[HEAD.size : start])
    samples = np.frombuffer(answer, dtype="<f4", count=samples_bytes // 4, offset=start)
    return Recording(samples=samples, **facts), answer[start + samples_bytes :]


def refuse_what_is_no_sound(take: bytes) -> None:
    """Raise `UnreadableTake` for an empty file, text, or what people send by mistake."""
    if not take:
        raise UnreadableTake("the file is empty", slip="was the upload cut off?")
    if _looks_like_text(take):
        raise UnreadableTake(
            "this is a text file, not a recording", slip="renamed, or the wrong file?"
        )
    for first, what, advice in OTHER_FILES:
        if take.startswith(first):
            raise UnreadableTake(f"this is {what}, not a recording", slip=advice)


def _looks_like_text(take: bytes) -> bool:
    """True when the first kilobyte is printable text in UTF-8 or Latin letters."""
    head = take[:_TEXT_BYTES]
    printable = sum(byte in b"\t\n\r" or 32 <= byte < 127 for byte in head)
    return printable > 0.95 * len(head)
