"""Held notes looked into: how steady pitch and level are, and vibrato as rate and extent.

The follower says where a note sounds and how high; here the phase of its strongest harmonic
is followed around that pitch (the heterodyne or phase-vocoder principle: Flanagan & Golden
1966, from memory), which needs no search and so is cheap and free of slips. Only blown,
bowed and sung notes that are long enough are looked into.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standlight.music import STANDARD_A4_HZ, hz_of_midi
from standlight.sound.values import HeardNote, HeldNote, Performance, Recording

SHORTEST_HELD_S = 0.5
"""Notes that sound at least this long are looked into (our choice: two slow vibrato cycles)."""

LEFT_OUT_S = 0.060
"""Left out at either end: attack and release are not the held sound (common practice)."""

HARMONICS = 4
"""The strongest of so many low harmonics gives the pitch (our choice)."""

HIGHEST_FOLLOWED_HZ = 1_150.0
"""Above this only the fundamental is followed: the same cents are more hertz up there."""

COARSEST_HOP_S, CENTS_IN_VIEW = 0.005, 150.0
"""The hop is so fine that a phase step tells apart 150 cents to both sides, 5 ms at most."""

SHORTEST_WINDOW_S, WINDOW_PERIODS = 0.020, 4.0
"""Hann window: 20 ms, or four periods of a low note, so that its harmonics stay apart."""

VIBRATO_HZ = (3.5, 9.0)
"""Where vibrato is looked for: 4 to 8 Hz in players and singers (textbook range, from memory),
a little wider."""

LEAST_VIBRATO_CENTS = 8.0
"""Less than this to either side is not called vibrato (near the 10 cents that amateurs tell
apart, Hill & Summers 2007; our choice)."""

VIBRATO_SHARE = 0.5
"""A regular wave must explain this share of the pitch's movement to be vibrato (our choice)."""

SMOOTHED_S = 0.10
"""Pitch is averaged over so long before its wander is measured: a listener hears no finer
waver as pitch (our choice)."""

_ROBUST = 1.4826
"""Median absolute deviation to standard deviation of a normal spread."""

ONE_THREAD_STEPS = 200_000
"""Multiplications in one product: under this OpenBLAS wakes no threads, which on two busy cores
cost four times the work (measured)."""

_SPECTRUM = 4096


@dataclass(frozen=True, slots=True, eq=False)
class Contour:
    """Pitch in cents around the note's middle and level in decibel, both ``(frames,)``."""

    cents: np.ndarray
    level_db: np.ndarray
    hop_s: float
    window_s: float


def held_notes(
    recording: Recording, performance: Performance, a4_hz: float = STANDARD_A4_HZ
) -> tuple[HeldNote, ...]:
    """Every held note of ``performance`` that sounded at a pitch, in the order of the music.

    ``a4_hz`` is the tuning that ``performance`` was heard at.
    """
    found = (_held(recording, note, a4_hz) for note in performance.notes)
    return tuple(note for note in found if note is not None)


def contour_of(recording: Recording, start_s: float, end_s: float, f0_hz: float) -> Contour | None:
    """Pitch and level around ``f0_hz`` between two times, ``None`` when there is too little.

    Raises ValueError for a frequency that is not above 0.
    """
    if not f0_hz > 0.0:
        raise ValueError(f"a note at {f0_hz} Hz has no period (a MIDI number 0?)")
    rate_hz = recording.rate_hz
    top_hz = min(HIGHEST_FOLLOWED_HZ, rate_hz / 2.0 - 0.5 * f0_hz)
    numbers = [k for k in range(1, HARMONICS + 1) if k == 1 or k * f0_hz <= top_hz]
    widest_hz = numbers[-1] * f0_hz * (2.0 ** (CENTS_IN_VIEW / 1200.0) - 1.0)
    hop = max(1, int(rate_hz * min(COARSEST_HOP_S, 0.5 / widest_hz)))
    width = int(rate_hz * max(SHORTEST_WINDOW_S, WINDOW_PERIODS / f0_hz))
    first, last = int(start_s * rate_hz), int(end_s * rate_hz)
    piece = recording.samples[max(first, 0) : min(last, len(recording.samples))]
    if len(piece) < width + 8 * hop:
        return None
    frames = np.lib.stride_tricks.sliding_window_view(piece, width)[::hop]
    time_s = np.arange(width) / rate_hz
    turns = np.outer(time_s, f0_hz * np.array(numbers))
    waves = np.hanning(width)[:, None] * np.exp(-2j * np.pi * turns)
    kernel = np.concatenate([waves.real, waves.imag], axis=1).astype(np.float32)
    product = _product(frames, kernel)
    bands = product[:, : len(numbers)] + 1j * product[:, len(numbers) :]
    best = int(np.argmax((np.abs(bands) ** 2).sum(axis=0)))
    centre_hz = numbers[best] * f0_hz
    hop_s = hop / rate_hz
    step = bands[1:, best] * np.conj(bands[:-1, best]) * np.exp(-2j * np.pi * centre_hz * hop_s)
    heard_hz = centre_hz + np.angle(step) / (2.0 * np.pi * hop_s)
    cents = 1200.0 * np.log2(np.maximum(heard_hz, 0.5 * centre_hz) / centre_hz)
    sums = np.concatenate([[0.0], np.cumsum(np.square(piece, dtype=np.float64))])
    power = (sums[width:] - sums[:-width])[::hop] / width
    level_db = 10.0 * np.log10(np.maximum(power, 1e-20))
    return Contour(cents, level_db[1:], hop_s, width / rate_hz)


