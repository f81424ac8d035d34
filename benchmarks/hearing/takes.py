"""Whole takes by seed, kind and number: line, player, tones, room, noise, phone, file, truth.

A take is kept under the system's temporary folder by the digest of this package's own code,
so that a changed generator never meets an old take.
"""

from __future__ import annotations

import hashlib
import pickle
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from benchmarks.hearing.lines import Line, draw_line
from benchmarks.hearing.phones import (
    PHONES,
    Phone,
    decoded,
    delay_s,
    draw_phone,
    encoded,
    through,
)
from benchmarks.hearing.playing import Plan, Playing, Sound, draw_tempo, play
from benchmarks.hearing.rooms import NOISES, bumps, draw_room, in_room, with_noise
from benchmarks.hearing.timbres import TURNS
from benchmarks.hearing.tones import RATE_HZ, Clip, additive, fonts, sampled
from standlight.score.values import Passage
from standlight.sound import Recording

ADDITIVE_SHARE = 0.2
"""So many takes use additive tones; voices more often (`ADDITIVE_VOICES`): a sampled "ooh" is
no solo singer."""
ADDITIVE_VOICES = 0.5
SNR_DB = (18.0, 42.0)
"""Background under the music, usual takes."""

LEGATO_FADE_S = (0.015, 0.035)
DAMPING_S = {"strings": 0.25, "voice": 0.20}
USUAL_DAMPING_S = 0.15
"""A tone dies away by 60 dB in so long after its end (our choice; the room adds its own)."""

STOP_S = (0.015, 0.030)
"""A player's next tone ends the one before within this: one string, one column of air."""

TAIL_S = (0.4, 1.2)

KINDS = {
    "main": Plan(other=3, missing=2, added=2, octave=2, hesitations=0.25, beginners=0.04),
    "restart": Plan(restarts=2, hesitations=0.15),
    "clean": Plan(hesitations=0.1, beginners=0.08),
}
"""What a take of each kind is planned to hold."""


@dataclass(frozen=True, slots=True)
class TrueNote:
    """What really became of a written note: ``outcome`` played, other, octave or missing.

    ``cents`` is against the written pitch, A4 = 440 Hz.
    """

    index: int
    outcome: str
    onset_s: float | None = None
    offset_s: float | None = None
    midi: float | None = None
    cents: float | None = None


@dataclass(frozen=True, slots=True)
class TrueAdded:
    """A sound that is not written; ``twin_s`` where either of two equal sounds may be it."""

    onset_s: float
    offset_s: float
    midi: float
    kind: str
    twin_s: float | None


@dataclass(frozen=True, slots=True)
class Truth:
    """All that happened in a take, in seconds from its first decoded sample.

    ``attack_s`` is the median time the tones take to rise from 20 to 10 dB below their
    highest; ``evenness_ms`` (percussion) the robust scatter of the strokes around the beat.
    """

    notes: tuple[TrueNote, ...]
    added: tuple[TrueAdded, ...]
    restarts: tuple[tuple[float, int], ...]
    attempts: tuple[TrueNote, ...]
    tuning_cents: float
    attack_s: float
    evenness_ms: float | None = None

    def later(self, by_s: float) -> Truth:
        """The same truth ``by_s`` later."""

        def moved(one: TrueNote) -> TrueNote:
            if one.onset_s is None:
                return one
            return replace(one, onset_s=one.onset_s + by_s, offset_s=one.offset_s + by_s)

        return replace(
            self,
            notes=tuple(map(moved, self.notes)),
            attempts=tuple(map(moved, self.attempts)),
            added=tuple(
                replace(a, onset_s=a.onset_s + by_s, offset_s=a.offset_s + by_s,
                        twin_s=None if a.twin_s is None else a.twin_s + by_s)
                for a in self.added
            ),
            restarts=tuple((at + by_s, index) for at, index in self.restarts),
        )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class MadeTake:
    """A take as it would be sent, with its passage and truth; ``dry`` is what was played."""

    name: str
    line: Line
    truth: Truth
    file: bytes = field(repr=False)
    dry: np.ndarray = field(repr=False)
    phone: str
    room: str
    snr_db: float
    sounding: str
    beginner: bool

    @property
    def passage(self) -> Passage:
        """The written passage."""
        return self.line.passage

    def recording(self) -> Recording:
        """The file decoded, as the listener's decoder would."""
        return Recording(*decoded(self.file))


