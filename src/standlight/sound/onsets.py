"""Evidence that something starts: rising energy in log-spaced bands, pitch change, voice start.

The spectral part is the flux of a logarithmic filterbank with a maximum filter over
neighbouring bands, which keeps vibrato from looking like onsets (Boeck & Widmer, "Maximum
filter vibrato suppression for onset detection", DAFx 2013).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import fft

from standlight.sound.spectrum import frames_in_blocks, power_by_frame
from standlight.sound.values import HOP_S, PitchTrack, Recording

WINDOW_S = 0.030
"""Length of the analysis window for evidence at ``HOP_S``."""

STROKE_HOP_S = 0.003
"""Hop for strokes: 128 samples at 44.1 kHz."""

STROKE_WINDOW_S = 0.012
USUAL_RMS = 0.03
"""Level to which a take is brought first (our choice, within what phones record)."""

TELLING_WINDOW_S, TELLING_FROM_HZ = 0.030, 150.0
"""Window and lowest band that tell a stroke from ripple (development seed 1500: nine in ten
false strokes of kettles are gone at the same recall)."""

RIPPLE_S = 0.080
"""What moves as much within this time to both sides is ripple and no stroke (the same)."""

_BEFORE_FRAMES, _AFTER_FRAMES = 4, 5
"""Where around the longer window's peak the fine one is looked for (12 and 15 ms)."""

STROKE_FROM = 0.05
"""Weakest stroke, as a share of the loud strokes' flux (seed 1500: 99 in 100 are stronger)."""

LOUD_STROKES = 5
"""The median of so many highest peaks is a loud stroke: one knock on the stand is not."""

SHORTEST_STROKE_GAP_S = 0.035
"""Two strokes closer than this are one flam (common practice, no source)."""

BANDS_AN_OCTAVE = 12
LOWEST_BAND_HZ = 60.0
HIGHEST_BAND_HZ = 14_000.0
COMPRESSION = 1_000.0
"""Magnitudes are taken as log10(1 + COMPRESSION * magnitude)."""

BRIGHT_FROM_HZ = 2_500.0
"""Bands from here on are bright: above the first harmonics, where bows and tongues make noise."""

PEAK_FRAMES = 5
"""A peak of the flux is the highest within so many frames to both sides."""

PITCH_STEP_SEMITONES = 0.6
"""A change of pitch this large within ``_STEP_FRAMES`` is evidence of a new note."""

_STEP_FRAMES = 3


@dataclass(frozen=True, slots=True, eq=False)
class Signs:
    """What the sound alone says, whatever pitch it has, all ``(frames,)`` every ``HOP_S``.

    ``sudden`` is evidence 0..1 that a note starts, ``bright`` the mean log energy of the bright
    bands, ``level_db`` the mean power.
    """

    sudden: np.ndarray
    bright: np.ndarray
    level_db: np.ndarray


def spectral_flux(
    recording: Recording, hop_s: float, window_s: float, lowest_hz: float = LOWEST_BAND_HZ
) -> np.ndarray:
    """Half-wave rectified change of log band energy by frame of ``hop_s``, shape ``(frames,)``."""
    return _flux_and_bright(recording, hop_s, window_s, lowest_hz)[0]


def _flux_and_bright(
    recording: Recording, hop_s: float, window_s: float, lowest_hz: float = LOWEST_BAND_HZ
) -> tuple[np.ndarray, np.ndarray]:
    """`spectral_flux`, and the mean log energy of the bright bands, both ``(frames,)``."""
    rate_hz = recording.rate_hz
    width = int(round(window_s * rate_hz))
    size = 1 << int(np.ceil(np.log2(width)))
    window = np.hanning(width).astype(np.float32)
    bank = _filterbank(rate_hz, size, lowest_hz)
    is_bright = bank.argmax(axis=0) * rate_hz / size > BRIGHT_FROM_HZ
    lag = max(1, int(round(0.5 * window_s / hop_s)))
    kept = np.zeros((lag, bank.shape[1]), dtype=np.float32)
    pieces, bright = [], []
    for _, frames in frames_in_blocks(recording.samples, rate_hz, width, hop_s):
        magnitude = np.abs(fft.rfft(frames * window, n=size, axis=1)).astype(np.float32)
        bands = np.log10(1.0 + COMPRESSION * (magnitude @ bank) / width)
        bands = np.concatenate([kept, bands])
        before = bands[:-lag]
        widest = before.copy()
        widest[:, 1:] = np.maximum(widest[:, 1:], before[:, :-1])
        widest[:, :-1] = np.maximum(widest[:, :-1], before[:, 1:])
        pieces.append(np.maximum(bands[lag:] - widest, 0.0).sum(axis=1))
        bright.append(bands[lag:, is_bright].sum(axis=1) / max(int(is_bright.sum()), 1))
        kept = bands[-lag:]
    return np.concatenate(pieces), np.concatenate(bright)


