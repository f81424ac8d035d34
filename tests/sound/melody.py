"""A flute's melody in tones by formula: whatever was played is known exactly."""

from fractions import Fraction

import numpy as np

from standlight.music import Note, hz_of_midi
from standlight.score.values import Passage
from standlight.sound.values import Recording

RATE_HZ, TEMPO_QPM, TONE_S = 44_100, 100.0, 0.6
MELODY = (67, 69, 71, 72, 74, 72, 71, 69, 67, 71, 74, 76, 74, 71, 69, 67)
HARMONICS = {1: 1.0, 2: 0.7, 3: 0.5, 4: 0.3, 5: 0.2, 6: 0.1}


def passage():
    """The melody in quarters."""
    notes = tuple(
        Note(Fraction(at), Fraction(1), measure=at // 4, midi=midi)
        for at, midi in enumerate(MELODY)
    )
    return Passage("", "Flute", "", (), notes, Fraction(len(notes)))


def played(midis, lengths_s=None):
    """One tone after the other in a little noise; None is silence. All last ``TONE_S`` or so long.

    Half a second of silence stands before them.
    """
    pieces = [np.zeros(RATE_HZ // 2)]
    for midi, seconds in zip(midis, lengths_s or [TONE_S] * len(midis), strict=True):
        time_s = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
        shape = np.clip(np.minimum(time_s, 0.9 * seconds - time_s) / 0.02, 0.0, 1.0)
        hz = 0.0 if midi is None else float(hz_of_midi(midi))
        pieces.append(
            shape * sum(a * np.sin(2 * np.pi * k * hz * time_s) for k, a in HARMONICS.items())
        )
    wave = 0.1 * np.concatenate(pieces)
    noise = np.random.default_rng(8).normal(0.0, 1e-3, len(wave))
    return Recording((wave + noise).astype(np.float32), RATE_HZ)
