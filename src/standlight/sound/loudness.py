"""Loudness by ITU-R BS.1770: K-weighting, blocks of 400 ms, absolute and relative gate.

The filter is the standard's two stages. Its coefficients are printed for 48 kHz; at other
rates they are made from the analogue prototype whose constants reproduce the printed ones
(they are those of the open meters in common use, here from memory; the check values of the
trade table hold: -3.01 LKFS for a full-scale 997 Hz sine, and the gain at four frequencies).
"""

from __future__ import annotations

from weakref import WeakKeyDictionary

import numpy as np

from standlight.sound.spectrum import filtered, power_by_frame
from standlight.sound.values import HOP_S, Recording

OFFSET_DB = -0.691
"""BS.1770: loudness is -0.691 + 10 log10 of the K-weighted mean square."""

ABSOLUTE_GATE_LKFS = -70.0
"""BS.1770-2 and later: blocks below are silence."""

RELATIVE_GATE_LU = -10.0
"""BS.1770-2 and later: blocks this far below the first mean are left out."""

_SHELF = (1681.974450955533, 3.999843853973347, 0.7071752369554196)
_SHELF_BAND = 0.4996667741545416
_HIGH_PASS = (38.13547087602444, 0.5003270373238773)
_FLOOR_POWER = 1e-12
_KNOWN: WeakKeyDictionary[Recording, np.ndarray] = WeakKeyDictionary()


def k_response(frequencies_hz: np.ndarray, rate_hz: int) -> np.ndarray:
    """Complex gain of the K-weighting at ``frequencies_hz`` for signals at ``rate_hz``.

    >>> gain = np.abs(k_response(np.array([1000.0]), 48_000))[0]
    >>> round(float(20 * np.log10(gain)), 2)
    0.7
    """
    delay = np.exp(-2j * np.pi * np.asarray(frequencies_hz) / rate_hz)
    corner_hz, gain_db, quality = _SHELF
    k = np.tan(np.pi * corner_hz / rate_hz)
    high = 10.0 ** (gain_db / 20.0)
    band = high**_SHELF_BAND
    shelf = (
        (high + band * k / quality + k * k)
        + 2.0 * (k * k - high) * delay
        + (high - band * k / quality + k * k) * delay**2
    ) / _poles(k, quality, delay)
    corner_hz, quality = _HIGH_PASS
    k = np.tan(np.pi * corner_hz / rate_hz)
    norm = 1.0 + k / quality + k * k
    high_pass = norm * (1.0 - delay) ** 2 / _poles(k, quality, delay)
    return shelf * high_pass


def _poles(k: float, quality: float, delay: np.ndarray) -> np.ndarray:
    """Denominator of a second-order stage after the bilinear transform."""
    return (
        (1.0 + k / quality + k * k)
        + 2.0 * (k * k - 1.0) * delay
        + (1.0 - k / quality + k * k) * delay**2
    )


def k_power(recording: Recording) -> np.ndarray:
    """K-weighted mean square by frame of ``HOP_S``, shape ``(frames,)``, not to be written to.

    Worked out once for a recording, and forgotten with it: verdicts and notes both ask.
    """
    known = _KNOWN.get(recording)
    if known is None:
        rate_hz = recording.rate_hz
        weighted = filtered(recording.samples, rate_hz, lambda hz: k_response(hz, rate_hz))
        known = power_by_frame(weighted, rate_hz, HOP_S)
        known.flags.writeable = False
        _KNOWN[recording] = known
    return known


def loudness_lkfs(power: np.ndarray) -> float:
    """Ungated loudness of frames of K-weighted ``power``, at least -120 LKFS."""
    mean = float(np.mean(power)) if len(power) else 0.0
    return OFFSET_DB + 10.0 * float(np.log10(max(mean, _FLOOR_POWER)))


def integrated_lkfs(power: np.ndarray) -> float | None:
    """Gated loudness of a whole take from `k_power`; None when every block is silence."""
    width, step = round(0.400 / HOP_S), round(0.100 / HOP_S)
    if len(power) < width:
        blocks = np.array([power.mean()]) if len(power) else np.zeros(0)
    else:
        sums = np.concatenate([[0.0], np.cumsum(power)])
        starts = np.arange(0, len(power) - width + 1, step)
        blocks = (sums[starts + width] - sums[starts]) / width
    levels = OFFSET_DB + 10.0 * np.log10(np.maximum(blocks, _FLOOR_POWER))
    heard = levels > ABSOLUTE_GATE_LKFS
    if not heard.any():
        return None
    gate = loudness_lkfs(blocks[heard]) + RELATIVE_GATE_LU
    return loudness_lkfs(blocks[heard & (levels > gate)])
