"""Two lines through a take for pictures and readings: local tempo, and loudness, over the music.

Both are functions of musical time (quarters from the passage's start), so that they can be
drawn under the measures. A tempo point is the slope of a local straight line through the
starts of notes with its standard error; a loudness point is K-weighted (ITU-R BS.1770) over
400 ms, counted from the take's own middle: a phone is no sound-level meter.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy import fft

from standlight.music import Note
from standlight.sound.loudness import OFFSET_DB, k_response
from standlight.sound.slower import slower_of
from standlight.sound.timing import usually_late_s
from standlight.sound.values import HeardNote, Performance, Recording

HALF_WIDTH_QUARTERS, WIDEST_QUARTERS = 4.0, 12.0
"""A tempo point looks this far to both sides (the same reach as the smooth beat of timing), in
slow music farther until enough starts are in view, at most three measures of four."""

FEWEST_STARTS = 5
"""Starts of notes in view that give a tempo (our choice: two more than a line and its error)."""

PAUSE_SHARE = 0.5
"""A wait ends a stretch when it is longer than written by half a quarter and by half of itself:
a stop has no tempo (the rule of timing)."""

MOST_POINTS = 240
"""Points kept of a line: more than a page of music has pixels to tell apart (our choice)."""

BLOCK_S, BLOCKS_IN_VIEW = 0.050, 8
"""Loudness by blocks of 50 ms, eight of them in view: the 400 ms of BS.1770."""

BLOCKS_AT_ONCE = 400
"""Blocks transformed at once (20 s), so that memory does not grow with the take."""

QUIETEST_LU = -24.0
"""Below the take's middle by this much a line says no more (our choice)."""

_FLOOR_POWER = 1e-12
_FREE = frozenset({"fermata", "breath_after"})


@dataclass(frozen=True, slots=True)
class TempoPoint:
    """Local tempo at ``quarters`` into the passage, with its standard error (both q/min).

    ``stretch`` counts stretches played without a stop: no line joins two of them.
    """

    quarters: float
    tempo_qpm: float
    se_qpm: float
    stretch: int


@dataclass(frozen=True, slots=True)
class LoudnessPoint:
    """Loudness at ``quarters`` into the passage, in LU from the take's own middle.

    ``stretch`` counts runs of notes without a written rest or a stop between them.
    """

    quarters: float
    loudness_lu: float
    stretch: int = 0


@dataclass(frozen=True, slots=True)
class _Paces:
    """How long steps usually last: a quarter in seconds, and what is otherwise.

    ``slower`` times as long after the note of each index; by ``late_s`` seconds later come nearly
    all steps of each written length, in quarters.
    """

    quarter_s: float
    slower: Mapping[int, float]
    late_s: Mapping[float, float]


def stretches_of(performance: Performance) -> tuple[tuple[HeardNote, ...], ...]:
    """The heard notes in order, cut where the playing stopped, jumped or was free to wait.

    So they are after a note that went on beyond its time, which is not the written one either.
    """
    heard = [note for note in performance.notes if note.onset_s is not None]
    paces = _paces(performance)
    stretches: list[list[HeardNote]] = []
    for note in heard:
        before = stretches[-1][-1] if stretches else None
        if before is None or _breaks(before, note, performance, paces):
            stretches.append([])
        stretches[-1].append(note)
    return tuple(tuple(one) for one in stretches)


def stops_of(performance: Performance) -> tuple[int, ...]:
    """Index of the first note after each stop: a jump, or a wait that nothing written allows.

    What an added sound took, or a note that went on, is no wait.
    """
    stretches = stretches_of(performance)
    resumed = {jump.to_index for jump in performance.restarts}
    paces, found = _paces(performance), []
    for before, after in zip(stretches, stretches[1:], strict=False):
        last, first = before[-1], after[0]
        between = range(last.index + 1, first.index + 1)
        if any(index in performance.seams for index in between):
            continue
        waits = not _is_free(last, first, performance) and _stops(last, first, performance, paces)
        if waits or any(index in resumed for index in between):
            found.append(first.index)
    return tuple(found)


def _paces(performance: Performance) -> _Paces:
    """How the player takes the steps from note to note.

    The take's tempo is a mean: where a place is slower the other quarters are shorter than it says.
    """
    heard = [note for note in performance.notes if note.onset_s is not None]
    pairs = [(one, after) for one, after in pairwise(heard) if after.index == one.index + 1]
    steps = np.array([_steps(one, after, performance) for one, after in pairs])
    waited_s = np.array([after.onset_s - one.onset_s for one, after in pairs])
    joined = np.array([_goes_on(one, after, performance) for one, after in pairs], dtype=bool)
    slower = slower_of(steps, waited_s, joined)
    mean_s = 60.0 / (performance.tempo_qpm or performance.marked_tempo_qpm)
    longer = float((steps * slower).sum() / steps.sum()) if steps.any() else 1.0
    quarter_s = mean_s / longer
    late_s = np.where(waited_s > 0.0, waited_s - steps * quarter_s * slower, np.nan)
    return _Paces(
        quarter_s,
        {one.index: float(times) for (one, _), times in zip(pairs, slower, strict=True)},
        dict(zip(steps.tolist(), usually_late_s(steps, late_s).tolist(), strict=True)),
    )


