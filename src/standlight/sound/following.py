"""Following the written part: a semi-Markov decoder over frames of pitch and onset evidence.

A boundary ``u`` (a frame) and the next note to be played form a state; a segment takes note
``i`` from one boundary to a later one, as written or with another pitch, its length judged
against the local tempo that the path itself carries. Beside segments there are skipped
notes (no time), added sound (time, no note) and jumps (a stop, then on from any note, dearer
in mid-measure). Cumulative match scores make a segment cost one subtraction; several tempo
hypotheses ("lanes") run side by side. The idea is that of semi-Markov score following
(Cont, IEEE PAMI 2010; Raphael, IEEE PAMI 1999); the costs are those of the house's trials.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standlight.sound.values import HOP_S, PitchTrack
from standlight.sound.written import WrittenLine

COARSE = 2
"""Frames of ``HOP_S`` taken as one here (20 ms)."""

STEP_S = COARSE * HOP_S

GAIN_CAP = 8.0
"""Most a note may gain (matching frames of 20 ms), or long notes buy wrong paths (trials)."""

GAIN_SLOPE = 0.1
"""What a frame beyond the cap still adds, so that boundaries stay sharp."""

OTHER_COST, SKIP_COST, ADDED_COST, STOP_COST, JUMP_COST = 5.0, 6.0, 5.0, 8.0, 14.0
"""Costs of the trials: another pitch, a skipped note, an added sound, a stop, a jump."""

AFTER_SILENCE = 6.0
"""A jump costs this much less after ``SILENCE_BEFORE_JUMP_S`` of silence (trials)."""

SILENCE_BEFORE_JUMP_S = 0.30
MID_MEASURE_COST = 3.0
"""A jump into mid-measure costs this more; players go back to a barline (common practice)."""

OTHER_SHARE = 0.6
"""Share of its gain that another pitch keeps: a chain of other pitches must never pay."""

SILENT_FRAME = -0.05
"""Score of a silent frame inside a note: short notes are no fault."""

DURATION_SPREAD = 0.20
"""Spread (log) of a note's length around the local tempo."""

FRAME_SPREAD_S = 0.030
"""Spread in seconds that every onset has from the grid and the player."""

LONG_CAP, SHORT_CAP = 4.0, 9.0
"""Most that a too long (pause) or too short length costs."""

TEMPO_GAIN = 0.35
"""How far one note pulls the local tempo."""

LANES = (0.35, 0.50, 0.70, 0.90, 1.12, 1.40)
"""Tempo hypotheses as a multiple of the marked one (60 to 140 percent; beginners a third)."""

LANE_COST = (4.0, 2.0, 0.0, 0.0, 0.0, 1.0)
ONSET_BONUS = 3.0
"""Score of a boundary on full onset evidence; without any it costs ``NO_ONSET``."""

NO_ONSET = 0.5
REPEAT_COST, CLEAR_ONSET = 9.0, 0.3
"""A repeated pitch begins nowhere without an onset (evidence from ``CLEAR_ONSET`` on is enough):
more than ``GAIN_CAP``, or one long note read as several would pay, and then a restart too."""

REST_COST = 0.05
"""Cost of a sounding frame before the first or after the last note, at most ``GAIN_CAP``."""

WINDOW_NOTES = 80
"""Notes on both sides of the best one that are looked at, in long passages."""

WRITTEN, OTHER, SKIPPED, ADDED, JUMPED, START = range(6)
_NEVER = np.float32(-1e6)


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """What the follower looks at, all ``(frames,)`` at ``STEP_S``: pitch, weight, onset."""

    midi: np.ndarray
    weight: np.ndarray
    onset: np.ndarray


@dataclass(frozen=True, slots=True)
class Segment:
    """One piece of the path: ``kind``, written ``index`` (next one if added), times in seconds."""

    kind: int
    index: int
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Path:
    """The best explanation: ``segments`` in time, ``jumps`` (time, to index), score per maximum."""

    segments: tuple[Segment, ...]
    jumps: tuple[tuple[float, int], ...]
    fit: float
    quarter_s: float


