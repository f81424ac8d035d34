"""The cutter's child: a long recording to its loudness and a seekable copy, and spans out of one.

It works block by block, so that an hour needs no more memory than a minute: nothing of the
recording is ever whole in memory as samples. `whole` reads any recording the decoder reads, and
answers with facts, the envelope of `sound.silences` and a mono FLAC copy; `spans` cuts out of
such a copy, each span as a FLAC of its own.
"""

from __future__ import annotations

import io
import json
import struct
import sys
from collections.abc import Iterator
from typing import Any

import numpy as np

from standlight.sound.silences import HOP_S, envelope_db
from standlight.workshop.child import refuse
from standlight.workshop.decoder import CANCELLED_DB, CODECS, CONTAINERS, DEAD_CHANNEL_DB
from standlight.workshop.packets import HIGHEST_RATE_HZ, Packets

LONGEST_S = 3600.0
"""An hour: forty minutes is a class, and a double lesson is two recordings."""

LOOK_S = 20.0
"""Which channels live is told from the loudest moments of so much of the beginning."""

HEAD = struct.Struct("<III")
"""Bytes of the facts, of the envelope and of the copy, in an answer to ``whole``."""

SPAN_HEAD = struct.Struct("<I")
"""Bytes of a span that follows, in an answer to ``spans``."""

_ADVICE = "Save it again as MP3 or M4A, or record it on a phone."
_BLOCK = 4096
_SILENT_POWER = 1e-12


def main() -> None:
    """The tool itself: ``whole``, or ``spans`` and a list of [start, end] in seconds as JSON."""
    import av  # only the child carries the foreign machinery

    av.logging.set_level(None)
    given = sys.stdin.buffer
    if sys.argv[1] == "whole":
        answer = whole(given, av)
    else:
        answer = spans(given, json.loads(sys.argv[2]), av)
    sys.stdout.buffer.write(answer)


def whole(given: Any, av: Any) -> bytes:
    """Facts, envelope (float32) and FLAC copy of a recording, behind their `HEAD`."""
    stereo, rate_hz = _planes(given, av)
    copy, envelopes, count, rest = _Flac(av, rate_hz), [], 0, np.zeros(0, dtype=np.float32)
    hop = round(HOP_S * rate_hz)
    for samples in _one_channel(stereo, rate_hz):
        count += len(samples)
        if count > LONGEST_S * rate_hz:
            refuse(f"the recording is longer than {LONGEST_S / 60:.0f} minutes; send it in parts")
        copy.write(samples)
        samples = np.concatenate([rest, samples])
        even = len(samples) // hop * hop
        envelopes.append(envelope_db(samples[:even], rate_hz))
        rest = samples[even:]
    if not count:
        refuse("there is no sound in this file, only an empty beginning (was it cut off?)")
    head = json.dumps({"rate_hz": rate_hz, "seconds": count / rate_hz}).encode()
    envelope = np.concatenate(envelopes).astype("<f4").tobytes()
    flac = copy.done()
    return b"".join((HEAD.pack(len(head), len(envelope), len(flac)), head, envelope, flac))


def spans(given: Any, wanted: list[list[float]], av: Any) -> bytes:
    """Each of ``wanted`` ([start, end] in seconds) as a FLAC, behind its length; any order."""
    stereo, rate_hz = _planes(given, av)
    order = sorted(range(len(wanted)), key=lambda number: wanted[number])
    cuts = {number: _Flac(av, rate_hz) for number in order}
    begun = 0
    for planes in stereo:
        samples = planes[0]
        for number in order:
            first, last = (round(second * rate_hz) - begun for second in wanted[number])
            if first < len(samples) and last > 0:
                cuts[number].write(samples[max(first, 0) : max(last, 0)])
        begun += len(samples)
    answer = []
    for number in range(len(wanted)):
        flac = cuts[number].done()
        answer += [SPAN_HEAD.pack(len(flac)), flac]
    return b"".join(answer)