def take(
    seed: int,
    kind: str,
    number: int,
    maker: Callable[[int, str, int], MadeTake] | None = None,
) -> MadeTake:
    """Take ``number`` of ``kind``, from the cache when it is there, else by ``maker`` (`make`)."""
    where = _folder() / str(seed) / f"{kind}-{number}.pickle"
    if where.exists():
        return pickle.loads(where.read_bytes())
    made = (maker or make)(seed, kind, number)
    where.parent.mkdir(parents=True, exist_ok=True)
    part = where.with_suffix(f".{hashlib.sha1(str(id(made)).encode()).hexdigest()[:8]}")
    part.write_bytes(pickle.dumps(made))
    part.replace(where)
    return made


def generator(seed: int, kind: str, number: int) -> np.random.Generator:
    """The random numbers of one take; any word may stand for the kind."""
    return np.random.default_rng([seed, int.from_bytes(kind.encode()[:6], "big") % 2**32, number])


def make(seed: int, kind: str, number: int, family: str | None = None) -> MadeTake:
    """A new take, seeded by all three; the family goes by turns unless named."""
    rng, plan = generator(seed, kind, number), KINDS[kind]
    factor, beginner = draw_tempo(rng, plan)
    line = draw_line(rng, family or TURNS[number % len(TURNS)], factor)
    playing = play(rng, line, plan, factor, beginner)
    dry, truth, sounding = sounded(rng, line, playing)
    room, noise_kind = draw_room(rng), str(rng.choice(NOISES))
    snr_db, phone = float(rng.uniform(*SNR_DB)), draw_phone(rng)
    file, late_s = recorded(rng, dry, room, noise_kind, snr_db, phone)
    return MadeTake(
        name=f"{seed}/{kind}/{number}", line=line, truth=truth.later(late_s), file=file,
        dry=dry.astype(np.float32), phone=phone.name, room=room.name, snr_db=snr_db,
        sounding=sounding, beginner=playing.beginner,
    )  # fmt: skip


def recorded(rng, dry, room, noise_kind, snr_db, phone: Phone) -> tuple[bytes, float]:
    """The file a phone makes of ``dry`` in a room, and how late its sound is in it, seconds."""
    wet = in_room(dry, room, rng)
    if rng.random() < 0.3:
        wet = bumps(wet, rng, int(rng.integers(1, 4)))
    sent = through(with_noise(wet, noise_kind, snr_db, rng), phone, rng)
    file = encoded(sent, *phone.containers[int(rng.integers(len(phone.containers)))])
    got, rate_hz = decoded(file)
    return file, delay_s(sent, got, rate_hz)


def sounded(
    rng: np.random.Generator, line: Line, playing: Playing
) -> tuple[np.ndarray, Truth, str]:
    """The dry take, its truth, and what sounded it."""
    found = fonts()
    share = ADDITIVE_VOICES if line.timbre.family == "voice" else ADDITIVE_SHARE
    choice, font = rng.random(), int(rng.integers(2))
    extra = [0.12 if sound.joined else 0.0 for sound in playing.sounds]
    if choice < share or not found:
        clips = [
            additive(line.timbre, sound, rng, more)
            for sound, more in zip(playing.sounds, extra, strict=True)
        ]
        name = "additive"
    else:
        clips = sampled(found[font % len(found)], line.timbre.program, playing.sounds, extra)
        name = found[font % len(found)].stem
    damping_s = DAMPING_S.get(line.timbre.family, USUAL_DAMPING_S)
    dry = mixed(rng, playing.sounds, clips, damping_s)
    return dry, truth_of(line, playing, clips), name


