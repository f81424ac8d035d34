"""Has the phone worked on the sound? What noise suppression leaves between the notes.

Untouched background is like noise everywhere: the power of a cell of its spectrogram follows
an exponential law, so that two neighbouring cells differ by more than 20 dB in 2 of 101 pairs
(the difference of their logarithms is logistic). Noise suppression opens and closes every band
by itself, and leaves a background full of holes. So do some codecs; which of the two it was
cannot be told.
"""

from __future__ import annotations

import numpy as np

from standlight.sound.values import Recording

CELL_S = 0.0213
"""Length of a cell: 1024 samples at 48 kHz."""

BANDS_HZ = ((300.0, 3_000.0), (3_000.0, 8_000.0))
"""Bands looked at; both must have holes."""

NYQUIST_SHARE = 0.45
QUIET_SHARE, STEADY_DB = 0.30, 3.0
"""Background is what sounds in the quietest frames, where the level does not move more."""

DEAD_DB, MOST_DEAD = -95.0, 0.05
"""Frames under this hold digital silence: more of them, and the file was cut together."""

HOLE_DB = 20.0
SUPPRESSED_SHARES = (0.0265, 0.032)
"""From here on, band by band, the background is full of holes. On made takes of two development
seeds about 58 of 64 strongly processed ones and 2 or 3 of 110 from phones that suppress nothing."""

FEWEST_FRAMES, FEWEST_PAIRS = 50, 8
TELEPHONE_RATE_HZ = 16_000
"""Slower recordings end below 8 kHz: a telephone's line (ITU-T G.711 has 8 kHz, G.722 16)."""


def holes(recording: Recording) -> tuple[float, float] | None:
    """Share of neighbouring background cells that differ by more than ``HOLE_DB``, a band each.

    None for a recording that is too short, has no steady background, or holds digital silence.
    """
    size = max(int(CELL_S * recording.rate_hz), 16)
    count = len(recording.samples) // size
    if count < FEWEST_FRAMES:
        return None
    frames = recording.samples[: count * size].reshape(count, size)
    level_db = 10.0 * np.log10(np.mean(np.square(frames, dtype=np.float64), axis=1) + 1e-13)
    if np.mean(level_db < DEAD_DB) > MOST_DEAD:
        return None
    quiet = level_db < np.quantile(level_db, QUIET_SHARE)
    pairs = quiet[:-1] & quiet[1:] & (np.abs(np.diff(level_db)) < STEADY_DB)
    first = np.flatnonzero(pairs)
    if len(first) < FEWEST_PAIRS:
        return None
    used = np.unique(np.concatenate([first, first + 1]))
    spectrum = np.abs(np.fft.rfft(frames[used] * np.hanning(size), axis=1))
    cells_db = 20.0 * np.log10(np.maximum(spectrum, 1e-8))
    place = np.searchsorted(used, first)
    apart = np.abs(cells_db[place + 1] - cells_db[place]) > HOLE_DB
    hz = np.fft.rfftfreq(size, 1.0 / recording.rate_hz)
    top_hz = NYQUIST_SHARE * recording.rate_hz
    low, high = (
        float(apart[:, (hz > bottom) & (hz < min(top, top_hz))].mean()) for bottom, top in BANDS_HZ
    )
    return low, high


def is_suppressed(shares: tuple[float, float] | None) -> bool:
    """True when both bands of `holes` are full of them."""
    return shares is not None and all(
        share > limit for share, limit in zip(shares, SUPPRESSED_SHARES, strict=True)
    )