def _goes_on(before: HeardNote, note: HeardNote, performance: Performance) -> bool:
    """True when nothing but the beat decides how long ``note`` comes after the one before it."""
    return (
        note.onset_s > before.onset_s
        and _steps(before, note, performance) > 0.0
        and note.index not in performance.begun_anew
        and before.index not in performance.prolonged
        and not _is_free(before, note, performance)
        and not _added_s(before, note, performance)
    )


def _steps(before: HeardNote, note: HeardNote, performance: Performance) -> float:
    """Written quarters from one note's start to the other's."""
    written = performance.passage.notes
    return float(written[note.index].onset_quarters - written[before.index].onset_quarters)


def _breaks(
    before: HeardNote, note: HeardNote, performance: Performance, paces: _Paces
) -> bool:
    """True when ``note`` begins a new stretch."""
    between = range(before.index + 1, note.index + 1)
    return (
        any(index in performance.begun_anew for index in between)
        or before.index in performance.prolonged
        or _is_free(before, note, performance)
        or _waits(before, note, performance, paces)
    )


def _is_free(before: HeardNote, note: HeardNote, performance: Performance) -> bool:
    """True where a fermata or a breath is written between two notes."""
    written = performance.passage.notes
    return any(written[index].marks & _FREE for index in range(before.index, note.index))


def _stops(
    before: HeardNote, note: HeardNote, performance: Performance, paces: _Paces
) -> bool:
    """True when the playing stopped before ``note``, whatever is written there."""
    if before.index in performance.prolonged:
        return False
    return _waits(before, note, performance, paces, _added_s(before, note, performance))


def _waits(
    before: HeardNote,
    note: HeardNote,
    performance: Performance,
    paces: _Paces,
    sounded_s: float = 0.0,
) -> bool:
    """True when ``note`` comes by half a quarter and half of its step too late, or not after it.

    ``sounded_s`` seconds are no part of the wait: something else sounded. Nor is what the player
    takes at nearly all steps of this length, a rhythm, or in this whole place, by ``paces``.
    """
    quarter_s = paces.quarter_s * paces.slower.get(before.index, 1.0)
    steps = _steps(before, note, performance)
    waited_s = note.onset_s - before.onset_s
    late_s = waited_s - sounded_s - steps * quarter_s - paces.late_s.get(steps, 0.0)
    return waited_s <= 0.0 or late_s > PAUSE_SHARE * quarter_s * max(1.0, steps)


def _added_s(before: HeardNote, note: HeardNote, performance: Performance) -> float:
    """How long the sounds last that were added between two notes, seconds."""
    return sum(
        sound.offset_s - sound.onset_s
        for sound in performance.added
        if before.onset_s <= sound.onset_s < note.onset_s
    )


