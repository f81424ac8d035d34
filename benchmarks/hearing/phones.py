"""What a phone and its browser do to a sound: band, gain control, noise suppression, echo
cancelling, a lossy codec in a container. All imitated after the textbooks; strengths our choice.
"""

from __future__ import annotations

import io
from dataclasses import dataclass

import av
import numpy as np
from scipy.ndimage import minimum_filter1d, uniform_filter1d
from scipy.signal import butter, fftconvolve, istft, resample_poly, sosfilt, stft

from benchmarks.hearing.tones import RATE_HZ

BLOCK_S = 0.005
TELEPHONE_HZ = 8_000
TELEPHONE_BAND_HZ = (300.0, 3400.0)
"""The telephone's band (ITU-T G.712)."""

_FRAME, _HOP = 1024, 256


@dataclass(frozen=True, slots=True)
class Phone:
    """One way to record: what is done before the codec, and which codec and container."""

    name: str
    gain_control: bool
    suppression: bool
    echo_cancelling: bool
    band_hz: tuple[float, float]
    containers: tuple[tuple[str, str, int], ...]
    """Container, codec, kbit/s."""


PHONES = (
    Phone("recorder app", False, False, False, (60.0, 18_000.0),
          (("ipod", "aac", 64), ("ipod", "aac", 128), ("mp3", "libmp3lame", 128))),
    Phone("browser, plain", False, False, False, (80.0, 16_000.0),
          (("webm", "libopus", 128), ("mp4", "libopus", 96), ("ogg", "libopus", 64),
           ("mp4", "aac", 96))),
    Phone("browser, gain control", True, False, False, (100.0, 16_000.0),
          (("webm", "libopus", 64), ("webm", "libopus", 32), ("mp4", "aac", 64))),
    Phone("browser, voice", True, True, False, (100.0, 14_000.0),
          (("webm", "libopus", 48), ("webm", "libopus", 32), ("ogg", "libopus", 32))),
    Phone("call", True, True, True, (120.0, 8_000.0), (("webm", "libopus", 32),)),
    Phone("computer", False, False, False, (40.0, 20_000.0),
          (("wav", "pcm_s16le", 0), ("flac", "flac", 0))),
)  # fmt: skip
PHONE_SHARES = (0.28, 0.27, 0.15, 0.14, 0.06, 0.10)
PROCESSING = frozenset(p.name for p in PHONES if p.gain_control or p.suppression)
"""Names of the phones that shape the sound."""


def draw_phone(rng: np.random.Generator) -> Phone:
    """One of `PHONES` by `PHONE_SHARES`."""
    return PHONES[int(rng.choice(len(PHONES), p=PHONE_SHARES))]


def through(sound: np.ndarray, phone: Phone, rng: np.random.Generator) -> np.ndarray:
    """``sound`` as the phone hands it to the codec, within -1 to 1, same shape."""
    low, high = phone.band_hz
    out = sosfilt(butter(2, low, "high", fs=RATE_HZ, output="sos"), sound)
    out = sosfilt(butter(4, high, "low", fs=RATE_HZ, output="sos"), out)
    if phone.echo_cancelling:
        out = echo_cancelled(out, rng)
    if phone.suppression:
        out = suppressed(out)
    level = np.sqrt(np.mean(out**2)) or 1.0
    out = out * 10 ** (rng.uniform(-34.0, -20.0) / 20) / level
    if phone.gain_control:
        out = gain_controlled(out)
    peak = float(np.abs(out).max(initial=0.0))
    return out * min(1.0, 0.85 / peak) if peak else out


def gain_controlled(sound: np.ndarray, target_db: float = -20.0) -> np.ndarray:
    """Automatic gain control: toward a target, down in 15 ms, up in half a second, at most 18 dB.

    Steady sound far below the target is raised, sudden sound is pressed down; same shape.
    """
    block = int(BLOCK_S * RATE_HZ)
    count = len(sound) // block
    level_db = 10 * np.log10(
        np.mean(sound[: count * block].reshape(count, block) ** 2, axis=1) + 1e-9
    )
    gains, gain, heard = np.zeros(count), 6.0, -40.0
    for place, level in enumerate(level_db):
        heard += (level - heard) * (BLOCK_S / (0.03 if level > heard else 0.4))
        wanted = float(np.clip(0.7 * (target_db - heard), -12.0, 18.0)) if heard > -60 else 6.0
        gain += (wanted - gain) * BLOCK_S / (0.015 if wanted < gain else 0.5)
        gains[place] = gain
    centres = (np.arange(count) + 0.5) * block
    return sound * 10 ** (np.interp(np.arange(len(sound)), centres, gains) / 20)


