"""Has the phone worked on the sound? What noise suppression leaves between the notes.

Untouched background is like noise everywhere: the power of a cell of its spectrogram follows
an exponential law, so that two neighbouring cells differ by more than 23 dB in 1 of 100 pairs
(the difference of their logarithms is logistic). Noise suppression opens and closes every band
by itself, and leaves a background full of holes. So do some codecs; which of the two it was
cannot be told.
"""

from __future__ import annotations

import numpy as np
from scipy import fft

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

SUPPRESSED_SHARES = ((0.0131, 0.026), (0.011, 0.035))
"""From here on, band by band, the background is full of holes: enough in both bands, or hardly more
than usual in the lower one and very many in the upper. On made takes of three development seeds
(1900 to 1902) 206 of 216 strongly processed ones (200 by 0.0131 and 0.028 alone, as before), and
none of 138 from phones that suppress nothing."""

LESS_ERRORS, BLOCK_S = 0.5, 0.25
"""The shares are believed less so much of their standard error, which stretches of this length
tell: short backgrounds are uneven. Of 192 clean takes of seed 5201 from phones that suppress
nothing one is told so, five were without it; of 200 strongly processed ones 192, before 194."""

FEWEST_FRAMES, FEWEST_PAIRS = 50, 8
MOST_PAIRS, BLOCK_PAIRS = 8_000, 500
"""So many pairs are enough for a share of a hundredth (a minute or so of music has them), and so
many are worked on at once."""

TELEPHONE_RATE_HZ = 16_000
"""Slower recordings end below 8 kHz: a telephone's line (ITU-T G.711 has 8 kHz, G.722 16)."""


def holes(recording: Recording, *, less_errors: float = 0.0) -> tuple[float, float] | None:
    """Share of neighbouring background cells that differ by more than ``HOLES_DB``, a band each.

    ``less_errors`` are as many standard errors that are taken off. None for a recording that is
    too short, has no steady background, or holds digital silence.
    """
    step = max(int(CELL_S * recording.rate_hz) // STEPS, 4)
    size = step * STEPS
    if len(recording.samples) < FEWEST_FRAMES * size:
        return None
    frames = np.lib.stride_tricks.sliding_window_view(recording.samples, size)[::step]
    level_db = 10.0 * np.log10(_power(recording.samples, step) + 1e-13)
    if np.mean(level_db < DEAD_DB) > MOST_DEAD:
        return None
    quiet = level_db < np.quantile(level_db, QUIET_SHARE)
    steady = np.abs(level_db[STEPS:] - level_db[:-STEPS]) < STEADY_DB
    first = np.flatnonzero(quiet[:-STEPS] & quiet[STEPS:] & steady)
    if len(first) < FEWEST_PAIRS * STEPS:
        return None
    first = first[:: -(-len(first) // MOST_PAIRS)]
    hz = np.fft.rfftfreq(size, 1.0 / recording.rate_hz)
    top_hz = NYQUIST_SHARE * recording.rate_hz
    bands = [(hz > bottom) & (hz < min(top, top_hz)) for bottom, top in BANDS_HZ]
    found = np.zeros((len(first), len(bands)))
    for begin in range(0, len(first), BLOCK_PAIRS):
        here = first[begin : begin + BLOCK_PAIRS]
        after, before = _cells(frames[here + STEPS]), _cells(frames[here])
        for place, (band, hole_db) in enumerate(zip(bands, HOLES_DB, strict=True)):
            deep = np.abs(_db(after[:, band]) - _db(before[:, band])) > hole_db
            found[begin : begin + BLOCK_PAIRS, place] = deep.sum(axis=1) / max(int(band.sum()), 1)
    stretches = first * step // max(int(BLOCK_S * recording.rate_hz), 1)
    low, high = (found.mean(axis=0) - less_errors * _error(found, stretches)).tolist()
    return low, high


def _error(found: np.ndarray, stretches: np.ndarray) -> np.ndarray:
    """Standard error of the mean of ``found`` ``(pairs, bands)``, alike within ``stretches``.

    That of a ratio of sums over the stretches (Cochran 1977, from memory), ``(bands,)``.

    >>> alone = _error(np.array([[0.0], [1.0], [0.0], [1.0]]), np.arange(4))
    >>> together = _error(np.array([[0.0], [0.0], [1.0], [1.0]]), np.array([0, 0, 1, 1]))
    >>> round(float(alone[0]), 2), round(float(together[0]), 2)
    (0.25, 0.35)
    """
    apart = found - found.mean(axis=0)
    _, place = np.unique(stretches, return_inverse=True)
    sums = np.zeros((int(place.max()) + 1, found.shape[1]))
    np.add.at(sums, place, apart)
    return np.sqrt((sums**2).sum(axis=0)) / len(found)


def _cells(frames: np.ndarray) -> np.ndarray:
    """Spectrum of every one of ``frames``, shape ``(frames, cells)``, complex."""
    window = np.hanning(frames.shape[1]).astype(np.float32)
    return fft.rfft(frames * window, axis=1)


def _db(cells: np.ndarray) -> np.ndarray:
    """Level of each of ``cells`` in decibel, the same shape."""
    return 20.0 * np.log10(np.maximum(np.abs(cells), 1e-8))


def _power(samples: np.ndarray, step: int) -> np.ndarray:
    """Mean square of every window of ``STEPS`` steps, a step apart, ``(windows,)``."""
    pieces = samples[: len(samples) // step * step].reshape(-1, step)
    sums = np.concatenate([[0.0], np.cumsum(np.einsum("ij,ij->i", pieces, pieces, dtype=float))])
    return (sums[STEPS:] - sums[:-STEPS]) / (STEPS * step)


def is_suppressed(shares: tuple[float, float] | None) -> bool:
    """True when the bands of `holes` are full of them."""
    return shares is not None and any(
        all(share > limit for share, limit in zip(shares, limits, strict=True))
        for limits in SUPPRESSED_SHARES
    )
