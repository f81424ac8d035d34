"""The machine player of the demo: written notes and faults in, a take and its exact truth out.

Every take it makes is labelled as made by machine wherever it is shown. The same
notes, faults and seed give the same samples. Pure: no file, no clock.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass

import av
import numpy as np

from standlight.demo import timbre
from standlight.demo.faults import Faults, Sounding, timeline
from standlight.demo.timbre import RATE_HZ
from standlight.music import Note

TONE_RMS = 0.2
"""RMS of a note at the loudest dynamic before gain: about -14 dBFS, as a phone at arm's length."""

CLIP_DRIVE = 14.0
"""Factor that drives a take far over full scale when it is to be clipped."""

PHONE_TARGET_RMS = 0.1
PHONE_SLOWNESS_S = 0.35
"""Automatic gain of a phone: the level it steers to, and how slowly; invented, plausible."""

ROOM_TAPS = 14
"""Number of early reflections of the practice room."""

TAIL_S = 0.9
"""Seconds kept after the last sound."""

SILENT_TAKE_S = 9.0
"""Length of a take on which nothing was played."""

CONTAINERS = {"webm": ("webm", "libopus"), "flac": ("flac", "flac")}
"""Container name -> format and codec of the encoder."""

OPUS_BITS_A_SECOND = 64_000
"""Enough for one channel; at 32 kbit/s onsets were seen to move by up to 3.8 ms."""


@dataclass(frozen=True, slots=True)
class Rendered:
    """A take: mono float32 ``samples`` within -1 to 1, ``rate_hz``, and what was ``played``."""

    samples: np.ndarray
    rate_hz: int
    played: tuple[Sounding, ...]

    @property
    def seconds(self) -> float:
        """Length in seconds."""
        return self.samples.size / self.rate_hz


def play(
    notes: Sequence[Note],
    *,
    tempo_qpm: float,
    instrument: str,
    faults: Faults | None = None,
    seed: int = 0,
    lead_s: float | None = None,
) -> Rendered:
    """Play ``notes`` (a passage's, in order) at ``tempo_qpm`` on ``instrument`` with ``faults``.

    ``lead_s`` is the time before the passage begins, drawn from 0.4 to 1.3 s when
    ``None``. A 20 s take is made in well under half a second. Raises ``ValueError``
    for an instrument without a tone.
    """
    faults = faults or Faults()
    rng = np.random.default_rng(seed)
    family = timbre.family_of(instrument)
    lead = rng.uniform(0.4, 1.3) if lead_s is None else lead_s
    played = timeline(notes, tempo_qpm=tempo_qpm, faults=faults, lead_s=lead, rng=rng)
    length_s = max((sound.offset_s for sound in played), default=SILENT_TAKE_S - TAIL_S) + TAIL_S
    dry = np.zeros(int(length_s * RATE_HZ), dtype=np.float32)
    for sound in played:
        _place(dry, round(sound.onset_s * RATE_HZ), _sound(family, sound, faults, rng))
    wet = _room(dry, rng) if played else dry
    wet *= np.float32(10 ** (faults.gain_db / 20))
    wet += np.float32(10 ** (faults.noise_dbfs / 20)) * rng.standard_normal(
        wet.size, dtype=np.float32
    )
    if faults.phone_gain:
        wet *= _phone_gain(wet)
    if faults.clipped:
        wet *= np.float32(CLIP_DRIVE)
    return Rendered(np.clip(wet, -1.0, 1.0), RATE_HZ, played)


def _sound(family: str, sound: Sounding, faults: Faults, rng: np.random.Generator) -> np.ndarray:
    """Samples of one sound at its level."""
    seconds = sound.offset_s - sound.onset_s
    if sound.midi is None:
        made = timbre.stroke(sound.drum or "snare", rng)
    elif family in (timbre.MALLET, timbre.DRUM):
        made = timbre.bar(sound.midi, seconds)
    else:
        made = timbre.tone(family, sound.midi, seconds, vibrato_cents=faults.vibrato_cents, rng=rng)
    return made * np.float32(TONE_RMS * 10 ** (sound.gain_db / 20))


def _place(into: np.ndarray, start: int, sound: np.ndarray) -> None:
    """Add ``sound`` to ``into`` from sample ``start``; what hangs over the end is dropped."""
    end = min(into.size, start + sound.size)
    into[start:end] += sound[: end - start]


def _room(dry: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """The dry sound with a few early reflections of a small room, weaker the later they come."""
    wet = dry.copy()
    for delay_s in np.sort(rng.uniform(0.006, 0.09, ROOM_TAPS)):
        delay = int(delay_s * RATE_HZ)
        strength = np.float32(rng.choice((-1, 1)) * 0.09 * np.exp(-delay_s / 0.035))
        wet[delay:] += strength * dry[:-delay]
    return wet


def _phone_gain(take: np.ndarray) -> np.ndarray:
    """Gain a sample of a phone that rides the level, quick down and slow up; float32."""
    block = RATE_HZ // 100
    count = max(1, take.size // block)
    level = np.sqrt(np.mean(take[: count * block].reshape(count, -1) ** 2, axis=1)) + 1e-5
    wanted = np.clip(PHONE_TARGET_RMS / level, 0.25, 4.0)
    keep = np.exp(-0.01 / PHONE_SLOWNESS_S)
    gain = np.empty(count)
    now = 1.0
    for i, target in enumerate(wanted):
        slow = keep if target > now else keep**6
        now = slow * now + (1 - slow) * target
        gain[i] = now
    centres = (np.arange(count) + 0.5) * block
    return np.interp(np.arange(take.size), centres, gain).astype(np.float32)


def encode(take: Rendered, container: str = "webm") -> bytes:
    """The take as a file: ``"webm"`` (Opus, as phones send it) or ``"flac"`` (exact to 16 bits).

    The same take gives the same bytes, so that its digest is stable.
    """
    form, codec = CONTAINERS[container]
    sink = io.BytesIO()
    with av.open(sink, "w", format=form, options={"fflags": "+bitexact"}) as file:
        stream = file.add_stream(codec, rate=take.rate_hz, layout="mono")
        stream.codec_context.flags |= av.codec.context.Flags.bitexact
        if codec == "libopus":
            stream.bit_rate = OPUS_BITS_A_SECOND
        whole = (np.clip(take.samples, -1, 1) * 32767).astype(np.int16).reshape(1, -1)
        frame = av.AudioFrame.from_ndarray(whole, format="s16", layout="mono")
        frame.sample_rate = take.rate_hz
        frame.pts = 0
        for packet in stream.encode(frame):
            file.mux(packet)
        for packet in stream.encode(None):
            file.mux(packet)
    return sink.getvalue()
