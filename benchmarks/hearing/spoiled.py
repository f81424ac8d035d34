"""Takes that no reading should trust: usual takes spoiled in one known way each.

Each spoiler takes a clean made take and gives a `Spoiled`: a file, the passage it is read
against, and the codes of a verdict that would be right. A spoiled take that gets none of them
is missed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from difflib import SequenceMatcher

import numpy as np

from benchmarks.hearing.lines import shifted
from benchmarks.hearing.phones import (
    TELEPHONE_HZ,
    echo_cancelled,
    encoded,
    gain_controlled,
    suppressed,
    telephone,
    through,
)
from benchmarks.hearing.rooms import NOISES, draw_room, in_room, noise, with_noise
from benchmarks.hearing.takes import MadeTake, generator, plain_phone, take
from benchmarks.hearing.tones import RATE_HZ
from standlight.score.values import Passage

CLIPPING_GAINS = (4.0, 14.0)
"""How far over full scale the loudest sample would go."""

NOISY_SNR_DB = (-2.0, 7.0)
SILENT_DB = (-75.0, -50.0)
"""Background of a take in which nothing plays, decibel below full scale."""

SECOND_PLAYER_DB, UNISON_DB = (-8.0, 0.0), -8.0
STOPPED_SHARE = (0.35, 0.75)
SAME_SHARE = 1 / 3
"""A line that shares so much in one stretch is no other piece (our choice): who reads it from
the wrong line may be heard on the music that both have."""

SHIFTS = (-12, 12, -2, 2, 3, -3, 9, -9, 7, -7, 5, -5)
"""Octaves; parts in B flat, E flat and F read at concert pitch or by another's transposition."""

_WAYS = (("webm", "libopus", 64), ("ipod", "aac", 96), ("ogg", "libopus", 64),
         ("wav", "pcm_s16le", 0))  # fmt: skip


@dataclass(frozen=True, slots=True)
class Spoiled:
    """One spoiled take; ``wanted`` holds the codes of a right verdict (empty: no verdict asked)."""

    kind: str
    name: str
    file: bytes = field(repr=False)
    passage: Passage = field(repr=False)
    tempo_qpm: float
    wanted: frozenset[str]


def spoiled(seed: int, kind: str, number: int) -> Spoiled:
    """The take ``number`` spoiled as ``kind``, a key of `SPOILERS`, says."""
    clean, rng = take(seed, "clean", number), generator(seed, f"bad {kind}", number)
    file, passage, tempo_qpm = SPOILERS[kind][0](seed, number, clean, rng)
    return Spoiled(kind, f"{seed}/{kind}/{number}", file, passage, tempo_qpm, SPOILERS[kind][1])


def _file(sound: np.ndarray, rng: np.random.Generator, loud: bool = False) -> bytes:
    """``sound`` in one of the usual files; ``loud`` leaves its level alone."""
    whole = sound if loud else through(sound, plain_phone(), rng)
    return encoded(whole, *_WAYS[int(rng.integers(len(_WAYS)))])


def _wet(clean: MadeTake, rng: np.random.Generator, dry: np.ndarray | None = None) -> np.ndarray:
    """A clean take's playing in a new room with a little noise."""
    sound = clean.dry.astype(float) if dry is None else dry
    return with_noise(in_room(sound, draw_room(rng), rng), str(rng.choice(NOISES)), 32.0, rng)


def _silence(seed: int, number: int, clean: MadeTake, rng: np.random.Generator):
    """A room in which nothing plays, sometimes with the gain control turned up."""
    count = int(rng.uniform(8, 20) * RATE_HZ)
    sound = noise(str(rng.choice(NOISES)), count, rng) * 10 ** (rng.uniform(*SILENT_DB) / 20)
    if rng.random() < 0.3:
        sound = gain_controlled(sound)
    return _file(sound, rng, loud=True), clean.passage, clean.line.tempo_qpm


