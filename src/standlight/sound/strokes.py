"""Following an unpitched part: heard strokes matched to written ones in time alone.

Strokes in order, notes in order; a match is judged by the time since the match before it
against the local tempo, left-out notes and extra strokes have their costs, and a stop may
be followed by a jump, as in the pitched follower.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standlight.score.values import Passage
from standlight.sound.following import (
    AFTER_SILENCE,
    JUMP_COST,
    LANE_COST,
    LANES,
    SILENCE_BEFORE_JUMP_S,
    STOP_COST,
    TEMPO_GAIN,
)
from standlight.sound.loudness import k_power, loudness_lkfs
from standlight.sound.onsets import stroke_onsets
from standlight.sound.timing import timing_of
from standlight.sound.values import (
    HOP_S,
    AddedSound,
    HeardNote,
    Performance,
    Recording,
    Resumed,
)
from standlight.sound.written import WrittenLine

MATCH_GAIN, SKIP_COST, EXTRA_COST = 4.0, 4.0, 3.0
"""A matched stroke, a left-out note, a full-strength extra stroke (chosen on synthetic takes)."""

MOST_SKIPPED, MOST_EXTRA, MOST_IN_ROLL = 4, 5, 48
"""How many notes may be left out, strokes added, or strokes be one roll, in a row."""

SPREAD, SPREAD_S, COST_CAP = 0.12, 0.020, 6.0
"""Spread of a stroke around the local tempo: a share of its gap, and in seconds; dearest gap."""

STROKE_S = 0.080
"""A stroke's loudness is read over this long (common practice, no source)."""

_NEVER = -1e6


@dataclass(frozen=True, slots=True)
class StrokePath:
    """``matches``: (note, stroke, probability) in time; ``jumps``: strokes that follow a stop."""

    matches: tuple[tuple[int, int, float], ...]
    jumps: tuple[int, ...]


def match_strokes(
    times_s: np.ndarray, strengths: np.ndarray, line: WrittenLine, qpm: float
) -> StrokePath:
    """The best matching of strokes at ``times_s`` (ascending) to the written notes."""
    strokes, notes, lanes = len(times_s), len(line), len(LANES)
    if not strokes:
        return StrokePath((), ())
    best = np.full((strokes, notes, lanes), _NEVER)
    tempo = np.zeros((strokes, notes, lanes))
    back = np.zeros((strokes, notes, lanes, 2), dtype=np.int32)
    extra = np.append(0.0, np.cumsum(EXTRA_COST * strengths))
    start_tempo = np.log(60.0 / qpm / np.array(LANES))
    most_extra = MOST_IN_ROLL if line.tremolo.any() else MOST_EXTRA
    for stroke in range(strokes):
        here = best[stroke]
        entry = -np.minimum(extra[stroke], 8.0) - SKIP_COST * np.arange(notes)
        here[:] = MATCH_GAIN + entry[:, None] - np.array(LANE_COST)
        tempo[stroke] = start_tempo
        back[stroke] = -1
        for before in range(1, min(most_extra, stroke) + 1):
            _from(stroke, stroke - before, times_s, extra, line, best, tempo, back)
        if stroke:
            _resume(stroke, times_s, line, best, tempo, back)
    left = SKIP_COST * (notes - 1 - np.arange(notes))
    after = np.minimum(extra[-1] - extra[1:], 8.0)
    ends = best - left[None, :, None] - after[:, None, None]
    return _trace(ends, times_s, line, tempo, back)


