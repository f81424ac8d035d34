"""Slurs, repeats and holds that nobody marked, in lines of real single notes: are starts right?

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/joined.py --seed 4501 [--takes 48]
[--list] [--snr 3 8]``.
The real notes of the tests' recordings are joined into slow tunes in phrases, the last note of each
of which is held longer than written, as at the fermatas of a hymn, though none is marked. What is
real is the tone and how it begins; the tune, its timing and its slurs are made, so that every start
is known. Prints how many written notes are told within 50 and 100 ms of it, by how
they begin, and what is told that never was. A seed that it is run on is seen.
"""

from __future__ import annotations

import argparse
import csv
import re
import sys
from collections import Counter
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, partial
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
from scipy.ndimage import map_coordinates
from scipy.signal import fftconvolve, resample_poly

from benchmarks.hearing.accuracy import on_both_cores, told_of
from benchmarks.hearing.intervals import proportion
from benchmarks.hearing.rooms import NOISES, draw_room, in_room, with_noise
from benchmarks.hearing.takes import generator
from benchmarks.hearing.tones import ENVELOPE_S, RATE_HZ, attack, pitch_cents
from benchmarks.machine import machine
from standlight.listening import METHOD
from standlight.music import Note, hz_of_midi
from standlight.score.values import Passage
from standlight.sound import Recording
from standlight.workshop import decode

FOLDER = Path(__file__).resolve().parents[1] / "tests" / "recordings"
PLAYERS = ("flute", "clarinet", "tenor_sax", "alto_saxophone", "trumpet", "trombone",
           "tuba", "violin", "cello")  # fmt: skip
SAME = {"tenor_saxophone": "tenor_sax"}
"""One instrument, named in two ways by the files."""

LEFT_OUT = frozenset({"violin_2_midi84"})
"""Its first harmonic lies under the noise: nobody can say in which octave it sounds."""

FARTHEST_SEMITONES, FARTHEST_LONG_SEMITONES, LONG_S = 5, 8, 1.0
"""No real note is played faster or slower than by so much: its tone would be another one. One that
sounds longer than this rather comes from farther off than out of a short one gone on with."""

FADED_DB, SHORTEST_S = 2.0, 0.2
"""A real note is used until it has died away by so much, and if it lasts so long in full."""

STARTS_DB, SLOWEST_S = (30.0, 10.0), 0.05
"""A real note that takes longer to rise from the first under its highest to the second is left
out: nobody can say within 50 ms when it begins."""

BEFORE_S = 0.02
"""A spliced note is cut so long before its listed start, to see how it begins."""

KEYS, MAJOR = range(12), (0, 2, 4, 5, 7, 9, 11)
TEMPOS_QPM, TEMPO_FACTORS = (60.0, 76.0, 88.0, 100.0), (0.75, 1.25)
PHRASES, PHRASE_NOTES = (3, 6), (5, 10)
STEPS, STEP_SHARES = (-2, -1, 0, 1, 2, 3), (0.1, 0.32, 0.14, 0.28, 0.1, 0.06)
VALUES, VALUE_SHARES = ("1", "1/2", "2", "3/2"), (0.66, 0.2, 0.08, 0.06)
LAST_VALUES = ("1", "2", "3")
"""Written lengths of a phrase's last note, in quarters."""

HOLDS, BREATHS_S, BREATH_SHARE = (1.2, 2.2), (0.08, 0.6), 0.7
"""How much longer than written it is held, and the silence after it, so often (our choice)."""

SLOWER_TO_THE_END, SLOWED = (0.0, 0.25), 3
"""The last notes of a phrase take up to so much longer, and how many do."""

TIMING_S, PITCH_CENTS = (0.008, 0.03), 8.0
SLUR_SHARES, TONGUED_GAP_S, SLUR_FADE_S = (0.0, 0.35, 0.8), (0.005, 0.06), (0.015, 0.05)
STOP_S = 0.02
LOOP_S, LOOP_FADE_S, LEVEL_WEIGHT = 1.0, 0.03, 0.3
"""A note that is too short goes on with what sounded up to so long before, faded over, where the
waves fit; a decibel of level counts like so much of their correlation."""

SNR_DB, ROOM_SHARE = (25.0, 50.0), 0.6
WITHIN_MS = (50.0, 100.0)
WAITS = "stops (at holds)"
PLAYED = ("tongued", "slurred", "repeated", "after a hold", "repeated after a hold")


@dataclass(frozen=True, slots=True, eq=False)
class Real:
    """One real note at 48 kHz, ``(n,)``; ``slow_s`` is how long it takes to rise (`STARTS_DB`)."""

    samples: np.ndarray
    midi: float
    onset_s: float
    full_s: float
    slow_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Joined:
    """A take: its recording, what was written, and of each note the true start and how it began."""

    name: str
    recording: Recording
    passage: Passage
    tempo_qpm: float
    onset_s: tuple[float, ...]
    begun: tuple[str, ...]


