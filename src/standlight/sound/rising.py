"""Where a note's own harmonics begin to rise: onsets under the room's and the last note's tail.

The whole sound's energy hardly rises where a soft start grows out of the tail of the note
before. The new note's harmonics do, because the old note has few of them: each is brought
down to zero frequency, smoothed over a few periods and followed back from its height.
"""

from __future__ import annotations

import numpy as np

from standlight.music import hz_of_midi
from standlight.sound.spectrum import hanning
from standlight.sound.values import Recording

HOP_S = 0.004
"""Step of the harmonics' envelope."""

BEFORE_S, AFTER_S = 0.24, 0.22
"""Where around a rough onset the rise is looked for, and its height."""

PERIODS, SHORTEST_S, LONGEST_S = 3.0, 0.024, 0.060
"""The window is so many periods long, within these bounds, so that harmonics stay apart."""

MOST_HARMONICS, HIGHEST_HZ = 8, 4_500.0
RATE_HZ = 11_025.0
"""Enough for the harmonics used; fewer samples, less work."""

LEAST_RISE_DB = 9.0
"""A harmonic that rises less may belong to the tail and has no voice."""

NEAR_S = 0.20
"""A harmonic's lowest is looked for within this time before the rough onset."""

WITHIN_DB = 18.0
"""Harmonics so far under the strongest have no voice: codecs and noise shape them."""

RISE_SHARE, BELOW_DB = 0.25, 22.0
"""A harmonic begins where it has climbed this share of its rise in decibel, or where it last
was so far below its height, whichever is later: a soft bow climbs slowly out of the echo, a
tongued note suddenly out of nothing."""

AT_SHARE = 0.4
"""The note begins where this share of its harmonics (each by its rise) have begun. These five
were chosen together on 96 made takes of seeds 1600 and 1700: on strings 83 instead of 79 in 100
starts come within 50 ms, on low instruments 95 instead of 92."""


class Rising:
    """A recording made ready for `Rising.onset`: fewer samples a second."""

    def __init__(self, recording: Recording) -> None:
        """Average neighbouring samples down to about ``RATE_HZ`` (a soft low-pass is enough)."""
        every = max(1, int(recording.rate_hz / RATE_HZ))
        count = len(recording.samples) // every * every
        self.samples = recording.samples[:count].reshape(-1, every).mean(axis=1)
        self.rate_hz = recording.rate_hz / every

    def onset(self, rough_s: float, until_s: float, midi: float) -> float | None:
        """Seconds where the note at ``midi`` near ``rough_s`` begins; None when none rises.

        ``until_s`` is where the note ends at the latest.
        """
        hz = float(hz_of_midi(midi))
        window_s = float(np.clip(PERIODS / hz, SHORTEST_S, LONGEST_S))
        width = int(window_s * self.rate_hz)
        first_s = max(rough_s - BEFORE_S, 0.0)
        last_s = min(rough_s + AFTER_S, max(until_s, rough_s + 0.06))
        centres = np.arange(first_s, last_s, HOP_S)
        starts = (centres * self.rate_hz).astype(int) - width // 2
        inside = (starts >= 0) & (starts + width < len(self.samples))
        starts, centres = starts[inside], centres[inside]
        if len(starts) < 20:
            return None
        pieces = np.lib.stride_tricks.sliding_window_view(self.samples, width)[starts]
        level_db = 10.0 * np.log10(self._levels(pieces, hz, width))
        late = min(max(int(np.searchsorted(centres, rough_s)), 1), len(centres) - 1)
        early = int(np.searchsorted(centres, rough_s - NEAR_S))
        begun = _begun(level_db, early, late)
        return None if begun is None else float(centres[min(begun, len(centres) - 1)])

    def _levels(self, pieces: np.ndarray, hz: float, width: int) -> np.ndarray:
        """Power of each harmonic in each piece, ``(pieces, harmonics)``."""
        most = int(min(MOST_HARMONICS, min(HIGHEST_HZ, 0.4 * self.rate_hz) / hz))
        number = np.arange(1, max(most, 1) + 1)
        time_s = np.arange(width) / self.rate_hz
        turning = np.exp(-2j * np.pi * hz * np.outer(time_s, number)) * hanning(width)[:, None]
        bank = np.concatenate([turning.real, turning.imag], axis=1).astype(np.float32)
        both = pieces.astype(np.float32, copy=False) @ bank
        return both[:, : len(number)] ** 2 + both[:, len(number) :] ** 2 + 1e-9


def _begun(level_db: np.ndarray, early: int, late: int) -> int | None:
    """Step at which a note's harmonics begin, None when none rises enough.

    ``level_db`` is ``(steps, harmonics)``; the lowest is looked for from ``early`` to ``late``,
    the height from ``late`` on.
    """
    top, height = late + level_db[late:].argmax(axis=0), level_db[late:].max(axis=0)
    low = level_db[early : late + 1].min(axis=0)
    starts, weights = [], []
    for harmonic in np.flatnonzero(
        (height > height.max() - WITHIN_DB) & (height - low >= LEAST_RISE_DB)
    ):
        rise_db = height[harmonic] - low[harmonic]
        limit = max(low[harmonic] + RISE_SHARE * rise_db, height[harmonic] - BELOW_DB)
        below = np.flatnonzero(level_db[: top[harmonic] + 1, harmonic] < limit)
        if len(below):
            starts.append(int(below[-1]) + 1)
            weights.append(float(rise_db))
    if not starts:
        return None
    order = np.argsort(starts)
    passed = np.cumsum(np.array(weights)[order])
    return starts[order[int(np.searchsorted(passed, AT_SHARE * passed[-1]))]]
