"""Evidence that something starts: rising energy in log-spaced bands, pitch change, voice start.

The spectral part is the flux of a logarithmic filterbank with a maximum filter over
neighbouring bands, which keeps vibrato from looking like onsets (Boeck & Widmer, "Maximum
filter vibrato suppression for onset detection", DAFx 2013).
"""

from __future__ import annotations

import numpy as np

from standlight.sound.spectrum import frames_in_blocks
from standlight.sound.values import HOP_S, PitchTrack, Recording

WINDOW_S = 0.030
"""Length of the analysis window for evidence at ``HOP_S``."""

STROKE_HOP_S = 0.003
"""Hop for unpitched strokes: 128 samples at 44.1 kHz, which gave 7 ms median in the trials."""

STROKE_WINDOW_S = 0.012
BANDS_AN_OCTAVE = 12
LOWEST_BAND_HZ = 60.0
HIGHEST_BAND_HZ = 14_000.0
COMPRESSION = 1_000.0
"""Magnitudes are taken as log10(1 + COMPRESSION * magnitude)."""

PITCH_STEP_SEMITONES = 0.6
"""A change of pitch this large within ``_STEP_FRAMES`` is evidence of a new note."""

_STEP_FRAMES = 3


def spectral_flux(recording: Recording, hop_s: float, window_s: float) -> np.ndarray:
    """Half-wave rectified change of log band energy by frame of ``hop_s``, shape ``(frames,)``."""
    rate_hz = recording.rate_hz
    width = int(round(window_s * rate_hz))
    size = 1 << int(np.ceil(np.log2(width)))
    window = np.hanning(width).astype(np.float32)
    bank = _filterbank(rate_hz, size)
    lag = max(1, int(round(0.5 * window_s / hop_s)))
    kept = np.zeros((lag, bank.shape[1]), dtype=np.float32)
    pieces = []
    for _, frames in frames_in_blocks(recording.samples, rate_hz, width, hop_s):
        magnitude = np.abs(np.fft.rfft(frames * window, n=size, axis=1)).astype(np.float32)
        bands = np.log10(1.0 + COMPRESSION * (magnitude @ bank) / width)
        bands = np.concatenate([kept, bands])
        before = bands[:-lag]
        widest = before.copy()
        widest[:, 1:] = np.maximum(widest[:, 1:], before[:, :-1])
        widest[:, :-1] = np.maximum(widest[:, :-1], before[:, 1:])
        pieces.append(np.maximum(bands[lag:] - widest, 0.0).sum(axis=1))
        kept = bands[-lag:]
    return np.concatenate(pieces)


def _filterbank(rate_hz: int, size: int) -> np.ndarray:
    """Triangular bands of a fraction of an octave, ``(bins, bands)``, without empty ones."""
    highest = min(HIGHEST_BAND_HZ, 0.45 * rate_hz)
    count = int(BANDS_AN_OCTAVE * np.log2(highest / LOWEST_BAND_HZ))
    centres = LOWEST_BAND_HZ * 2.0 ** (np.arange(count + 1) / BANDS_AN_OCTAVE)
    bins = np.unique(np.round(centres * size / rate_hz).astype(int))
    bank = np.zeros((size // 2 + 1, len(bins) - 2), dtype=np.float32)
    for band in range(len(bins) - 2):
        low, middle, high = bins[band : band + 3]
        bank[low : middle + 1, band] = np.linspace(0.0, 1.0, middle - low + 1)
        bank[middle : high + 1, band] = np.linspace(1.0, 0.0, high - middle + 1)
    return bank


def normalised(flux: np.ndarray) -> np.ndarray:
    """Flux scaled to 0..1: its 60th percentile to 0, its 98th to 1 (signals of few onsets too)."""
    floor, top = np.percentile(flux, [60, 98]) if len(flux) else (0.0, 1.0)
    return np.clip((flux - floor) / max(top - floor, 1e-6), 0.0, 1.0)


def onset_evidence(recording: Recording, track: PitchTrack) -> np.ndarray:
    """Evidence 0..1 that a note starts at each frame, shape ``(frames,)``."""
    evidence = normalised(spectral_flux(recording, HOP_S, WINDOW_S))
    frames = min(len(evidence), len(track.midi))
    evidence = evidence[:frames].copy()
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
    """Starts of unpitched strokes: times in seconds and strengths 0..1, both ``(strokes,)``.

    Peaks of the fine flux as a share of the loudest ones', each traced back to where its rise
    began. A percentile of all frames would not do: a stroke fills so few of them that the
    ripple of its own decay would reach the top of the scale.
    """
    flux = spectral_flux(recording, STROKE_HOP_S, STROKE_WINDOW_S)
    # Before the first sample there is nothing to rise from: the file's own start is no stroke.
    flux[: int(round(STROKE_WINDOW_S / STROKE_HOP_S))] = 0.0
    reach = int(round(0.030 / STROKE_HOP_S))
    padded = np.pad(flux, reach, mode="edge")
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1)
    highest = np.flatnonzero((flux == around.max(axis=1)) & (flux > 0.0))
    if not len(highest):
        return np.zeros(0), np.zeros(0)
    loud = float(np.median(np.sort(flux[highest])[-LOUD_STROKES:]))
    level = np.minimum(flux / loud, 1.0)
    peaks = highest[level[highest] > STROKE_FROM]
    times, strengths = [], []
    for peak in peaks:
        if times and peak * STROKE_HOP_S - times[-1] < SHORTEST_STROKE_GAP_S:
            continue
        start = peak
        while start > 0 and peak - start < reach and level[start - 1] > 0.25 * level[peak]:
            start -= 1
        times.append(start * STROKE_HOP_S)
        strengths.append(level[peak])
    return np.array(times), np.array(strengths)


STROKE_FROM = 0.15
"""Weakest stroke, as a share of the loud strokes' flux (chosen on synthetic strokes)."""

LOUD_STROKES = 5
"""The median of so many highest peaks is a loud stroke: one knock on the stand is not."""

SHORTEST_STROKE_GAP_S = 0.035
"""Two strokes closer than this are one flam (common practice, no source)."""
