"""One long recording of several musicians: listened through, and cut, in a child with limits."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from standlight.errors import UnreadableTake
from standlight.sound.silences import Span, spans_between_silences
from standlight.workshop.child import Limits, run_child
from standlight.workshop.cutter import HEAD, SPAN_HEAD
from standlight.workshop.decoding import refuse_what_is_no_sound

LARGEST_BYTES = 250_000_000
"""Largest file: forty minutes of 48 kHz mono WAV are 230 MB; of a phone's M4A, 40 MB."""

LEAD_S, TAIL_S = 0.4, 0.6
"""What a span is given before and after its sound: a breath, and a tone that dies away."""

_LIMITS = Limits(
    memory_bytes=2_000_000_000, cpu_seconds=240, file_bytes=600_000_000, wall_seconds=300.0
)


@dataclass(frozen=True, slots=True, eq=False)
class LongTake:
    """A long recording: its length, the spans between its silences, a seekable FLAC copy."""

    seconds: float
    spans: tuple[Span, ...]
    copy: bytes


def read_long_take(recording: bytes, *, expected_s: float | None = None) -> LongTake:
    """Listen through ``recording`` and find its spans; ``expected_s`` as in the sound room.

    Spans come with a little air around them. Raises `UnreadableTake` with a sentence for a
    person and `WorkshopFailure` when the child dies.
    """
    if len(recording) > LARGEST_BYTES:
        raise UnreadableTake(
            f"the file has {len(recording) / 1e6:.0f} MB, more than {LARGEST_BYTES / 1e6:.0f} MB",
            slip="save it as MP3 or M4A, or send it in two parts",
        )
    refuse_what_is_no_sound(recording)
    answer = run_child(
        "cutter", recording, arguments=("whole",), limits=_LIMITS, refusal=UnreadableTake
    )
    facts_bytes, envelope_bytes, copy_bytes = HEAD.unpack_from(answer)
    facts = json.loads(answer[HEAD.size : HEAD.size + facts_bytes])
    start = HEAD.size + facts_bytes
    envelope = np.frombuffer(answer, dtype="<f4", count=envelope_bytes // 4, offset=start)
    copy = answer[start + envelope_bytes : start + envelope_bytes + copy_bytes]
    found = spans_between_silences(envelope.astype(np.float64), expected_s=expected_s)
    return LongTake(facts["seconds"], with_air(found, facts["seconds"]), copy)


def with_air(spans: Sequence[Span], seconds: float) -> tuple[Span, ...]:
    """Spans with their lead and tail, none over its neighbour or the recording's ends.

    >>> [(s.start_s, s.end_s) for s in with_air([Span(0.1, 5.0), Span(5.6, 9.0)], 9.2)]
    [(0.0, 5.3), (5.3, 9.2)]
    """
    around = []
    for place, span in enumerate(spans):
        lowest = (spans[place - 1].end_s + span.start_s) / 2 if place else 0.0
        highest = (
            (span.end_s + spans[place + 1].start_s) / 2 if place + 1 < len(spans) else seconds
        )
        start_s = max(span.start_s - LEAD_S, lowest)
        end_s = min(span.end_s + TAIL_S, highest)
        around.append(Span(round(start_s, 2), round(end_s, 2), span.short))
    return tuple(around)


def cut_spans(copy: bytes, spans: Sequence[tuple[float, float]]) -> list[bytes]:
    """Each (start, end) in seconds out of a `LongTake`'s copy, as a mono FLAC file.

    Raises like `read_long_take`.
    """
    wanted = json.dumps([list(span) for span in spans])
    answer = run_child(
        "cutter", copy, arguments=("spans", wanted), limits=_LIMITS, refusal=UnreadableTake
    )
    pieces, at = [], 0
    for _ in spans:
        (length,) = SPAN_HEAD.unpack_from(answer, at)
        pieces.append(answer[at + SPAN_HEAD.size : at + SPAN_HEAD.size + length])
        at += SPAN_HEAD.size + length
    return pieces