@cache
def real_notes(player: str) -> tuple[Real, ...]:
    """The notes of one instrument, single ones and those of the spliced tunes."""
    found = []
    for file in sorted((FOLDER / "sustained").glob("*.flac")):
        name, midi = re.fullmatch(r"(\D+)_\d+_midi(\d+)", file.stem).groups()
        if SAME.get(name, name) == player and file.stem not in LEFT_OUT:
            samples = _samples(file)
            found.append(_real(samples, float(midi)))
    for file in sorted((FOLDER / "spliced").glob(f"{player}_ode*.flac")):
        samples = _samples(file)
        with file.with_suffix(".csv").open(encoding="utf-8") as lines:
            rows = list(csv.DictReader(lines))
        for row in rows:
            first, last = float(row["onset_s"]) - BEFORE_S, float(row["offset_s"])
            found.append(_real(samples[int(first * RATE_HZ) : int(last * RATE_HZ)],
                               float(row["midi"])))  # fmt: skip
    return tuple(
        one for one in found
        if one.slow_s <= SLOWEST_S and len(one.samples) / RATE_HZ - one.full_s > SHORTEST_S
    )  # fmt: skip


def _samples(file: Path) -> np.ndarray:
    recording = decode(file.read_bytes())
    common = np.gcd(RATE_HZ, int(recording.rate_hz))
    return resample_poly(recording.samples, RATE_HZ // common, int(recording.rate_hz) // common)


def _real(samples: np.ndarray, midi: float) -> Real:
    onset_s, full_s, _ = attack(samples)
    cents = pitch_cents(samples, float(hz_of_midi(midi)), full_s, len(samples) / RATE_HZ - 0.1)
    exact = midi + (cents / 100.0 if np.isfinite(cents) and abs(cents) < 60.0 else 0.0)
    width = int(ENVELOPE_S * RATE_HZ)
    power = fftconvolve(samples**2, np.ones(width) / width, "same").clip(1e-12)
    steady = fftconvolve(power, np.ones(10 * width) / (10 * width), "same").clip(1e-12)
    below_db = 10.0 * np.log10(steady.max() / power)
    faint, loud = (int(np.argmax(below_db <= most)) for most in STARTS_DB)
    last = int(np.flatnonzero(10.0 * np.log10(steady.max() / steady) < FADED_DB)[-1])
    level = float(np.sqrt(power[int(full_s * RATE_HZ) : last].mean()))
    return Real(0.1 * samples[:last] / max(level, 1e-6), exact, onset_s, full_s,
                (loud - faint) / RATE_HZ)  # fmt: skip


def written(rng: np.random.Generator, notes: tuple[Real, ...]) -> tuple[Passage, list[int]]:
    """A tune within reach of the real notes, and the places of the notes that end a phrase."""
    key = int(rng.choice(KEYS))
    scale = [midi for midi in range(24, 100) if (midi - key) % 12 in MAJOR
             and min(abs(midi - one.midi) for one in notes) <= FARTHEST_SEMITONES]  # fmt: skip
    middle = float(rng.choice([one.midi for one in notes]))
    scale = [midi for midi in scale if abs(midi - middle) <= 9]
    place, onset, made, ends = len(scale) // 2, Fraction(0), [], []
    for _ in range(int(rng.integers(*PHRASES))):
        count = int(rng.integers(*PHRASE_NOTES))
        for number in range(count):
            last = number + 1 == count
            value = Fraction(str(rng.choice(LAST_VALUES)) if last
                             else str(rng.choice(VALUES, p=VALUE_SHARES)))  # fmt: skip
            place += int(rng.choice(STEPS, p=STEP_SHARES))
            place = abs(place) if place < 0 else min(place, 2 * len(scale) - 2 - place)
            made.append(Note(onset, value, scale[place], int(onset // 4)))
            onset += value
        ends.append(len(made) - 1)
    return Passage("", "", "", (), tuple(made), onset), ends


def played(rng: np.random.Generator, passage: Passage, ends: list[int], tempo_qpm: float,
           factor: float) -> tuple[np.ndarray, np.ndarray, list[str]]:  # fmt: skip
    """When each note begins and ends, in seconds, both ``(notes,)``, and how it begins."""
    notes = passage.notes
    timing_s, slurs = float(rng.uniform(*TIMING_S)), float(rng.choice(SLUR_SHARES))
    step_s = np.array([float(note.duration_quarters) for note in notes]) * 60.0 / tempo_qpm / factor
    silence_s = rng.uniform(*TONGUED_GAP_S, len(notes))
    begun = ["tongued"]
    for at in range(1, len(notes)):
        same = notes[at].midi == notes[at - 1].midi
        held = at - 1 in ends
        begun.append(("repeated " if same and held else "") + "after a hold" if held
                     else "repeated" if same else "slurred" if rng.random() < slurs
                     else "tongued")  # fmt: skip
    for end in ends:
        slower = float(rng.uniform(*SLOWER_TO_THE_END))
        step_s[max(end - SLOWED, 0) : end] *= 1.0 + slower * np.linspace(0.3, 1.0, min(SLOWED, end))
        step_s[end] *= float(rng.uniform(*HOLDS))
        if rng.random() < BREATH_SHARE:
            silence_s[end] = float(rng.uniform(*BREATHS_S))
            step_s[end] += silence_s[end]
    onset_s = 0.4 + np.append(0.0, np.cumsum(step_s))
    onset_s[1:-1] += np.clip(rng.normal(0.0, timing_s, len(notes) - 1), -0.06, 0.06)
    joined = [word == "slurred" for word in begun[1:]] + [False]
    silence_s = np.where(joined, 0.0, np.minimum(silence_s, 0.5 * np.diff(onset_s)))
    return onset_s[:-1], onset_s[1:] - silence_s, begun


def sounded(rng: np.random.Generator, notes: tuple[Real, ...], passage: Passage,
            onset_s: np.ndarray, end_s: np.ndarray, begun: list[str]) -> np.ndarray:  # fmt: skip
    """The dry take at 48 kHz: each note the nearest real one, turned to its pitch.

    A slurred note comes in without its beginning, while the one before fades out; it begins in
    the middle of that.
    """
    dry = np.zeros(int((end_s[-1] + 0.8) * RATE_HZ))
    fades_s = rng.uniform(*SLUR_FADE_S, len(onset_s) + 1)
    joined = [word == "slurred" for word in begun] + [False]
    for at, note in enumerate(passage.notes):
        real = _nearest(rng, notes, note.midi, end_s[at] - onset_s[at])
        midi = note.midi + float(rng.normal(0.0, PITCH_CENTS)) / 100.0
        before_s = 0.5 * fades_s[at] if joined[at] else 0.0
        after_s = 0.5 * fades_s[at + 1] if joined[at + 1] else 0.0
        lead_s = 0.0 if joined[at] else real.onset_s
        ratio = 2.0 ** ((midi - real.midi) / 12.0)
        length_s = before_s + lead_s / ratio + end_s[at] - onset_s[at] + after_s
        samples = _turned(real, ratio, real.full_s if joined[at] else 0.0, length_s)
        rise, fall = (int(s * RATE_HZ) for s in (2 * before_s, 2 * after_s or STOP_S))
        samples[:rise] *= np.sin(np.linspace(0.0, np.pi / 2, rise)) ** 2
        samples[len(samples) - fall :] *= np.cos(np.linspace(0.0, np.pi / 2, fall)) ** 2
        first = max(int((onset_s[at] - before_s - lead_s / ratio) * RATE_HZ), 0)
        dry[first : first + len(samples)] += samples[: len(dry) - first]
    return dry


def _nearest(rng: np.random.Generator, notes: tuple[Real, ...], midi: int, seconds: float) -> Real:
    """One of the real notes nearest in pitch, of those that last so long where there are any."""
    off = np.array([midi - one.midi for one in notes])
    lasts_s = np.array([len(one.samples) / RATE_HZ - one.full_s for one in notes])
    long = (lasts_s / 2.0 ** (off / 12.0) > seconds) & (np.abs(off) <= FARTHEST_LONG_SEMITONES)
    long &= seconds > LONG_S
    off = np.where(long, np.abs(off), np.inf) if long.any() else np.abs(off)
    return notes[int(rng.choice(np.flatnonzero(off <= off.min() + 1.0)))]


def _turned(real: Real, ratio: float, from_s: float, length_s: float) -> np.ndarray:
    """A real note from ``from_s`` on, ``ratio`` times as high, just so long."""
    need = int(length_s * RATE_HZ)
    source = _long_enough(real, from_s + (length_s + 0.05) * ratio)
    at = from_s * RATE_HZ + np.arange(need) * ratio
    return map_coordinates(source, at[None], order=3, mode="constant")


def _long_enough(real: Real, seconds: float) -> np.ndarray:
    """The note's samples, gone on where its waves fit those of a little earlier until so long."""
    samples = real.samples
    fade, first = int(LOOP_FADE_S * RATE_HZ), int(real.full_s * RATE_HZ)
    mix = np.linspace(0.0, 1.0, fade)
    while len(samples) < seconds * RATE_HZ:
        end, last = samples[-fade:], len(samples) - fade
        start = max(first, last - int(LOOP_S * RATE_HZ))
        waves = np.lib.stride_tricks.sliding_window_view(samples[start:last], fade)
        waves = waves[: (last - start) // 2]
        size = np.sqrt((waves**2).sum(axis=1))
        off_db = np.abs(20.0 * np.log10(size / np.sqrt(end @ end)))
        piece = samples[start + int(np.argmax(waves @ end / size - LEVEL_WEIGHT * off_db)) :]
        joint = (1.0 - mix) * end + mix * piece[:fade]
        samples = np.concatenate([samples[:-fade], joint, piece[fade:]])
    return samples


def make(seed: int, number: int, snr_db: tuple[float, float] = SNR_DB) -> Joined:
    """Take ``number`` of a seed, so far above its noise."""
    rng = generator(seed, "joined", number)
    player = PLAYERS[number % len(PLAYERS)]
    notes = real_notes(player)
    passage, ends = written(rng, notes)
    tempo_qpm, factor = float(rng.choice(TEMPOS_QPM)), float(rng.uniform(*TEMPO_FACTORS))
    onset_s, end_s, begun = played(rng, passage, ends, tempo_qpm, factor)
    wet = sounded(rng, notes, passage, onset_s, end_s, begun)
    if rng.random() < ROOM_SHARE:
        wet = in_room(wet, draw_room(rng), rng)
    wet = with_noise(wet, str(rng.choice(NOISES)), float(rng.uniform(*snr_db)), rng)
    wet = (0.5 * wet / np.abs(wet).max()).astype(np.float32)
    return Joined(f"{seed}/{player}/{number}", Recording(wet, RATE_HZ), passage, tempo_qpm,
                  tuple(map(float, onset_s)), tuple(begun))  # fmt: skip


def told(
    seed: int, snr_db: tuple[float, float], number: int
) -> tuple[str, list[tuple[str, float | None]], Counter[str]]:
    """The take's name; of each note how it began and how many ms late it is told; faults told."""
    made = make(seed, number, snr_db)
    report = told_of(made.recording, made.passage, made.tempo_qpm)
    notes = {note.index: note for note in report.notes}
    found = []
    for index, (true_s, word) in enumerate(zip(made.onset_s, made.begun, strict=True)):
        note = notes.get(index)
        late = None if note is None or note.onset_s is None else 1000.0 * (note.onset_s - true_s)
        found.append((word, late))
    return made.name, found, faults_told(report)


def faults_told(report: Any) -> Counter[str]:
    """Faults that the report tells; none was made, but a hold that nobody marked is a wait."""
    never = Counter({"restarts": len(report.restarts), "added": len(report.added)})
    never.update(note.outcome for note in report.notes if note.outcome != "played")
    never["verdicts"] = len(report.verdicts)
    never["refused"] = not report.notes
    waits = (one.value for one in report.readings if one.name == "stops")
    never[WAITS] = sum(int(count or 0) for count in waits)
    return never


def main() -> None:
    """Make, hear, print."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--seed", type=int, required=True)
    words.add_argument("--takes", type=int, default=48)
    words.add_argument("--list", action="store_true", help="print every take with something false")
    words.add_argument("--snr", type=float, nargs=2, default=SNR_DB, metavar="DB",
                       help="least and most that the music lies above its noise")  # fmt: skip
    asked = words.parse_args()
    takes = on_both_cores(partial(told, asked.seed, tuple(asked.snr)), list(range(asked.takes)))
    print(f"Method {METHOD}, seed {asked.seed}, {asked.takes} takes of real notes joined, "
          f"{asked.snr[0]:.0f} to {asked.snr[1]:.0f} dB above noise. {machine()}")  # fmt: skip
    notes = [one for _, found, _ in takes for one in found]
    for word in ("all", *PLAYED):
        late = [ms for begun, ms in notes if word in ("all", begun)]
        print(f"{word}, within 50 and 100 ms: " + "; ".join(
            proportion(sum(ms is not None and abs(ms) <= most for ms in late), len(late))
            for most in WITHIN_MS))  # fmt: skip
    never = sum((counts for _, _, counts in takes), Counter())
    false = sum(counts["restarts"] > 0 for _, _, counts in takes)
    print(f"takes with a restart told, none was: {proportion(false, len(takes))}")
    print("told, though it never was:", ", ".join(f"{k} {v}" for k, v in sorted(never.items())))
    if asked.list:
        for name, found, counts in takes:
            off = [(at, begun, ms and round(ms)) for at, (begun, ms) in enumerate(found)
                   if ms is None or abs(ms) > WITHIN_MS[0]]  # fmt: skip
            if off or +counts:
                print(name, dict(+counts), off)


if __name__ == "__main__":
    main()
