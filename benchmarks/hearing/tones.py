"""One tone at a time: sampled through fluidsynth or additive, and what is measured on it dry.

Each tone is rendered alone, so that its onset and its pitch are measured before anything
overlaps: sampled attacks lag behind their note-on by up to 90 ms and sampled instruments are
themselves up to 25 cents off.
"""

from __future__ import annotations

import os
import shutil
import struct
import subprocess
import tempfile
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.io import wavfile
from scipy.signal import fftconvolve

from benchmarks.hearing.playing import WANDER_HZ, Sound
from benchmarks.hearing.timbres import Timbre

RATE_HZ = 48_000
FONTS = (
    Path("/usr/share/sounds/sf2/FluidR3_GM.sf2"),
    Path("/usr/share/sounds/sf3/MuseScore_General_Full.sf3"),
)
PACKAGES = ("fluidsynth", "fluid-soundfont-gm", "musescore-general-soundfont")
RELEASE_S = 0.30
"""So much of a tone's dying away is kept."""

ONSET_BELOW_DB, ATTACK_S, ENVELOPE_S = 15.0, 0.25, 0.005
"""A tone begins where its level over 5 ms first comes within 15 dB of its highest in the first
quarter second: perceptual onsets lie 6 to 15 dB below the maximum (Vos & Rasch 1981, from
memory). `Clip.attack_s` says how much the choice matters."""

FARTHEST_CENTS = 200.0
"""No sampled tone is farther off; what says so is no pitch."""

STEADY_FROM, STEADY_TO = 0.30, 0.85
"""Pitch is measured over this share of the sounding time."""

_PPQ, _LEAD_S, _BEND_EVERY_S = 960, 0.1, 0.008


@dataclass(frozen=True, slots=True, eq=False)
class Clip:
    """One dry tone: samples of shape ``(n,)`` and what was measured on them.

    ``onset_s`` and ``full_s`` count from the clip's start: where the tone begins, and where
    it is within 3 dB of its highest. ``attack_s`` is the time from 20 to 10 dB below the
    highest. ``cents`` is its pitch against the nominal ``Sound.midi`` (nan: none).
    """

    samples: np.ndarray
    onset_s: float
    full_s: float
    attack_s: float
    cents: float


def fonts() -> list[Path]:
    """The sampled sets that are here; installs Debian's packages when allowed, else says so."""
    if all(font.exists() for font in FONTS) and shutil.which("fluidsynth"):
        return list(FONTS)
    if os.geteuid() == 0 and shutil.which("apt-get"):
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "check": False}
        subprocess.run(["apt-get", "update", "-qq"], **quiet)
        subprocess.run(
            ["apt-get", "install", "-y", "-qq", "--no-install-recommends", *PACKAGES], **quiet
        )
    found = [font for font in FONTS if font.exists() and shutil.which("fluidsynth")]
    if not found:
        print(f"No sampled sounds here (apt-get install {' '.join(PACKAGES)}): additive only.")
    return found


def bend_cents(sound: Sound, time_s: np.ndarray) -> np.ndarray:
    """Scoop, vibrato and wandering in cents at seconds after the tone's onset, same shape."""
    since = np.maximum(time_s, 0.0)
    scoop = sound.scoop_cents * np.exp(-2.5 * since / max(sound.scoop_s, 1e-3))
    swing = sound.vibrato_cents * np.clip((since - 0.12) / 0.15, 0.0, 1.0)
    wander = sound.wander_cents * np.sin(2 * np.pi * WANDER_HZ * since + sound.wander_phase)
    return scoop + wander + swing * np.sin(2 * np.pi * sound.vibrato_hz * (since - 0.12))


def sampled(
    font: Path, program: int, sounds: Sequence[Sound], extra_s: Sequence[float] = ()
) -> list[Clip]:
    """Every sound as a clip of the font's ``program``, measured.

    ``extra_s`` lengthens tones whose attack will be cut away. Raises RuntimeError when
    fluidsynth fails.
    """
    extra = list(extra_s) or [0.0] * len(sounds)
    lengths = [sound.seconds + more for sound, more in zip(sounds, extra, strict=True)]
    keys = [int(np.clip(round(sound.midi), 0, 127)) for sound in sounds]
    starts = _LEAD_S + np.append(0.0, np.cumsum([s + RELEASE_S + 0.35 for s in lengths]))
    events = [(0.0, bytes([0xC0, program]))]
    for sound, key, start, length in zip(sounds, keys, starts[:-1], lengths, strict=True):
        times = np.arange(0.0, length + 0.1, _BEND_EVERY_S)
        bend = 100.0 * (sound.midi - key) + bend_cents(sound, times)
        events += [(start - 0.01 + t, _bend(c)) for t, c in zip(times, bend, strict=True)]
        events.append((start, bytes([0x90, key, sound.velocity])))
        events.append((start + length, bytes([0x80, key, 0])))
    whole = render(font, events)
    clips = []
    for sound, key, start, length in zip(sounds, keys, starts[:-1], lengths, strict=True):
        first = int(round(start * RATE_HZ))
        samples = whole[first : first + int((length + RELEASE_S) * RATE_HZ)]
        clips.append(measured(_faded(samples), sound, length, heard_key=key))
    return clips


