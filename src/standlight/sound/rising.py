"""Where a note's own harmonics begin to rise: onsets under the room's and the last note's tail.

The whole sound's energy hardly rises where a soft start grows out of the tail of the note
before. The new note's harmonics do, because the old note has few of them: each is brought
down to zero frequency, smoothed over a few periods and followed back from its height.
"""

from __future__ import annotations

import numpy as np

from standlight.music import hz_of_midi
from standlight.sound.values import Recording

HOP_S = 0.004
"""Step of the harmonics' envelope."""

BEFORE_S, AFTER_S = 0.16, 0.22
"""Where around a rough onset the rise is looked for, and its height."""

PERIODS, SHORTEST_S, LONGEST_S = 3.0, 0.024, 0.060
"""The window is so many periods long, within these bounds, so that harmonics stay apart."""

MOST_HARMONICS, HIGHEST_HZ = 8, 4_500.0
RATE_HZ = 11_025.0
"""Enough for the harmonics used; fewer samples, less work."""

LEAST_RISE_DB = 9.0
"""A harmonic that rises less may belong to the tail and has no voice."""

LEAST_CLIMB_DB, NEAR_S = 3.0, 0.10
"""At least so far above the lowest within this time before the rough onset."""

BELOW_DB = 18.0
"""The onset is where the harmonics last were so far below their height (made takes: with the
window's own smear this is nearest the instant 15 dB below the highest of the dry tone)."""


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
        level = self._levels(pieces, hz, width)
        late = int(np.searchsorted(centres, rough_s))
        height = level[min(late, len(level) - 1) :].max(axis=0)
        valley = level[: max(late, 1)].min(axis=0)
        rises = height > valley * 10.0 ** (LEAST_RISE_DB / 10.0)
        if not rises.any():
            return None
        whole = level[:, rises].sum(axis=1)
        top = max(late, 1) - 1 + int(whole[max(late, 1) - 1 :].argmax())
        early = int(np.searchsorted(centres, rough_s - NEAR_S))
        low = whole[early : top + 1].min(initial=whole[top])
        limit = max(whole[top] * 10.0 ** (-BELOW_DB / 10.0), low * 10.0 ** (LEAST_CLIMB_DB / 10.0))
        below = np.flatnonzero(whole[: top + 1] < limit)
        if not len(below):
            return None
        return float(centres[min(below[-1] + 1, len(centres) - 1)])

    def _levels(self, pieces: np.ndarray, hz: float, width: int) -> np.ndarray:
        """Power of each harmonic in each piece, ``(pieces, harmonics)``."""
        most = int(min(MOST_HARMONICS, min(HIGHEST_HZ, 0.4 * self.rate_hz) / hz))
        number = np.arange(1, max(most, 1) + 1)
        time_s = np.arange(width) / self.rate_hz
        turning = np.exp(-2j * np.pi * hz * np.outer(time_s, number)) * np.hanning(width)[:, None]
        bank = np.concatenate([turning.real, turning.imag], axis=1).astype(np.float32)
        both = pieces.astype(np.float32, copy=False) @ bank
        return both[:, : len(number)] ** 2 + both[:, len(number) :] ** 2 + 1e-9
