"""How an instrument of the demo sounds: families of tone as tables, and single sounds.

Additive tones on exact pitch, decaying bars for mallets, bursts of noise for
drums. Enough to be told apart by ear and read by machine; not a sampler. The
partial strengths are drawn by ear from textbook spectra: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from standlight.music import hz_of_midi

RATE_HZ = 48_000
"""Samples a second: what phones record, and a rate of the Opus codec (RFC 6716)."""

TABLE_SIZE = 4096
"""Samples of one stored cycle; with straight-line reading its error is below -90 dB."""

HIGHEST_PARTIAL_HZ = 16_000
"""Partials above are left out, well under half of ``RATE_HZ``."""


@dataclass(frozen=True, slots=True)
class Timbre:
    """One family of tone.

    ``partials`` are amplitudes of the harmonics from the first on, continued by
    ``rolloff_db`` an octave; ``formants`` pairs of Hz and gain of broad resonances;
    times in seconds; ``scoop_cents`` is how far under a note starts; ``breath``
    the share of noise; ``vibrato`` whether such players use it at all.
    """

    partials: tuple[float, ...]
    rolloff_db: float
    attack_s: float
    release_s: float
    breath: float = 0.002
    scoop_cents: float = 0.0
    vibrato: bool = True
    formants: tuple[tuple[float, float], ...] = ()


TIMBRES: dict[str, Timbre] = {
    "flute": Timbre((1, 0.4, 0.18, 0.06, 0.03), -24, 0.035, 0.05, breath=0.02),
    "single_reed_narrow": Timbre(
        (1, 0.06, 0.6, 0.07, 0.38, 0.1, 0.2, 0.1), -15, 0.025, 0.05, vibrato=False
    ),
    "double_reed": Timbre((0.6, 1, 0.85, 0.6, 0.5, 0.3, 0.2), -14, 0.02, 0.04),
    "saxophone": Timbre((1, 0.85, 0.5, 0.45, 0.3, 0.22, 0.15), -12, 0.025, 0.05, breath=0.006),
    "high_brass": Timbre((0.8, 1, 0.9, 0.7, 0.55, 0.4, 0.28, 0.2), -12, 0.03, 0.05),
    "horn": Timbre((1, 0.9, 0.5, 0.28, 0.14, 0.07), -18, 0.035, 0.06, vibrato=False),
    "low_brass": Timbre((0.7, 1, 0.85, 0.6, 0.42, 0.28, 0.18), -12, 0.035, 0.06, vibrato=False),
    "tuba": Timbre((0.8, 1, 0.6, 0.32, 0.18, 0.1), -16, 0.045, 0.07, vibrato=False),
    "strings": Timbre(
        (1, 0.62, 0.45, 0.36, 0.26, 0.2, 0.16),
        -7,
        0.05,
        0.08,
        breath=0.006,
        formants=((450, 1.5), (1100, 1.3), (2800, 1.6)),
    ),
    "voice": Timbre(
        (1, 0.7, 0.45, 0.3, 0.2, 0.14),
        -12,
        0.06,
        0.08,
        breath=0.008,
        scoop_cents=35,
        formants=((700, 3.0), (1150, 2.2), (2900, 2.0)),
    ),
}
"""Every family of sustained tone."""

MALLET = "mallet"
DRUM = "drum"

FAMILY_BY_WORD: tuple[tuple[str, str], ...] = (
    ("glockenspiel", MALLET),
    ("bells", MALLET),
    ("xylophone", MALLET),
    ("marimba", MALLET),
    ("vibraphone", MALLET),
    ("chimes", MALLET),
    ("timpani", MALLET),
    ("bass clarinet", "single_reed_narrow"),
    ("clarinet", "single_reed_narrow"),
    ("drum", DRUM),
    ("cymbal", DRUM),
    ("percussion", DRUM),
    ("triangle", DRUM),
    ("block", DRUM),
    ("piccolo", "flute"),
    ("flute", "flute"),
    ("oboe", "double_reed"),
    ("english horn", "double_reed"),
    ("bassoon", "double_reed"),
    ("saxophone", "saxophone"),
    ("trumpet", "high_brass"),
    ("cornet", "high_brass"),
    ("horn", "horn"),
    ("trombone", "low_brass"),
    ("baritone /", "low_brass"),
    ("euphonium", "low_brass"),
    ("tuba", "tuba"),
    ("violin", "strings"),
    ("viola", "strings"),
    ("cello", "strings"),
    ("double bass", "strings"),
    ("contrabass", "strings"),
    ("soprano", "voice"),
    ("alto", "voice"),
    ("tenor", "voice"),
    ("bass", "voice"),
    ("voice", "voice"),
    ("baritone", "voice"),
)
"""First word found in an instrument's name decides its family."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """How one drum sounds: a falling tone and a band of noise, each with its decay in seconds."""

    tone_hz: float
    tone_decay_s: float
    tone_share: float
    noise_low_hz: float
    noise_high_hz: float
    noise_decay_s: float


