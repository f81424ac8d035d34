"""Seeded synthetic takes with exact truth, apart from the listener and from the demo's player.

Additive tones (exact pitch), attacks, vibrato, a reverberant room, noise; faults: detuning,
uneven time, other pitches, skipped and added notes, a stop with a restart, another tempo.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

from standlight.music import Note
from standlight.score.values import Passage
from standlight.sound import Recording

RATE_HZ = 44_100

# Strength of harmonics 1, 2, 3 ...: invented, after the textbook shapes of each family.
TIMBRES = {
    "flute": ((1.0, 0.4, 0.15, 0.05), 0.040, (62, 88)),
    "clarinet": ((1.0, 0.05, 0.6, 0.08, 0.4, 0.08, 0.2), 0.025, (52, 82)),
    "trumpet": ((0.7, 1.0, 0.9, 0.7, 0.5, 0.35, 0.2, 0.1), 0.020, (55, 80)),
    "horn": ((0.8, 1.0, 0.6, 0.3, 0.15, 0.05), 0.035, (48, 72)),
    "tuba": ((0.5, 1.0, 0.8, 0.5, 0.3, 0.15), 0.040, (34, 58)),
    "violin": ((0.9, 0.7, 0.6, 0.5, 0.4, 0.35, 0.3, 0.2, 0.15), 0.060, (57, 86)),
    "cello": ((0.8, 1.0, 0.5, 0.6, 0.4, 0.3, 0.25, 0.2, 0.1), 0.060, (38, 69)),
    "voice": ((0.9, 1.0, 0.5, 0.25, 0.3, 0.2, 0.1), 0.070, (53, 76)),
}
MODE = (0, 2, 4, 5, 7, 9, 11)
VALUES = (Fraction(1), Fraction(1), Fraction(1, 2), Fraction(1, 2), Fraction(2), Fraction(3, 2))


@dataclass(frozen=True)
class Played:
    """One sound as it was made: the written ``index`` (None if added), where and how high."""

    index: int | None
    onset_s: float
    offset_s: float
    midi: float | None


@dataclass(frozen=True)
class Take:
    """A made take: its sound, its passage, what was played, its faults by written index."""

    recording: Recording
    passage: Passage
    played: tuple[Played, ...]
    tempo_qpm: float
    tuning_cents: float
    wrong: frozenset[int] = frozenset()
    skipped: frozenset[int] = frozenset()
    added: tuple[float, ...] = ()
    restart_to: int | None = None
    instrument: str = field(default="")

    def last_played(self) -> dict[int, Played]:
        """The last sounding of each written note."""
        return {one.index: one for one in self.played if one.index is not None}


def melody(rng: np.random.Generator, low: int, high: int, count: int) -> Passage:
    """A tonal line of ``count`` notes between ``low`` and ``high``, mostly steps."""
    scale = np.array([m for m in range(low, high + 1) if (m - low) % 12 in MODE])
    place, onset, notes = int(rng.integers(2, max(3, len(scale) - 2))), Fraction(0), []
    while len(notes) < count:
        value = VALUES[int(rng.choice(len(VALUES), p=(0.3, 0.2, 0.2, 0.15, 0.1, 0.05)))]
        notes.append(
            Note(
                onset_quarters=onset,
                duration_quarters=value,
                midi=int(scale[place]),
                measure=int(onset // 4),
            )
        )
        onset += value
        step = int(rng.choice((-3, -2, -1, 0, 1, 2, 3), p=(0.08, 0.1, 0.3, 0.08, 0.26, 0.1, 0.08)))
        place = int(np.clip(place + step, 0, len(scale) - 1))
    return Passage("", "", "", (), tuple(notes), onset)


def tone(
    midi: float, seconds: float, timbre: str, rng: np.random.Generator, vibrato_cents: float = 0.0
) -> np.ndarray:
    """One note with exact mean pitch; level about 0.2."""
    harmonics, attack_s, _ = TIMBRES[timbre]
    count = max(int(seconds * RATE_HZ), 200)
    time_s = np.arange(count) / RATE_HZ
    f0_hz = 440.0 * 2.0 ** ((midi - 69.0) / 12.0)
    bend = vibrato_cents * np.sin(2 * np.pi * 5.5 * time_s + rng.uniform(0, 6.28))
    phase = 2 * np.pi * np.cumsum(f0_hz * 2.0 ** (bend / 1200.0)) / RATE_HZ
    wave = np.zeros(count)
    for number, strength in enumerate(harmonics, start=1):
        if number * f0_hz < 0.45 * RATE_HZ:
            wave += strength * np.sin(number * phase + rng.uniform(0, 6.28))
    envelope = np.minimum(1.0, time_s / attack_s) * np.minimum(1.0, (seconds - time_s) / 0.02)
    return 0.2 / np.sqrt(np.sum(np.square(harmonics))) * wave * np.clip(envelope, 0.0, 1.0)


def stroke(rng: np.random.Generator, level: float = 1.0) -> np.ndarray:
    """One drum stroke: noise that dies away in a tenth of a second."""
    time_s = np.arange(int(0.15 * RATE_HZ)) / RATE_HZ
    return 0.3 * level * rng.normal(size=len(time_s)) * np.exp(-time_s / 0.025)


def room(dry: np.ndarray, rng: np.random.Generator, seconds: float, level: float) -> np.ndarray:
    """The dry sound with a decaying noise tail of the given length (60 dB) and level."""
    count = int(seconds * RATE_HZ)
    tail = rng.normal(size=count) * np.exp(-6.9 * np.arange(count) / count)
    tail *= level / np.sqrt(np.sum(tail**2))
    size = 1 << int(np.ceil(np.log2(len(dry) + count)))
    wet = np.fft.irfft(np.fft.rfft(dry, size) * np.fft.rfft(tail, size), size)[: len(dry)]
    return dry + wet


def finished(dry: np.ndarray, rng: np.random.Generator, snr_db: float, echo: float) -> Recording:
    """Room and noise added to a dry take."""
    wet = room(dry, rng, 0.4, echo) if echo else dry
    level = np.sqrt(np.mean(dry[np.abs(dry) > 1e-4] ** 2)) if np.any(dry) else 0.01
    wet = wet + rng.normal(size=len(wet)) * level * 10.0 ** (-snr_db / 20.0)
    return Recording(np.clip(wet, -1.0, 1.0).astype(np.float32), RATE_HZ)


def make_take(
    seed: int,
    *,
    timbre: str | None = None,
    count: int = 24,
    wrong: int = 0,
    skipped: int = 0,
    added: int = 0,
    restart: bool = False,
    spread_ms: float = 15.0,
    spread_cents: float = 10.0,
    tuning_cents: float | None = None,
    tempo_factor: float | None = None,
    snr_db: float = 30.0,
    echo: float = 0.3,
    gap_share: float = 0.08,
    passage: Passage | None = None,
    shift: int = 0,
) -> Take:
    """A take by ``seed`` with so many faults of each kind; the rest as named."""
    rng = np.random.default_rng(seed)
    timbre = timbre or list(TIMBRES)[int(rng.integers(len(TIMBRES)))]
    low, high = TIMBRES[timbre][2]
    if passage is None:
        start = int(rng.integers(low, max(low + 1, high - 14)))
        passage = melody(rng, start, min(start + 14, high), count)
    notes = passage.notes
    tuning = rng.normal(0, 12.0) if tuning_cents is None else tuning_cents
    factor = rng.uniform(0.75, 1.3) if tempo_factor is None else tempo_factor
    marked = 96.0
    quarter_s = 60.0 / marked / factor
    inner = rng.permutation(np.arange(1, len(notes) - 1))
    wrong_at = frozenset(int(i) for i in inner[:wrong])
    skipped_at = frozenset(int(i) for i in inner[wrong : wrong + skipped])
    added_at = frozenset(int(i) for i in inner[wrong + skipped : wrong + skipped + added])
    order = list(range(len(notes)))
    restart_to = None
    if restart:
        stop = int(rng.integers(len(notes) // 2, len(notes) - 3))
        starts = [i for i in range(stop) if i == 0 or notes[i].measure != notes[i - 1].measure]
        restart_to = starts[-1] if stop - starts[-1] >= 2 or len(starts) < 2 else starts[-2]
        order = [*range(stop), -1, *range(restart_to, len(notes))]
    clock, played, additions = 0.5, [], []
    vibrato = rng.uniform(10, 25) if timbre in ("violin", "cello", "voice") else 0.0
    for place, index in enumerate(order):
        if index < 0:
            clock += rng.uniform(0.6, 1.5)
            continue
        note = notes[index]
        step = (
            notes[index + 1].onset_quarters - note.onset_quarters
            if index + 1 < len(notes)
            else note.duration_quarters
        )
        length_s = float(step) * quarter_s
        first_try = restart and place < order.index(-1)
        if index in skipped_at and not first_try:
            clock += length_s if rng.random() < 0.5 else 0.0
            continue
        onset = clock + float(np.clip(rng.normal(0, spread_ms / 1000), -0.06, 0.06))
        midi = note.midi + shift + (tuning + rng.normal(0, spread_cents)) / 100.0
        if index in wrong_at and not first_try:
            midi += int(rng.choice((-2, -1, 1, 2)))
        sounds_s = float(note.duration_quarters) * quarter_s * (1.0 - gap_share)
        played.append(Played(index, onset, onset + sounds_s, midi))
        clock += length_s
        if index in added_at and not first_try:
            extra = float(rng.uniform(0.25, 0.45))
            other = note.midi + int(rng.choice((-4, -3, 3, 4)))
            additions.append(clock)
            played.append(Played(None, clock, clock + 0.9 * extra, other + tuning / 100.0))
            clock += extra
    dry = np.zeros(int((clock + 1.0) * RATE_HZ))
    for one in played:
        wave = tone(one.midi, one.offset_s - one.onset_s, timbre, rng, vibrato)
        start = int(one.onset_s * RATE_HZ)
        wave = wave[: len(dry) - start] * rng.uniform(0.8, 1.2)
        dry[start : start + len(wave)] += wave
    return Take(
        recording=finished(dry, rng, snr_db, echo),
        passage=passage,
        played=tuple(played),
        tempo_qpm=marked,
        tuning_cents=float(tuning),
        wrong=wrong_at,
        skipped=skipped_at,
        added=tuple(additions),
        restart_to=restart_to,
        instrument=timbre,
    )


def make_strokes(seed: int, *, spread_ms: float = 6.0, skipped: int = 0, count: int = 32) -> Take:
    """A snare line by ``seed``; strokes are exact noise bursts in a small room."""
    rng = np.random.default_rng(seed)
    onset, notes = Fraction(0), []
    while len(notes) < count:
        value = (Fraction(1), Fraction(1, 2), Fraction(1, 4))[int(rng.integers(3))]
        repeat = int(Fraction(1) / value)
        for _ in range(repeat):
            notes.append(
                Note(
                    onset_quarters=onset,
                    duration_quarters=value,
                    midi=None,
                    drum="snare",
                    measure=int(onset // 4),
                )
            )
            onset += value
    passage = Passage("", "", "", (), tuple(notes), onset)
    quarter_s = 60.0 / 96.0 / rng.uniform(0.8, 1.2)
    skipped_at = frozenset(int(i) for i in rng.permutation(np.arange(1, len(notes) - 1))[:skipped])
    played, dry = [], np.zeros(int((float(onset) * quarter_s + 1.5) * RATE_HZ))
    for index, note in enumerate(notes):
        if index in skipped_at:
            continue
        at = 0.5 + float(note.onset_quarters) * quarter_s + rng.normal(0, spread_ms / 1000)
        played.append(Played(index, at, at + 0.1, None))
        wave = stroke(rng, rng.uniform(0.6, 1.0))
        start = int(at * RATE_HZ)
        wave = wave[: len(dry) - start]
        dry[start : start + len(wave)] += wave
    return Take(
        recording=finished(dry, rng, 35.0, 0.2),
        passage=passage,
        played=tuple(played),
        tempo_qpm=96.0,
        tuning_cents=0.0,
        skipped=skipped_at,
        instrument="snare",
    )
