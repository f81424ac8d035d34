"""Heard strokes matched to written notes: by time alone, or by time and the pitch that rises.

Strokes in order, notes in order; a match is judged by the time since the match before it
against the local tempo. Left-out notes and extra strokes have their costs, and a stop may be
followed by a jump, as in the pitched follower. A weak stroke, which may be false, earns less
where it is matched and costs less where it is not: so the written time decides.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standlight.sound.following import (
    AFTER_SILENCE,
    JUMP_COST,
    SILENCE_BEFORE_JUMP_S,
    STOP_COST,
    TEMPO_GAIN,
)
from standlight.sound.pacing import LANE_COST, LANES
from standlight.sound.written import WrittenLine

MATCH_GAIN, SKIP_COST, EXTRA_COST = 4.0, 4.0, 3.0
"""A matched stroke, a left-out note, a full-strength extra stroke (chosen on synthetic takes)."""

FULL_STRENGTH, NO_STRENGTH = 0.20, 0.04
"""A stroke of the first strength and more gains in full, one of the second nothing, in between
by the logarithm. On the development seed 1500 false strokes are seldom over 0.15."""

LIKELY_A_NOTE, MOST_NO_STRENGTH = 1.2, 0.12
"""Where there are more strokes than so many a note (and a few, and those of rolls) the weakest are
false, and what is no stronger gains nothing, up to this strength: else quick kettles in a hall are
followed at twice their tempo, by what ripples between (take 3001/drums/38; seeds 1500 and 1900 lose
nothing by it)."""

STROKES_BESIDE, ROLL_STROKES_A_S = 10, 20.0
"""Strokes that any take may have beside its notes, and in a second of a roll."""

MOST_SKIPPED, MOST_EXTRA, MOST_IN_ROLL = 4, 12, 48
"""How many notes may be left out, strokes added, or strokes be one roll, in a row."""

MOST_OUTSIDE_COST = 8.0
"""What is struck before the first match and after the last costs no more than this together."""

MOST_UNPLAYED_COST = 12.0
"""Notes left out before the first match, or after the last, cost no more than this together:
less than a jump to the end would, so that who stops early has stopped."""

SPREAD, SPREAD_S, COST_CAP = 0.12, 0.020, 6.0
"""Spread of a stroke around the local tempo: a share of its gap, and in seconds; dearest gap."""

WAITED_RATIO = 0.6
"""A gap longer than asked by this (a logarithm) is a wait and tells nothing of the tempo."""

WAITED_COST = 1.0
"""A stroke that comes late after a fermata or a breath costs no more than this."""

ROLLED_SHARE = 0.05
"""What a stroke inside a rolled note costs of an extra one."""

QUIET_COST = 1.0
"""Strokes that cost less than this together are no playing: a pause may hold them."""

MID_MEASURE_COST = 3.0
"""Who goes back seldom goes back into the middle of a measure."""

_NEVER = -1e6


@dataclass(frozen=True, slots=True)
class StrokePath:
    """``matches``: (note, stroke, probability) in time; ``jumps``: strokes that follow a stop.

    ``score`` is what the matching is worth, in the units of ``MATCH_GAIN``.
    """

    matches: tuple[tuple[int, int, float], ...]
    jumps: tuple[int, ...]
    score: float = 0.0

    def rolled(self, line: WrittenLine, strokes: int) -> np.ndarray:
        """Which of so many strokes lie inside a rolled note, after its first, ``(strokes,)``."""
        inside = np.zeros(strokes, dtype=bool)
        ends = [*(stroke for _, stroke, _ in self.matches[1:]), strokes]
        for (note, stroke, _), end in zip(self.matches, ends, strict=False):
            inside[stroke + 1 : end] = line.tremolo[note]
        return inside


def stroke_count(line: WrittenLine, tempo_qpm: float, a_note: float) -> int:
    """Strokes that a take of ``line`` may have at so many a note, rolls at half the tempo."""
    rolled_s = float(line.sounding_quarters[line.tremolo].sum()) * 2.0 * 60.0 / tempo_qpm
    return round(a_note * len(line) + STROKES_BESIDE + ROLL_STROKES_A_S * rolled_s)


def match_strokes(
    times_s: np.ndarray,
    strengths: np.ndarray,
    line: WrittenLine,
    qpm: float,
    favour: np.ndarray | None = None,
) -> StrokePath:
    """The best matching of strokes at ``times_s`` (ascending) to the written notes.

    ``favour`` is what else speaks for each stroke being each note, ``(strokes, notes)``, in
    the units of ``MATCH_GAIN``; None where only time speaks.
    """
    if not len(times_s):
        return StrokePath((), ())
    matching = _Matching(times_s, strengths, line, qpm, favour)
    for stroke in range(len(times_s)):
        matching.reach(stroke)
    return matching.path()


def _no_strength(strengths: np.ndarray, likely: int) -> float:
    """The strength that gains nothing: what is left when the ``likely`` strongest are taken."""
    left = np.sort(strengths)[::-1][likely:]
    return float(np.clip(left.max(initial=NO_STRENGTH), NO_STRENGTH, MOST_NO_STRENGTH))


class _Matching:
    """Best scores by (stroke, note, tempo lane), filled in stroke by stroke.

    ``tempo`` is the logarithm of seconds a quarter there, ``slowness`` its square's inverse;
    ``steps`` holds by notes gone on the logarithm of the written quarters and the spread of
    ``SPREAD_S`` over them, squared.
    """

    def __init__(
        self,
        times_s: np.ndarray,
        strengths: np.ndarray,
        line: WrittenLine,
        qpm: float,
        favour: np.ndarray | None,
    ) -> None:
        """Room for every state, and each stroke's gains and costs."""
        strokes, notes, lanes = len(times_s), len(line), len(LANES)
        self.times_s, self.line = times_s, line
        self.best = np.full((strokes, notes, lanes), _NEVER, dtype=np.float32)
        self.tempo = np.zeros((strokes, notes, lanes), dtype=np.float32)
        self.slowness = np.zeros((strokes, notes, lanes), dtype=np.float32)
        self.back = np.full((strokes, notes, lanes, 2), -1, dtype=np.int32)
        self.extra = np.append(0.0, np.cumsum(EXTRA_COST * strengths)).astype(np.float32)
        nothing = _no_strength(strengths, stroke_count(line, qpm, LIKELY_A_NOTE))
        share = np.log(np.maximum(strengths, 1e-9) / nothing)
        share = np.clip(share / np.log(FULL_STRENGTH / nothing), 0.0, 1.0)
        gain = MATCH_GAIN * share[:, None] + (0.0 if favour is None else favour)
        self.gain = np.broadcast_to(gain, (strokes, notes)).astype(np.float32)
        self.start_tempo = np.log(60.0 / qpm / np.array(LANES))
        self.most_extra = MOST_IN_ROLL if line.tremolo.any() else MOST_EXTRA
        self.rolled = np.where(line.tremolo, ROLLED_SHARE, 1.0).astype(np.float32)
        self.steps = {}
        for skipped in range(1, min(MOST_SKIPPED + 1, notes)):
            quarters = line.onset_quarters[skipped:] - line.onset_quarters[:-skipped]
            quarters = np.maximum(quarters, 1e-3)[:, None]
            blur = (SPREAD_S / quarters) ** 2
            self.steps[skipped] = (
                np.log(quarters).astype(np.float32), blur.astype(np.float32)
            )  # fmt: skip

    def reach(self, stroke: int) -> None:
        """Every way to arrive at ``stroke``: as the first match, after another, after a stop."""
        notes = len(self.line)
        unplayed = np.minimum(SKIP_COST * np.arange(notes), MOST_UNPLAYED_COST)
        entry = min(self.extra[stroke], MOST_OUTSIDE_COST) + unplayed
        self.best[stroke] = (self.gain[stroke] - entry)[:, None] - np.array(LANE_COST)
        self.tempo[stroke] = self.start_tempo
        if stroke:
            for skipped in self.steps:
                self._go_on(stroke, skipped)
            self._resume(stroke)
        self.slowness[stroke] = np.exp(-2.0 * self.tempo[stroke])

    def _go_on(self, stroke: int, skipped: int) -> None:
        """Arrivals from the note ``skipped`` before, whichever stroke that was."""
        first, notes = max(stroke - self.most_extra, 0), len(self.line)
        source, target = slice(0, notes - skipped), slice(skipped, notes)
        gap_s = np.maximum(self.times_s[stroke] - self.times_s[first:stroke], 1e-3)
        between = self.extra[stroke] - self.extra[first + 1 : stroke + 1]
        log_quarters, blur = self.steps[skipped]
        log_gap = np.log(gap_s).astype(np.float32)[:, None, None]
        ratio = log_gap - log_quarters - self.tempo[first:stroke, source]
        spread = SPREAD**2 + blur * self.slowness[first:stroke, source]
        cost = np.minimum(0.5 * ratio * ratio / spread, COST_CAP)
        if self.line.free.any():
            waited = self.line.free[source][:, None] & (ratio > 0.0)
            cost = np.where(waited, np.minimum(cost, WAITED_COST), cost)
        cost += (between[:, None] * self.rolled[source])[:, :, None]
        arrived = self.best[first:stroke, source] - cost
        chosen = arrived.argmax(axis=0)[None]
        reached = np.take_along_axis(arrived, chosen, axis=0)[0]
        reached = reached + self.gain[stroke, target, None] - SKIP_COST * (skipped - 1)
        better = reached > self.best[stroke, target]
        off = np.take_along_axis(ratio, chosen, axis=0)[0]
        trust = SPREAD**2 / np.take_along_axis(spread, chosen, axis=0)[0]
        before = np.take_along_axis(self.tempo[first:stroke, source], chosen, axis=0)[0]
        pulled = before + TEMPO_GAIN * trust * np.clip(off, -0.3, 0.3) * (off < WAITED_RATIO)
        self.best[stroke, target][better] = reached[better]
        self.tempo[stroke, target][better] = pulled[better]
        self.back[stroke, target, :, 0][better] = first + chosen[0][better]
        numbers = np.broadcast_to(np.arange(notes - skipped)[:, None], better.shape)
        self.back[stroke, target, :, 1][better] = numbers[better]

    def _resume(self, stroke: int) -> None:
        """Arrivals by a stop after an earlier stroke and a jump to any note.

        Only faint strokes may lie between; a source note is kept as -2 - note.
        """
        quiet = self.extra[stroke] - self.extra[1 : stroke + 1] < QUIET_COST
        first = max(stroke - MOST_EXTRA, int(np.argmax(quiet)))
        lanes = np.arange(len(LANES))
        source = self.best[first:stroke].argmax(axis=1)
        strokes = np.arange(first, stroke)[:, None]
        score = self.best[strokes, source, lanes]
        tempo = self.tempo[strokes, source, lanes]
        gap = (self.times_s[stroke] - self.times_s[first:stroke])[:, None]
        between = (self.extra[stroke] - self.extra[first + 1 : stroke + 1])[:, None]
        silent = gap > SILENCE_BEFORE_JUMP_S + np.exp(tempo)
        reached = score + AFTER_SILENCE * silent - between - STOP_COST - JUMP_COST
        earlier = reached.argmax(axis=0)
        entry = np.where(self.line.measure_start, 0.0, MID_MEASURE_COST)
        arrived = reached[earlier, lanes][None, :] + (self.gain[stroke] - entry)[:, None]
        better = arrived > self.best[stroke]
        self.best[stroke][better] = arrived[better]
        for kept, value in (
            (self.tempo[stroke], tempo[earlier, lanes]),
            (self.back[stroke, :, :, 0], first + earlier),
            (self.back[stroke, :, :, 1], -2 - source[earlier, lanes]),
        ):
            kept[better] = np.broadcast_to(value, better.shape)[better]

    def path(self) -> StrokePath:
        """Follow the back pointers from the best ending."""
        notes = len(self.line)
        left = np.minimum(SKIP_COST * np.arange(notes)[::-1], MOST_UNPLAYED_COST)
        after = np.minimum(self.extra[-1] - self.extra[1:], MOST_OUTSIDE_COST)
        ends = self.best - left[None, :, None] - after[:, None, None]
        stroke, note, lane = (int(k) for k in np.unravel_index(int(ends.argmax()), ends.shape))
        matches, jumps = [], []
        while True:
            earlier, source = (int(k) for k in self.back[stroke, note, lane])
            if earlier < 0:
                matches.append((note, stroke, 1.0))
                break
            if source < -1:
                jumps.append(stroke)
                matches.append((note, stroke, 1.0))
                stroke, note = earlier, -2 - source
                continue
            matches.append((note, stroke, self._probability(stroke, note, earlier, source, lane)))
            stroke, note = earlier, source
        return StrokePath(tuple(reversed(matches)), tuple(reversed(jumps)), float(ends.max()))

    def _probability(
        self, stroke: int, note: int, earlier: int, source: int, lane: int
    ) -> float:
        """How well the stroke lies where the tempo so far expects it, 0..1."""
        onset = self.line.onset_quarters
        quarters = max(float(onset[note] - onset[source]), 1e-3)
        expected_s = quarters * float(np.exp(self.tempo[earlier, source, lane]))
        off_s = float(self.times_s[stroke] - self.times_s[earlier]) - expected_s
        apart = off_s / np.hypot(SPREAD * expected_s, SPREAD_S)
        return float(np.exp(-0.5 * min(apart**2, 9.0)))