DRUMS: dict[str, Stroke] = {
    "snare": Stroke(190, 0.05, 0.5, 700, 9000, 0.07),
    "bass": Stroke(62, 0.18, 1.0, 60, 500, 0.03),
    "cymbal": Stroke(420, 0.2, 0.03, 2500, 15000, 0.45),
    "tom": Stroke(120, 0.15, 0.9, 200, 3000, 0.04),
    "block": Stroke(900, 0.03, 0.9, 800, 5000, 0.01),
    "triangle": Stroke(4200, 0.4, 0.9, 6000, 15000, 0.05),
}
"""Strokes by a word of the drum's name; any other drum sounds as a snare."""

MALLET_PARTIALS = ((1.0, 1.0, 1.0), (2.756, 0.35, 0.35), (5.404, 0.15, 0.15))
"""Ratio, strength and relative decay of a free bar's first partials: 1, 2.756 and 5.404 times
the lowest (Euler-Bernoulli bar with free ends; from memory, as in acoustics textbooks)."""


def family_of(instrument: str) -> str:
    """Family of an instrument by its name in the instruments table or on a part.

    >>> family_of("Clarinet in Bb"), family_of("Snare drum"), family_of("Double bass")
    ('single_reed_narrow', 'drum', 'strings')
    >>> family_of("Bass")
    'voice'
    """
    name = instrument.lower()
    found = next((family for word, family in FAMILY_BY_WORD if word in name), None)
    if found is None:
        raise ValueError(f"no tone for {instrument!r} (a name outside the instruments table?)")
    return found


@lru_cache(maxsize=512)
def cycle(family: str, semitone: int) -> np.ndarray:
    """One stored cycle of a family near a MIDI number: ``TABLE_SIZE`` + 1 float32, RMS 1."""
    timbre = TIMBRES[family]
    f0_hz = float(hz_of_midi(semitone))
    count = max(1, min(40, int(HIGHEST_PARTIAL_HZ / f0_hz)))
    place = np.arange(TABLE_SIZE + 1) / TABLE_SIZE
    wave = np.zeros(TABLE_SIZE + 1)
    for k in range(1, count + 1):
        wave += _strength(timbre, k, f0_hz) * np.sin(2 * np.pi * k * place + 0.7 * k * k)
    return (wave / np.sqrt(np.mean(wave[:-1] ** 2))).astype(np.float32)


def _strength(timbre: Timbre, k: int, f0_hz: float) -> float:
    known = len(timbre.partials)
    if k <= known:
        strength = timbre.partials[k - 1]
    else:
        strength = timbre.partials[-1] * 10 ** (timbre.rolloff_db * np.log2(k / known) / 20)
    for centre_hz, gain in timbre.formants:
        strength *= 1 + (gain - 1) * np.exp(-0.5 * (np.log2(k * f0_hz / centre_hz) / 0.35) ** 2)
    return float(strength)