def struck(font: Path, channel: int, program: int, keys: Sequence[int], velocities: Sequence[int],
           seconds: float) -> list[Clip]:  # fmt: skip
    """Strokes that ring for ``seconds``, with their measured onsets."""
    starts = _LEAD_S + np.arange(len(keys)) * (seconds + 0.3)
    events = [(0.0, bytes([0xC0 | channel, program]))]
    for key, velocity, start in zip(keys, velocities, starts, strict=True):
        events.append((start, bytes([0x90 | channel, key, velocity])))
        events.append((start + seconds, bytes([0x80 | channel, key, 0])))
    whole = render(font, events)
    clips = []
    for start in starts:
        first = int(round(start * RATE_HZ))
        samples = _faded(whole[first : first + int(seconds * RATE_HZ)])
        clips.append(Clip(samples, *attack(samples), cents=float("nan")))
    return clips


def additive(timbre: Timbre, sound: Sound, rng: np.random.Generator, extra_s: float = 0.0) -> Clip:
    """One additive tone of exact pitch: harmonics, formants, a swell, a little shimmer, breath."""
    length = sound.seconds + extra_s
    count = int((length + 0.06) * RATE_HZ)
    time_s = np.arange(count) / RATE_HZ
    f0_hz = 440.0 * 2.0 ** ((sound.midi - 69.0) / 12.0)
    phase = 2 * np.pi * np.cumsum(f0_hz * 2.0 ** (bend_cents(sound, time_s) / 1200.0)) / RATE_HZ
    wave = np.zeros(count)
    for number in range(1, min(24, int(9_000 / f0_hz)) + 1):
        level_db = timbre.slope_db * np.log2(number)
        level_db -= 25.0 if timbre.odd and number % 2 == 0 else 0.0
        for peak in timbre.formants_hz:
            level_db += 12.0 * np.exp(-((np.log2(number * f0_hz / peak)) ** 2) / 0.18)
        wave += 10 ** (level_db / 20) * np.sin(number * phase + rng.uniform(0, 6.28))
    wave /= np.sqrt(np.mean(wave**2))
    shimmer = np.interp(time_s, np.arange(0, length + 1, 0.05),
                        rng.normal(1.0, 0.06, len(np.arange(0, length + 1, 0.05))))  # fmt: skip
    rise_s = min(timbre.attack_s, 0.4 * length)
    swell = np.clip(time_s / rise_s, 0, 1) ** 1.5 * np.clip((length + 0.04 - time_s) / 0.05, 0, 1)
    wave = wave * shimmer + timbre.breath * rng.normal(size=count)
    level = 0.1 * 10 ** ((sound.velocity - 80) / 40)
    return measured(level * wave * swell, sound, length, exact=True)


def measured(
    samples: np.ndarray, sound: Sound, length_s: float, *, heard_key: int = 0, exact: bool = False
) -> Clip:
    """A clip with onset and pitch; ``exact`` takes the pitch from the tone's own curve."""
    onset_s, full_s, attack_s = attack(samples)
    first, last = length_s * STEADY_FROM, length_s * STEADY_TO
    if exact:
        cents = float(np.median(bend_cents(sound, np.linspace(first, last, 200))))
    else:
        f0_hz = 440.0 * 2.0 ** ((sound.midi - 69.0) / 12.0)
        cents = pitch_cents(samples, f0_hz, max(first, onset_s), max(last, onset_s + 0.02))
    return Clip(samples, onset_s, full_s, attack_s, cents)


def attack(samples: np.ndarray) -> tuple[float, float, float]:
    """Seconds to the onset and to the full tone, and how long the rise from -20 to -10 dB takes.

    >>> burst = np.append(np.zeros(4800), np.ones(9600))
    >>> abs(attack(burst)[0] - 0.1) < 0.003
    True
    """
    width = int(ENVELOPE_S * RATE_HZ)
    power = fftconvolve(samples**2, np.ones(width) / width, "same")
    level = np.sqrt(np.maximum(power, 0.0))
    peak = float(level[: int(ATTACK_S * RATE_HZ)].max(initial=1e-9))

    def first(below_db: float) -> float:
        return float(np.argmax(level >= peak * 10 ** (-below_db / 20))) / RATE_HZ

    return first(ONSET_BELOW_DB), first(3.0), first(10.0) - first(20.0)


