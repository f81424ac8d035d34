"""Tempo, drift and each note's asynchrony, from onsets against their places in the music.

A take's start is arbitrary, so nothing is read from absolute time: a smooth curve (local
straight lines, tricube weights, bisquare robustness: LOWESS, Cleveland 1979) goes through
onsets over musical time, and a note's asynchrony is its distance from that curve, enlarged
by its own pull on it (studentised), so that few notes do not hide their own error.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from standlight.sound.slower import slower_of

HALF_WIDTH_QUARTERS = 4.0
"""The curve looks this far to both sides: tempo may bend over a bar, a note may not."""

FEWEST_NEIGHBOURS = 7
"""Widened until so many notes are in view."""

FEWEST_NOTES = 4
"""A run of fewer notes has no tempo of its own."""

ROBUST_STEPS = 6
FINEST_SCALE_S = 0.030
"""Notes closer than this to the curve are never outliers: onsets are read to about 5 ms, and
six times that is where bisquare weights end."""

PAUSE_SHARE = 0.5
"""A gap longer than the local tempo asks by this share of a quarter, and by half of the
note's own length, starts a new run: a pause is a stop, not sixty late notes."""

HESITATION_S, HESITATION_SHARE = 0.25, 0.2
"""So does a shorter wait of so many seconds, and so large a share of what the step asks (slow notes
may be bent by as much): the one note after it is late, and not its neighbours early."""


FEWEST_ALIKE, NEARLY_ALL = 3, 0.25
"""So many steps of one length show how the player takes them: as late as all but a quarter of them
come, at least (our choice). Stops are rarer than that, and a rhythm read otherwise is not."""


@dataclass(frozen=True, slots=True)
class Timing:
    """Per note asynchrony in ms (None where there is none), and the take's tempo figures."""

    asynchrony_ms: tuple[float | None, ...]
    quarter_s: tuple[float | None, ...]
    tempo_qpm: float | None
    drift_percent: float | None
    drift_se_percent: float | None


@dataclass(frozen=True, slots=True, eq=False)
class Stops:
    """Where from note to note the beat does not simply go on, each ``(notes - 1,)``.

    ``backwards``: music or time goes back; ``rests``: a stop, or a break that was known before;
    ``waits``: a hesitation, by ``late_s`` seconds. ``quarter_s`` is the usual quarter, which lasts
    ``slower`` times longer where the player slows down.
    """

    backwards: np.ndarray
    rests: np.ndarray
    waits: np.ndarray
    late_s: np.ndarray
    quarter_s: float
    slower: np.ndarray


def timing_of(
    quarters: np.ndarray, onsets_s: np.ndarray, breaks: Sequence[bool] = ()
) -> Timing:
    """`Timing` of notes at musical time ``quarters`` heard at ``onsets_s``, both ``(notes,)``.

    ``breaks[i]`` says that a new run starts at note ``i`` (after a restart, fermata, breath, where
    a note was left out or a sound added: what that takes of the beat is no matter of the notes
    beside it). The note after a hesitation is late by it, against the beat before. A place that is
    slower as a whole has a beat of its own, and counts in the tempo: nothing in it is late.

    >>> steady = timing_of(np.arange(8.0), 0.5 * np.arange(8.0))
    >>> round(steady.tempo_qpm, 6), max(abs(a) for a in steady.asynchrony_ms) < 1e-6
    (120.0, True)
    """
    count = len(quarters)
    asynchrony: list[float | None] = [None] * count
    quarter: list[float | None] = [None] * count
    slopes, spans, drifts = [], [], []
    stops = stops_of(quarters, onsets_s, breaks)
    paced = paced_by(quarters, stops.slower)
    ratios = np.append(stops.slower, 1.0)
    for run in _runs(stops):
        if len(run) < FEWEST_NOTES or quarters[run[-1]] <= quarters[run[0]]:
            continue
        residual, slope = _local_lines(paced[run], onsets_s[run])
        for place, note in enumerate(run):
            asynchrony[note] = float(residual[place] * 1000.0)
            quarter[note] = float(slope[place] * ratios[note])
        span = float(quarters[run[-1]] - quarters[run[0]])
        longer = float(paced[run[-1]] - paced[run[0]]) / span
        slopes.append(_line(paced[run], onsets_s[run]) * longer)
        spans.append(span)
        times = _faster_by(stops.slower[run[:-1]])
        drifts.append((span, _drift(paced[run], onsets_s[run], times)))
    for step in np.flatnonzero(stops.waits):
        asynchrony[step + 1] = 1000.0 * float(stops.late_s[step])
    if not slopes:
        return Timing(tuple(asynchrony), tuple(quarter), None, None, None)
    tempo = 60.0 / float(np.average(slopes, weights=spans))
    drift = max(drifts, key=lambda one: one[0])[1]
    return Timing(tuple(asynchrony), tuple(quarter), tempo, *drift)


def stops_of(
    quarters: np.ndarray, onsets_s: np.ndarray, breaks: Sequence[bool] = ()
) -> Stops:
    """`Stops` between notes at musical time ``quarters`` heard at ``onsets_s``; see `timing_of`.

    >>> stops = stops_of(np.arange(4.0), np.array([0.0, 0.5, 1.0, 3.0]))
    >>> stops.rests.tolist(), stops.waits.tolist(), stops.quarter_s
    ([False, False, True], [False, False, False], 0.5)
    """
    steps, gaps = np.diff(quarters), np.diff(onsets_s)
    forward = (steps > 0) & (gaps > 0)
    usual = float(np.median(gaps[forward] / steps[forward])) if forward.any() else 0.5
    begun = np.array(breaks[1:], dtype=bool) if len(breaks) else np.zeros(len(steps), dtype=bool)
    slower = slower_of(steps, gaps, forward & ~begun)
    quarter_s = usual * slower
    expected = np.maximum(steps, 0.0) * quarter_s
    late = gaps - expected
    late = late - usually_late_s(steps, np.where(forward, late, np.nan))
    rests = (late > PAUSE_SHARE * quarter_s) & (late > 0.5 * expected)
    rests = (rests | begun) & forward
    waits = forward & ~rests & (late > HESITATION_S) & (late > HESITATION_SHARE * expected)
    return Stops(~forward, rests, waits, late, usual, slower)