def tone(
    family: str, midi: float, seconds: float, *, vibrato_cents: float, rng: np.random.Generator
) -> np.ndarray:
    """One sustained note at an exact fractional MIDI pitch: float32, RMS about 1 in its middle.

    The first sample is the onset; a voice scoops up to the pitch within a tenth of a second.
    """
    timbre = TIMBRES[family]
    n = max(2, round(seconds * RATE_HZ))
    t = np.arange(n) / RATE_HZ
    f0_hz = float(hz_of_midi(midi))
    cents = np.zeros(n)
    if timbre.scoop_cents:
        cents -= timbre.scoop_cents * np.exp(-t / 0.03)
    if vibrato_cents and timbre.vibrato:
        grow = np.minimum(1.0, t / 0.3)
        cents += (
            vibrato_cents * grow * np.sin(2 * np.pi * (rng.uniform(4.8, 5.8) * t + rng.uniform()))
        )
    bent = bool(cents.any())
    phase = np.cumsum(f0_hz * np.exp2(cents / 1200)) / RATE_HZ if bent else f0_hz * t
    place = np.mod(phase, 1.0) * TABLE_SIZE
    lower = place.astype(np.int32)
    between = (place - lower).astype(np.float32)
    wave = cycle(family, round(midi))
    sound = wave[lower] + between * (wave[lower + 1] - wave[lower])
    if timbre.breath:
        sound += np.float32(timbre.breath * 10) * _breath(n, rng)
    return sound * _envelope(n, timbre)


@lru_cache(maxsize=1)
def _stored_breath() -> np.ndarray:
    noise = np.random.default_rng(20).standard_normal(RATE_HZ * 4).astype(np.float32)
    return noise / np.float32(10)


def _breath(n: int, rng: np.random.Generator) -> np.ndarray:
    stored = _stored_breath()
    start = int(rng.integers(0, stored.size // 2))
    return np.resize(stored[start:], n)


def _envelope(n: int, timbre: Timbre) -> np.ndarray:
    """Rise and fall as raised cosines; at most a third of a short note each; float32."""
    level = np.ones(n, dtype=np.float32)
    rise = min(int(timbre.attack_s * RATE_HZ), n // 3)
    fall = min(int(timbre.release_s * RATE_HZ), n // 3)
    if rise:
        level[:rise] = 0.5 - 0.5 * np.cos(np.pi * np.arange(rise) / rise)
    if fall:
        level[-fall:] = 0.5 + 0.5 * np.cos(np.pi * np.arange(fall) / fall)
    return level


def bar(midi: float, seconds: float) -> np.ndarray:
    """One struck bar: float32, at least 0.6 s long however short the note, peak about 2."""
    n = round(max(seconds, 0.6) * RATE_HZ)
    t = np.arange(n) / RATE_HZ
    f0_hz = float(hz_of_midi(midi))
    sound = np.zeros(n)
    for ratio, strength, decay in MALLET_PARTIALS:
        if ratio * f0_hz < HIGHEST_PARTIAL_HZ:
            sound += strength * np.exp(-t / (0.35 * decay)) * np.sin(2 * np.pi * ratio * f0_hz * t)
    sound *= np.minimum(1.0, t / 0.002) * np.minimum(1.0, (t[-1] - t) / 0.02)
    return (2 * sound).astype(np.float32)


def stroke(drum: str, rng: np.random.Generator) -> np.ndarray:
    """One drum stroke: float32, as long as its decay asks, peak about 3; the onset is sample 0."""
    name = drum.lower()
    kind = next((word for word in DRUMS if word in name), "snare")
    variants = _strokes(kind)
    return variants[int(rng.integers(0, len(variants)))]


@lru_cache(maxsize=len(DRUMS))
def _strokes(kind: str, variants: int = 6) -> tuple[np.ndarray, ...]:
    """A few renderings of one drum, so that no two neighbours are the same samples."""
    shape = DRUMS[kind]
    rng = np.random.default_rng(sorted(DRUMS).index(kind))
    n = int(min(0.9, 6 * max(shape.tone_decay_s, shape.noise_decay_s)) * RATE_HZ)
    t = np.arange(n) / RATE_HZ
    frequencies = np.fft.rfftfreq(n, 1 / RATE_HZ)
    band = (frequencies >= shape.noise_low_hz) & (frequencies <= shape.noise_high_hz)
    made = []
    for _ in range(variants):
        noise = np.fft.irfft(np.fft.rfft(rng.standard_normal(n)) * band, n)
        noise *= np.exp(-t / shape.noise_decay_s) / np.std(noise)
        body = np.exp(-t / shape.tone_decay_s) * np.sin(2 * np.pi * shape.tone_hz * t)
        sound = 2 * shape.tone_share * body + (1 - 0.7 * shape.tone_share) * noise
        made.append((sound * np.minimum(1.0, (t[-1] - t) / 0.01)).astype(np.float32))
    return tuple(made)
