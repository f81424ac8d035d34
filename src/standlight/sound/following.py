"""Following the written part: a semi-Markov decoder over frames of pitch and onset evidence.

A boundary and the next note to be played form a state; a segment takes note ``i`` from one
boundary to a later one, as written or with another pitch, its length judged against the local
tempo that the path itself carries. Boundaries lie where something happens. Beside segments
there are skipped notes (no time), added sounds (time, no note) and jumps (a stop, then on from
any note, dearer in mid-measure). Cumulative match scores make a segment cost one subtraction;
several tempo hypotheses ("lanes") run side by side, and a second pass expects the course that
the first one found (`pacing`). The idea is that of semi-Markov score
following (Cont, IEEE PAMI 2010; Raphael, IEEE PAMI 1999); the costs are those of the house's
trials.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from standlight.sound.evidence import Evidence, boundaries, match_score
from standlight.sound.pacing import Pace, marked_pace, own_pace
from standlight.sound.values import HOP_S
from standlight.sound.written import WrittenLine

FRAME = 0.5
"""Scores count 20 ms of sound as one, so a frame of ``HOP_S`` counts half."""

GAIN_CAP = 8.0
"""Most a note may gain (20 ms of match count one), or long notes buy wrong paths (trials).
What speaks against a note counts in full: a cap on both would hide an added sound in a long
note."""

AGAINST_SHARE = 0.6
"""Share at which sound off a note's pitch counts against it: scoops and wide vibrato are usual,
and an added sound of a quarter second must still cost more than ``ADDED_COST``."""

USUAL_TEMPO = 0.8
"""At this share of the marked tempo a note that is written longer than the cap gains just the
cap, evenly over its length: else two notes in the time of one would pay, and restarts too."""

GAIN_SLOPE = 0.1
"""What a frame beyond the cap still adds, so that boundaries stay sharp."""

OTHER_COST, SKIP_COST, ADDED_COST, STOP_COST, JUMP_COST = 5.0, 6.0, 5.0, 8.0, 8.0
"""Costs of the trials: another pitch, a skipped note, an added sound, a stop, a jump (10 in the
trials; with 8 more of the restarts of seed 2701 are found, and faulty takes are read the same)."""

FAR_COST, NEAR_NOTES = 4.0, 16
"""A jump that does not go back by a few notes costs so much more (the trials' 14 in all): who
stumbles tries the place again."""

AFTER_SILENCE = 6.0
"""A jump costs this much less after ``SILENCE_BEFORE_JUMP_S`` of silence (trials)."""

SILENCE_BEFORE_JUMP_S = 0.30
MID_MEASURE_COST = 3.0
"""A jump into mid-measure costs this more; players go back to a barline (common practice)."""

UNHEARD_COST, HEARD_SCORE = 2.0, 1.0
"""A note in which less than this score sounds at its pitch costs up to so much, less than a note
left out: else a jump back would go through notes that nobody plays, in the silence before the
player goes on."""

OCTAVE_COST = 3.5
"""Of a note an octave off: players and trackers slip by octaves more often than to any one
other pitch, and what sounds there speaks for that note as fully as the written octave would."""

OTHER_SHARE, ADDED_SHARE = 0.6, 0.3
"""Share of its gain that another pitch and an added sound keep: a chain of other pitches must
never pay, nor must cutting a note in two."""

LONGEST_ADDED_S = 1.0
"""A longer added sound is several."""

SHORTEST_FRAMES = 3
"""No segment is shorter."""

FRAME_SPREAD_S = 0.030
"""Spread in seconds that every onset has from the grid and the player."""

LONG_CAP, SHORT_CAP = 4.0, 9.0
"""Most that a too long (pause) or too short length costs."""

TEMPO_GAIN = 0.35
"""How far one note pulls the local tempo."""

TEMPO_REACH = 0.26
"""How far (log) the local tempo may leave its hypothesis: a little more than half-way to the
next one."""

ONSET_BONUS = 3.0
"""Score of a boundary on full onset evidence; without any it costs ``NO_ONSET``."""

NO_ONSET = 1.2
REPEAT_COST, CLEAR_ONSET = 6.0, 0.3
"""A repeated pitch, another pitch and an added sound hardly begin without an onset (evidence
from ``CLEAR_ONSET`` on is enough): else one long note read as several would pay, and then a
restart too, and the tail of a note would be the next one gone wrong. Both are dear together, and
not dearer: soft bows repeat a pitch without a start that can be seen (made takes of seeds 1500
to 1700; with 0.5 and 9.0 lines on one pitch fell apart or jumped)."""

REST_COST = 0.05
"""Cost of 20 ms of sound before the first or after the last note, at most ``GAIN_CAP``."""

WINDOW_NOTES = 80
"""Notes on both sides of the best one that are looked at, in long passages."""

LONGEST_FRAMES = 1600
"""No segment is longer, whatever the tempo (16 s)."""

WRITTEN, OTHER, SKIPPED, ADDED, JUMPED, START = range(6)
_NEVER = np.float32(-1e6)


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


def _summed(values: np.ndarray) -> np.ndarray:
    """Sums of all rows before each one, ``(rows + 1, ...)``, in scores."""
    summed = np.zeros((len(values) + 1, *values.shape[1:]), dtype=np.float32)
    np.cumsum(FRAME * values, axis=0, out=summed[1:])
    return summed


def _capped(gain: np.ndarray) -> np.ndarray:
    """Gains beyond ``GAIN_CAP`` flattened to ``GAIN_SLOPE``."""
    return np.minimum(gain, GAIN_CAP + GAIN_SLOPE * (gain - GAIN_CAP))


class _Recent:
    """A table of which only the rows still in reach are kept; rows count as in the whole table.

    Ten minutes of music have ten thousand boundaries, of which a segment sees a few hundred.
    """

    def __init__(self, shape: tuple[int, int, int], reach: int, empty: float) -> None:
        """An ``empty`` table of ``shape`` that keeps ``reach`` rows and moves on in blocks."""
        self.reach, self.empty, self.base = reach, empty, 0
        rows = min(2 * reach, shape[0])
        self.rows = np.full((rows, *shape[1:]), empty, dtype=np.float32)

    def begin(self, row: int) -> None:
        """Make room for ``row``, the next one."""
        if row - self.base == len(self.rows):
            gone = len(self.rows) - self.reach
            self.rows[: self.reach] = self.rows[gone:]
            self.rows[self.reach :] = self.empty
            self.base += gone

    def __getitem__(self, place: tuple) -> np.ndarray:
        """What stands at ``(row, ...)``; the row may be an array."""
        return self.rows[(place[0] - self.base, *place[1:])]

    def __setitem__(self, place: tuple, values: np.ndarray) -> None:
        """Write at ``(row, ...)``."""
        self.rows[(place[0] - self.base, *place[1:])] = values


class _Decoder:
    """The tables of one decoding; made, run once, traced back once."""

    def __init__(self, line: WrittenLine, evidence: Evidence, offset: float, pace: Pace) -> None:
        """Prepare the cumulative scores for pitches ``line.midi + offset`` (semitones)."""
        self.line, self.evidence, self.pace = line, evidence, pace
        self.places, clear = boundaries(evidence)
        self.count, self.notes, self.lanes = len(self.places), len(line), len(pace.starts)
        self._sum_scores(offset)
        self.bonus = (ONSET_BONUS * clear - NO_ONSET).astype(np.float32)
        self.unmarked = REPEAT_COST * np.maximum(0.0, 1.0 - clear / CLEAR_ONSET)
        self.unmarked[-1] = 0.0
        self.unmarked = self.unmarked.astype(np.float32)
        self.repeated = np.append(line.midi[1:] == line.midi[:-1], False)
        self._judge_lengths()
        self.entry = np.where(line.measure_start, 0.0, MID_MEASURE_COST).astype(np.float32)
        shape = (self.count, self.notes + 1, self.lanes)
        first = np.searchsorted(self.places, self.places - self.longest)
        reach = int((np.arange(self.count) - first).max(initial=0)) + 1
        self.best, self.tempo = _Recent(shape, reach, _NEVER), _Recent(shape, reach, 0.0)
        self.kind = np.full(shape, START, dtype=np.int8)
        self.back = np.zeros(shape, dtype=np.uint16)  # boundaries back, or the note jumped from
        left = self.notes - np.arange(self.notes + 1)
        self.unfinished = np.where(left > 0, SKIP_COST + 1.0 * left, 0.0)[:, None]
        self.end = (-np.inf, 0.0, (0, 0, 0))  # score, tempo, (boundary, note, lane)

    def _sum_scores(self, offset: float) -> None:
        """Sums up to each boundary: for and against each semitone, and of sounding frames."""
        line, evidence = self.line, self.evidence
        sounded = evidence.midi[evidence.weight > 0] - offset
        low = min(line.midi.min(), sounded.min(initial=line.midi.min()))
        high = max(line.midi.max(), sounded.max(initial=line.midi.max()))
        grid = np.arange(int(np.floor(low)), int(np.ceil(high)) + 1)
        self.column = np.searchsorted(grid, np.round(line.midi).astype(int))
        match = match_score(evidence.midi, evidence.weight, grid + offset)
        self.agree = _summed(np.maximum(match, 0.0))[self.places]
        self.against = _summed(np.minimum(match, 0.0))[self.places]
        sounding = _summed(evidence.weight)
        self.before = -np.minimum(REST_COST * sounding, GAIN_CAP)[self.places]
        self.after = -np.minimum(REST_COST * (sounding[-1] - sounding), GAIN_CAP)[self.places]
        quiet = int(SILENCE_BEFORE_JUMP_S / HOP_S)
        earlier = sounding[np.maximum(self.places - quiet, 0)]
        self.silent = sounding[self.places] - earlier < 0.15 * FRAME * quiet

    def _judge_lengths(self) -> None:
        """What every note's length is judged by."""
        line, pace = self.line, self.pace
        usual = float(np.exp(pace.usual))
        slowest = float(np.exp(pace.slowest)) * float(line.step_quarters.max())
        self.longest = int(min(2.0 * slowest + 300, LONGEST_FRAMES))
        written = FRAME * line.sounding_quarters * usual / USUAL_TEMPO
        self.share = np.minimum(1.0, GAIN_CAP / written).astype(np.float32)
        self.log_step = np.log(line.step_quarters).astype(np.float32)
        expected_s = line.step_quarters * usual * HOP_S
        spread = pace.spread**2 + (FRAME_SPREAD_S / expected_s) ** 2
        spread = np.where(line.free, 4.0 * spread, spread)
        self.sharp = (0.5 / spread).astype(np.float32)
        pull = TEMPO_GAIN * pace.spread**2 / spread * ~line.free
        self.pull = (pull if pace.course is None else 0.0 * pull).astype(np.float32)

    def run(self) -> None:
        """Fill the tables boundary by boundary."""
        centre = 0
        for k in range(self.count):
            self.best.begin(k)
            self.tempo.begin(k)
            now = self.best[k,]
            now[0] = self.before[k] + self.bonus[k] - self.pace.costs
            self.tempo[k, 0] = self.pace.starts
            first = np.searchsorted(self.places, self.places[k] - self.longest)
            last = np.searchsorted(self.places, self.places[k] - SHORTEST_FRAMES, "right")
            if last > first:
                low, high = max(0, centre - WINDOW_NOTES), min(self.notes, centre + WINDOW_NOTES)
                self._sounds(k, np.arange(first, last), low, high)
                self._jumps(k)
            self._skips(k)
            if self.pace.course is not None:
                self.tempo[k,] = self.pace.course[:, None]
            self._ends(k)
            centre = int(now.max(axis=1).argmax())

    def _ends(self, k: int) -> None:
        """Remember the best ending so far."""
        ends = self.best[k,] + self.after[k] - self.unfinished
        best = int(ends.argmax())
        if ends.flat[best] > self.end[0]:
            note, lane = divmod(best, self.lanes)
            tempo = float(self.tempo[k, note, lane])
            self.end = (float(ends.flat[best]), tempo, (k, note, lane))

    def _sounds(self, k: int, rows: np.ndarray, low: int, high: int) -> None:
        """Arrivals at ``k`` from ``rows`` by a note (``low`` to ``high``) or an added sound."""
        agree = self.agree[k] - self.agree[rows]
        against = AGAINST_SHARE * (self.against[k] - self.against[rows])
        one_pitch = (np.minimum(agree, GAIN_CAP) + against).max(axis=1)
        columns = self.column[low:high]
        gain = _capped(agree[:, columns] * self.share[low:high]) + against[:, columns]
        gain = gain - UNHEARD_COST * np.maximum(0.0, 1.0 - agree[:, columns] / HEARD_SCORE)
        other = OTHER_SHARE * one_pitch - OTHER_COST
        other = np.maximum(other[:, None], self._octaves(agree, against, low, high))
        self._notes(k, rows, (low, high), gain, other)
        recent = self.places[k] - self.places[rows] <= LONGEST_ADDED_S / HOP_S
        if recent.any():
            worth = ADDED_SHARE * one_pitch - ADDED_COST - self.unmarked[rows]
            self._extra(k, rows[recent], low, high, worth[recent] - self.unmarked[k])

    def _octaves(
        self, agree: np.ndarray, against: np.ndarray, low: int, high: int
    ) -> np.ndarray:
        """What notes ``low`` to ``high`` are worth an octave off, ``(rows, notes)``."""
        worth = np.full((len(agree), high - low), _NEVER, dtype=np.float32)
        for shift in (-12, 12):
            columns = self.column[low:high] + shift
            known = np.flatnonzero((columns >= 0) & (columns < agree.shape[1]))
            columns, share = columns[known], self.share[low:high][known]
            there = _capped(agree[:, columns] * share) + against[:, columns] - OCTAVE_COST
            worth[:, known] = np.maximum(worth[:, known], there)
        return worth

    def _notes(
        self,
        k: int,
        rows: np.ndarray,
        window: tuple[int, int],
        gain: np.ndarray,
        other: np.ndarray,
    ) -> None:
        """Arrivals by playing a note, as written with ``gain`` or worth ``other`` elsewhere."""
        low, high = window
        other = other - self.unmarked[rows][:, None]
        as_other = other > gain
        gain = np.maximum(gain, other)
        log_length = np.log(self.places[k] - self.places[rows]).astype(np.float32)
        ratio = (log_length[:, None] - self.log_step[low:high])[:, :, None]
        ratio = ratio - self.tempo[rows, low:high]
        cost = self.sharp[low:high, None] * ratio * ratio
        short_cap = 0.0 if k + 1 == self.count else SHORT_CAP  # the recording ends, not the note
        cost = np.minimum(cost, np.where(ratio > 0.0, np.float32(LONG_CAP), np.float32(short_cap)))
        total = self.best[rows, low:high] + gain[:, :, None] - cost
        chosen = total.argmax(axis=0)
        notes = np.arange(high - low)[:, None]
        lanes = np.arange(self.lanes)[None, :]
        here = slice(low + 1, high + 1)
        arrived = total[chosen, notes, lanes] + self.bonus[k]
        arrived = arrived - self.unmarked[k] * self.repeated[low:high, None]
        better = arrived > self.best[k, here]
        pulled = ratio[chosen, notes, lanes]
        pulled = np.where(pulled > 0.6, 0.0, np.clip(pulled, -0.35, 0.35))
        pulled = self.tempo[rows[chosen], notes + low, lanes] + self.pull[low:high, None] * pulled
        pulled = np.clip(pulled, self.pace.starts - TEMPO_REACH, self.pace.starts + TEMPO_REACH)
        kind = np.where(as_other[chosen, notes], OTHER, WRITTEN)
        self._arrive(k, here, better, (arrived, pulled, kind, k - rows[chosen]))

    def _extra(
        self, k: int, rows: np.ndarray, low: int, high: int, worth: np.ndarray
    ) -> None:
        """Arrivals by a sound that is not written, ``worth`` so much from each of ``rows``."""
        total = self.best[rows, low : high + 1] + worth[:, None, None]
        chosen = total.argmax(axis=0)
        notes = np.arange(high + 1 - low)[:, None]
        lanes = np.arange(self.lanes)[None, :]
        here = slice(low, high + 1)
        arrived = total[chosen, notes, lanes] + self.bonus[k]
        better = arrived > self.best[k, here]
        tempo = self.tempo[rows[chosen], notes + low, lanes]
        self._arrive(k, here, better, (arrived, tempo, np.int8(ADDED), k - rows[chosen]))

    def _arrive(self, k: int, here: slice, better: np.ndarray, values: tuple) -> None:
        """Write score, tempo, kind and source of the ``better`` arrivals at ``k``."""
        for table, value in zip((self.best, self.tempo, self.kind, self.back), values, strict=True):
            table[k, here] = np.where(better, value, table[k, here])

    def _jumps(self, k: int) -> None:
        """Arrivals at ``k`` by a stop and a jump to any note."""
        now = self.best[k,]
        source = now.argmax(axis=0)
        lanes = np.arange(self.lanes)
        reached = now[source, lanes] - STOP_COST - JUMP_COST + AFTER_SILENCE * self.silent[k]
        back = source[None, :] - np.arange(self.notes)[:, None]
        far = FAR_COST * ((back < 1) | (back > NEAR_NOTES))
        arrived = reached[None, :] - self.entry[:, None] - far.astype(np.float32)
        carried = self.tempo[k, source, lanes][None, :]
        values = (arrived, carried, np.int8(JUMPED), source[None, :])
        self._arrive(k, slice(0, self.notes), arrived > now[:-1], values)

    def _skips(self, k: int) -> None:
        """Arrivals at ``k`` by leaving notes out, as many in a row as pay."""
        now = self.best[k,]
        for _ in range(self.notes):
            better = now[:-1] - SKIP_COST > now[1:]
            if not better.any():
                return
            now[1:][better] = (now[:-1] - SKIP_COST)[better]
            self.kind[k, 1:][better] = SKIPPED
            self.tempo[k, 1:][better] = self.tempo[k, :-1][better]

    def path(self) -> Path:
        """Trace the best ending back to its start."""
        score, tempo, (k, note, lane) = self.end
        segments, jumps = [], []
        while self.kind[k, note, lane] != START:
            kind, back = int(self.kind[k, note, lane]), int(self.back[k, note, lane])
            end_s = float(self.places[k]) * HOP_S
            if kind == SKIPPED:
                note -= 1
            elif kind == JUMPED:
                jumps.append((end_s, int(note)))
                note = back
            else:
                note -= kind != ADDED
                start_s = float(self.places[k - back]) * HOP_S
                segments.append(Segment(kind, int(note), start_s, end_s))
                k -= back
        return Path(
            segments=tuple(reversed(segments)),
            jumps=tuple(reversed(jumps)),
            fit=score / self._maximum(),
            quarter_s=float(np.exp(tempo)) * HOP_S,
        )

    def _maximum(self) -> float:
        """What a perfect take could gain: each note's cap or its written frames, with onsets."""
        gains = FRAME * self.line.sounding_quarters * np.exp(self.pace.usual)
        return float(np.minimum(GAIN_CAP, gains).sum() + 1.0 * self.notes)


def follow(line: WrittenLine, evidence: Evidence, offset: float, qpm: float) -> Path:
    """The best path of ``evidence`` through ``line`` sounding ``offset`` semitones away.

    ``qpm`` is the marked tempo in quarters a minute.
    """
    return _decoded(line, evidence, offset, marked_pace(qpm))


def follow_again(line: WrittenLine, evidence: Evidence, offset: float, path: Path) -> Path:
    """The best path when the player is expected to move as ``path``, a first one, found."""
    notes = [segment for segment in path.segments if segment.kind in (WRITTEN, OTHER)]
    index = np.array([segment.index for segment in notes], dtype=int)
    frames = np.array([segment.end_s - segment.start_s for segment in notes]) / HOP_S
    pace = own_pace(line, index, frames) if notes else None
    if pace is None:
        return path
    again = _decoded(line, evidence, offset, pace)
    return replace(again, quarter_s=float(np.exp(pace.usual)) * HOP_S)


def _decoded(line: WrittenLine, evidence: Evidence, offset: float, pace: Pace) -> Path:
    """The best path at one pace."""
    decoder = _Decoder(line, evidence, offset, pace)
    decoder.run()
    return decoder.path()