def frame_weight(track: PitchTrack) -> np.ndarray:
    """How much a frame's pitch counts, 0..1: 0 where unvoiced, 1 from confidence 0.8."""
    return np.where(track.voiced, np.clip((track.confidence - 0.4) / 0.4, 0.0, 1.0), 0.0)


def evidence_of(track: PitchTrack, onset: np.ndarray) -> Evidence:
    """Pairs of frames as one: the surer pitch of the two, the stronger onset evidence."""
    frames = min(len(track.midi), len(onset)) // COARSE * COARSE
    weight = frame_weight(track)[:frames].reshape(-1, COARSE)
    rows = np.arange(len(weight))
    surer = weight.argmax(axis=1)
    return Evidence(
        midi=track.midi[:frames].reshape(-1, COARSE)[rows, surer],
        weight=weight[rows, surer],
        onset=onset[:frames].reshape(-1, COARSE).max(axis=1),
    )


def match_score(midi: np.ndarray, weight: np.ndarray, pitches: np.ndarray) -> np.ndarray:
    """Score -1..1 of each frame for each of ``pitches``, shape ``(frames, pitches)``.

    Full within 0.4 semitones, none at 0.65, against from 0.9; an octave slip of the tracker
    is mild; a silent frame scores ``SILENT_FRAME``.
    """
    apart = np.abs(midi[:, None] - pitches[None, :])
    match = np.clip((0.65 - apart) / 0.25, -1.0, 1.0)
    match = np.where(np.abs(apart - 12.0) < 0.5, np.maximum(match, -0.2), match)
    return weight[:, None] * match + (1.0 - weight[:, None]) * SILENT_FRAME