def pitch_cents(samples: np.ndarray, f0_hz: float, first_s: float, last_s: float) -> float:
    """Median pitch of a dry tone from ``first_s`` to ``last_s`` in cents against ``f0_hz``.

    The phase of the first harmonics, each brought down to zero frequency and smoothed over
    four periods: their turning is how far off the tone is. Neighbouring harmonics leak a
    little where the tone is far off, so it is measured again around the first answer. nan
    when there is nothing.
    """
    first = _turning_cents(samples, f0_hz, first_s, last_s)
    if not np.isfinite(first) or abs(first) > FARTHEST_CENTS:
        return first
    return first + _turning_cents(samples, f0_hz * 2.0 ** (first / 1200.0), first_s, last_s)


def _turning_cents(samples: np.ndarray, f0_hz: float, first_s: float, last_s: float) -> float:
    """One pass of `pitch_cents`."""
    width = max(int(4.0 * RATE_HZ / f0_hz), int(0.02 * RATE_HZ))
    window = np.hanning(width + 2)[1:-1]
    step = max(1, int(0.002 * RATE_HZ))
    time_s = np.arange(len(samples)) / RATE_HZ
    turn, weight = 0.0, 1e-20
    for number in range(1, 7):
        if number * f0_hz > 0.4 * RATE_HZ:
            break
        down = samples * np.exp(-2j * np.pi * number * f0_hz * time_s)
        slow = fftconvolve(down, window / window.sum(), "same")[::step]
        product = slow[1:] * np.conj(slow[:-1])
        strength = np.abs(product) * number**2
        turn = turn + strength * np.angle(product) / number
        weight = weight + strength
    off_hz = turn / weight * RATE_HZ / step / (2 * np.pi)
    frames = slice(int(first_s * RATE_HZ / step), int(last_s * RATE_HZ / step) + 1)
    chosen = np.atleast_1d(off_hz)[frames]
    if not len(chosen):
        return float("nan")
    return float(1200.0 * np.log2(max(1.0 + np.median(chosen) / f0_hz, 1e-3)))


def render(font: Path, events: Sequence[tuple[float, bytes]]) -> np.ndarray:
    """A list of (seconds, MIDI message) through fluidsynth, dry, mono float of shape ``(n,)``."""
    with tempfile.TemporaryDirectory() as folder:
        score, sound = Path(folder) / "in.mid", Path(folder) / "out.wav"
        score.write_bytes(_midi_file(events))
        done = subprocess.run(
            ["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-g", "0.8", "-r", str(RATE_HZ),
             "-O", "float", "-o", "synth.dynamic-sample-loading=1", "-o", "synth.polyphony=64",
             "-F", str(sound), str(font), str(score)],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        if not sound.exists():
            raise RuntimeError(f"fluidsynth made no sound: {done.stderr[-300:]}")
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", wavfile.WavFileWarning)
            rate_hz, samples = wavfile.read(sound)
    if rate_hz != RATE_HZ:
        raise RuntimeError(f"fluidsynth gave {rate_hz} Hz instead of {RATE_HZ}")
    mono = samples.mean(axis=1) if samples.ndim > 1 else samples
    last = int((max(at for at, _ in events) + 1.0) * RATE_HZ)
    return np.pad(mono, (0, max(0, last - len(mono)))).astype(float)


def _faded(samples: np.ndarray) -> np.ndarray:
    """The clip with its last 30 ms faded, so that cutting it makes no click."""
    count = min(int(0.03 * RATE_HZ), len(samples))
    faded = samples.copy()
    faded[len(faded) - count :] *= np.linspace(1.0, 0.0, count)
    return faded


def _bend(cents: float) -> bytes:
    """A pitch-bend message on channel 1; the usual range is two semitones."""
    value = int(np.clip(8192 + round(cents * 8192 / 200.0), 0, 16383))
    return bytes([0xE0, value & 127, value >> 7])


def _midi_file(events: Sequence[tuple[float, bytes]]) -> bytes:
    """A one-track Standard MIDI File at 120 quarters a minute."""
    track, last = b"", 0
    for at, message in sorted(events, key=lambda event: event[0]):
        tick = round(max(at, 0.0) * 2 * _PPQ)
        track += _quantity(tick - last) + message
        last = tick
    track += b"\x00\xff\x2f\x00"
    head = b"MThd" + struct.pack(">IHHH", 6, 0, 1, _PPQ)
    return head + b"MTrk" + struct.pack(">I", len(track)) + track


def _quantity(number: int) -> bytes:
    """A variable-length quantity of the MIDI file format."""
    out = [number & 127]
    while number := number >> 7:
        out.append(number & 127 | 128)
    return bytes(reversed(out))
