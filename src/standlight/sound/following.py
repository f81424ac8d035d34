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

from standlight.sound.evidence import Evidence, boundaries, silence_before
from standlight.sound.gains import FRAME, GAIN_CAP, UNHEARD_COST, Gains, summed
from standlight.sound.pacing import Pace, marked_pace, own_pace
from standlight.sound.recent import Recent
from standlight.sound.values import HOP_S
from standlight.sound.written import WrittenLine

USUAL_TEMPO = 0.8
"""At this share of the marked tempo a note that is written longer than the cap gains just the
cap, evenly over its length: else two notes in the time of one would pay, and restarts too."""

FEW_PITCHES, FEW_CHANGES, FEW_USUAL_TEMPO, FEW_COST = 3, 0.25, 0.45, 2.0
"""On a line with fewer pitches, or fewer changes of pitch a step, time alone tells which note is
which: there a slow player's note would be worth two quick ones, or the whole line is played twice.
So the cap is met only from less than half of the marked tempo, and a jump costs so much more (42
and 52 such takes of development seeds, docs/method.md)."""

SKIP_COST, ADDED_COST, STOP_COST, JUMP_COST = 6.0, 5.0, 8.0, 8.0
"""Costs of the trials: a skipped note, an added sound, a stop, a jump (10 in the trials; with 8
more of the restarts of seed 2701 are found, and faulty takes are read the same)."""

FAR_COST, NEAR_NOTES = 4.0, 16
"""A jump that goes back by no note or by many costs so much more (the trials' 14 in all): who
stumbles tries the place again."""

FORWARD_COST = 14.0
"""A jump forward costs this much more. Where the same figure comes again later, what was played
before a stop would else be its end, and a stop would lead from one of many equal notes to another.
Notes told missing that are: 197 of 227 on 144 faulty made takes (seed 3901), with 8 it was 199 of
243; restarts as before. A repeat that is left out still costs less than its notes one by one."""

AFTER_SILENCE = 6.0
"""A jump costs this much less after ``SILENCE_BEFORE_JUMP_S`` of silence (trials)."""

RESUME_COST = 6.0
"""What a jump after such a silence costs, beside where it leads, if the note before is taken to
have ended when it fell silent: neither its length nor the silence then speaks against it. Of 864
restarts (made takes of seeds 1901, 1902, 3301) 815 are told so and 781 without; docs/method.md."""

SILENCE_BEFORE_JUMP_S = 0.30
MID_MEASURE_COST = 3.0
"""A jump into mid-measure costs this more; players go back to a barline (common practice)."""

ADDED_SHARE = 0.3
"""Share of its gain that an added sound keeps: cutting a note in two must never pay."""

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
"""Another pitch and an added sound hardly begin without an onset (evidence from ``CLEAR_ONSET`` on
is enough), nor does a repeated pitch where nothing tells that it begins again: else one long note
read as several would pay, and then a restart too, and the tail of a note would be the next one
gone wrong. Both are dear together, and not dearer: soft bows repeat a pitch without a start that
can be seen (made takes of seeds 1500 to 1700; with 0.5 and 9.0 lines on one pitch fell apart or
jumped)."""

AGAIN_SHARE = 0.5
"""A pitch that surely begins again counts as so much evidence of an onset (0.3 to 1 do alike)."""

REST_COST = 0.05
"""Cost of 20 ms of sound before the first or after the last note, at most ``GAIN_CAP``."""

WINDOW_NOTES = 80
"""Notes on both sides of the best one that are looked at, in long passages: so the work and the
table of sources grow with the take alone, not with the take times its notes."""

LONGEST_FRAMES = 1600
"""No segment is longer, whatever the tempo (16 s)."""

_DEAREST = JUMP_COST + max(FAR_COST, FORWARD_COST)
COUNTS_WITHIN = STOP_COST + _DEAREST + MID_MEASURE_COST + SKIP_COST + 0.5
"""What the dearest jump and a skip cost on a line of many pitches, half a point for rounding."""

KEPT_WITHIN = 4.0
"""Boundaries that miss so little are looked at once more: else they come and go."""

WRITTEN, OTHER, SKIPPED, ADDED, JUMPED, RESUMED, START = range(7)
KINDS = 8
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