def _clipped(seed: int, number: int, clean: MadeTake, rng: np.random.Generator):
    """Much too loud for the microphone."""
    wet = _wet(clean, rng)
    size = float(np.percentile(np.abs(wet), 99.9))
    sound = np.clip(wet / size * 10 ** (rng.uniform(*CLIPPING_GAINS) / 20), -1, 1)
    return _file(sound, rng, loud=True), clean.passage, clean.line.tempo_qpm


def _noisy(seed: int, number: int, clean: MadeTake, rng: np.random.Generator):
    """Background about as loud as the music."""
    wet = in_room(clean.dry.astype(float), draw_room(rng), rng)
    kind = str(rng.choice(("hiss", "rumble", "voices")))
    sound = with_noise(wet, kind, float(rng.uniform(*NOISY_SNR_DB)), rng)
    return _file(sound, rng), clean.passage, clean.line.tempo_qpm


def _other(seed: int, number: int) -> MadeTake:
    """The next clean take of the same family (they turn by eights) that plays other music."""
    own = take(seed, "clean", number).passage
    step = 8 if number % 16 < 8 else -8
    while same_music(own, (other := take(seed, "clean", number + step)).passage):
        step = 8 + abs(step)
    return other


def same_music(first: Passage, second: Passage) -> bool:
    """True where more than `SAME_SHARE` of the shorter passage stands in the other one unbroken.

    Two windows of one part may overlap, and a part may say a phrase again elsewhere.
    """
    lines = [[(note.midi, note.duration_quarters) for note in one.notes] for one in (first, second)]
    longest = SequenceMatcher(None, *lines, autojunk=False).find_longest_match()
    return longest.size > SAME_SHARE * min(map(len, lines))


def _other_piece(seed: int, number: int, clean: MadeTake, rng: np.random.Generator):
    """The take as it was sent, read against another line for the same kind of instrument."""
    other = _other(seed, number)
    return clean.file, other.passage, other.line.tempo_qpm


def _together(first: np.ndarray, second: np.ndarray, db: float) -> np.ndarray:
    """Two dry takes, the second ``db`` against the first, shape of the first."""
    level = float(np.sqrt(np.mean(first**2)) / max(np.sqrt(np.mean(second**2)), 1e-9))
    whole = np.zeros(len(first))
    count = min(len(first), len(second))
    whole[:count] = second[:count] * level * 10 ** (db / 20)
    return first + whole


def _two_players(seed: int, number: int, clean: MadeTake, rng: np.random.Generator):
    """Somebody else plays something else in the same room."""
    other = _other(seed, number)
    both = _together(clean.dry.astype(float), other.dry.astype(float),
                     float(rng.uniform(*SECOND_PLAYER_DB)))  # fmt: skip
    return _file(_wet(clean, rng, both), rng), clean.passage, clean.line.tempo_qpm


def _unison(seed: int, number: int, clean: MadeTake, rng: np.random.Generator):
    """A friend plays along, the same notes, 8 dB softer, 20 ms apart and 9 cents off."""
    dry = clean.dry.astype(float)
    bent = np.interp(np.arange(len(dry)) * 1.0052, np.arange(len(dry)), dry)
    late = np.append(np.zeros(int(0.02 * RATE_HZ)), bent)[: len(dry)]
    both = _together(dry, late, UNISON_DB)
    return _file(_wet(clean, rng, both), rng), clean.passage, clean.line.tempo_qpm