def _product(frames: np.ndarray, kernel: np.ndarray) -> np.ndarray:
    """``frames @ kernel`` in pieces so small that no threads are woken for them."""
    rows = max(1, ONE_THREAD_STEPS // kernel.size)
    pieces = [
        np.ascontiguousarray(frames[first : first + rows]) @ kernel
        for first in range(0, len(frames), rows)
    ]
    return np.concatenate(pieces)


def _held(recording: Recording, note: HeardNote, a4_hz: float) -> HeldNote | None:
    """One note looked into, or ``None`` when it is too short or has no pitch."""
    if note.onset_s is None or note.offset_s is None or note.midi_heard is None:
        return None
    if note.outcome == "missing" or note.offset_s - note.onset_s < SHORTEST_HELD_S:
        return None
    start_s, end_s = note.onset_s + LEFT_OUT_S, note.offset_s - LEFT_OUT_S
    contour = contour_of(recording, start_s, end_s, float(hz_of_midi(note.midi_heard, a4_hz)))
    if contour is None:
        return None
    rate_hz, extent, rest = _vibrato(contour)
    return HeldNote(
        index=note.index,
        seconds=end_s - start_s,
        wander_cents=_spread(_averaged(rest, contour.hop_s)),
        level_spread_db=_spread(_averaged(_detrended(contour.level_db), contour.hop_s)),
        vibrato_hz=rate_hz,
        vibrato_cents=extent,
    )


def _vibrato(contour: Contour) -> tuple[float | None, float | None, np.ndarray]:
    """Rate, extent to either side and what is left; ``None`` twice where no vibrato is told."""
    smooth = _detrended(contour.cents)
    count = len(smooth)
    spectrum = np.abs(np.fft.rfft(smooth * np.hanning(count), max(_SPECTRUM, count)))
    step_hz = 1.0 / (max(_SPECTRUM, count) * contour.hop_s)
    low, high = int(np.ceil(VIBRATO_HZ[0] / step_hz)), int(VIBRATO_HZ[1] / step_hz)
    peak = low + int(np.argmax(spectrum[low : high + 1]))
    before, at, after = spectrum[peak - 1 : peak + 2]
    bend = before - 2.0 * at + after
    rate_hz = step_hz * (peak + (0.5 * (before - after) / bend if bend else 0.0))
    turn = 2.0 * np.pi * rate_hz * contour.hop_s * np.arange(count)
    design = np.concatenate(
        [_trend(count), np.cos(turn)[:, None], np.sin(turn)[:, None]], axis=1
    )
    answer, *_ = np.linalg.lstsq(design, contour.cents, rcond=None)
    rest = contour.cents - design @ answer
    extent = float(np.hypot(answer[-2], answer[-1])) / _passed(rate_hz, contour)
    explained = 1.0 - float(np.var(rest)) / max(float(np.var(smooth)), 1e-12)
    if extent < LEAST_VIBRATO_CENTS or explained < VIBRATO_SHARE or peak in (low, high):
        return None, None, smooth
    return float(rate_hz), extent, rest


def _passed(rate_hz: float, contour: Contour) -> float:
    """Share of a wave in the pitch that comes through the window and the phase step, 0..1."""
    window = np.hanning(256)
    time_s = (np.arange(256) / 255.0 - 0.5) * contour.window_s
    through = float((window * np.cos(2.0 * np.pi * rate_hz * time_s)).sum() / window.sum())
    return max(through * float(np.sinc(rate_hz * contour.hop_s)), 0.1)


def _detrended(values: np.ndarray) -> np.ndarray:
    """What is left of ``values`` beside a straight line with a bend (a swell is no shake)."""
    design = _trend(len(values))
    answer, *_ = np.linalg.lstsq(design, values, rcond=None)
    return values - design @ answer


def _trend(count: int) -> np.ndarray:
    """A level, a slope and a bend, shape ``(count, 3)``."""
    place = np.linspace(-1.0, 1.0, count)
    return np.stack([np.ones(count), place, place**2], axis=1)


def _averaged(values: np.ndarray, hop_s: float) -> np.ndarray:
    """Running means over ``SMOOTHED_S``; shorter by that much less one."""
    width = min(max(1, round(SMOOTHED_S / hop_s)), len(values))
    sums = np.concatenate([[0.0], np.cumsum(values)])
    return (sums[width:] - sums[:-width]) / width


def _spread(values: np.ndarray) -> float:
    """Robust standard deviation around the median."""
    return _ROBUST * float(np.median(np.abs(values - np.median(values))))