class _Decoder:
    """The tables of one decoding; made, run once, traced back once.

    Tables are ``(boundaries, lanes, notes + 1)``: notes last, for whole rows of them are worked
    on at once, and there are few lanes. Of each row only the notes of the window are filled, from
    ``low`` on. Where an arrival came from stands in one number: its kind, and ``KINDS`` times the
    boundaries back or the note jumped from.
    """

    def __init__(
        self,
        line: WrittenLine,
        evidence: Evidence,
        offset: float,
        pace: Pace,
        jumping: bool = True,
    ) -> None:
        """Prepare the scores for pitches ``line.midi + offset`` (semitones)."""
        self.line, self.pace, self.jumping = line, pace, jumping
        self.places, clear, again = boundaries(evidence)
        clear = np.maximum(clear, AGAIN_SHARE * again)
        self.count, self.notes, self.lanes = len(self.places), len(line), len(pace.starts)
        self.bonus = (ONSET_BONUS * clear - NO_ONSET).astype(np.float32)
        unmarked = REPEAT_COST * np.maximum(0.0, 1.0 - clear / CLEAR_ONSET)
        unmarked[-1] = 0.0
        self.unmarked = unmarked.astype(np.float32)
        self.held = (REPEAT_COST * (1.0 - again)).astype(np.float32)
        same = line.midi[1:] == line.midi[:-1]
        self.repeated = np.concatenate([[False], same, [False]]).astype(np.float32)
        changes = float((line.midi[1:] != line.midi[:-1]).sum()) / max(len(line) - 1, 1)
        self.few = len(np.unique(line.midi)) < FEW_PITCHES or changes < FEW_CHANGES
        self._judge_lengths()
        self.gains = Gains(line, evidence, offset, self.places, self.share, self.unmarked)
        self._judge_silence(evidence)
        self._judge_jumps()
        shape = (self.count, self.lanes, self.notes + 1)
        self.first = np.searchsorted(self.places, self.places - self.longest).tolist()
        self.last = np.searchsorted(self.places, self.places - SHORTEST_FRAMES, "right").tolist()
        recent = np.searchsorted(self.places, self.places - LONGEST_ADDED_S / HOP_S)
        self.recent = np.maximum(recent, self.first).tolist()
        reach = int((np.arange(self.count) - self.first).max(initial=0)) + 1
        self.best, self.tempo = Recent(shape, reach, _NEVER), Recent(shape, reach, 0.0)
        most = KINDS * max(self.notes, reach) + KINDS
        self.low = [0] * self.count
        narrow = (*shape[:2], min(self.notes, 2 * WINDOW_NOTES) + 1)
        self.source = np.full(narrow, START, dtype=np.uint16 if most < 1 << 16 else np.uint32)
        self.highest = np.empty(shape[:2])
        self.worth = np.empty(shape[:2])  # see `_judge_again`
        self.telling = 0
        left = self.notes - np.arange(self.notes + 1)
        self.unfinished = np.where(left > 0, SKIP_COST + 1.0 * left, 0.0)
        self.end = (-np.inf, 0.0, (0, 0, 0))  # score, tempo, (boundary, note, lane)

    def _judge_silence(self, evidence: Evidence) -> None:
        """What sounds before and after each boundary costs, and where silence comes before it."""
        sounding = summed(evidence.weight)
        self.before = -np.minimum(REST_COST * sounding, GAIN_CAP)[self.places]
        self.after = -np.minimum(REST_COST * (sounding[-1] - sounding), GAIN_CAP)[self.places]
        silent, began = silence_before(evidence.weight, int(SILENCE_BEFORE_JUMP_S / HOP_S))
        self.silent = silent[self.places]
        self.stopped = np.searchsorted(self.places, began[self.places]).tolist()

    def _judge_lengths(self) -> None:
        """What every note's length is judged by."""
        line, pace = self.line, self.pace
        usual = float(np.exp(pace.usual))
        slowest = float(np.exp(pace.slowest)) * float(line.step_quarters.max())
        self.longest = int(min(2.0 * slowest + 300, LONGEST_FRAMES))
        slow = FEW_USUAL_TEMPO if self.few and pace.course is None else USUAL_TEMPO
        written = FRAME * line.sounding_quarters * usual / slow
        self.share = np.minimum(1.0, GAIN_CAP / written).astype(np.float32)
        expected_s = line.step_quarters * usual * HOP_S
        spread = pace.spread**2 + (FRAME_SPREAD_S / expected_s) ** 2
        spread = np.where(line.free, 4.0 * spread, spread)
        self.sharp = (0.5 / spread).astype(np.float32)
        pull = TEMPO_GAIN * pace.spread**2 / spread * ~line.free
        self.pull = (pull if pace.course is None else 0.0 * pull).astype(np.float32)
        log_length = np.log(np.arange(1, self.longest + 1)).astype(np.float32)
        log_step = np.log(line.step_quarters).astype(np.float32)
        self.slower = log_length[:, None] - log_step  # log frames a quarter of every length
        starts = pace.starts[:, None]
        self.slowest, self.quickest = starts + TEMPO_REACH, starts - TEMPO_REACH
        if pace.course is not None:
            self.cost = self._cost(self.slower - pace.course[:-1], SHORT_CAP)

    def _cost(self, ratio: np.ndarray, short_cap: float, low: int = 0) -> np.ndarray:
        """What lengths cost that are ``ratio`` (log) too long, ``(..., notes from low on)``."""
        cost = self.sharp[low : low + ratio.shape[-1]] * ratio
        cost *= ratio
        caps = np.where(ratio > 0.0, np.float32(LONG_CAP), np.float32(short_cap))
        return np.minimum(cost, caps, out=cost)

    def _judge_jumps(self) -> None:
        """What a jump from a note (row, counted from the last) to any other (column) costs."""
        back = np.arange(self.notes, -self.notes, -1)
        far = np.where((back == 0) | (back > NEAR_NOTES), FAR_COST, 0.0).astype(np.float32)
        far[back < 0] = FORWARD_COST
        self.far = np.lib.stride_tricks.sliding_window_view(far, self.notes)
        self.entry = np.where(self.line.measure_start, 0.0, MID_MEASURE_COST).astype(np.float32)
        self.few_cost = FEW_COST if self.few else 0.0
        self.lane, self.number = np.arange(self.lanes), np.arange(self.notes + 1)
        self.skipped = SKIP_COST * self.number

    def run(self) -> None:
        """Fill the tables boundary by boundary."""
        centre = 0
        for k in range(self.count):
            self.best.begin(k)
            self.tempo.begin(k)
            low, high = max(0, centre - WINDOW_NOTES), min(self.notes, centre + WINDOW_NOTES)
            self.low[k], here = low, slice(low, high + 1)
            now, tempo = self.best.row(k)[:, here], self.tempo.row(k)[:, here]
            if not low:
                now[:, 0] = self.before[k] + self.bonus[k] - self.pace.costs
                tempo[:, 0] = self.pace.starts
            if self.last[k] > self.first[k]:
                self._sounds(k, low, high)
                if self.jumping:
                    self._jumps(k, here)
            self._skips(k, here)
            if self.pace.course is not None:
                tempo[:] = self.pace.course[here]
            self._ends(k, here)
            self.highest[k] = now.max(axis=1)
            self.worth[k] = self.highest[k] - FRAME * self.places[k]
            centre = low + int(now.max(axis=0).argmax())

    def _ends(self, k: int, here: slice) -> None:
        """Remember the best ending so far."""
        ends = self.best.row(k)[:, here] + self.after[k] - self.unfinished[here]
        if ends.max() > self.end[0]:
            note, lane = divmod(int(ends.T.argmax()), self.lanes)
            tempo = float(self.tempo.row(k)[lane, here.start + note])
            self.end = (float(ends[lane, note]), tempo, (k, here.start + note, lane))

    def _sounds(self, k: int, low: int, high: int) -> None:
        """Arrivals at ``k`` by a note (``low`` to ``high``) or an added sound.

        From most boundaries long ago nothing that counts arrives: they are left out, from the
        earliest on, as long as `_counts` says so.
        """
        first, last, recent = self.first[k], self.last[k], self.recent[k]
        start = min(max(first, self.telling), last - 1)
        known = max(self.gains.since(k, min(start, recent)), first)
        start = max(start, known)
        window = (low, high)
        one_pitch, *gains, most = self.gains.up_to(k, known, last, window)
        arrivals = self._arrivals(k, start, window, *(one[start - known :] for one in gains))
        self._judge_again(k, known, most)
        least = self._least(k, arrivals[0])
        before = self._counts(first, start, least)
        if before < known:
            self._judge_again(k, before, self.gains.earlier(k, before, known))
            before = self._counts(before, start, least)
        if before < start:
            if before < known:
                known = before
                one_pitch, *gains, most = self.gains.up_to(k, known, last, window)
            arrivals = self._arrivals(k, before, window, *(one[before - known :] for one in gains))
            least = self._least(k, arrivals[0])
        self.telling = self._counts(before, last, least - KEPT_WITHIN)
        self._arrive(k, slice(low + 1, high + 1), *arrivals)
        if recent < last:
            worth = ADDED_SHARE * one_pitch[recent - known :] - ADDED_COST
            worth = worth - self.unmarked[recent:last] - self.unmarked[k]
            self._extra(k, recent, low, high, worth)

    def _least(self, k: int, arrived: np.ndarray) -> np.ndarray:
        """The least `worth` that counts at ``k``, ``(lanes,)``, after ``(lanes, notes)`` arrivals.

        From the best of a lane a jump leads to every note, and a skip from there to the end of
        the line: what is worth less than both never counts.
        """
        within = COUNTS_WITHIN + self.few_cost
        always = float(self.bonus[k]) + within + FRAME * float(self.places[k])
        return arrived.max(axis=1) - always

    def _counts(self, first: int, last: int, least: np.ndarray) -> int:
        """The earliest of the boundaries ``first`` up to ``last`` whose worth is the ``least``."""
        if last <= first:
            return last
        counts = (self.worth[first:last] >= least).any(axis=1)
        oldest = int(counts.argmax())
        return first + oldest if counts[oldest] else last

    def _judge_again(self, k: int, first: int, most: np.ndarray) -> None:
        """What any note from the boundaries ``first`` on may be worth at most, as seen at ``k``.

        A boundary's best, and the ``most`` that any note from it gains by now, less what a frame
        may add: so it holds for every later ``k``.
        """
        here = slice(first, first + len(most))
        most = most + (UNHEARD_COST - FRAME * float(self.places[k]))
        np.add(self.highest[here], most[:, None], out=self.worth[here])

    def _arrivals(
        self, k: int, first: int, window: tuple[int, int], gain: np.ndarray, as_other: np.ndarray
    ) -> tuple[np.ndarray, ...]:
        """Arrivals by playing a note, worth ``gain`` by group, at another pitch ``as_other``.

        From the boundaries ``first`` on: score, tempo and source of the best one, all
        ``(lanes, notes of the window)``.
        """
        (low, high), last = window, first + len(gain)
        group, at_end = self.gains.group[low:high], k + 1 == self.count
        lengths = self.places[k] - 1 - self.places[first:last]
        total = self.best.between(first, last)[:, :, low:high] + gain.take(group, axis=1)[:, None]
        if self.pace.course is not None and not at_end:
            total -= self.cost[lengths, low:high][:, None]
        else:
            tempo = self.tempo.between(first, last)[:, :, low:high]
            ratio = self.slower[lengths, low:high][:, None] - tempo
            # the recording ends, not the note
            total -= self._cost(ratio, 0.0 if at_end else SHORT_CAP, low)
        chosen = total.argmax(axis=0)
        lanes, notes = self.lane[:, None], self.number[: high - low]
        arrived = total[chosen, lanes, notes]
        arrived += self.bonus[k]
        arrived -= self.held[k] * self.repeated[low + 1 : high + 1]
        source = (k - first - chosen) * KINDS + as_other[chosen, group]
        if self.pace.course is not None:
            return arrived, self.pace.course[low + 1 : high + 1], source
        pulled = ratio[chosen, lanes, notes]
        pull = np.minimum(np.maximum(pulled, -0.35), 0.35)
        pull[pulled > 0.6] = 0.0
        pull *= self.pull[low:high]
        pull += tempo[chosen, lanes, notes]
        np.minimum(np.maximum(pull, self.quickest, out=pull), self.slowest, out=pull)
        return arrived, pull, source

    def _extra(self, k: int, first: int, low: int, high: int, worth: np.ndarray) -> None:
        """Arrivals by a sound that is not written, ``worth`` so much from the rows ``first`` on."""
        last = first + len(worth)
        total = self.best.between(first, last)[:, :, low : high + 1] + worth[:, None, None]
        chosen = total.argmax(axis=0)
        lanes, notes = self.lane[:, None], self.number[: high + 1 - low]
        arrived = total[chosen, lanes, notes] + self.bonus[k]
        tempo = self.tempo.between(first, last)[:, :, low : high + 1][chosen, lanes, notes]
        source = (k - first - chosen) * KINDS + ADDED
        self._arrive(k, slice(low, high + 1), arrived, tempo, source)

    def _arrive(
        self, k: int, here: slice, score: np.ndarray, tempo: np.ndarray, source: np.ndarray
    ) -> None:
        """Write score, tempo and source of the better arrivals at ``k``."""
        now = self.best.row(k)[:, here]
        better = score > now
        np.copyto(now, score, where=better, casting="unsafe")
        np.copyto(self.tempo.row(k)[:, here], tempo, where=better)
        shown = slice(here.start - self.low[k], here.stop - self.low[k])
        np.copyto(self.source[k, :, shown], source, where=better, casting="unsafe")

    def _jumps(self, k: int, here: slice) -> None:
        """Arrivals at ``k`` by a stop and a jump to any note of the window."""
        cost = STOP_COST + JUMP_COST + self.few_cost - AFTER_SILENCE * self.silent[k]
        self._jump(k, here, k, self.best.row(k)[:, here] - cost, JUMPED)
        stopped = self.stopped[k]
        if self.silent[k] and self.first[k] < stopped < k:
            # from where the sound ended and no note began
            then = self.best.row(stopped)[:, here] + self.held[stopped] * self.repeated[here]
            then += self.bonus[k] - RESUME_COST - self.few_cost
            self._jump(k, here, stopped, then, RESUMED)

    def _jump(self, k: int, here: slice, since: int, worth: np.ndarray, kind: int) -> None:
        """Arrivals at ``k`` by a jump ``since``, in each lane from the note most ``worth`` it."""
        low, high = here.start, here.stop - 1
        note = worth.argmax(axis=1)
        arrived = worth[self.lane, note][:, None] - self.entry[low:high]
        note += low
        arrived -= self.far[self.notes - note, low:high]
        carried = self.tempo.row(since)[self.lane, note][:, None]
        self._arrive(k, slice(low, high), arrived, carried, (KINDS * note + kind)[:, None])

    def _skips(self, k: int, here: slice) -> None:
        """Arrivals at ``k`` by leaving notes out, as many in a row as pay."""
        now = self.best.row(k)[:, here]
        skipped = self.skipped[: now.shape[1]]
        level = now + skipped
        highest = np.maximum.accumulate(level, axis=1)
        better = highest > level
        if not better.any():
            return
        np.copyto(now, highest - skipped, where=better, casting="unsafe")
        self.source[k, :, : now.shape[1]][better] = SKIPPED
        if self.pace.course is None:
            number = self.number[: now.shape[1]]
            origin = np.maximum.accumulate(np.where(better, 0, number), axis=1)
            tempo = self.tempo.row(k)[:, here]
            tempo[:] = tempo[self.lane[:, None], origin]

    def path(self) -> Path:
        """Trace the best ending back to its start."""
        score, tempo, (k, note, lane) = self.end
        segments, jumps, silent_s = [], [], 0.0
        while (source := int(self.source[k, lane, note - self.low[k]])) != START:
            back, kind = divmod(source, KINDS)
            end_s = float(self.places[k]) * HOP_S
            if kind == SKIPPED:
                note -= 1
            elif kind in (JUMPED, RESUMED):
                jumps.append((end_s, int(note)))
                note = back
                if kind == RESUMED:
                    silent_s, k = end_s, self.stopped[k]
            else:
                note -= kind != ADDED
                start_s = float(self.places[k - back]) * HOP_S
                segments.append(Segment(kind, int(note), start_s, silent_s or end_s))
                k, silent_s = k - back, 0.0
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


