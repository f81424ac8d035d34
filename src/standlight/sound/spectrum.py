"""Cutting a signal into frames and filtering it by its spectrum, in bounded memory."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import lru_cache

import numpy as np
from scipy import fft

from standlight.sound.values import HOP_S

BLOCK_FRAMES = 200
"""Frames worked on at once (2 s), so that memory does not grow with the take and what is worked
on stays near the processor: four times as many took half as long again."""
_FILTER_BLOCK = 1 << 18
_FILTER_OVERLAP = 1 << 14


def frames_in_blocks(
    samples: np.ndarray, rate_hz: float, width: int, hop_s: float = HOP_S
) -> Iterator[tuple[int, np.ndarray]]:
    """Yield ``(first frame, frames)``, frames of shape ``(n, width)`` centred on each hop.

    Beyond the ends the signal is zero. The frames are views: copy before writing.
    """
    total = int(len(samples) / rate_hz / hop_s) + 1
    half = width // 2
    for first in range(0, total, BLOCK_FRAMES):
        last = min(first + BLOCK_FRAMES, total)
        centres = np.round(np.arange(first, last) * hop_s * rate_hz).astype(int)
        begin, end = centres[0] - half, centres[-1] - half + width
        piece = np.zeros(end - begin, dtype=np.float32)
        low, high = max(begin, 0), min(end, len(samples))
        piece[low - begin : high - begin] = samples[low:high]
        windows = np.lib.stride_tricks.sliding_window_view(piece, width)
        yield first, windows[centres - half - begin]


@lru_cache(maxsize=64)
def hanning(width: int) -> np.ndarray:
    """The window of ``width`` samples that every note of its length is looked at through.

    >>> [round(float(one), 2) for one in hanning(5)]
    [0.0, 0.5, 1.0, 0.5, 0.0]
    """
    window = np.hanning(width)
    window.flags.writeable = False
    return window


def filtered(
    samples: np.ndarray, rate_hz: int, response: Callable[[np.ndarray], np.ndarray]
) -> np.ndarray:
    """``samples`` through a filter given as ``response(frequencies_hz) -> complex gain``.

    Overlap-save in blocks; the filter's ringing must die within ``_FILTER_OVERLAP`` samples
    (0.34 s at 48 kHz). Shape and type as ``samples``.
    """
    out = np.empty_like(samples)
    size = _FILTER_BLOCK
    if len(samples) + _FILTER_OVERLAP < size:
        size = 1 << int(np.ceil(np.log2(len(samples) + _FILTER_OVERLAP)))
    step = size - _FILTER_OVERLAP
    gains = response(np.fft.rfftfreq(size, 1.0 / rate_hz)).astype(np.complex64)
    for start in range(0, len(samples), step):
        begin = start - _FILTER_OVERLAP
        piece = np.zeros(size, dtype=np.float32)
        part = samples[max(begin, 0) : start + step]
        piece[max(begin, 0) - begin : max(begin, 0) - begin + len(part)] = part
        wave = fft.irfft(fft.rfft(piece) * gains, n=size)
        end = min(start + step, len(samples))
        out[start:end] = wave[_FILTER_OVERLAP : _FILTER_OVERLAP + end - start]
    return out


def power_by_frame(samples: np.ndarray, rate_hz: int, hop_s: float) -> np.ndarray:
    """Mean square of the samples within half a hop of each frame, shape ``(frames,)``."""
    total = int(len(samples) / rate_hz / hop_s) + 1
    edges = np.round((np.arange(total + 1) - 0.5) * hop_s * rate_hz).astype(int)
    edges = np.clip(edges, 0, len(samples))
    power = np.empty(total)
    for first in range(0, total, BLOCK_FRAMES):
        inside = edges[first : first + BLOCK_FRAMES + 1]
        square = np.square(samples[inside[0] : inside[-1]], dtype=np.float64)
        square = np.append(square, 0.0)  # where the last frames lie beyond the end
        sums = np.add.reduceat(square, inside[:-1] - inside[0])
        power[first : first + BLOCK_FRAMES] = np.where(inside[1:] > inside[:-1], sums, 0.0)
    return power / max(1.0, hop_s * rate_hz)
