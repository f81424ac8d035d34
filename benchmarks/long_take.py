"""How long forty minutes from a class device take: listened through, and cut into 40 takes.

Run: ``PYTHONPATH=src python benchmarks/long_take.py [minutes]``. A stereo AAC file at 44.1 kHz, as
a phone makes; both run in a child of the workshop. Prints the child's seconds of
processor (a wall clock tells little on a busy machine) and its largest memory, and as the peer
what decoding the same file alone costs.
"""

from __future__ import annotations

import io
import os
import resource
import sys
import time

import av
import numpy as np

sys.path.insert(0, os.getcwd())

from benchmarks.machine import machine
from standlight.workshop.long_takes import cut_spans, read_long_take

RATE_HZ = 44_100
TAKE_S, PAUSE_S = 48, 12


def made(minutes: float) -> bytes:
    """Tones and pauses, a take a minute, as stereo AAC."""
    chance = np.random.default_rng(5)
    time_s = np.arange(TAKE_S * RATE_HZ) / RATE_HZ
    target = io.BytesIO()
    with av.open(target, "w", format="mp4") as out:
        stream = out.add_stream("aac", rate=RATE_HZ, layout="stereo")
        at = 0
        for _ in range(round(minutes)):
            tone = 0.3 * np.sin(2 * np.pi * chance.uniform(200, 600) * time_s)
            whole = np.concatenate([tone, np.zeros(PAUSE_S * RATE_HZ)])
            whole = (whole + chance.normal(0, 1e-3, len(whole))).astype(np.float32)
            for start in range(0, len(whole), 1024):
                block = np.ascontiguousarray(np.stack([whole[start : start + 1024]] * 2))
                frame = av.AudioFrame.from_ndarray(block, format="fltp", layout="stereo")
                frame.sample_rate, frame.pts = RATE_HZ, at
                at += block.shape[1]
                out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return target.getvalue()


def _child_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main(minutes: float = 40) -> None:
    """Print what both steps take."""
    sys.stdout.write(f"{machine()}\n")
    given = made(minutes)
    start = time.process_time()
    with av.open(io.BytesIO(given)) as container:
        count = sum(frame.samples for frame in container.decode(audio=0))
    alone_s = time.process_time() - start
    start = _child_s()
    long = read_long_take(given)
    read_s = _child_s() - start
    start = _child_s()
    pieces = cut_spans(long.copy, [(span.start_s, span.end_s) for span in long.spans])
    cut_s = _child_s() - start
    memory = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    sys.stdout.write(
        f"{minutes:g} minutes ({len(given) / 1e6:.0f} MB, copy {len(long.copy) / 1e6:.0f} MB):"
        f" listened through in {read_s:.1f} s of processor, {len(long.spans)} parts;"
        f" {len(pieces)} takes cut in {cut_s:.1f} s; the child held {memory:.0f} MB at most.\n"
        f"peer: decoding the same {count / RATE_HZ / 60:.0f} minutes alone {alone_s:.1f} s\n"
    )


if __name__ == "__main__":
    main(*map(float, sys.argv[1:]))