def paced_by(quarters: np.ndarray, slower: np.ndarray) -> np.ndarray:
    """Musical time ``quarters``, each step as many times longer as its place is ``slower``.

    >>> paced_by(np.arange(4.0), np.array([1.0, 1.5, 1.0])).tolist()
    [0.0, 1.0, 2.5, 3.5]
    """
    longer = np.append(0.0, np.cumsum(np.diff(quarters) * (slower - 1.0)))
    return quarters + longer


def usually_late_s(steps: np.ndarray, late_s: np.ndarray) -> np.ndarray:
    """By how much nearly all ``steps`` of each one's length come late, seconds, ``(steps,)``.

    0 where some come in time or there are too few of them; nan in ``late_s`` is no step. Who plays
    dotted pairs evenly is late after every short note: a rhythm read otherwise, no waits.

    >>> late_s = np.array([0.0, 0.9, 1.1, 0.3, 0.2, 0.3])
    >>> usually_late_s(np.array([1.0, 1.0, 1.0, 0.5, 0.5, 0.5]), late_s).tolist()
    [0.0, 0.0, 0.0, 0.2, 0.2, 0.2]
    """
    usual = np.zeros(len(steps))
    for length in np.unique(steps):
        alike = late_s[(steps == length) & ~np.isnan(late_s)]
        if len(alike) >= FEWEST_ALIKE:
            least_s = float(np.quantile(alike, NEARLY_ALL, method="lower"))
            usual[steps == length] = max(least_s, 0.0)
    return usual


def _runs(stops: Stops) -> list[np.ndarray]:
    """Note numbers of each stretch played without a stop."""
    begins = np.flatnonzero(stops.backwards | stops.rests | stops.waits) + 1
    return np.split(np.arange(len(stops.slower) + 1), begins)


def _weights(quarters: np.ndarray) -> np.ndarray:
    """Tricube weights of every note seen from every note, ``(notes, notes)``."""
    apart = np.abs(quarters[:, None] - quarters[None, :])
    needed = np.sort(apart, axis=1)[:, min(FEWEST_NEIGHBOURS, len(quarters)) - 1]
    width = np.maximum(HALF_WIDTH_QUARTERS, 1.001 * needed)[:, None]
    return np.clip(1.0 - (apart / width) ** 3, 0.0, None) ** 3


def _local_lines(quarters: np.ndarray, onsets_s: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Studentised residuals in seconds and local seconds a quarter, both ``(notes,)``."""
    base = _weights(quarters)
    robust = np.ones(len(quarters))
    for _ in range(ROBUST_STEPS):
        weights = base * robust[None, :]
        total = np.maximum(weights.sum(axis=1), 1e-12)
        middle = (weights @ quarters) / total
        centre = (weights @ onsets_s) / total
        offset = quarters[None, :] - middle[:, None]
        spread = np.maximum((weights * offset**2).sum(axis=1), 1e-12)
        slope = (weights * offset * (onsets_s[None, :] - centre[:, None])).sum(axis=1) / spread
        own = quarters - middle
        residual = onsets_s - (centre + slope * own)
        pull = np.diag(weights) * (1.0 / total + own**2 / spread)
        scale = max(6.0 * float(np.median(np.abs(residual))), FINEST_SCALE_S)
        robust = np.maximum((1.0 - np.clip(residual / scale, -1, 1) ** 2) ** 2, 1e-3)
    return residual / np.sqrt(np.clip(1.0 - pull, 0.2, 1.0)), slope


def _line(quarters: np.ndarray, onsets_s: np.ndarray) -> float:
    """Seconds a quarter over a whole run: slope of the straight line."""
    return float(np.polyfit(quarters - quarters[0], onsets_s, 1)[0])


def _faster_by(slower: np.ndarray) -> float:
    """How many times as fast slower places make the end: the middle of a run's outer quarters.

    A few slow notes at an end are a bend (our choice).
    """
    count = max(len(slower) // 4, 1)
    return float(np.median(slower[:count]) / np.median(slower[-count:]))


def _drift(
    quarters: np.ndarray, onsets_s: np.ndarray, times: float
) -> tuple[float | None, float | None]:
    """Tempo change from first to last note in percent (faster is positive), and its SE.

    ``times`` as fast is the pace at the end by slower places alone, which ``quarters`` leave out.
    """
    if len(quarters) < 8:
        return None, None
    span = float(quarters[-1] - quarters[0])
    place = (quarters - quarters[0]) / span - 0.5
    design = np.stack([np.ones_like(place), place, place**2], axis=1)
    answer, *_ = np.linalg.lstsq(design, onsets_s, rcond=None)
    rest = onsets_s - design @ answer
    variance = float(rest @ rest) / max(len(place) - 3, 1)
    covariance = variance * np.linalg.inv(design.T @ design)
    drift = -200.0 * answer[2] / answer[1]
    se = 200.0 * np.sqrt(covariance[2, 2]) / abs(answer[1])
    return float((100.0 + drift) * times - 100.0), float(se * times)
