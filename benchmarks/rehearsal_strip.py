"""The strip of a piece against planted trouble: are the truly worst spots in the top ten?

Each seed plants a piece of 28 parts in 12 sections and 300 measures: hard places of four to ten
measures, some for many sections, some for one. 160 takes of eight to sixteen measures hear a
troubled measure more often than a calm one, and both wrongly at times; the director rates every
take and remarks 25 times; musicians remark on what they fear (long in the eye, high, exposed:
drawn apart from the trouble) more than on what fails. A truly worst spot is found when the middle
of one of the ten listed spots lies in it. The peer in the same run counts remarks alone.

Also: how many blind spots and false worries are true, and the processor time of one strip with
5,000 remarks.

Usage: python benchmarks/rehearsal_strip.py [PIECES] [FIRST_SEED]
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import numpy as np

from benchmarks.machine import machine
from standlight.planning import (
    DirectorRemark,
    HeardTake,
    MusicianRemark,
    Outline,
    OutlinePart,
    RatedTake,
    draw_strip,
)

PARTS, SECTIONS, MEASURES, TAKES, TOLD = 28, 12, 300, 160, 25
MUSICIANS_A_PART, SPOT, TOP, RUNS = 5, 8, 10, 20
FEARED_SHARE = 0.6
HIT, FALSE_ALARM, CALM = 0.8, 0.08, 0.1
TROUBLED_FROM = 0.3
"""Severity (0 to 1) of the slightest planted trouble; a phrase holds trouble when half does."""


@dataclass(frozen=True)
class Piece:
    """What was planted, and what the voices make of it."""

    severity: np.ndarray
    outline: Outline
    takes: list[HeardTake]
    rated: list[RatedTake]
    director: list[DirectorRemark]
    musicians: list[MusicianRemark]


def humps(random: np.random.Generator, number: int, sections: int) -> np.ndarray:
    """(SECTIONS, MEASURES) places of four to ten measures, each in up to ``sections`` sections."""
    grid = np.zeros((SECTIONS, MEASURES))
    for _ in range(number):
        first, length = int(random.integers(0, MEASURES - 10)), int(random.integers(4, 11))
        n = int(random.integers(1, sections + 1))
        for section in random.choice(SECTIONS, n, replace=False):
            size = random.uniform(0.3, 0.9)
            row = grid[section, first : first + length]
            np.maximum(row, size, out=row)
    return grid


def plant(seed: int, remarks: int) -> Piece:
    """One seeded piece."""
    random = np.random.default_rng(seed)
    severity = np.maximum(humps(random, 18, SECTIONS), humps(random, 24, 2))
    severity = np.maximum(severity, random.uniform(0, CALM, severity.shape))
    fear = humps(random, 30, SECTIONS)
    sections = [part % SECTIONS for part in range(PARTS)]
    whole = frozenset(range(MEASURES))
    parts = tuple(OutlinePart(f"p{n}", f"s{s}", whole) for n, s in enumerate(sections))
    takes, rated = [], []
    for number in range(TAKES):
        part, length = int(random.integers(PARTS)), int(random.integers(8, 17))
        first = int(random.integers(0, MEASURES - length))
        own = severity[sections[part], first : first + length]
        luck = np.clip(random.normal(1.0, 0.3), 0.2, 1.8)
        flagged = random.random(length) < FALSE_ALARM + (HIT - FALSE_ALARM) * own * luck
        troubles = tuple(("notes", first + int(at)) for at in np.flatnonzero(flagged))
        key, last = f"t{number}", first + length - 1
        takes.append(HeardTake(key, f"p{part}", frozenset(range(first, last + 1)), troubles))
        low = bool(own.mean() * luck + random.normal(0, 0.1) > 0.3)
        rated.append(RatedTake(key, f"p{part}", first, last, low))
    director = []
    for _ in range(TOLD):
        first = drawn(random, severity.sum(axis=0) ** 2)
        director.append(DirectorRemark(first, min(first + 3, MEASURES - 1), ()))
    return Piece(severity, Outline(tuple(str(n + 1) for n in range(MEASURES)), parts), takes,
                 rated, director, said(random, severity, fear, sections, remarks))  # fmt: skip


def said(random, severity, fear, sections, remarks) -> list[MusicianRemark]:
    """Remarks drawn from fear more than from trouble."""
    rows = []
    for _ in range(remarks):
        part = int(random.integers(PARTS))
        source = fear if random.random() < FEARED_SHARE else severity
        first = drawn(random, source[sections[part]] ** 2 + 1e-3)
        last = min(first + int(random.integers(0, 4)), MEASURES - 1)
        who = f"{part}/{random.integers(MUSICIANS_A_PART)}"
        rows.append(MusicianRemark(who, f"p{part}", first, last))
    return rows


def drawn(random: np.random.Generator, weights: np.ndarray) -> int:
    """One index by weight."""
    return int(np.searchsorted(np.cumsum(weights) / weights.sum(), random.random()))


def worst(by_measure: np.ndarray) -> list[tuple[int, int]]:
    """The ten eight-measure windows of the largest sum that do not overlap."""
    sums = np.convolve(by_measure, np.ones(SPOT), "valid")
    found = []
    for _ in range(TOP):
        start = int(np.argmax(sums))
        found.append((start, start + SPOT - 1))
        sums[max(0, start - SPOT + 1) : start + SPOT] = -1.0
    return found


def share_found(truth: list[tuple[int, int]], listed: list[tuple[int, int]]) -> float:
    """Share of the true spots that hold the middle of a listed one."""
    middles = [(first + last) / 2 for first, last in listed]
    return float(np.mean([any(a <= middle <= b for middle in middles) for a, b in truth]))


def counted(piece: Piece) -> list[tuple[int, int]]:
    """The peer: windows by the number of remarks, the director's among them."""
    by_measure = np.zeros(MEASURES)
    for row in [*piece.musicians, *piece.director]:
        by_measure[row.first : row.last + 1] += 1
    return worst(by_measure)


