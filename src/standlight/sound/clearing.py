"""Turning down what no music stands above: a soft line under a fan is heard by its own bands.

A normalised autocorrelation takes noise at any frequency for a missing period. So each band is kept
as far as what sounds there at times stands above what sounds there always: Wiener's gain (Wiener,
"Extrapolation, Interpolation, and Smoothing of Stationary Time Series", 1949), one for the whole
take, so that nothing comes and goes with it and no tone is made. It is asked only where most bands
hold noise, and believed only where much more of the take has a pitch with it: elsewhere a turned
down fundamental costs a little (8 of 4,851 starts of development seed 4501).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy import fft
from scipy.ndimage import median_filter, uniform_filter1d

from standlight.sound.pitch import PitchCandidates, pitch_candidates, pitch_path
from standlight.sound.spectrum import frames_in_blocks, hanning
from standlight.sound.values import Recording

WINDOW_S = 0.128
"""Long enough to look between the harmonics of low notes."""

ALWAYS_PERCENTILE, AT_TIMES_PERCENTILE = 10.0, 75.0
"""What sounds always, and what sounds in a quarter of the take: most pitches come more seldom, but
their harmonics fall together. Of what four soft horns play (seed 5901) .50 to .75 has a pitch, with
these two .90 to 1.00, with 90 for the second .50 to .88; on other takes next to nothing changes."""

LEVEL_PERCENTILE, LEAST_LEVEL = 30.0, 0.3
"""A gain control raises the noise under soft notes. How far it is raised in a frame the softer
cells tell, in which no harmonic lies: without this one of the four horns is no better."""

NOISE_HZ, GAIN_HZ = 250.0, 60.0
"""Noise is even over so many hertz: harmonics are narrower. The gain is smooth over so many, so
that it rings for no longer than 16 ms."""

LEAST_GAIN, FULL_SHARE = 0.3, 0.7
"""No band is turned down further than by 10 dB: noise alone has a share of about so much, so where
a held tone fills the whole take and seems to be noise, everything is turned down alike. (With 0.1
the four are the same, with 0.5 half is won.) A band with the second share of music stays whole."""

MOST_FRAMES = 200
"""Of takes of over 13 s no more moments are looked at, evenly spread: to keep the time short."""

MOSTLY_NOISE, LOW_HZ, TOP_HZ = 0.5, 50.0, 5_000.0
"""Where more than this is kept, in the mean from the second to the third, little can be won. Of the
144 faulty takes of seed 4501 15 have less, 0.41 the least; the four horns 0.36 to 0.43. What lies
higher is kept as far as the last band is."""

MORE = 1.15
"""So much more of the take must have a pitch: of those 144 the most is 1.10, of the horns 1.33."""

FEWEST_FRAMES = 9
"""Shorter takes (half a second) are left as they are."""

_TINY = 1e-20


def clear_candidates(
    recording: Recording, lowest_midi: float, highest_midi: float
) -> PitchCandidates:
    """`pitch_candidates`, with the steady background turned down where that tells much more."""
    plain = pitch_candidates(recording, lowest_midi, highest_midi)
    gain = background_gain(recording)
    if gain is None:
        return plain
    clear = pitch_candidates(recording, lowest_midi, highest_midi, gain)
    return clear if _voiced_frames(clear) >= MORE * _voiced_frames(plain) else plain


def _voiced_frames(candidates: PitchCandidates) -> int:
    """How many frames have a pitch, wherever in their range."""
    track = pitch_path(candidates, candidates.lowest_midi, candidates.highest_midi)
    return int(track.voiced.sum())


def background_gain(recording: Recording) -> Callable[[np.ndarray], np.ndarray] | None:
    """How far each of so many hertz of ``recording`` is kept, so that its background is softer.

    None for one that is not mostly noise, or shorter than half a second.
    """
    power = _power(recording)
    if len(power) < FEWEST_FRAMES:
        return None
    cell_hz = 1.0 / WINDOW_S
    gain = gain_of(power, cell_hz)
    at_hz = np.arange(len(gain)) * cell_hz
    if gain[at_hz >= LOW_HZ].mean() > MOSTLY_NOISE:
        return None
    return lambda hz: np.interp(hz, at_hz, gain)


def gain_of(power: np.ndarray, cell_hz: float) -> np.ndarray:
    """How far each cell is kept, ``LEAST_GAIN`` to 1, ``(cells,)``.

    ``power`` is by frame and cell, the cells ``cell_hz`` apart.

    >>> noise = np.random.default_rng(1).exponential(size=(400, 300))
    >>> tone = noise.copy()
    >>> tone[200:, 100:110] += 200.0  # half of the time
    >>> gain = gain_of(tone, 8.0)
    >>> float(gain[104].round(1)), float(gain[:90].max().round(1))
    (1.0, 0.3)
    """
    level = np.percentile(power / _always(power, cell_hz), LEVEL_PERCENTILE, axis=1)
    level = np.maximum(level / _of_mean(LEVEL_PERCENTILE), LEAST_LEVEL)
    power = power / level[:, None]
    always = _always(power, cell_hz)
    at_times = np.percentile(power, AT_TIMES_PERCENTILE, axis=0)
    stands = np.maximum(at_times - always, 0.0)
    share = stands / (stands + always)
    gain = LEAST_GAIN + (1.0 - LEAST_GAIN) * (share - LEAST_GAIN) / (FULL_SHARE - LEAST_GAIN)
    return uniform_filter1d(np.clip(gain, LEAST_GAIN, 1.0), _cells(GAIN_HZ, cell_hz))


def _always(power: np.ndarray, cell_hz: float) -> np.ndarray:
    """Mean power of what sounds always in each cell, ``(cells,)``."""
    always = np.percentile(power, ALWAYS_PERCENTILE, axis=0) / _of_mean(ALWAYS_PERCENTILE)
    return median_filter(always, _cells(NOISE_HZ, cell_hz)) + _TINY


def _of_mean(percentile: float) -> float:
    """A percentile of noise power in a cell over its mean: the law is exponential."""
    return float(-np.log(1.0 - percentile / 100.0))


def _cells(wide_hz: float, cell_hz: float) -> int:
    """An odd number of cells about so many hertz wide."""
    return 2 * int(wide_hz / cell_hz / 2.0) + 1


def _power(recording: Recording) -> np.ndarray:
    """Power by frame, half a window apart or more, and cell to ``TOP_HZ``, ``(frames, cells)``."""
    width = int(WINDOW_S * recording.rate_hz)
    cells = min(int(TOP_HZ * WINDOW_S), width // 2) + 1
    hop_s = max(0.5 * WINDOW_S, recording.seconds / MOST_FRAMES)
    window = hanning(width).astype(np.float32)
    blocks = frames_in_blocks(recording.samples, recording.rate_hz, width, hop_s)
    return np.concatenate(
        [np.square(np.abs(fft.rfft(frames * window, axis=1)[:, :cells])) for _, frames in blocks]
    )