def _from(
    stroke: int,
    earlier: int,
    times_s: np.ndarray,
    extra: np.ndarray,
    line: WrittenLine,
    best: np.ndarray,
    tempo: np.ndarray,
    back: np.ndarray,
) -> None:
    """Arrivals at ``stroke`` from a match of the stroke ``earlier``."""
    gap = times_s[stroke] - times_s[earlier]
    between = extra[stroke] - extra[earlier + 1]
    notes = len(line)
    for skipped in range(1, min(MOST_SKIPPED + 1, notes)):
        source, target = slice(0, notes - skipped), slice(skipped, notes)
        quarters = line.onset_quarters[target] - line.onset_quarters[source]
        quarters = np.maximum(quarters, 1e-3)[:, None]
        ratio = np.log(max(gap, 1e-3)) - np.log(quarters) - tempo[earlier, source]
        expected_s = quarters * np.exp(tempo[earlier, source])
        spread = SPREAD**2 + (SPREAD_S / expected_s) ** 2
        cost = np.minimum(0.5 * ratio**2 / spread, COST_CAP)
        rolled = np.where(line.tremolo[source], 0.05, 1.0)[:, None]
        arrived = (
            best[earlier, source] + MATCH_GAIN - cost
            - SKIP_COST * (skipped - 1) - between * rolled
        )  # fmt: skip
        better = arrived > best[stroke, target]
        best[stroke, target][better] = arrived[better]
        pull = TEMPO_GAIN * SPREAD**2 / spread * np.clip(ratio, -0.3, 0.3) * (ratio < 0.6)
        tempo[stroke, target][better] = (tempo[earlier, source] + pull)[better]
        back[stroke, target, :, 0][better] = earlier
        numbers = np.broadcast_to(np.arange(notes - skipped)[:, None], better.shape)
        back[stroke, target, :, 1][better] = numbers[better]


def _resume(
    stroke: int,
    times_s: np.ndarray,
    line: WrittenLine,
    best: np.ndarray,
    tempo: np.ndarray,
    back: np.ndarray,
) -> None:
    """Arrivals at ``stroke`` by a stop after the stroke before it and a jump to any note."""
    earlier = stroke - 1
    lanes = np.arange(best.shape[2])
    source = best[earlier].argmax(axis=0)
    quarter_s = np.exp(tempo[earlier, source, lanes])
    silent = times_s[stroke] - times_s[earlier] > SILENCE_BEFORE_JUMP_S + quarter_s
    reached = best[earlier, source, lanes] + MATCH_GAIN - STOP_COST - JUMP_COST
    reached = reached + AFTER_SILENCE * silent
    entry = np.where(line.measure_start, 0.0, 3.0)
    arrived = reached[None, :] - entry[:, None]
    better = arrived > best[stroke]
    best[stroke][better] = arrived[better]
    carried = np.broadcast_to(tempo[earlier, source, lanes], better.shape)
    tempo[stroke][better] = carried[better]
    back[stroke, :, :, 0][better] = earlier
    back[stroke, :, :, 1][better] = -2 - np.broadcast_to(source, better.shape)[better]


def _trace(
    ends: np.ndarray, times_s: np.ndarray, line: WrittenLine, tempo: np.ndarray, back: np.ndarray
) -> StrokePath:
    """Follow the back pointers from the best ending; a jump is marked by -2 - note."""
    stroke, note, lane = (int(k) for k in np.unravel_index(int(ends.argmax()), ends.shape))
    matches, jumps = [], []
    while True:
        earlier, source = (int(k) for k in back[stroke, note, lane])
        if earlier < 0:
            matches.append((note, stroke, 1.0))
            break
        if source < -1:
            jumps.append(stroke)
            matches.append((note, stroke, 1.0))
            stroke, note = earlier, -2 - source
            continue
        quarters = max(line.onset_quarters[note] - line.onset_quarters[source], 1e-3)
        expected_s = float(quarters * np.exp(tempo[earlier, source, lane]))
        apart = (times_s[stroke] - times_s[earlier] - expected_s) / np.hypot(
            SPREAD * expected_s, SPREAD_S
        )
        matches.append((note, stroke, float(np.exp(-0.5 * min(apart**2, 9.0)))))
        stroke, note = earlier, source
    return StrokePath(tuple(reversed(matches)), tuple(reversed(jumps)))