def other_score(midi: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Score of each frame for some one pitch: full while it stays, against where it moves."""
    moved = np.zeros(len(midi))
    moved[1:] = (np.abs(np.diff(midi)) > 0.6) & (weight[1:] > 0) & (weight[:-1] > 0)
    return weight * (1.0 - 4.0 * moved) + (1.0 - weight) * SILENT_FRAME


def _capped(gain: np.ndarray) -> np.ndarray:
    """Gains beyond ``GAIN_CAP`` flattened to ``GAIN_SLOPE``."""
    return np.minimum(gain, GAIN_CAP + GAIN_SLOPE * (gain - GAIN_CAP))


def _lengths(frames: int, longest: int) -> np.ndarray:
    """Segment lengths tried, in frames: every one up to 1 s, then coarser."""
    fine = np.concatenate([np.arange(1, 51), np.arange(52, 101, 2), np.arange(104, 801, 4)])
    return fine[fine <= max(10, min(frames, longest))]


def _peaks(onset: np.ndarray) -> np.ndarray:
    """Local maxima of the evidence within two frames, half their height beside them."""
    padded = np.pad(onset, 2)
    highest = np.lib.stride_tricks.sliding_window_view(padded, 5).max(axis=1)
    peak = np.where(onset >= highest, onset, 0.0)
    beside = np.maximum(np.append(0.0, peak[:-1]), np.append(peak[1:], 0.0))
    return np.maximum(peak, 0.5 * beside)


class _Decoder:
    """The tables of one decoding; made, run once, traced back once."""

    def __init__(self, line: WrittenLine, evidence: Evidence, offset: float, qpm: float) -> None:
        """Prepare the cumulative scores for pitches ``line.midi + offset`` (semitones)."""
        self.line, self.evidence = line, evidence
        frames, notes = len(evidence.midi), len(line)
        self.frames, self.notes, self.lanes = frames, notes, len(LANES)
        distinct, place = np.unique(line.midi, return_inverse=True)
        match = match_score(evidence.midi, evidence.weight, distinct + offset)
        summed = np.zeros((frames + 1, len(distinct)), dtype=np.float32)
        np.cumsum(match, axis=0, out=summed[1:])
        self.match = summed[:, place]
        other = other_score(evidence.midi, evidence.weight)
        self.other = np.append(0.0, np.cumsum(other)).astype(np.float32)
        peaks = _peaks(evidence.onset)
        self.bonus = np.append(ONSET_BONUS * peaks - NO_ONSET, -NO_ONSET)
        unmarked = REPEAT_COST * np.maximum(0.0, 1.0 - peaks / CLEAR_ONSET)
        self.unmarked = np.append(unmarked, 0.0).astype(np.float32)
        self.repeated = np.append(line.midi[1:] == line.midi[:-1], False)
        sounding = np.append(0.0, np.cumsum(evidence.weight))
        self.before = -np.minimum(REST_COST * sounding, GAIN_CAP)
        self.after = -np.minimum(REST_COST * (sounding[-1] - sounding), GAIN_CAP)
        quiet = int(SILENCE_BEFORE_JUMP_S / STEP_S)
        earlier = sounding[np.maximum(np.arange(frames + 1) - quiet, 0)]
        self.silent = sounding - earlier < 0.15 * quiet
        quarter = 60.0 / qpm / STEP_S
        self.start_tempo = np.log(quarter / np.array(LANES)).astype(np.float32)
        slowest = quarter / LANES[0] * float(line.step_quarters.max())
        self.lengths = _lengths(frames, int(min(2.0 * slowest + 150, 800)))
        self.log_step = np.log(line.step_quarters).astype(np.float32)
        expected_s = line.step_quarters * 60.0 / qpm
        spread = DURATION_SPREAD**2 + (FRAME_SPREAD_S / expected_s) ** 2
        spread = np.where(line.free, 4.0 * spread, spread)
        self.sharp = (0.5 / spread).astype(np.float32)
        self.pull = (TEMPO_GAIN * DURATION_SPREAD**2 / spread * ~line.free).astype(np.float32)
        self.entry = np.where(line.measure_start, 0.0, MID_MEASURE_COST).astype(np.float32)
        shape = (frames + 1, notes + 1, self.lanes)
        self.best = np.full(shape, _NEVER, dtype=np.float32)
        self.tempo = np.zeros(shape, dtype=np.float32)
        self.kind = np.full(shape, START, dtype=np.int8)
        self.back = np.zeros(shape, dtype=np.int16)

    def run(self) -> None:
        """Fill the tables boundary by boundary."""
        added = np.full((self.notes + 1, self.lanes), _NEVER, dtype=np.float32)
        added_from = np.zeros((self.notes + 1, self.lanes), dtype=np.int32)
        cost = np.array(LANE_COST, dtype=np.float32)
        added_frame = -0.5 * REST_COST * self.evidence.weight
        centre = 0
        for u in range(self.frames + 1):
            now, tempo, kind, back = self.best[u], self.tempo[u], self.kind[u], self.back[u]
            now[0] = self.before[u] + self.bonus[u] - cost
            tempo[0] = self.start_tempo
            if u:
                low = max(0, centre - WINDOW_NOTES)
                high = min(self.notes, centre + WINDOW_NOTES)
                self._segments(u, low, high)
                fresh = self.best[u - 1] - ADDED_COST
                starts = fresh > added
                added_from = np.where(starts, u - 1, added_from)
                added = np.where(starts, fresh, added) + added_frame[u - 1]
                arrived = added + self.bonus[u]
                better = arrived > now
                now[better] = arrived[better]
                kind[better] = ADDED
                length = np.minimum(u - added_from, 32_000)
                back[better] = length[better]
                sources = np.take_along_axis(
                    self.tempo[:, :, :].reshape(self.frames + 1, -1),
                    added_from.reshape(1, -1),
                    axis=0,
                ).reshape(added_from.shape)
                tempo[better] = sources[better]
                self._jumps(u)
            self._skips(u)
            centre = int(now.max(axis=1).argmax())

    def _segments(self, u: int, low: int, high: int) -> None:
        """Arrivals at ``u`` by playing notes ``low`` to ``high - 1``."""
        lengths = self.lengths[self.lengths <= u]
        rows = u - lengths
        log_length = np.log(lengths).astype(np.float32)
        gain = _capped(self.match[u, low:high] - self.match[rows, low:high])
        other = OTHER_SHARE * np.minimum(self.other[u] - self.other[rows], GAIN_CAP) - OTHER_COST
        other = other[:, None]
        as_other = other > gain
        gain = np.maximum(gain, other)
        ratio = log_length[:, None, None] - self.log_step[low:high, None]
        ratio = ratio - self.tempo[rows, low:high]
        cost = self.sharp[low:high, None] * ratio * ratio
        cost = np.minimum(cost, np.where(ratio > 0.0, LONG_CAP, SHORT_CAP).astype(np.float32))
        total = self.best[rows, low:high] + gain[:, :, None] - cost
        chosen = total.argmax(axis=0)
        notes = np.arange(high - low)[:, None]
        lanes = np.arange(self.lanes)[None, :]
        here = slice(low + 1, high + 1)
        arrived = total[chosen, notes, lanes] + self.bonus[u]
        arrived = arrived - self.unmarked[u] * self.repeated[low:high, None]
        better = arrived > self.best[u, here]
        pulled = ratio[chosen, notes, lanes]
        pulled = np.where(pulled > 0.6, 0.0, np.clip(pulled, -0.35, 0.35))
        pulled = self.tempo[rows[chosen], notes + low, lanes] + self.pull[low:high, None] * pulled
        kind = np.where(as_other[chosen, notes], OTHER, WRITTEN)
        self.best[u, here] = np.where(better, arrived, self.best[u, here])
        self.tempo[u, here] = np.where(better, pulled, self.tempo[u, here])
        self.kind[u, here] = np.where(better, kind, self.kind[u, here])
        self.back[u, here] = np.where(better, lengths[chosen], self.back[u, here])

    def _jumps(self, u: int) -> None:
        """Arrivals at ``u`` by a stop and a jump to any note."""
        now = self.best[u]
        source = now.argmax(axis=0)
        lanes = np.arange(self.lanes)
        reached = now[source, lanes] - STOP_COST - JUMP_COST + AFTER_SILENCE * self.silent[u]
        arrived = reached[None, :] - self.entry[:, None]
        better = arrived > now[:-1]
        now[:-1][better] = arrived[better]
        self.kind[u, :-1][better] = JUMPED
        self.back[u, :-1][better] = np.broadcast_to(source, better.shape)[better]
        carried = np.broadcast_to(self.tempo[u, source, lanes], better.shape)
        self.tempo[u, :-1][better] = carried[better]

    def _skips(self, u: int) -> None:
        """Arrivals at ``u`` by leaving notes out, as many in a row as pay."""
        now = self.best[u]
        for _ in range(self.notes):
            better = now[:-1] - SKIP_COST > now[1:]
            if not better.any():
                return
            now[1:][better] = (now[:-1] - SKIP_COST)[better]
            self.kind[u, 1:][better] = SKIPPED
            self.tempo[u, 1:][better] = self.tempo[u, :-1][better]

    def path(self) -> Path:
        """Trace the best ending back to its start."""
        left = self.notes - np.arange(self.notes + 1)
        unfinished = np.where(left > 0, SKIP_COST + 1.0 * left, 0.0)
        ends = self.best + self.after[:, None, None] - unfinished[None, :, None]
        u, note, lane = np.unravel_index(int(ends.argmax()), ends.shape)
        score = float(ends[u, note, lane])
        tempo = float(self.tempo[u, note, lane])
        segments, jumps = [], []
        while self.kind[u, note, lane] != START:
            kind, back = int(self.kind[u, note, lane]), int(self.back[u, note, lane])
            if kind == SKIPPED:
                note -= 1
            elif kind == JUMPED:
                jumps.append((u * STEP_S, int(note)))
                note = back
            else:
                note -= kind != ADDED
                segments.append(Segment(kind, int(note), (u - back) * STEP_S, u * STEP_S))
                u -= back
        return Path(
            segments=tuple(reversed(segments)),
            jumps=tuple(reversed(jumps)),
            fit=score / self._maximum(),
            quarter_s=float(np.exp(tempo)) * STEP_S,
        )

    def _maximum(self) -> float:
        """What a perfect take could gain: each note's cap or its written frames, with onsets."""
        frames = self.line.sounding_quarters * np.exp(self.start_tempo[3])
        return float(np.minimum(GAIN_CAP, frames).sum() + 1.0 * self.notes)


def follow(line: WrittenLine, evidence: Evidence, offset: float, qpm: float) -> Path:
    """The best path of ``evidence`` through ``line`` sounding ``offset`` semitones away.

    ``qpm`` is the marked tempo in quarters a minute.
    """
    decoder = _Decoder(line, evidence, offset, qpm)
    decoder.run()
    return decoder.path()
