"""The decoder's child: bytes of a recording to samples, one take after the other.

Lets only named containers and audio codecs through, averages the channels that live itself
(FFmpeg's own downmix adds 3 dB), counts samples (a container's duration cannot be trusted) and
stops at ``LONGEST_S``. A video's picture is never decoded. A file that breaks off gives its
readable beginning.
"""

from __future__ import annotations

import io
import json
import struct
from typing import Any

import numpy as np

from standlight.workshop.child import declined, told
from standlight.workshop.packets import Packets
from standlight.workshop.warm import asked

LONGEST_S = 600.0
"""Longest take: ten minutes; a playing check lasts 15 to 60 s (check.len, trade table)."""

CONTAINERS = ("mov,mp4,m4a,3gp,3g2,mj2", "matroska,webm", "ogg", "wav", "flac", "mp3", "aac",
              "aiff", "caf", "w64", "amr")  # fmt: skip
"""Containers let through, by FFmpeg's names."""

CODECS = ("opus", "libopus", "vorbis", "libvorbis", "aac", "mp3", "mp3float", "flac", "alac",
          "pcm_s16le", "pcm_s24le", "pcm_s32le", "pcm_u8", "pcm_f32le", "pcm_f64le", "pcm_s16be",
          "pcm_s24be", "pcm_mulaw", "pcm_alaw", "amrnb", "amrwb", "amr_nb", "amr_wb")  # fmt: skip
"""Audio codecs let through, by FFmpeg's names."""

DEAD_CHANNEL_DB = 30.0
"""A channel so far under the loudest is a broken cable, no second microphone (our choice; what
leaks into an open input is 40 dB down and more, stereo microphones differ by 10 at most)."""

CANCELLED_DB = 10.0
"""Channels whose average is so far under the loudest of them stand against each other (one
wired the wrong way round): the loudest alone is read. Unlike channels lose 3 dB."""

HEAD = struct.Struct("<II")
"""Bytes of the facts, and of the samples, before both in an answer."""

_ADVICE = "Save it again as WAV, MP3 or M4A, or record it on the page."
_SILENT_POWER = 1e-12


class Refused(Exception):
    """Why this take is not read, in a sentence for a person."""


def main() -> None:
    """The tool itself: answer ``samples``, ``copy`` or ``both`` of each take asked about."""
    import av  # only the child carries the foreign machinery

    av.logging.set_level(None)
    for wanted, take in asked():
        try:
            answer = answer_of(take, wanted, av)
        except Refused as reason:
            declined(str(reason))
        except MemoryError:
            declined("this recording needs more memory to decode than a take may have")
        else:
            told(answer)


def answer_of(take: bytes, wanted: str, av: Any) -> bytes:
    """Facts, samples and copy of ``take`` behind their `HEAD`; raises `Refused`."""
    options = {
        "format_whitelist": ",".join(CONTAINERS),
        "codec_whitelist": ",".join(CODECS),
        "protocol_whitelist": "",
    }
    try:
        container = av.open(io.BytesIO(take), options=options, metadata_errors="ignore")
    except (av.FFmpegError, ValueError) as problem:
        raise Refused(
            "this file is not a recording this tool can read"
            f" (damaged, cut off at the start, or another kind of file?). {_ADVICE}"
        ) from problem
    with container:
        if not container.streams.audio:
            raise Refused("there is no sound in this file (was the microphone off in the video?)")
        stream = container.streams.audio[0]
        if stream.codec_context is None or stream.codec_context.name not in CODECS:
            raise Refused(f"the sound in this file is of a kind this tool does not read. {_ADVICE}")
        planes, rate_hz, damaged = _planes_of(container, stream, av)
        facts = {
            "rate_hz": rate_hz,
            "container": container.format.name.split(",")[0],
            "codec": stream.codec_context.name,
            "channels": len(planes),
            "picture_dropped": any(
                not video.disposition & video.disposition.attached_pic
                for video in container.streams.video
            ),
            "damaged": damaged,
        }
    samples = mono(planes)
    if not len(samples):
        raise Refused("there is no sound in this file, only an empty beginning (was it cut off?)")
    copy = _flac(samples, rate_hz, av) if wanted in ("copy", "both") else b""
    raw = b"" if wanted == "copy" else samples.astype("<f4").tobytes()
    head = json.dumps(facts).encode()
    return b"".join((HEAD.pack(len(head), len(raw)), head, raw, copy))


def _planes_of(container: Any, stream: Any, av: Any) -> tuple[np.ndarray, int, bool]:
    """Samples by channel, float32 ``(channels, samples)``, their rate, and if it broke off."""
    packets, pieces, count = Packets(container, stream, av), [], 0
    for planes in packets:
        pieces += planes
        count += sum(part.shape[1] for part in planes)
        if count > LONGEST_S * packets.rate_hz:
            raise Refused(
                f"the recording is longer than {LONGEST_S / 60:.0f} minutes"
                " (the whole rehearsal instead of the passage?)"
            )
    whole = np.concatenate(pieces, axis=1) if pieces else np.zeros((1, 0), dtype=np.float32)
    return whole, packets.rate_hz, packets.broken > 0


def mono(planes: np.ndarray) -> np.ndarray:
    """One channel of float32 in -1..1, shape ``(samples,)``, from ``(channels, samples)``.

    The average of the channels that live; the loudest alone where they cancel each other.

    >>> mono(np.array([[0.5, -0.5], [0.0, 0.0]], dtype=np.float32))
    array([ 0.5, -0.5], dtype=float32)
    >>> mono(np.array([[0.5, -0.5], [-0.5, 0.5]], dtype=np.float32))
    array([ 0.5, -0.5], dtype=float32)
    """
    finite = np.nan_to_num(planes, nan=0.0, posinf=1.0, neginf=-1.0)
    if len(finite) > 1 and finite.shape[1]:
        power = np.array([np.mean(np.square(plane, dtype=np.float64)) for plane in finite])
        loudest = finite[int(power.argmax())]
        live = power >= power.max() * 10.0 ** (-DEAD_CHANNEL_DB / 10.0)
        average = finite[live].mean(axis=0, dtype=np.float32)
        mixed = float(np.mean(np.square(average, dtype=np.float64)))
        lost = power.max() > _SILENT_POWER and (
            mixed < power.max() * 10.0 ** (-CANCELLED_DB / 10.0)
        )
        finite = (loudest if lost else average)[None]
    return np.clip(finite[0], -1.0, 1.0).astype(np.float32)


def _flac(samples: np.ndarray, rate_hz: int, av: Any) -> bytes:
    """``samples`` as a mono 16-bit FLAC file with its length in the header."""
    target = io.BytesIO()
    whole = np.round(samples * 32767.0).astype(np.int16)
    with av.open(target, "w", format="flac") as out:
        stream = out.add_stream("flac", rate=rate_hz, layout="mono")
        block = 4096
        for start in range(0, len(whole), block):
            part = np.ascontiguousarray(whole[None, start : start + block])
            frame = av.AudioFrame.from_ndarray(part, format="s16", layout="mono")
            frame.sample_rate = rate_hz
            frame.pts = start
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return target.getvalue()


if __name__ == "__main__":
    main()