def follow(
    line: WrittenLine, evidence: Evidence, offset: float, qpm: float, *, jumping: bool = True
) -> Path:
    """The best path of ``evidence`` through ``line`` sounding ``offset`` semitones away.

    ``qpm`` is the marked tempo in quarters a minute. Not ``jumping``, nobody starts again.
    """
    return _decoded(line, evidence, offset, marked_pace(qpm), jumping)


def follow_again(
    line: WrittenLine, evidence: Evidence, offset: float, path: Path, *, jumping: bool = True
) -> Path:
    """The best path when the player is expected to move as ``path``, a first one, found."""
    notes = [segment for segment in path.segments if segment.kind in (WRITTEN, OTHER)]
    index = np.array([segment.index for segment in notes], dtype=int)
    frames = np.array([segment.end_s - segment.start_s for segment in notes]) / HOP_S
    pace = own_pace(line, index, frames) if notes else None
    if pace is None:
        return path
    again = _decoded(line, evidence, offset, pace, jumping)
    return replace(again, quarter_s=float(np.exp(pace.usual)) * HOP_S)


def _decoded(
    line: WrittenLine, evidence: Evidence, offset: float, pace: Pace, jumping: bool
) -> Path:
    """The best path at one pace."""
    decoder = _Decoder(line, evidence, offset, pace, jumping)
    decoder.run()
    return decoder.path()
