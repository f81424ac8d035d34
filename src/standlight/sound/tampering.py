"""Has the phone worked on the sound? What noise suppression leaves between the notes.

Untouched background is like noise everywhere: the power of a cell of its spectrogram follows
an exponential law, so that two neighbouring cells differ by more than 23 dB in 1 of 100 pairs
(the difference of their logarithms is logistic). Noise suppression opens and closes every band
by itself, and leaves a background full of holes. So do some codecs; which of the two it was
cannot be told.
"""

from __future__ import annotations

import numpy as np

from standlight.sound.values import Recording

CELL_S = 0.0213
"""Length of a cell: 1024 samples at 48 kHz."""

STEPS = 4
"""Cells are taken every quarter of their length, and compared a whole length apart: more pairs
tell a share of a hundredth more exactly."""

BANDS_HZ = ((300.0, 1_500.0), (3_000.0, 8_000.0))
"""Bands looked at; both must have holes. Codecs shut bands above 1.5 kHz, so the lower one says
most."""

NYQUIST_SHARE = 0.45
QUIET_SHARE, STEADY_DB = 0.30, 3.0
"""Background is what sounds in the quietest frames, where the level does not move more."""

DEAD_DB, MOST_DEAD = -95.0, 0.05
"""Frames under this hold digital silence: more of them, and the file was cut together."""

HOLES_DB = (23.0, 20.0)
USUAL_SHARES = tuple(2.0 / (1.0 + 10.0 ** (hole_db / 10.0)) for hole_db in HOLES_DB)
"""What so deep holes there are without any processing, band by band: 0.010 and 0.020."""

SUPPRESSED_SHARES = (0.0133, 0.025)
"""From here on, band by band, the background is full of holes. On made takes of two development
seeds 78 of 80 strongly processed ones and none of 140 from phones that suppress nothing."""

FEWEST_FRAMES, FEWEST_PAIRS = 50, 8
TELEPHONE_RATE_HZ = 16_000
"""Slower recordings end below 8 kHz: a telephone's line (ITU-T G.711 has 8 kHz, G.722 16)."""


def holes(recording: Recording) -> tuple[float, float] | None:
    """Share of neighbouring background cells that differ by more than ``HOLES_DB``, a band each.

    None for a recording that is too short, has no steady background, or holds digital silence.
    """
    size = max(int(CELL_S * recording.rate_hz), 16)
    if len(recording.samples) < FEWEST_FRAMES * size:
        return None
    frames = np.lib.stride_tricks.sliding_window_view(recording.samples, size)[:: size // STEPS]
    level_db = 10.0 * np.log10(_power(recording.samples, size) + 1e-13)
    if np.mean(level_db < DEAD_DB) > MOST_DEAD:
        return None
    quiet = level_db < np.quantile(level_db, QUIET_SHARE)
    steady = np.abs(level_db[STEPS:] - level_db[:-STEPS]) < STEADY_DB
    first = np.flatnonzero(quiet[:-STEPS] & quiet[STEPS:] & steady)
    if len(first) < FEWEST_PAIRS * STEPS:
        return None
    used = np.unique(np.concatenate([first, first + STEPS]))
    spectrum = np.abs(np.fft.rfft(frames[used] * np.hanning(size).astype(np.float32), axis=1))
    cells_db = 20.0 * np.log10(np.maximum(spectrum, 1e-8))
    place = np.searchsorted(used, first)
    apart_db = np.abs(cells_db[np.searchsorted(used, first + STEPS)] - cells_db[place])
    hz = np.fft.rfftfreq(size, 1.0 / recording.rate_hz)
    top_hz = NYQUIST_SHARE * recording.rate_hz
    low, high = (
        float(np.mean(apart_db[:, (hz > bottom) & (hz < min(top, top_hz))] > hole_db))
        for (bottom, top), hole_db in zip(BANDS_HZ, HOLES_DB, strict=True)
    )
    return low, high


def _power(samples: np.ndarray, size: int) -> np.ndarray:
    """Mean square of every window of ``size`` samples, a quarter of that apart, ``(windows,)``."""
    sums = np.concatenate([[0.0], np.cumsum(np.square(samples, dtype=np.float64))])
    return (sums[size:] - sums[:-size])[:: size // STEPS] / size


def is_suppressed(shares: tuple[float, float] | None) -> bool:
    """True when both bands of `holes` are full of them."""
    return shares is not None and all(
        share > limit for share, limit in zip(shares, SUPPRESSED_SHARES, strict=True)
    )
