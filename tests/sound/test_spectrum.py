"""Power by frame: the plain form is its oracle, and memory does not grow eightfold."""

import tracemalloc

import numpy as np
import pytest

from standlight.sound.curves import momentary_lkfs
from standlight.sound.spectrum import power_by_frame
from standlight.sound.values import Recording


def plainly(samples, rate_hz, hop_s):
    """One frame after the other."""
    total = int(len(samples) / rate_hz / hop_s) + 1
    edges = np.round((np.arange(total + 1) - 0.5) * hop_s * rate_hz).astype(int)
    edges = np.clip(edges, 0, len(samples))
    squares = samples.astype(float) ** 2
    sums = [squares[a:b].sum() for a, b in zip(edges, edges[1:], strict=False)]
    return np.array(sums) / max(1.0, hop_s * rate_hz)


@pytest.mark.parametrize(
    ("seconds", "rate_hz", "hop_s"),
    [(0.0, 48_000, 0.010), (0.004, 48_000, 0.010), (8.0, 8_000, 0.010), (20.3, 22_050, 0.010),
     (9.7, 44_100, 0.002)],
)  # fmt: skip
def test_power_by_frame_is_that_of_the_plain_form_across_blocks(seconds, rate_hz, hop_s):
    samples = np.random.default_rng(1200).normal(0, 0.1, int(seconds * rate_hz))
    samples = samples.astype(np.float32)
    found = power_by_frame(samples, rate_hz, hop_s)
    np.testing.assert_allclose(found, plainly(samples, rate_hz, hop_s), rtol=1e-9, atol=1e-15)


@pytest.mark.parametrize("measure", [
    lambda recording: power_by_frame(recording.samples, recording.rate_hz, 0.010),
    momentary_lkfs,
])  # fmt: skip
def test_a_long_take_needs_no_copies_of_itself(measure):
    recording = Recording(np.zeros(120 * 48_000, np.float32), 48_000)
    tracemalloc.start()
    measure(recording)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 1.3 * recording.samples.nbytes
