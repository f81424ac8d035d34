"""Struck instruments made by formula: strokes at exact times that ring on under the next ones.

Partials of bars and kettles after Fletcher & Rossing, The Physics of Musical Instruments (from
memory). Apart from the benchmark's makers, so that the two do not share a mistake.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from standlight.music import Note
from standlight.score.values import Passage
from standlight.sound import Recording

RATE_HZ = 44_100
TEMPO_QPM = 96.0

MODES = {
    "bar": ((1.0, 1.0, 0.60), (3.9, 0.4, 0.15), (9.2, 0.2, 0.05)),
    "kettle": ((1.0, 1.0, 0.9), (1.006, 0.8, 0.9), (1.5, 0.7, 0.7), (1.98, 0.4, 0.5)),
    "drum": (),
}
"""Frequency over the first, strength, and seconds to 1/e; two near ones beat slowly."""

NOISE = {"bar": (0.15, 0.004), "kettle": (0.25, 0.012), "drum": (0.8, 0.030)}
"""Strength of the contact's noise, and its seconds to 1/e."""


@dataclass(frozen=True)
class Stroke:
    """One stroke as it was made: written index (None: not written), pitch, level."""

    at_s: float
    index: int | None
    midi: float | None = None
    level: float = 1.0


def sounded(kind: str, strokes: Sequence[Stroke], seed: int, noise_db: float = -45.0) -> Recording:
    """The strokes as a recording with a small room and a little hiss."""
    rng = np.random.default_rng(seed)
    samples = np.zeros(int((max(one.at_s for one in strokes) + 1.5) * RATE_HZ))
    for one in strokes:
        first = int(round(one.at_s * RATE_HZ))
        wave = stroke(kind, one.midi, rng)[: len(samples) - first]
        samples[first : first + len(wave)] += one.level * wave
    tail_s = np.arange(int(0.5 * RATE_HZ)) / RATE_HZ
    tail = rng.normal(size=len(tail_s)) * np.exp(-tail_s / 0.08) * (tail_s > 0.012)
    tail *= 0.5 / np.sqrt(np.sum(tail**2))
    size = 1 << int(np.ceil(np.log2(len(samples) + len(tail))))
    wet = np.fft.irfft(np.fft.rfft(samples, size) * np.fft.rfft(tail, size), size)[: len(samples)]
    whole = samples + wet
    whole *= 0.4 / np.abs(whole).max()
    whole += 10.0 ** (noise_db / 20.0) * 0.1 * rng.normal(size=len(whole))
    return Recording(whole.astype(np.float32), RATE_HZ)


def stroke(kind: str, midi: float | None, rng: np.random.Generator) -> np.ndarray:
    """One dry stroke that begins at its first sample."""
    time_s = np.arange(int(1.4 * RATE_HZ)) / RATE_HZ
    strength, dying_s = NOISE[kind]
    wave = strength * rng.normal(size=len(time_s)) * np.exp(-time_s / dying_s)
    first_hz = 440.0 * 2.0 ** (((midi or 69.0) - 69.0) / 12.0)
    for ratio, level, ringing_s in MODES[kind]:
        if ratio * first_hz < 0.45 * RATE_HZ:
            swing = np.sin(2 * np.pi * ratio * first_hz * time_s + rng.uniform(0, 0.5))
            wave += level * swing * np.exp(-time_s / ringing_s)
    return wave * np.minimum(time_s / 0.001, 1.0)


def written(
    values: Sequence[str], midis: Sequence[int | None], rolled: Sequence[int] = ()
) -> Passage:
    """Notes one after the other in quarters; those at ``rolled`` have a tremolo."""
    onset, notes = Fraction(0), []
    for index, (value, midi) in enumerate(zip(values, midis, strict=True)):
        notes.append(
            Note(
                onset, Fraction(value), midi, int(onset // 4),
                drum=None if midi is not None else "snare",
                marks=frozenset({"tremolo"}) if index in rolled else frozenset(),
            )  # fmt: skip
        )
        onset += Fraction(value)
    return Passage("", "", "", (), tuple(notes), onset)


def rhythm(seed: int, beats: int) -> list[str]:
    """Values in quarters that fill ``beats``."""
    rng = np.random.default_rng(seed)
    beat = (["1"], ["1/2", "1/2"], ["1/4"] * 4, ["1/2", "1/4", "1/4"], ["3/4", "1/4"])
    return [value for _ in range(beats) for value in beat[int(rng.integers(len(beat)))]]


def played(
    passage: Passage, seed: int, *, factor: float = 1.0, spread_ms: float = 8.0
) -> list[Stroke]:
    """Every written note struck once, at ``factor`` times the tempo, with a player's spread."""
    rng = np.random.default_rng(seed)
    quarter_s = 60.0 / TEMPO_QPM / factor
    return [
        Stroke(
            0.5 + quarter_s * float(note.onset_quarters) + rng.normal(0.0, spread_ms / 1000.0),
            index, note.midi, float(rng.uniform(0.6, 1.0)),
        )  # fmt: skip
        for index, note in enumerate(passage.notes)
    ]