def of_spots(strip) -> list[tuple[int, int]]:
    """First and last of the listed spots."""
    return [(spot.first, spot.last) for spot in strip.spots]


def true_findings(piece: Piece, strip) -> tuple[list[bool], list[bool]]:
    """Whether each blind spot is trouble, and whether each false worry is none."""
    def troubled(finding):
        section = int(finding.voices.section[1:])
        own = piece.severity[section, finding.first : finding.last + 1]
        return bool(np.mean(own >= TROUBLED_FROM) >= 0.5)

    return ([troubled(one) for one in strip.blind_spots],
            [not troubled(one) for one in strip.false_worries])  # fmt: skip


def main() -> int:
    """Plant, draw, count, print."""
    pieces = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    first_seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1000
    print(f"machine: {machine()}; {pieces} pieces, seeds from {first_seed}")
    print("share of the ten truly worst spots found in the top ten (standard error)")
    print(" remarks   strip, all voices   machine only   remarks alone   chance")
    for remarks in (200, 1000, 5000):
        rows, blind, worries = [], [], []
        for seed in range(first_seed, first_seed + pieces):
            piece = plant(seed, remarks)
            truth = worst(piece.severity.sum(axis=0))
            strip = draw_strip(piece.outline, piece.takes, piece.rated, piece.director,
                               piece.musicians)  # fmt: skip
            machine_only = draw_strip(piece.outline, piece.takes)
            random = np.random.default_rng(seed).random(MEASURES)
            rows.append([share_found(truth, listed) for listed in
                         (of_spots(strip), of_spots(machine_only), counted(piece),
                          worst(random))])  # fmt: skip
            found = true_findings(piece, strip)
            blind += found[0]
            worries += found[1]
        mean, error = np.mean(rows, axis=0), np.std(rows, axis=0) / pieces**0.5
        print(f"{remarks:8}   " + "   ".join(
            f"{m:.3f} ({e:.3f})  " for m, e in zip(mean, error, strict=True)))  # fmt: skip
        print(f"           blind spots that are true: {sum(blind)} of {len(blind)}; false worries "
              f"that are none: {sum(worries)} of {len(worries)}")  # fmt: skip
    piece = plant(first_seed, 5000)
    times = []
    for _ in range(RUNS):
        start = time.process_time()
        draw_strip(piece.outline, piece.takes, piece.rated, piece.director, piece.musicians)
        times.append(1000 * (time.process_time() - start))
    print(f"one strip, {PARTS} parts, {MEASURES} measures, 5,000 remarks, {TAKES} takes: median "
          f"{np.median(times):.0f} ms, worst {max(times):.0f} ms of processor time (promised 300)")
    return 0


if __name__ == "__main__":
    sys.exit(main())