def _filterbank(rate_hz: int, size: int, lowest_hz: float) -> np.ndarray:
    """Triangular bands of a fraction of an octave, ``(bins, bands)``, without empty ones."""
    highest = min(HIGHEST_BAND_HZ, 0.45 * rate_hz)
    count = int(BANDS_AN_OCTAVE * np.log2(highest / lowest_hz))
    centres = lowest_hz * 2.0 ** (np.arange(count + 1) / BANDS_AN_OCTAVE)
    bins = np.unique(np.round(centres * size / rate_hz).astype(int))
    bank = np.zeros((size // 2 + 1, len(bins) - 2), dtype=np.float32)
    for band in range(len(bins) - 2):
        low, middle, high = bins[band : band + 3]
        bank[low : middle + 1, band] = np.linspace(0.0, 1.0, middle - low + 1)
        bank[middle : high + 1, band] = np.linspace(1.0, 0.0, high - middle + 1)
    return bank


def normalised(flux: np.ndarray, notes: int) -> np.ndarray:
    """Flux scaled to 0..1: its 60th percentile to 0, a usual start of one of ``notes`` to 1.

    A usual start is the 98th percentile, or the middle one of so many highest peaks where that
    is more: in a take of few long notes the percentile is noise.
    """
    if not len(flux):
        return flux
    floor, top = np.percentile(flux, [60, 98])
    padded = np.pad(flux, PEAK_FRAMES)
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * PEAK_FRAMES + 1)
    peaks = np.sort(flux[flux >= around.max(axis=1)])[::-1]
    top = max(top, peaks[min(notes // 2, len(peaks) - 1)])
    return np.clip((flux - floor) / max(top - floor, 1e-6), 0.0, 1.0)


def signs_of(recording: Recording, notes: int) -> Signs:
    """What the sound alone says of where one of ``notes`` starts."""
    flux, bright = _flux_and_bright(recording, HOP_S, WINDOW_S)
    power = power_by_frame(recording.samples, recording.rate_hz, HOP_S)
    frames = min(len(flux), len(power))
    level_db = 10.0 * np.log10(np.maximum(power[:frames], 1e-12))
    return Signs(normalised(flux, notes)[:frames], bright[:frames], level_db)


def onset_evidence(signs: Signs, track: PitchTrack) -> np.ndarray:
    """Evidence 0..1 that a note starts at each frame, shape ``(frames,)``.

    A change of pitch adds to that of the sound alone.
    """
    frames = min(len(signs.sudden), len(track.midi))
    evidence = signs.sudden[:frames].copy()
    voiced, midi = track.voiced[:frames], track.midi[:frames]
    starts = np.zeros(frames)
    starts[1:] = voiced[1:] & ~voiced[:-1]
    changes = np.zeros(frames)
    ahead, behind = midi[2 * _STEP_FRAMES :], midi[: -2 * _STEP_FRAMES]
    both = voiced[2 * _STEP_FRAMES :] & voiced[: -2 * _STEP_FRAMES]
    step = np.where(both, np.abs(ahead - behind), 0.0)
    changes[_STEP_FRAMES:-_STEP_FRAMES] = np.clip(step / PITCH_STEP_SEMITONES - 0.5, 0.0, 1.0)
    return np.maximum(evidence, np.maximum(0.8 * starts, 0.8 * changes))


def stroke_onsets(recording: Recording) -> tuple[np.ndarray, np.ndarray]:
    """Starts of strokes: times in seconds and strengths 0..1, both ``(strokes,)``.

    Whether there is a stroke is read from a longer window, in which a kettle's low waves and
    the beating of what rings on hardly move; what always moves there (the local median) is
    taken off. Strengths are shares of the loud strokes' flux. When it began is read from the
    fine flux, whose peak is traced back to where its rise starts. Weak ones, down to
    ``STROKE_FROM``, may be false: only a written place in time can tell.
    """
    levelled = _levelled(recording)
    fine = _without_start(spectral_flux(levelled, STROKE_HOP_S, STROKE_WINDOW_S), STROKE_WINDOW_S)
    coarse = spectral_flux(levelled, STROKE_HOP_S, TELLING_WINDOW_S, TELLING_FROM_HZ)
    flux = _above_median(_without_start(coarse, TELLING_WINDOW_S))
    reach = int(round(0.030 / STROKE_HOP_S))
    around = np.lib.stride_tricks.sliding_window_view(
        np.pad(flux, reach, mode="edge"), 2 * reach + 1
    )
    highest = np.flatnonzero((flux == around.max(axis=1)) & (flux > 0.0))
    if not len(highest):
        return np.zeros(0), np.zeros(0)
    level = np.minimum(flux / float(np.median(np.sort(flux[highest])[-LOUD_STROKES:])), 1.0)
    times: list[float] = []
    strengths: list[float] = []
    for peak in highest[level[highest] > STROKE_FROM]:
        start_s = STROKE_HOP_S * _start_of_rise(fine, int(peak), reach)
        if not times or start_s - times[-1] >= SHORTEST_STROKE_GAP_S:
            times.append(start_s)
            strengths.append(float(level[peak]))
    return np.array(times), np.array(strengths)


def _levelled(recording: Recording) -> Recording:
    """The recording at a usual level, so that the compression of bands treats all takes alike."""
    rms = float(np.sqrt(np.mean(np.square(recording.samples, dtype=np.float64))))
    if rms <= 0.0:
        return recording
    return replace(recording, samples=(recording.samples * (USUAL_RMS / rms)).astype(np.float32))


def _without_start(flux: np.ndarray, window_s: float) -> np.ndarray:
    """``flux`` without its first window: a file's own start is no stroke, nothing rises there."""
    flux[: int(round(window_s / STROKE_HOP_S))] = 0.0
    return flux


def _above_median(flux: np.ndarray) -> np.ndarray:
    """What of ``flux`` lies above its median over ``RIPPLE_S`` to both sides, same shape."""
    reach = int(round(RIPPLE_S / STROKE_HOP_S))
    around = np.lib.stride_tricks.sliding_window_view(
        np.pad(flux, reach, mode="edge"), 2 * reach + 1
    )
    return np.maximum(flux - np.median(around, axis=1), 0.0)


def _start_of_rise(fine: np.ndarray, near: int, reach: int) -> int:
    """Frame where the rise begins whose fine flux is highest around frame ``near``."""
    first = max(near - _BEFORE_FRAMES, 0)
    peak = first + int(fine[first : near + _AFTER_FRAMES + 1].argmax())
    start = peak
    while start > 0 and peak - start < reach and fine[start - 1] > 0.25 * fine[peak]:
        start -= 1
    return start