def tempo_curve(performance: Performance) -> tuple[TempoPoint, ...]:
    """Local tempo at every quarter that has enough notes around it; none is a fine answer."""
    points: list[TempoPoint] = []
    for number, stretch in enumerate(stretches_of(performance)):
        written = performance.passage.notes
        quarters = np.array([float(written[note.index].onset_quarters) for note in stretch])
        onsets_s = np.array([note.onset_s for note in stretch])
        if len(stretch) < FEWEST_STARTS:
            continue
        grid = np.arange(np.ceil(quarters[0]), np.floor(quarters[-1]) + 0.5)
        for place in grid:
            point = _local(place, quarters, onsets_s, number)
            if point is not None:
                points.append(point)
    step = -(-len(points) // MOST_POINTS) if points else 1
    return tuple(points[::step])


def _local(
    place: float, quarters: np.ndarray, onsets_s: np.ndarray, stretch: int
) -> TempoPoint | None:
    """The slope of a tricube-weighted straight line around ``place`` (Cleveland 1979)."""
    near = np.partition(np.abs(quarters - place), FEWEST_STARTS - 1)[FEWEST_STARTS - 1]
    reach = float(np.clip(1.001 * near, HALF_WIDTH_QUARTERS, WIDEST_QUARTERS))
    low = int(np.searchsorted(quarters, place - reach))
    high = int(np.searchsorted(quarters, place + reach, side="right"))
    near, times = quarters[low:high], onsets_s[low:high]
    if len(near) < FEWEST_STARTS or near[-1] - near[0] < HALF_WIDTH_QUARTERS / 2.0:
        return None
    weights = (1.0 - (np.abs(near - place) / reach) ** 3) ** 3
    total = weights.sum()
    offset = near - (weights @ near) / total
    spread = weights @ offset**2
    if total <= 0.0 or spread <= 0.0:
        return None
    middle = (weights @ times) / total
    slope = (weights @ (offset * (times - middle))) / spread
    if slope <= 0.0:
        return None
    rest = times - middle - slope * offset
    effective = total**2 / (weights @ weights)
    variance = (weights @ rest**2) / total * effective / max(effective - 2.0, 1.0)
    se = np.sqrt(variance * (weights**2 @ offset**2)) / spread
    tempo = 60.0 / slope
    return TempoPoint(float(place), float(tempo), float(tempo * se / slope), stretch)


def loudness_line(
    recording: Recording, performance: Performance
) -> tuple[LoudnessPoint, ...]:
    """Loudness over the written notes that were heard, from the take's middle; rests left out.

    Empty when the take is overloaded or fewer than two notes were heard.
    """
    stretches = stretches_of(performance)
    if not performance.loudness_trusted or sum(len(one) for one in stretches) < 2:
        return ()
    levels = momentary_lkfs(recording)
    written = performance.passage.notes
    times_s = (np.arange(len(levels)) + BLOCKS_IN_VIEW / 2.0) * BLOCK_S
    found: list[tuple[float, float, int]] = []
    for number, run in enumerate(_without_rests(stretches, written)):
        onsets = [note.onset_s for note in run]
        quarters = [float(written[note.index].onset_quarters) for note in run]
        last = run[-1]
        if last.offset_s is not None and last.offset_s > onsets[-1]:
            onsets.append(last.offset_s)
            quarters.append(quarters[-1] + float(written[last.index].duration_quarters))
        inside = (times_s >= onsets[0]) & (times_s <= onsets[-1])
        place = np.interp(times_s[inside], onsets, quarters)
        found += [
            (float(at), float(level), number)
            for at, level in zip(place, levels[inside], strict=True)
        ]
    if not found:
        return ()
    middle = float(np.median([level for _, level, _ in found]))
    found.sort(key=lambda one: (one[2], one[0]))
    step = -(-len(found) // MOST_POINTS)
    return tuple(
        LoudnessPoint(round(at, 3), round(max(level - middle, QUIETEST_LU), 2), number)
        for at, level, number in found[::step]
    )


def _without_rests(
    stretches: tuple[tuple[HeardNote, ...], ...], written: tuple[Note, ...]
) -> list[list[HeardNote]]:
    """The stretches cut once more where a rest is written or a note was not heard."""
    runs: list[list[HeardNote]] = []
    for stretch in stretches:
        for place, note in enumerate(stretch):
            before = written[stretch[place - 1].index] if place else None
            follows = before is not None and (
                before.onset_quarters + before.duration_quarters
                >= written[note.index].onset_quarters
            )
            if not follows:
                runs.append([])
            runs[-1].append(note)
    return runs


def momentary_lkfs(recording: Recording) -> np.ndarray:
    """Ungated K-weighted loudness of 400 ms, one value every 50 ms, shape ``(values,)``.

    The filter is applied to the spectrum of each block; its ringing across block edges is
    left out, which is under 0.1 LU on tones and on noise.
    """
    width = round(BLOCK_S * recording.rate_hz)
    count = len(recording.samples) // width
    if count < BLOCKS_IN_VIEW:
        return np.zeros(0)
    gains = np.abs(k_response(np.fft.rfftfreq(width, 1.0 / recording.rate_hz), recording.rate_hz))
    gains = gains**2 * 2.0 / width**2
    gains[0] = 0.0
    power = np.empty(count)
    for first in range(0, count, BLOCKS_AT_ONCE):
        last = min(first + BLOCKS_AT_ONCE, count)
        blocks = recording.samples[first * width : last * width].reshape(last - first, width)
        bins = fft.rfft(blocks, axis=1)
        square = np.square(bins.real) + np.square(bins.imag)
        power[first:last] = np.einsum("ij,j->i", square, gains.astype(square.dtype))
    sums = np.concatenate([[0.0], np.cumsum(power)])
    means = (sums[BLOCKS_IN_VIEW:] - sums[:-BLOCKS_IN_VIEW]) / BLOCKS_IN_VIEW
    return OFFSET_DB + 10.0 * np.log10(np.maximum(means, _FLOOR_POWER))
