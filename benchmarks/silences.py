"""How well one long recording is cut at its silences: simulated rows of takes, truth planted.

Run: ``PYTHONPATH=src python benchmarks/silences.py [sequences]``. Each row has 12 takes of one
passage, 12 to 35 s and each a quarter shorter to a third longer, with rests, soft playing down to
30 dB under the loudest, detached notes, room noise, words between takes in two of three gaps and
knocks; in a second set the words come nearer to the music. A take is found when exactly one
unmarked span covers it and no other take; the errors are between its planted and its found ends.
The peer is what cutting tools do by default: a fixed threshold under full scale and a fixed
shortest silence.
"""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass

import numpy as np

sys.path.insert(0, os.getcwd())

from benchmarks.machine import machine
from standlight.sound.silences import HOP_S, Span, envelope_db, spans_between_silences

RATE_HZ = 8_000
TAKES = 12
PEER_DB, PEER_SILENCE_S = -40.0, 2.0


@dataclass(frozen=True)
class Row:
    """A simulated recording and where its takes begin and end."""

    samples: np.ndarray
    takes: tuple[tuple[float, float], ...]


def _tone(chance: np.random.Generator, seconds: float, level_db: float) -> np.ndarray:
    time_s = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    hz = 220.0 * 2 ** (chance.integers(0, 24) / 12)
    wave = sum(np.sin(2 * np.pi * hz * k * time_s) / k for k in (1, 2, 3))
    shape = np.minimum(1.0, time_s / 0.03) * np.minimum(1.0, (seconds - time_s) / 0.05)
    return 0.5 * 10 ** (level_db / 20) * wave * np.clip(shape, 0, 1)


def _take(chance: np.random.Generator, length_s: float) -> np.ndarray:
    """Notes, some detached, some rests, a swell of dynamics; ends in sound."""
    base_db, detached = chance.uniform(-24, 0), chance.uniform() < 0.3
    pieces, at = [], 0.0
    while at < length_s:
        seconds = chance.choice([0.2, 0.4, 0.8, 1.6])
        swell_db = -6 + 6 * np.sin(at / 5)
        pieces.append(_tone(chance, seconds, base_db + swell_db))
        gap = 0.25 if detached else 0.02
        if chance.uniform() < 0.06 and at + seconds < length_s:
            gap = chance.uniform(0.6, 1.8)
        at += seconds + gap
        if at < length_s:
            pieces.append(np.zeros(int(gap * RATE_HZ)))
    return np.concatenate(pieces)


def _words(chance: np.random.Generator, seconds: float) -> np.ndarray:
    """Syllables: noise and a gliding voice, four or five a second, short pauses."""
    time_s = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    hz = 150 + 40 * np.sin(2 * np.pi * 0.7 * time_s + chance.uniform(0, 6))
    phase = 2 * np.pi * np.cumsum(hz) / RATE_HZ
    voice = sum(np.sin(k * phase) / k for k in range(1, 9))
    syllables = np.clip(np.sin(2 * np.pi * chance.uniform(3.5, 5) * time_s / 2), 0, 1) ** 2
    level = 10 ** (chance.uniform(-26, -8) / 20)
    return 0.4 * level * syllables * (voice + 0.3 * chance.standard_normal(len(time_s)))


def made_row(seed: int, *, closest_words_s: float = 1.6) -> Row:
    """A row of takes; words come no nearer to a take than ``closest_words_s``."""
    chance = np.random.default_rng(seed)
    pieces: list[np.ndarray] = [np.zeros(int(chance.uniform(1, 4) * RATE_HZ))]
    takes, usual_s = [], chance.uniform(12, 35)
    for _ in range(TAKES):
        begun = sum(map(len, pieces)) / RATE_HZ
        take = _take(chance, usual_s * chance.uniform(0.75, 1.33))
        pieces.append(take)
        takes.append((begun, begun + len(take) / RATE_HZ))
        pieces.append(np.zeros(int(chance.uniform(closest_words_s, 4.0) * RATE_HZ)))
        if chance.uniform() < 2 / 3:
            pieces.append(_words(chance, chance.uniform(0.6, 3.5)))
            pieces.append(np.zeros(int(chance.uniform(closest_words_s, 3.0) * RATE_HZ)))
        if chance.uniform() < 0.3:
            pieces.append(0.3 * chance.standard_normal(int(0.06 * RATE_HZ)))
            pieces.append(np.zeros(int(chance.uniform(1.6, 3.0) * RATE_HZ)))
    whole = np.concatenate(pieces)
    noise = 10 ** (chance.uniform(-72, -52) / 20) * chance.standard_normal(len(whole))
    return Row((whole * 10 ** (chance.uniform(-12, 0) / 20) + noise).astype(np.float32),
               tuple(takes))  # fmt: skip


def compared(
    takes: tuple[tuple[float, float], ...], spans: list[Span]
) -> tuple[int, list[float], int]:
    """Takes found whole, the errors of their ends in seconds, and unmarked spans without a take."""
    kept = [span for span in spans if not span.short]
    owners = [
        [n for n, (begin, end) in enumerate(takes)
         if min(end, span.end_s) - max(begin, span.start_s) > 0.5]
        for span in kept
    ]  # fmt: skip
    found, errors = 0, []
    for number, (begin, end) in enumerate(takes):
        mine = [span for span, owner in zip(kept, owners, strict=True) if owner == [number]]
        others = [owner for owner in owners if number in owner and owner != [number]]
        if len(mine) == 1 and not others:
            found += 1
            errors += [mine[0].start_s - begin, mine[0].end_s - end]
    return found, errors, sum(not owner for owner in owners)


def peer(envelope: np.ndarray) -> list[Span]:
    """A fixed threshold and a fixed shortest silence, as cutting tools have by default."""
    spans: list[Span] = []
    for hop in np.flatnonzero(envelope > PEER_DB):
        start_s = float(hop * HOP_S)
        if spans and start_s - spans[-1].end_s < PEER_SILENCE_S:
            spans[-1] = Span(spans[-1].start_s, start_s + HOP_S)
        else:
            spans.append(Span(start_s, start_s + HOP_S))
    return spans


def main(sequences: int = 30) -> None:
    """Print how many takes were found and how near their ends are, for us and the peer."""
    sys.stdout.write(f"{machine()}\n")
    for words_s in (1.6, 1.0):
        sums = {"ours": [0, [], 0], "fixed threshold": [0, [], 0]}
        for seed in range(sequences):
            row = made_row(seed, closest_words_s=words_s)
            envelope = envelope_db(row.samples, RATE_HZ)
            for who, spans in (
                ("ours", list(spans_between_silences(envelope))),
                ("fixed threshold", peer(envelope)),
            ):
                found, errors, spare = compared(row.takes, spans)
                sums[who] = [sums[who][0] + found, sums[who][1] + errors, sums[who][2] + spare]
        for who, (found, errors, spare) in sums.items():
            apart = np.abs(errors) if errors else np.array([np.nan])
            sys.stdout.write(
                f"words from {words_s} s of the music, {who}: {found} of {sequences * TAKES}"
                f" takes found whole, ends off by {np.median(apart):.2f} s in the middle and"
                f" {np.quantile(apart, 0.95):.2f} s at most in 19 of 20, {spare} spans too many\n"
            )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
