"""The room around a take and its noises: synthetic, seeded, the direct sound never delayed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.signal import butter, fftconvolve, sosfilt

from benchmarks.hearing.tones import RATE_HZ


@dataclass(frozen=True, slots=True)
class Room:
    """Time to die away by 60 dB, low and high sounds, and direct over reverberant level."""

    name: str
    low_s: float
    high_s: float
    direct_db: float


ROOMS = (
    Room("bedroom", 0.35, 0.25, 8.0),
    Room("practice room", 0.45, 0.35, 5.0),
    Room("classroom", 0.70, 0.55, 3.0),
    Room("band room", 0.95, 0.75, 2.0),
    Room("hall", 1.80, 1.20, 3.0),
)
"""Reverberation times usual for such rooms (common practice, no source); levels our choice."""

ROOM_SHARES = (0.25, 0.25, 0.25, 0.15, 0.10)
NOISES = ("hiss", "rumble", "hum", "voices")


def draw_room(rng: np.random.Generator) -> Room:
    """One of `ROOMS`, small ones oftener."""
    return ROOMS[int(rng.choice(len(ROOMS), p=ROOM_SHARES))]


def in_room(dry: np.ndarray, room: Room, rng: np.random.Generator) -> np.ndarray:
    """``dry`` with early reflections and a tail whose highs die first, same shape."""
    count = int(room.low_s * RATE_HZ)
    time_s = np.arange(count) / RATE_HZ
    hiss = rng.normal(size=count)
    lows = sosfilt(butter(2, 1000.0, "low", fs=RATE_HZ, output="sos"), hiss)
    tail = lows * np.exp(-6.9 * time_s / room.low_s)
    tail += (hiss - lows) * np.exp(-6.9 * time_s / room.high_s)
    tail *= np.clip((time_s - 0.012) / 0.02, 0.0, 1.0)
    for _ in range(8):
        place = int(rng.uniform(0.003, 0.045) * RATE_HZ)
        tail[place] += rng.choice((-1, 1)) * rng.uniform(0.5, 2.5)
    tail *= 10 ** (-room.direct_db / 20) / np.sqrt(np.sum(tail**2))
    return dry + fftconvolve(dry, tail)[: len(dry)]


def noise(kind: str, count: int, rng: np.random.Generator) -> np.ndarray:
    """Background of one of `NOISES`, root mean square 1, shape ``(count,)``."""
    time_s = np.arange(count) / RATE_HZ
    white = rng.normal(size=count)
    if kind == "hum":
        made = 0.3 * white
        for k in (1, 2, 3, 5):
            made += np.sin(2 * np.pi * 60.0 * k * time_s + rng.uniform(0, 6)) / k
    elif kind == "voices":
        band = sosfilt(butter(2, (200.0, 2500.0), "band", fs=RATE_HZ, output="sos"), white)
        knots = np.arange(0, count / RATE_HZ + 0.3, 0.12)
        made = band * np.interp(time_s, knots, rng.gamma(1.2, 1.0, len(knots)))
    else:
        cut = {"hiss": (6000.0, "low"), "rumble": (400.0, "low")}[kind]
        made = sosfilt(butter(1, cut[0], cut[1], fs=RATE_HZ, output="sos"), white) + 0.1 * white
    return made / np.sqrt(np.mean(made**2))


def with_noise(
    sound: np.ndarray, kind: str, snr_db: float, rng: np.random.Generator
) -> np.ndarray:
    """``sound`` with background ``snr_db`` under the level of its sounding parts, same shape."""
    size = np.abs(sound)
    loud = sound[size > 0.05 * np.percentile(size, 99)] if np.any(sound) else np.ones(1)
    level = float(np.sqrt(np.mean(loud**2)))
    return sound + level * 10 ** (-snr_db / 20) * noise(kind, len(sound), rng)


def bumps(sound: np.ndarray, rng: np.random.Generator, count: int) -> np.ndarray:
    """``sound`` with so many dull knocks (a stand, a foot) at random places, same shape."""
    out, length = sound.copy(), int(0.12 * RATE_HZ)
    time_s = np.arange(length) / RATE_HZ
    level = float(np.percentile(np.abs(sound), 95))
    for _ in range(count):
        place = int(rng.integers(0, max(1, len(out) - length)))
        knock = np.sin(2 * np.pi * rng.uniform(70, 180) * time_s) * np.exp(-time_s / 0.02)
        out[place : place + length] += rng.uniform(0.2, 0.6) * level * knock[: len(out) - place]
    return out
