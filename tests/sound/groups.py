"""Made groups: several additive voices at once, each entry where a formula puts it."""

from fractions import Fraction

import numpy as np

from standlight.music import Note, hz_of_midi
from standlight.score.values import Passage
from standlight.sound import Recording

RATE_HZ = 22_050
CHORDS = (
    (60, 55, 52, 48), (62, 59, 55, 43), (64, 60, 55, 48), (65, 60, 57, 41),
    (64, 60, 55, 48), (62, 57, 53, 50), (62, 59, 55, 43), (60, 55, 52, 48),
)  # fmt: skip
"""Top, alto, tenor and bass, in quarters: the last a cadence."""


def onset_s(quarters, tempo_qpm, gain_percent=0.0):
    """Seconds of a beat that starts at ``tempo_qpm`` and gains evenly, by formula."""
    quarters = np.asarray(quarters, float)
    period = 60.0 / tempo_qpm
    return 0.8 + period * (quarters - 0.5 * gain_percent / 100.0 * quarters**2)


def voice_tone(midi, seconds, rng):
    """Six harmonics with a soft start of 15 ms and a soft end."""
    time_s = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    wave = sum(
        np.sin(2 * np.pi * h * float(hz_of_midi(midi)) * time_s + rng.uniform(0, 6.28)) / h**1.3
        for h in range(1, 7)
    )
    return wave * np.clip(time_s / 0.015, 0, 1) * np.clip((seconds - time_s) / 0.05, 0, 1)


def passage_of(pitches, lengths):
    """A passage of notes one after another; lengths in quarters."""
    notes, at = [], Fraction(0)
    for midi, length in zip(pitches, lengths, strict=True):
        notes.append(Note(at, Fraction(length), int(midi), int(at // 4)))
        at += Fraction(length)
    return Passage("Soprano", "Soprano", "", (), tuple(notes), at)


def sung(lines, tempo_qpm, *, gain_percent=0.0, spread_ms=0.0, seed=1000):
    """A recording of ``lines`` (passages) at once; ``spread_ms`` scatters each entry alone."""
    rng = np.random.default_rng(seed)
    end = max(line.length_quarters for line in lines)
    wave = np.zeros(int((onset_s(float(end), tempo_qpm, gain_percent) + 1.0) * RATE_HZ))
    for line in lines:
        for note in line.notes:
            ends = float(note.onset_quarters + note.duration_quarters)
            start, stop = onset_s([float(note.onset_quarters), ends], tempo_qpm, gain_percent)
            start += rng.normal(0, spread_ms / 1000.0)
            tone = voice_tone(note.midi, stop - start - 0.03, rng)
            first = int(round(start * RATE_HZ))
            wave[first : first + len(tone)] += 0.08 * tone
    wave += rng.normal(0, 2e-4, len(wave))
    return Recording(wave.astype(np.float32), RATE_HZ)


def quartet(times=3):
    """Four lines of the same quarters, the chords ``times`` over."""
    return [passage_of(voice * times, [1] * 8 * times) for voice in zip(*CHORDS, strict=True)]