def mixed(
    rng: np.random.Generator, sounds: tuple[Sound, ...], clips: list[Clip], damping_s: float
) -> np.ndarray:
    """The clips laid so that each measured onset is where the player meant it, float ``(n,)``.

    A joined tone comes in without its attack: it fades in while the tone before fades out,
    and begins in the middle of that. Any tone ends when the next begins.
    """
    end_s = max(sound.onset_s + sound.seconds for sound in sounds) + rng.uniform(*TAIL_S)
    dry = np.zeros(int(end_s * RATE_HZ))
    laid = []
    for sound, clip in zip(sounds, clips, strict=True):
        samples, start_s = clip.samples, sound.onset_s - clip.onset_s
        if sound.joined:
            fade_s = float(rng.uniform(*LEGATO_FADE_S))
            skip = int(min(clip.full_s, 0.12) * RATE_HZ)
            samples, start_s = samples[skip:].copy(), sound.onset_s - fade_s / 2
            count = min(int(fade_s * RATE_HZ), len(samples))
            samples[:count] *= np.sin(np.linspace(0, np.pi / 2, count)) ** 2
            if laid:
                _fade_out(laid[-1], start_s, fade_s)
        elif laid:
            stop_s = float(rng.uniform(*STOP_S))
            _fade_out(laid[-1], sound.onset_s - 0.7 * stop_s, stop_s)
        laid.append((start_s, _damped(samples, sound.onset_s + sound.seconds - start_s, damping_s)))
    for start_s, samples in laid:
        first = max(0, int(round(start_s * RATE_HZ)))
        piece = samples[: max(0, len(dry) - first)]
        dry[first : first + len(piece)] += piece
    return dry


def _damped(samples: np.ndarray, end_s: float, damping_s: float) -> np.ndarray:
    """A copy that dies away by 60 dB in ``damping_s`` after ``end_s`` from its start."""
    since = np.maximum(np.arange(len(samples)) / RATE_HZ - end_s, 0.0)
    return samples * np.exp(-6.9 * since / damping_s)


def _fade_out(laid: tuple[float, np.ndarray], at_s: float, fade_s: float) -> None:
    """End a laid clip in a fade that starts ``at_s``; what is past its end stays silent."""
    start_s, samples = laid
    first = max(0, int((at_s - start_s) * RATE_HZ))
    count = int(fade_s * RATE_HZ)
    piece = samples[first : first + count]
    piece *= np.cos(np.linspace(0, np.pi / 2, count))[: len(piece)] ** 2
    samples[first + count :] = 0.0


def truth_of(line: Line, playing: Playing, clips: list[Clip]) -> Truth:
    """What became of every written note, from what was planned and what the clips measured."""
    notes = line.passage.notes
    final: dict[int, TrueNote] = {
        index: TrueNote(index, "missing") for index in range(len(notes))
    }
    attempts, added, cents = [], [], []
    for place, (sound, clip) in enumerate(zip(playing.sounds, clips, strict=True)):
        midi = sound.midi + clip.cents / 100.0
        off_s = sound.onset_s + sound.seconds
        if sound.index is None:
            twin = playing.sounds[place + 1].onset_s if sound.kind == "added_twice" else None
            added.append(TrueAdded(sound.onset_s, off_s, midi, sound.kind, twin))
            continue
        off = 100.0 * (midi - notes[sound.index].midi)
        one = TrueNote(sound.index, sound.kind, sound.onset_s, off_s, midi, off)
        if sound.kept:
            final[sound.index] = one
        else:
            attempts.append(one)
        if sound.kind == "played" and np.isfinite(off):
            cents.append(off)
    return Truth(
        notes=tuple(final[index] for index in range(len(notes))),
        added=tuple(added),
        restarts=playing.restarts,
        attempts=tuple(attempts),
        tuning_cents=float(np.median(cents)) if cents else 0.0,
        attack_s=float(np.median([clip.attack_s for clip in clips])),
    )


def plain_phone() -> Phone:
    """The browser that adds nothing, for takes whose fault is elsewhere."""
    return next(phone for phone in PHONES if phone.name == "browser, plain")


def _folder() -> Path:
    """Where takes of this very generator are kept."""
    digest = hashlib.sha256()
    for file in sorted(Path(__file__).parent.glob("*.py")):
        if file.stem in {"timbres", "lines", "playing", "tones", "rooms", "phones", "takes",
                         "drums"}:  # fmt: skip
            digest.update(file.read_bytes())
    return Path(tempfile.gettempdir()) / "standlight-hearing" / digest.hexdigest()[:12]
