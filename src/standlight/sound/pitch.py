"""Pitch by frame: normalised autocorrelation peaks, then the cheapest path through them.

The autocorrelation is McLeod's normalised square difference form (McLeod & Wyvill, "A
smarter way to find pitch", ICMC 2005), computed by FFT for a block of frames at once. The
window follows the lowest pitch looked for. Peaks are refined by a parabola at a whole
multiple of the period, which divides the grid error by that multiple. A path over the
candidates (as in Boersma 1993, "Accurate short-term analysis of the fundamental
frequency") decides octaves and voicing; the written range of the part bounds it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import fft

from standlight.music import hz_of_midi, midi_of_hz
from standlight.sound.spectrum import filtered, frames_in_blocks
from standlight.sound.values import PitchTrack, Recording

CANDIDATES = 6
"""Peaks kept a frame; more changed nothing in synthetic takes."""

PERIODS_IN_WINDOW = 2.8
"""Window length in periods of the lowest pitch (2.5 to 3 in the literature)."""

SHORTEST_WINDOW_S = 0.030
"""Never shorter than this, for steadiness in high parts."""

LONGEST_WINDOW_S = 0.090
"""Never longer than this, so that quick notes in low parts stay apart."""

SAMPLES_IN_PERIOD, LEAST_RATE_HZ = 16.0, 16_000.0
"""So many samples in the shortest period looked for are enough, and never a rate below this:
half the samples are half the work, and a parabola at a multiple of the period reads as well."""

WEAKEST_PEAK = 0.3
"""Peaks below are no candidates."""

VOICED_FROM = 0.55
"""Strength at which a frame counts as pitched (Boersma's default threshold is 0.45)."""

OCTAVE_COST = 0.10
"""Strength lost for each octave down from the highest pitch. McLeod & Wyvill take the first
peak within 10 to 20 percent of the strongest; Boersma's default of 0.01 let open strings and
echoes pull fast violin notes to a common lower multiple of their period."""

OUTSIDE_COST = 0.04
"""Strength lost for each semitone outside the expected range, at most ``OUTSIDE_MOST``."""

OUTSIDE_MOST = 0.25
SUBHARMONIC_SHARE = 0.8
"""McLeod & Wyvill's lower bound for the first peak against the strongest."""

JUMP_COST = 0.35
"""Strength lost for each octave jumped between frames (Boersma's default), at most one."""

VOICING_COST = 0.14
"""Strength lost when voicing changes between frames (Boersma's default)."""

SILENCE_DB = -50.0
"""Frames this far below the loudest ones are silence (Boersma's default 0.03 is -30 dB)."""

SILENCE_FLOOR_POWER = 1e-8
"""Frames below -80 dBFS are silence whatever the take."""


@dataclass(frozen=True, slots=True, eq=False)
class PitchCandidates:
    """Peaks by frame: ``midi`` and ``strength``, both ``(frames, CANDIDATES)``, and ``power``.

    Empty places have strength 0. ``power`` is the mean square of the frame's samples.
    """

    midi: np.ndarray
    strength: np.ndarray
    power: np.ndarray
    lowest_midi: float
    highest_midi: float


def _as_it_is(frequencies_hz: np.ndarray) -> np.ndarray:
    """A gain of 1 at every frequency."""
    return np.ones(len(frequencies_hz))


def pitch_candidates(
    recording: Recording,
    lowest_midi: float,
    highest_midi: float,
    gain: Callable[[np.ndarray], np.ndarray] = _as_it_is,
) -> PitchCandidates:
    """Candidates between ``lowest_midi`` and ``highest_midi`` (both sounding) by frame.

    ``gain`` says how far each of so many hertz is kept, 0..1; it must not ring for long
    (`spectrum.filtered`).
    """
    rate_hz = recording.rate_hz
    lowest_hz = float(hz_of_midi(lowest_midi))
    highest_hz = min(float(hz_of_midi(highest_midi)), rate_hz / 4.0)
    every = int(rate_hz / max(SAMPLES_IN_PERIOD * highest_hz, LEAST_RATE_HZ)) or 1
    samples = filtered(
        recording.samples,
        rate_hz,
        lambda hz: gain(hz) * _rumble_gain(hz, lowest_hz) * _kept(hz, recording.rate_hz, every),
    )[::every]
    rate_hz = rate_hz / every
    window_s = np.clip(PERIODS_IN_WINDOW / lowest_hz, SHORTEST_WINDOW_S, LONGEST_WINDOW_S)
    width = int(round(window_s * rate_hz))
    shortest = max(3, int(np.floor(rate_hz / highest_hz)))
    longest = min(int(np.ceil(rate_hz / lowest_hz)) + 2, int(0.8 * width))
    parts = [
        _block_candidates(frames, rate_hz, shortest, longest)
        for _, frames in frames_in_blocks(samples, rate_hz, width)
    ]
    midi, strength, power = (np.concatenate(column) for column in zip(*parts, strict=True))
    return PitchCandidates(midi, strength, power, lowest_midi, highest_midi)


def _rumble_gain(frequencies_hz: np.ndarray, lowest_hz: float) -> np.ndarray:
    """Second-order high-pass half an octave below the lowest pitch, without phase."""
    ratio = (frequencies_hz / (0.7 * lowest_hz)) ** 4
    return ratio / (1.0 + ratio)


def _kept(frequencies_hz: np.ndarray, rate_hz: int, every: int) -> np.ndarray:
    """Gain that leaves room to keep one sample in ``every``: a soft edge below its half rate."""
    if every == 1:
        return _as_it_is(frequencies_hz)
    edge_hz = 0.5 * rate_hz / every
    return np.clip((edge_hz - frequencies_hz) / (0.15 * edge_hz), 0.0, 1.0)


def _block_candidates(
    frames: np.ndarray, rate_hz: float, shortest: int, longest: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Candidates of frames ``(n, width)``: midi, strength ``(n, CANDIDATES)``, power ``(n,)``."""
    width = frames.shape[1]
    frames = frames - frames.mean(axis=1, keepdims=True)
    reach = max(longest + 2, int(0.6 * width))
    size = fft.next_fast_len(width + reach, real=True)
    spectrum = fft.rfft(frames, n=size, axis=1)
    correlation = fft.irfft(np.abs(spectrum) ** 2, n=size, axis=1)[:, : reach + 1]
    sums = np.zeros((len(frames), width + 1), dtype=np.float64)
    np.cumsum(np.square(frames, dtype=np.float64), axis=1, out=sums[:, 1:])
    energy = sums[:, width - reach :][:, ::-1] + sums[:, -1:]
    energy -= sums[:, : reach + 1]
    power = sums[:, -1] / width
    nsdf = (2.0 * correlation / np.maximum(energy, 1e-9)).astype(np.float32)
    inside = nsdf[:, shortest - 1 : longest + 2]
    middle = inside[:, 1:-1]
    is_peak = (middle > inside[:, :-2]) & (middle >= inside[:, 2:]) & (middle > WEAKEST_PEAK)
    octaves_down = np.log2(np.arange(shortest, shortest + middle.shape[1]) / shortest)
    worth = np.where(is_peak, middle - OCTAVE_COST * octaves_down.astype(np.float32), -1.0)
    kept = min(CANDIDATES, worth.shape[1])
    best = np.argpartition(-worth, kept - 1, axis=1)[:, :kept]
    rows = np.arange(len(frames))[:, None]
    real = worth[rows, best] > -1.0
    period, strength = _refined(nsdf, best + shortest, width)
    midi = midi_of_hz(rate_hz / np.maximum(period, 1.0))
    strength = np.where(real & (power[:, None] > SILENCE_FLOOR_POWER), strength, 0.0)
    if kept < CANDIDATES:
        spare = ((0, 0), (0, CANDIDATES - kept))
        midi, strength = np.pad(midi, spare), np.pad(strength, spare)
    return midi, np.clip(strength, 0.0, 1.0), power


def _parabola(nsdf: np.ndarray, lag: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Vertex position and height of the parabola through the peak at whole ``lag``."""
    rows = np.arange(len(nsdf))[:, None]
    before, at, after = nsdf[rows, lag - 1], nsdf[rows, lag], nsdf[rows, lag + 1]
    bend = np.minimum(before + after - 2.0 * at, -1e-9)
    offset = np.clip(0.5 * (before - after) / bend, -1.0, 1.0)
    return lag + offset, at - 0.25 * (before - after) * offset


def _refined(nsdf: np.ndarray, lag: np.ndarray, width: int) -> tuple[np.ndarray, np.ndarray]:
    """Period in samples and strength of each peak, the period read at a multiple of itself."""
    period, height = _parabola(nsdf, lag)
    farthest = nsdf.shape[1] - 4
    rows = np.arange(len(nsdf))[:, None]
    for _ in range(2):  # step to a small multiple first, so that the next search stays sure
        many = np.clip(np.floor(min(0.5 * width, farthest) / period), 1, 8 if _ else 2)
        far = np.clip(np.round(many * period).astype(int), 3, farthest)
        around = np.stack([nsdf[rows, far + step] for step in (-2, -1, 0, 1, 2)])
        far = np.clip(far + np.argmax(around, axis=0) - 2, 1, farthest + 2)
        position, far_height = _parabola(nsdf, far)
        good = (many > 1) & (far_height > 0.8 * height)
        period = np.where(good, position / many, period)
    return period, height


def pitch_path(
    candidates: PitchCandidates, expected_low: float, expected_high: float
) -> PitchTrack:
    """The cheapest path through ``candidates`` given the range the part is written in (sounding).

    Range ends are MIDI numbers; pitches outside cost a little more the farther they lie.
    """
    midi, strength = candidates.midi, candidates.strength
    outside = np.maximum(np.maximum(expected_low - 1.0 - midi, midi - expected_high - 1.0), 0.0)
    down = (candidates.highest_midi - midi) / 12.0
    local = strength - np.minimum(OUTSIDE_COST * outside, OUTSIDE_MOST) - OCTAVE_COST * down
    local = np.where(strength > 0.0, local, -9.0)
    decibel = 10.0 * np.log10(np.maximum(candidates.power, 1e-12))
    quiet = decibel < np.percentile(decibel, 95) + SILENCE_DB
    middle = 0.5 * (expected_low + expected_high)
    base = VOICED_FROM - OCTAVE_COST * (candidates.highest_midi - middle) / 12.0
    unvoiced = base + np.where(quiet, 0.5, 0.0)
    score = np.concatenate([local, unvoiced[:, None]], axis=1).astype(np.float32)
    choice = _best_path(midi.astype(np.float32), score)
    rows = np.arange(len(midi))
    voiced = choice < midi.shape[1]
    picked = np.minimum(choice, midi.shape[1] - 1)
    return PitchTrack(
        midi=np.where(voiced, midi[rows, picked], 0.0),
        confidence=np.where(voiced, strength[rows, picked], 0.0),
        voiced=voiced,
    )


def strong_near(
    candidates: PitchCandidates, frames: np.ndarray, target: float, within: float
) -> tuple[np.ndarray, np.ndarray]:
    """Where ``frames`` have a strong peak near ``target`` though another one was chosen.

    Gives a mask and the peaks' midi, both ``(len(frames),)``. Strong is ``SUBHARMONIC_SHARE``
    of the frame's strongest: a lower multiple of a period is as strong as the period, so a
    sound at the target often looks like one below it, hardly ever the other way round.
    """
    midi, strength = candidates.midi[frames], candidates.strength[frames]
    near = np.abs(midi - target) <= within
    level = np.where(near, strength, 0.0)
    best = level.argmax(axis=1)
    rows = np.arange(len(frames))
    strong = level[rows, best] >= np.maximum(
        SUBHARMONIC_SHARE * strength.max(axis=1), 1.2 * WEAKEST_PEAK
    )
    return strong, midi[rows, best]


def _best_path(midi: np.ndarray, score: np.ndarray) -> np.ndarray:
    """Index of the chosen candidate by frame (the last column is unvoiced), shape ``(frames,)``."""
    frames, states = score.shape
    back = np.zeros((frames, states), dtype=np.int8)
    total, reached = score[0].copy(), np.empty((states, states), dtype=np.float32)
    step = np.full((states, states), VOICING_COST, dtype=np.float32)
    step[-1, -1] = 0.0
    for first in range(1, frames, 4096):
        last = min(first + 4096, frames)
        apart = np.abs(midi[first:last, None, :] - midi[first - 1 : last - 1, :, None])
        costs = np.broadcast_to(step, (last - first, states, states)).copy()
        costs[:, :-1, :-1] = JUMP_COST * np.minimum(apart / 12.0, 1.0)
        totals = np.empty((last - first, states), dtype=np.float32)
        for before, cost, worth in zip(totals, costs, score[first:last], strict=True):
            before[:] = total
            np.subtract(total[:, None], cost, out=reached)
            np.maximum.reduce(reached, axis=0, out=total)
            total += worth
        back[first:last] = (totals[:, :, None] - costs).argmax(axis=1)
    path = np.zeros(frames, dtype=np.int64)
    path[-1] = int(total.argmax())
    for frame in range(frames - 1, 0, -1):
        path[frame - 1] = back[frame, path[frame]]
    return path