def follow_strokes(
    recording: Recording, passage: Passage, line: WrittenLine, tempo_qpm: float
) -> Performance:
    """An unpitched ``passage`` followed through ``recording`` by its strokes."""
    times_s, strengths = stroke_onsets(recording)
    path = match_strokes(times_s, strengths, line, tempo_qpm)
    power = k_power(recording)
    final: dict[int, HeardNote] = {}
    attempts = []
    for note, stroke, probability in path.matches:
        if note in final:
            attempts.append(final[note])
        final[note] = _heard_stroke(note, stroke, probability, times_s, power)
    notes = [
        final.get(index) or HeardNote(index=index, outcome="missing", probability=1.0)
        for index in range(len(line))
    ]
    sounded = sorted(final)
    resumed = {note for note, stroke, _ in path.matches if stroke in path.jumps}
    timing = timing_of(
        line.onset_quarters[sounded],
        np.array([final[index].onset_s for index in sounded], dtype=float),
        [index in resumed for index in sounded],
    )
    for place, index in enumerate(sounded):
        notes[index] = _with_asynchrony(notes[index], timing.asynchrony_ms[place])
    used = {stroke for _, stroke, _ in path.matches}
    return Performance(
        passage=passage,
        notes=tuple(notes),
        added=_extra(times_s, strengths, used, path, line),
        restarts=tuple(
            Resumed(float(times_s[stroke]), note)
            for note, stroke, _ in path.matches
            if stroke in path.jumps
        ),
        attempts=tuple(attempts),
        shift_semitones=0,
        tuning_cents=None,
        tuning_se_cents=None,
        tempo_qpm=timing.tempo_qpm,
        tempo_drift_percent=timing.drift_percent,
        tempo_drift_se_percent=timing.drift_se_percent,
        marked_tempo_qpm=tempo_qpm,
        fit=float(np.mean([note.probability * (note.outcome == "played") for note in notes])),
        explained_share=len(used) / max(len(times_s), 1),
        seconds=recording.seconds,
        sounding_share=len(times_s) / len(line),
        median_confidence=None,
    )


def _heard_stroke(
    note: int, stroke: int, probability: float, times_s: np.ndarray, power: np.ndarray
) -> HeardNote:
    """The figures of one matched stroke."""
    onset_s = float(times_s[stroke])
    following = float(times_s[stroke + 1]) if stroke + 1 < len(times_s) else onset_s + STROKE_S
    offset_s = min(onset_s + STROKE_S, following)
    first = int(onset_s / HOP_S)
    frames = power[first : max(int(offset_s / HOP_S), first + 1)]
    return HeardNote(
        index=note,
        outcome="played",
        onset_s=onset_s,
        offset_s=offset_s,
        probability=probability,
        loudness_lkfs=loudness_lkfs(frames),
    )


def _with_asynchrony(note: HeardNote, asynchrony_ms: float | None) -> HeardNote:
    """The same stroke with its distance from the smooth tempo."""
    return HeardNote(
        index=note.index,
        outcome=note.outcome,
        onset_s=note.onset_s,
        offset_s=note.offset_s,
        asynchrony_ms=asynchrony_ms,
        probability=note.probability,
        loudness_lkfs=note.loudness_lkfs,
    )


def _extra(
    times_s: np.ndarray,
    strengths: np.ndarray,
    used: set[int],
    path: StrokePath,
    line: WrittenLine,
) -> tuple[AddedSound, ...]:
    """Strong strokes between the first and the last match that nobody wrote, rolls left out."""
    if not path.matches:
        return ()
    order = [stroke for _, stroke, _ in path.matches]
    owner = {}
    for note, stroke, _ in path.matches:
        owner[stroke] = note
    found, current = [], None
    for stroke in range(order[0], order[-1]):
        current = owner.get(stroke, current)
        if stroke in used or strengths[stroke] < 0.5 or line.tremolo[current]:
            continue
        found.append(AddedSound(float(times_s[stroke]), float(times_s[stroke]) + STROKE_S, None))
    return tuple(found)
