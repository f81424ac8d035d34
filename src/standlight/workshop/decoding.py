"""Decode what phones and browsers record, in a child process with limits.

The parent's functions, ``decode``, ``playback_copy`` and ``decode_with_copy``, hand bytes
to this very module run as the child's tool. The child lets only named containers and audio
codecs through, averages the channels itself (FFmpeg's own downmix adds 3 dB), counts
samples (a container's duration cannot be trusted) and stops at ``LONGEST_S``. A video's
picture is never decoded. A file that breaks off gives its readable beginning.
"""

from __future__ import annotations

import io
import json
import struct
import sys
from typing import Any

import numpy as np

from standlight.errors import UnreadableTake
from standlight.sound.values import Recording
from standlight.workshop.child import Limits, refuse, run_child

LONGEST_S = 600.0
"""Longest take: ten minutes; a playing check lasts 15 to 60 s (check.len, trade table)."""

LARGEST_BYTES = 200_000_000
"""Largest file taken: ten minutes of 48 kHz stereo 24-bit WAV are 173 MB."""

HIGHEST_RATE_HZ = 48_000
"""Faster recordings are resampled to this; nothing above 20 kHz is read."""

CONTAINERS = ("mov,mp4,m4a,3gp,3g2,mj2", "matroska,webm", "ogg", "wav", "flac", "mp3", "aac",
              "aiff", "caf", "w64", "amr")  # fmt: skip
"""Containers let through, by FFmpeg's names."""

CODECS = ("opus", "libopus", "vorbis", "libvorbis", "aac", "mp3", "mp3float", "flac", "alac",
          "pcm_s16le", "pcm_s24le", "pcm_s32le", "pcm_u8", "pcm_f32le", "pcm_f64le", "pcm_s16be",
          "pcm_s24be", "pcm_mulaw", "pcm_alaw", "amrnb", "amrwb", "amr_nb", "amr_wb")  # fmt: skip
"""Audio codecs let through, by FFmpeg's names."""

MOST_BROKEN_PACKETS = 20
"""After so many undecodable packets the rest of a file is given up (our choice)."""

_LIMITS = Limits(
    memory_bytes=2_000_000_000, cpu_seconds=60, file_bytes=256_000_000, wall_seconds=90.0
)
_HEAD = struct.Struct("<II")
_ADVICE = "Save it again as WAV, MP3 or M4A, or record it on the page."


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


def _ask(take: bytes, wanted: str) -> tuple[Recording, bytes]:
    """Refuse what needs no decoder to refuse, then run the child and read its answer."""
    if not take:
        raise UnreadableTake("the file is empty", slip="was the upload cut off?")
    if _looks_like_text(take):
        raise UnreadableTake(
            "this is a text file, not a recording", slip="renamed, or the wrong file?"
        )
    if len(take) > LARGEST_BYTES:
        raise UnreadableTake(
            f"the file has {len(take) / 1e6:.0f} MB, more than {LARGEST_BYTES / 1e6:.0f} MB",
            slip="the whole rehearsal instead of the passage?",
        )
    answer = run_child(
        "decoding", take, arguments=[wanted], limits=_LIMITS, refusal=UnreadableTake
    )
    facts_bytes, samples_bytes = _HEAD.unpack_from(answer)
    start = _HEAD.size + facts_bytes
    facts = json.loads(answer[_HEAD.size : start])
    samples = np.frombuffer(answer, dtype="<f4", count=samples_bytes // 4, offset=start)
    return Recording(samples=samples, **facts), answer[start + samples_bytes :]


def _looks_like_text(take: bytes) -> bool:
    """True when the first kilobyte is printable text in UTF-8 or Latin letters."""
    head = take[:1024]
    printable = sum(byte in b"\t\n\r" or 32 <= byte < 127 for byte in head)
    return printable > 0.95 * len(head)


def _child(wanted: str) -> None:
    """The tool itself: standard input to facts, samples and copy on standard output."""
    import av  # only the child carries the foreign machinery

    av.logging.set_level(None)
    take = sys.stdin.buffer.read()
    options = {
        "format_whitelist": ",".join(CONTAINERS),
        "codec_whitelist": ",".join(CODECS),
        "protocol_whitelist": "",
    }
    try:
        container = av.open(io.BytesIO(take), options=options, metadata_errors="ignore")
    except (av.FFmpegError, ValueError):
        refuse(
            "this file is not a recording this tool can read"
            f" (damaged, cut off at the start, or another kind of file?). {_ADVICE}"
        )
    with container:
        if not container.streams.audio:
            refuse("there is no sound in this file (was the microphone off in the video?)")
        stream = container.streams.audio[0]
        if stream.codec_context is None or stream.codec_context.name not in CODECS:
            refuse(f"the sound in this file is of a kind this tool does not read. {_ADVICE}")
        samples, rate_hz, channels, damaged = _samples_of(container, stream, av)
        facts = {
            "rate_hz": rate_hz,
            "container": container.format.name.split(",")[0],
            "codec": stream.codec_context.name,
            "channels": channels,
            "picture_dropped": any(
                not video.disposition & video.disposition.attached_pic
                for video in container.streams.video
            ),
            "damaged": damaged,
        }
    if not len(samples):
        refuse("there is no sound in this file, only an empty beginning (was it cut off?)")
    copy = _flac(samples, rate_hz, av) if wanted in ("copy", "both") else b""
    raw = b"" if wanted == "copy" else samples.astype("<f4").tobytes()
    head = json.dumps(facts).encode()
    out = sys.stdout.buffer
    for piece in (_HEAD.pack(len(head), len(raw)), head, raw, copy):
        out.write(piece)
    out.flush()


def _samples_of(container: Any, stream: Any, av: Any) -> tuple[np.ndarray, int, int, bool]:
    """Mono float32 samples, their rate, the channels there were, and whether it broke off."""
    resampler, pieces, count, broken, channels, rate_hz = None, [], 0, 0, 1, 0
    packets = container.demux(stream)
    while True:
        try:
            packet = next(packets)
            frames = packet.decode()
        except StopIteration:
            break
        except av.FFmpegError:
            broken += 1
            if broken > MOST_BROKEN_PACKETS:
                break
            continue
        for frame in frames:
            if resampler is None:
                rate_hz = min(frame.sample_rate, HIGHEST_RATE_HZ)
                channels = len(frame.layout.channels)
                resampler = av.AudioResampler("fltp", frame.layout, rate_hz)
            for same in resampler.resample(frame):
                pieces.append(_mono(same.to_ndarray()))
                count += len(pieces[-1])
        if rate_hz and count > LONGEST_S * rate_hz:
            refuse(
                f"the recording is longer than {LONGEST_S / 60:.0f} minutes"
                " (the whole rehearsal instead of the passage?)"
            )
    if resampler is not None:
        pieces.extend(_mono(rest.to_ndarray()) for rest in resampler.resample(None))
    samples = np.concatenate(pieces) if pieces else np.zeros(0, dtype=np.float32)
    finite = np.nan_to_num(samples, nan=0.0, posinf=1.0, neginf=-1.0)
    return np.clip(finite, -1.0, 1.0).astype(np.float32), rate_hz, channels, broken > 0


def _mono(planes: np.ndarray) -> np.ndarray:
    """The average of the channels, shape ``(samples,)``, from ``(channels, samples)``."""
    return planes.mean(axis=0, dtype=np.float32)


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
    _child(sys.argv[1])