def suppressed(sound: np.ndarray, deepest_db: float = -15.0) -> np.ndarray:
    """Spectral noise suppression: what stands still for 1.5 s is taken for noise; same shape."""
    _, _, frames = stft(sound, nperseg=_FRAME, noverlap=_FRAME - _HOP)
    power = uniform_filter1d(np.abs(frames) ** 2, 5, axis=1)
    width = int(1.5 * RATE_HZ / _HOP)
    floor = 1.5 * minimum_filter1d(power, width, axis=1, origin=width // 2 - 1)
    gain = np.sqrt(np.maximum(1.0 - 1.5 * floor / np.maximum(power, 1e-14), 0.0))
    gain = uniform_filter1d(np.maximum(gain, 10 ** (deepest_db / 20)), 3, axis=1)
    _, out = istft(frames * gain, nperseg=_FRAME, noverlap=_FRAME - _HOP)
    return np.pad(out, (0, max(0, len(sound) - len(out))))[: len(sound)]


def echo_cancelled(sound: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Artefacts of an echo canceller: short duckings, bands taken out now and then; same shape."""
    out = sound.copy()
    for _ in range(int(len(sound) / RATE_HZ / 2.5)):
        start, length = int(rng.integers(len(sound))), int(rng.uniform(0.04, 0.16) * RATE_HZ)
        piece = out[start : start + length]
        edge = np.minimum(1.0, np.minimum(np.arange(len(piece)), len(piece) - np.arange(len(piece)))
                          / (0.01 * RATE_HZ))  # fmt: skip
        if rng.random() < 0.5:
            depth = 1.0 - 10 ** (-rng.uniform(4, 12) / 20)
            out[start : start + length] = piece * (1.0 - edge * depth)
        else:
            low = rng.uniform(300, 2000)
            band = butter(2, (low, 1.6 * low), "band", fs=RATE_HZ, output="sos")
            out[start : start + length] = piece - 0.8 * edge * sosfilt(band, piece)
    return out


def telephone(sound: np.ndarray) -> np.ndarray:
    """``sound`` in the telephone's band at 8 kHz, shape ``(n / 6,)``."""
    band = butter(4, TELEPHONE_BAND_HZ, "band", fs=RATE_HZ, output="sos")
    return resample_poly(sosfilt(band, sound), 1, RATE_HZ // TELEPHONE_HZ)


def encoded(
    sound: np.ndarray, container: str, codec: str, kbit: int, rate_hz: int = RATE_HZ
) -> bytes:
    """A file of ``sound``, shape ``(n,)``, or ``(2, n)`` for stereo."""
    target, planes = io.BytesIO(), np.atleast_2d(sound)
    layout = "mono" if len(planes) == 1 else "stereo"
    whole = np.round(np.clip(planes, -1, 1) * 32767).astype(np.int16)
    with av.open(target, "w", format=container) as out:
        stream = out.add_stream(codec, rate=rate_hz, layout=layout)
        if kbit:
            stream.bit_rate = kbit * 1000
        whole = np.ascontiguousarray(whole)
        frame = av.AudioFrame.from_ndarray(whole, format="s16p", layout=layout)
        frame.sample_rate, frame.pts = rate_hz, 0
        form = stream.codec_context.format.name
        cutter = av.AudioResampler(form, layout, rate_hz, frame_size=960)
        for part in [*cutter.resample(frame), *cutter.resample(None)]:
            out.mux(stream.encode(part))
        out.mux(stream.encode(None))
    return target.getvalue()


def decoded(data: bytes) -> tuple[np.ndarray, int]:
    """Samples, mono float32 of shape ``(n,)``, and rate of a file, counted from the first one."""
    pieces, resampler, rate_hz = [], None, 0
    with av.open(io.BytesIO(data)) as container:
        for frame in container.decode(audio=0):
            if resampler is None:
                rate_hz = min(frame.sample_rate, RATE_HZ)
                resampler = av.AudioResampler("fltp", frame.layout, rate_hz)
            pieces += [same.to_ndarray().mean(axis=0) for same in resampler.resample(frame)]
    return np.clip(np.concatenate(pieces), -1, 1).astype(np.float32), rate_hz


def delay_s(sent: np.ndarray, got: np.ndarray, rate_hz: int = RATE_HZ) -> float:
    """Seconds by which ``got`` is later than ``sent`` (both at ``rate_hz``), by correlation.

    >>> sent = np.random.default_rng(1).normal(size=9600)
    >>> round(delay_s(sent, np.append(np.zeros(48), sent)) * 1000, 2)
    1.0
    """
    count, reach = min(len(sent), len(got), 12 * rate_hz), int(0.15 * rate_hz)
    match = fftconvolve(got[:count].astype(float), sent[:count][::-1], "full")
    near = match[count - 1 - reach : count + reach]
    return float(np.argmax(near) - reach) / rate_hz
