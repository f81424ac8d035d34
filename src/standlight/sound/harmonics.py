"""How far the harmonics of a pitch stand out of a sound: what says whether a tone is there.

A pitch track names one pitch a frame and may follow the room, the note before or a mixture of
two tones. The spectrum shows the harmonics of any pitch that is asked about, whatever it says.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import fft

from standlight.sound.spectrum import hanning
from standlight.sound.values import Recording

LATE_SHARE, END_SHARE, LONGEST_LOOK_S = 0.4, 0.1, 0.30
"""A note is looked at late, from this share of it on but for so much at its end, and no longer than
this: by then the note before, which may well lie an octave off, has died away in the room."""

EARLY_AFTER_S, EARLIEST_S = 0.01, (0.05, 0.15)
"""An early look begins so long after the start and lasts up to the late one, between these."""

FEWEST_PERIODS = 2.5
"""In less nothing is told."""

HIGHEST_HZ, MOST_HARMONICS = 6_000.0, 6
"""Harmonics above are left out: phones and rooms shape them too much."""

HALF_WIDTH = 0.025
"""Each harmonic is sought within this share of its frequency (about 40 cents)."""

MOST_PEAK_DB = 45.0
"""Nothing tells more than what stands out so far."""

BESIDE = (0.15, 0.42)
"""What lies beside a harmonic: between these shares of the fundamental to both sides."""

_FLOOR = 1e-12

KEPT_SPECTRA = 128
"""So many spectra are kept (17 MB at most): who tells octaves and who judges what was told of a
note look at the same parts of all notes of a take, one after the other."""


@dataclass(frozen=True, slots=True)
class HarmonicLevels:
    """Of one tone, in decibel: odd against even harmonics, half-way sound against all, and how
    far peaks stand above what lies beside them: the middle one of the odd harmonics, of those
    half-way and of the even ones, and the least of the odd and of those half-way.
    """

    odd_db: float
    between_db: float
    odd_peak_db: float
    between_peak_db: float
    even_peak_db: float
    odd_least_db: float
    between_least_db: float


def early_part(start_s: float, end_s: float) -> tuple[float, float]:
    """From when to when (seconds) a note from ``start_s`` to ``end_s`` is looked at early.

    >>> early_part(1.0, 1.25)
    (1.01, 1.11)
    """
    shortest_s, longest_s = EARLIEST_S
    first_s = start_s + EARLY_AFTER_S
    return first_s, first_s + min(max(LATE_SHARE * (end_s - start_s), shortest_s), longest_s)


def late_part(start_s: float, end_s: float) -> tuple[float, float]:
    """From when to when (seconds) a note from ``start_s`` to ``end_s`` is looked at late.

    >>> late_part(0.0, 2.0)  # no longer than three tenths of a second
    (1.5, 1.8)
    """
    last_s = end_s - END_SHARE * (end_s - start_s)
    return max(start_s + LATE_SHARE * (end_s - start_s), last_s - LONGEST_LOOK_S), last_s


class Spectra:
    """The spectra of parts of a recording, and what stands out of them at any pitch.

    Parts are given from when to when, in seconds. Those that were asked about last are kept: each
    is asked about several pitches.
    """

    def __init__(self, recording: Recording) -> None:
        """Nothing is worked out before it is asked."""
        self._recording = recording
        self._kept: dict[tuple[int, int], np.ndarray] = {}

    def levels(self, start_s: float, end_s: float, hz: float) -> HarmonicLevels | None:
        """The levels at the harmonics of ``hz`` and half-way between them.

        Of the later part of what lies between ``start_s`` and ``end_s``. None when that is too
        short.

        >>> time_s = np.arange(48_000) / 48_000
        >>> tone = np.sin(2 * np.pi * 440 * time_s).astype(np.float32)
        >>> Spectra(Recording(tone, 48_000)).levels(0.1, 0.6, 220.0).odd_db < -60.0
        True
        """
        found = self._peaks(late_part(start_s, end_s), hz)
        if found is None:
            return None
        halves, level, peak_db = found
        kinds = halves % 2 == 1, halves % 4 == 2, halves % 4 == 0
        between, odd, even = (level[kind].sum() for kind in kinds)
        between_db, odd_db, even_db = (peak_db[kind] for kind in kinds)
        return HarmonicLevels(
            odd_db=_decibel(odd, even),
            between_db=_decibel(between, odd + even),
            odd_peak_db=_median(odd_db),
            between_peak_db=_median(between_db),
            even_peak_db=_median(even_db),
            odd_least_db=float(odd_db.min(initial=MOST_PEAK_DB)),
            between_least_db=float(between_db.min(initial=MOST_PEAK_DB)),
        )

    def thirds_db(self, start_s: float, end_s: float, hz: float) -> float | None:
        """How loud every third harmonic of ``hz`` is against all the others and what is half-way.

        In decibel, of the later part of what lies between ``start_s`` and ``end_s``. None when that
        is too short, or when ``hz`` is so high that its third harmonic is not looked at.

        >>> time_s = np.arange(48_000) / 48_000
        >>> tone = np.sin(2 * np.pi * 660 * time_s).astype(np.float32)
        >>> spectra = Spectra(Recording(tone, 48_000))
        >>> [spectra.thirds_db(0.1, 0.6, hz) > 60.0 for hz in (220.0, 330.0)]
        [True, False]
        """
        found = self._peaks(late_part(start_s, end_s), hz)
        if found is None:
            return None
        halves, level, _ = found
        thirds = halves % 6 == 0
        return _decibel(level[thirds].sum(), level[~thirds].sum()) if thirds.any() else None

    def standing_out_db(self, between_s: tuple[float, float], hz: float) -> float | None:
        """How far the harmonics of ``hz`` stand above what lies beside them, the middle one.

        None when the part is too short.

        >>> time_s = np.arange(48_000) / 48_000
        >>> tone = sum(np.sin(2 * np.pi * 440 * n * time_s) for n in (1, 2, 3))
        >>> spectra = Spectra(Recording(tone.astype(np.float32), 48_000))
        >>> there, beside = (spectra.standing_out_db((0.1, 0.4), hz) for hz in (440.0, 494.0))
        >>> there > beside + 30.0
        True
        """
        found = self._peaks(between_s, hz)
        if found is None:
            return None
        halves, _, peak_db = found
        return _median(peak_db[halves % 2 == 0])

    def sounding_db(self, between_s: tuple[float, float], hz: float) -> float | None:
        """How loud the harmonics of ``hz`` are, in decibel: only differences of it mean anything.

        None when the part is too short.

        >>> time_s = np.arange(48_000) / 48_000
        >>> tone = np.sin(2 * np.pi * 440 * time_s).astype(np.float32)
        >>> tone[24_000:] *= 0.1  # 20 dB softer
        >>> spectra = Spectra(Recording(tone, 48_000))
        >>> early, late = (spectra.sounding_db(at, 440.0) for at in ((0.1, 0.2), (0.6, 0.9)))
        >>> round(early - late, 1)
        20.0
        """
        found = self._peaks(between_s, hz)
        if found is None:
            return None
        halves, level, _ = found
        samples = (between_s[1] - between_s[0]) * self._recording.rate_hz
        return _decibel(float(level[halves % 2 == 0].mean()) / samples**2, 0.0)

    def _peaks(
        self, between_s: tuple[float, float], hz: float
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray] | None:
        """At every half of ``hz``: its number, its power, and by how much it stands out (dB).

        Three arrays ``(halves,)``; None of less than `FEWEST_PERIODS`.
        """
        rate_hz = self._recording.rate_hz
        first, last = (max(int(at_s * rate_hz), 0) for at_s in between_s)
        last = min(last, len(self._recording.samples))
        if last - first < FEWEST_PERIODS * rate_hz / hz:
            return None
        power = self._power(first, last)
        top = int(min(2 * MOST_HARMONICS, 2.0 * min(HIGHEST_HZ, 0.45 * rate_hz) / hz))
        halves = np.arange(1, top + 1)
        spacing = hz * 2.0 * (len(power) - 1) / rate_hz
        centre = halves * spacing / 2.0
        edges = np.stack([centre * (1.0 - HALF_WIDTH), centre * (1.0 + HALF_WIDTH) + 2], axis=1)
        level = np.maximum.reduceat(power, edges.astype(int).ravel())[::2]
        beside = _beside(power, centre, spacing)
        return halves, level, 10.0 * np.log10((level + _FLOOR) / (beside + _FLOOR))

    def _power(self, first: int, last: int) -> np.ndarray:
        """The power spectrum of the samples ``first`` up to ``last``, padded to a power of two."""
        kept = self._kept.get((first, last))
        if kept is None:
            while len(self._kept) >= KEPT_SPECTRA:
                del self._kept[next(iter(self._kept))]
            piece = self._recording.samples[first:last]
            size = 1 << int(np.ceil(np.log2(max(4 * len(piece), 8_192))))
            cells = fft.rfft(piece * hanning(len(piece)).astype(np.float32), size)
            kept = cells.real**2 + cells.imag**2
            self._kept[first, last] = kept
        return kept


def within(value: float, bounds: tuple[float, float]) -> float:
    """``value``, or the bound that it lies beyond.

    >>> within(50.0, (-5.0, 40.0))
    40.0
    """
    return float(min(max(value, bounds[0]), bounds[1]))


def _beside(power: np.ndarray, centre: np.ndarray, spacing: float) -> np.ndarray:
    """The usual power beside each ``centre``, which no harmonic reaches, ``(centres,)``."""
    near, far = BESIDE[0] * spacing, BESIDE[1] * spacing
    steps = np.arange(max(int(far - near), 1))
    below, above = (centre - far).astype(int), (centre + near).astype(int)
    cells = np.concatenate([below[:, None] + steps, above[:, None] + steps], axis=1)
    half = len(steps)  # the middle of so many below and so many above; np.median is twice as slow
    found = power[np.clip(cells, 0, len(power) - 1)]
    return np.partition(found, (half - 1, half), axis=1)[:, half - 1 : half + 1].mean(axis=1)


def _median(values: np.ndarray) -> float:
    """The median of a few ``values``, 0 of none, in a fifth of the time numpy takes to begin."""
    if not len(values):
        return 0.0
    ordered, half = np.sort(values), len(values) // 2
    return float(ordered[half] if len(values) % 2 else (ordered[half - 1] + ordered[half]) / 2.0)


def _decibel(one: float, other: float) -> float:
    """``one`` against ``other`` in decibel."""
    return 10.0 * float(np.log10((one + _FLOOR) / (other + _FLOOR)))