def _cut_off(seed: int, number: int, clean: MadeTake, rng: np.random.Generator):
    """The recording ends in the middle of a note, three or more before the last."""
    whole = [note for note in clean.truth.notes if note.onset_s is not None]
    sounding = whole[4:-3] or whole[1:-3]
    note = sounding[int(rng.integers(len(sounding) // 3, len(sounding)))]
    end_s = note.onset_s + 0.6 * (note.offset_s - note.onset_s)
    sound = _wet(clean, rng)[: int(end_s * RATE_HZ)]
    return _file(sound, rng), clean.passage, clean.line.tempo_qpm


def _stopped(seed: int, number: int, clean: MadeTake, rng: np.random.Generator):
    """The player gives up after half or so; the recording goes on for a second or two."""
    sounding = [note for note in clean.truth.notes if note.onset_s is not None]
    note = sounding[int(rng.uniform(*STOPPED_SHARE) * len(sounding))]
    dry = clean.dry.astype(float)
    end = int(note.offset_s * RATE_HZ)
    fade = int(0.05 * RATE_HZ)
    dry[end : end + fade] *= np.linspace(1, 0, fade)[: len(dry[end : end + fade])]
    dry = np.append(dry[: end + fade], np.zeros(int(rng.uniform(1.0, 2.5) * RATE_HZ)))
    return _file(_wet(clean, rng, dry), rng), clean.passage, clean.line.tempo_qpm


def _telephone(seed: int, number: int, clean: MadeTake, rng: np.random.Generator):
    """Sent through a telephone: 300 to 3400 Hz, 8 kHz, eight bits."""
    sound = through(_wet(clean, rng), plain_phone(), rng)
    file = encoded(telephone(sound), "wav", "pcm_mulaw", 0, TELEPHONE_HZ)
    return file, clean.passage, clean.line.tempo_qpm


def _processed(seed: int, number: int, clean: MadeTake, rng: np.random.Generator):
    """Noise suppression and echo cancelling at full strength, then gain control."""
    sound = suppressed(echo_cancelled(echo_cancelled(_wet(clean, rng), rng), rng), -40.0)
    sound = gain_controlled(sound / np.abs(sound).max() * 0.1)
    return _file(sound, rng, loud=True), clean.passage, clean.line.tempo_qpm


def _dead_channel(seed: int, number: int, clean: MadeTake, rng: np.random.Generator):
    """Stereo, one side silent."""
    sound = through(_wet(clean, rng), plain_phone(), rng)
    sides = np.stack([sound, 0.0 * sound])
    return encoded(sides, "ipod", "aac", 128), clean.passage, clean.line.tempo_qpm


def _too_short(seed: int, number: int, clean: MadeTake, rng: np.random.Generator):
    """0.3 s of music."""
    start = int(clean.truth.notes[0].onset_s * RATE_HZ)
    sound = _wet(clean, rng)[start : start + int(0.3 * RATE_HZ)]
    return _file(sound, rng), clean.passage, clean.line.tempo_qpm


def _shifted(seed: int, number: int, clean: MadeTake, rng: np.random.Generator):
    """The take as sent, the part written in another key or octave than was played."""
    shift = SHIFTS[number % len(SHIFTS)]
    return clean.file, shifted(clean.passage, -shift), clean.line.tempo_qpm


Spoiler = Callable[[int, int, MadeTake, np.random.Generator], tuple[bytes, Passage, float]]
SPOILERS: dict[str, tuple[Spoiler, frozenset[str]]] = {
    "silence": (_silence, frozenset({"silence", "too_noisy"})),
    "clipped": (_clipped, frozenset({"clipped"})),
    "noisy": (_noisy, frozenset({"noisy", "too_noisy"})),
    "other piece": (_other_piece, frozenset({"other_piece"})),
    "two players": (_two_players, frozenset({"other_sounds", "two_players", "other_piece"})),
    "unison double": (_unison, frozenset({"other_sounds", "two_players"})),
    "cut off": (_cut_off, frozenset({"cut_off"})),
    "stopped early": (_stopped, frozenset({"stopped_early"})),
    "telephone": (_telephone, frozenset({"processed", "telephone", "narrow_band"})),
    "processed": (_processed, frozenset({"processed"})),
    "dead channel": (_dead_channel, frozenset()),
    "too short": (_too_short, frozenset({"too_short"})),
    "other key": (_shifted, frozenset({"transposed", "octave"})),
}
"""Kind to how a clean take is spoiled and which verdict codes are right. Codes that no method
knows yet are named here so that a method that learns them is counted."""