class _Flac:
    """A mono 16-bit FLAC under way."""

    def __init__(self, av: Any, rate_hz: int) -> None:
        self.av, self.rate_hz, self.written = av, rate_hz, 0
        self.target = io.BytesIO()
        self.out = av.open(self.target, "w", format="flac")
        self.stream = self.out.add_stream("flac", rate=rate_hz, layout="mono")
        self.rest = np.zeros(0, dtype=np.int16)

    def write(self, samples: np.ndarray) -> None:
        """Add float samples; the encoder wants blocks of one size until the last."""
        whole = np.round(samples * 32767.0).astype(np.int16)
        self.rest = np.concatenate([self.rest, whole])
        while len(self.rest) >= _BLOCK:
            self._encode(self.rest[:_BLOCK])
            self.rest = self.rest[_BLOCK:]

    def _encode(self, block: np.ndarray) -> None:
        frame = self.av.AudioFrame.from_ndarray(
            np.ascontiguousarray(block[None]), format="s16", layout="mono"
        )
        frame.sample_rate, frame.pts = self.rate_hz, self.written
        self.written += len(block)
        self.out.mux(self.stream.encode(frame))

    def done(self) -> bytes:
        """The file, ended."""
        if len(self.rest):
            self._encode(self.rest)
        self.out.mux(self.stream.encode(None))
        self.out.close()
        return self.target.getvalue()


def _planes(given: Any, av: Any) -> tuple[Iterator[np.ndarray], int]:
    """Blocks of samples by channel, ``(channels, samples)``, about a second each; their rate."""
    options = {
        "format_whitelist": ",".join(CONTAINERS),
        "codec_whitelist": ",".join(CODECS),
        "protocol_whitelist": "",
    }
    try:
        container = av.open(given, options=options, metadata_errors="ignore")
    except (av.FFmpegError, ValueError):
        refuse(
            "this file is not a recording this tool can read"
            f" (damaged, cut off at the start, or another kind of file?). {_ADVICE}"
        )
    if not container.streams.audio:
        refuse("there is no sound in this file (was the microphone off in the video?)")
    stream = container.streams.audio[0]
    if stream.codec_context is None or stream.codec_context.name not in CODECS:
        refuse(f"the sound in this file is of a kind this tool does not read. {_ADVICE}")
    rate_hz = min(stream.codec_context.sample_rate or HIGHEST_RATE_HZ, HIGHEST_RATE_HZ)
    return _seconds_of(Packets(container, stream, av, rate_hz)), rate_hz


def _seconds_of(packets: Packets) -> Iterator[np.ndarray]:
    """The planes gathered to blocks of about a second; what cannot be decoded is left out."""
    held, count = [], 0
    for planes in packets:
        held += planes
        count += sum(part.shape[1] for part in planes)
        if count >= packets.rate_hz:
            yield np.concatenate(held, axis=1)
            held, count = [], 0
    if held:
        yield np.concatenate(held, axis=1)


def _one_channel(blocks: Iterator[np.ndarray], rate_hz: int) -> Iterator[np.ndarray]:
    """Mono blocks in -1..1; how the channels are mixed is settled by the first `LOOK_S`."""
    looked, seconds = [], 0.0
    weights = None
    for block in blocks:
        finite = np.nan_to_num(block, nan=0.0, posinf=1.0, neginf=-1.0)
        if weights is None:
            looked.append(finite)
            seconds += finite.shape[1] / rate_hz
            if seconds < LOOK_S:
                continue
            weights = weights_of(np.concatenate(looked, axis=1))
            finite, looked = np.concatenate(looked, axis=1), []
        yield np.clip(weights @ finite, -1.0, 1.0).astype(np.float32)
    if looked:
        finite = np.concatenate(looked, axis=1)
        yield np.clip(weights_of(finite) @ finite, -1.0, 1.0).astype(np.float32)


def weights_of(planes: np.ndarray) -> np.ndarray:
    """What each channel counts for, ``(channels,)``, by the rule of `decoder.mono`.

    The mean of those that live; the loudest alone where they cancel each other.

    >>> weights_of(np.array([[0.5, -0.5], [0.0, 0.0]]))
    array([1., 0.])
    >>> weights_of(np.array([[0.5, -0.5], [0.5, -0.5]]))
    array([0.5, 0.5])
    >>> weights_of(np.array([[0.5, -0.5], [-0.5, 0.5]]))
    array([1., 0.])
    """
    power = np.mean(np.square(planes, dtype=np.float64), axis=1)
    live = power >= power.max() * 10.0 ** (-DEAD_CHANNEL_DB / 10.0)
    even = live / live.sum()
    mixed = float(np.mean(np.square(even @ planes)))
    if power.max() > _SILENT_POWER and mixed < power.max() * 10.0 ** (-CANCELLED_DB / 10.0):
        return np.eye(len(planes))[int(power.argmax())]
    return even


if __name__ == "__main__":
    main()
