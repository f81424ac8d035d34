"""Several sing or play at once: only the pulse they share is read, from where entries begin.

Everyone's entries are found together; those of the written part are picked out by the tempo
they make and by whether the part's own pitch sounds after them. What the others sing between
costs nothing. Whose note was whose cannot be told, so nothing else is read.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from standlight.music import STANDARD_A4_HZ, hz_of_midi
from standlight.score.values import Passage
from standlight.sound.following import TEMPO_GAIN
from standlight.sound.onsets import spectral_flux
from standlight.sound.pacing import LANE_COST, LANES
from standlight.sound.spectrum import frames_in_blocks
from standlight.sound.timing import timing_of
from standlight.sound.values import HeardNote, Performance, Recording
from standlight.sound.written import WrittenLine, written_line

FLUX_HOP_S, FLUX_WINDOW_S = 0.005, 0.046
"""Entries are looked for so finely; the window is a usual one for several voices (our choice)."""

ENTRY_FROM, APART_S, LOUD_ENTRIES = 0.12, 0.040, 8
"""Weakest entry as a share of the loud ones (the median of the highest peaks), and how near two
may be: a group is not together to the millisecond (Rasch 1979, from memory: 30 to 50 ms)."""

PITCH_HOP_S, PITCH_WINDOW_S, HARMONICS, NEAR_CENTS = 0.020, 0.186, 4, 45.0
AFTER_S, LONGEST_AFTER_S = 0.060, 0.300
"""Where the part's own pitch is looked for: its first harmonics, a little after the entry."""

STRENGTH_GAIN, PITCH_GAIN, MATCH_COST, SKIP_COST = 2.0, 4.0, 1.0, 4.0
"""Worth of a full entry and of the part's own pitch after it, what any match costs, and what a
written entry that is not found costs (chosen on made chords, seeds 1000 to 1999)."""

OUTSIDE_COST, MOST_OUTSIDE = 1.0, 4.0
"""Full entries before the first and after the last written one, and the most they cost."""

SPREAD, SPREAD_S, COST_CAP = 0.06, 0.025, 6.0
"""Spread of an entry around the local tempo: a share of its gap, and in seconds; dearest gap."""

MOST_SKIPPED, LONGEST_STEP_S, MOST_BETWEEN = 3, 10.0, 60

FEWEST_FOUND, LEAST_PITCH, FEWEST_PITCHES = 0.86, 0.32, 3
"""Less than this share of the entries found, or the part's pitch no stronger after them than
after any others (in a part of several pitches): the part was not followed (chosen on made groups,
seeds 1010 to 1039 and 1500 to 1559: `benchmarks/groups.py`)."""

FAR_MS = 100.0
"""An entry so far from the smooth beat is somebody else's, and is left out (our choice)."""

_NEVER = -1e6


@dataclass(frozen=True, slots=True, eq=False)
class _Entries:
    """Where somebody begins: ``times_s`` and ``strengths`` 0..1, both ``(entries,)``.

    ``pitch`` is how much of each written note's pitch sounds after each, 0..1, shape
    ``(entries, notes)``.
    """

    times_s: np.ndarray
    strengths: np.ndarray
    pitch: np.ndarray


def perform_together(
    recording: Recording, passage: Passage, tempo_qpm: float, *, a4_hz: float = STANDARD_A4_HZ
) -> Performance:
    """The common pulse of a group that plays ``passage`` among other lines.

    Notes have a start and a distance from the smooth beat, nothing else; ``fit`` is the share
    of written entries found, 0.0 where the part could not be followed. Raises ValueError for
    a passage without notes.
    """
    line = written_line(passage)
    if not len(line):
        raise ValueError("a passage without notes cannot be followed")
    times_s, strengths = _entry_times(recording)
    pitch = _own_pitch(recording, line, times_s, tempo_qpm, a4_hz)
    entries = _Entries(times_s, strengths, pitch)
    matches = _matched(entries, line, tempo_qpm)
    matches = _near_the_beat(matches, entries, line)
    if not _followed(matches, entries, line):
        matches = []
    return _assembled(recording, passage, line, times_s, matches, tempo_qpm)


def _entry_times(recording: Recording) -> tuple[np.ndarray, np.ndarray]:
    """Times in seconds and strengths 0..1 of the peaks of the flux."""
    flux = spectral_flux(recording, FLUX_HOP_S, FLUX_WINDOW_S)
    flux[: int(round(FLUX_WINDOW_S / FLUX_HOP_S / 2))] = 0.0
    reach = int(round(APART_S / FLUX_HOP_S))
    around = np.lib.stride_tricks.sliding_window_view(np.pad(flux, reach), 2 * reach + 1)
    peaks = np.flatnonzero((flux == around.max(axis=1)) & (flux > 0.0))
    peaks = peaks[(peaks > 0) & (peaks < len(flux) - 1)]
    if not len(peaks):
        return np.zeros(0), np.zeros(0)
    loud = float(np.median(np.sort(flux[peaks])[-LOUD_ENTRIES:]))
    peaks = peaks[flux[peaks] > ENTRY_FROM * loud]
    left, top, right = (flux[peaks + step].astype(float) for step in (-1, 0, 1))
    bend = np.maximum(2.0 * top - left - right, 1e-9)
    between = np.clip(0.5 * (right - left) / bend, -0.5, 0.5)
    return (peaks + between) * FLUX_HOP_S, np.minimum(top / loud, 1.0)


def _own_pitch(
    recording: Recording, line: WrittenLine, times_s: np.ndarray, qpm: float, a4_hz: float
) -> np.ndarray:
    """How much of each written note's pitch sounds after each entry, ``(entries, notes)``."""
    if not line.pitched or not len(times_s):
        return np.zeros((len(times_s), len(line)))
    pitches, column = np.unique(line.midi, return_inverse=True)
    level = _pitch_levels(recording, hz_of_midi(pitches, a4_hz))
    low, high = np.percentile(level, [20, 95], axis=0)
    level = np.clip((level - low) / np.maximum(high - low, 1e-6), 0.0, 1.0)
    summed = np.concatenate([np.zeros((1, len(pitches))), np.cumsum(level, axis=0)])
    begin = np.clip(((times_s + AFTER_S) / PITCH_HOP_S).astype(int), 0, len(level) - 1)
    found = np.empty((len(times_s), len(line)))
    for note, place in enumerate(column):
        length_s = min(LONGEST_AFTER_S, line.sounding_quarters[note] * 60.0 / qpm)
        end = np.minimum(begin + max(int(length_s / PITCH_HOP_S), 1), len(level))
        found[:, note] = (summed[end, place] - summed[begin, place]) / (end - begin)
    return found


def _pitch_levels(recording: Recording, f0_hz: np.ndarray) -> np.ndarray:
    """Mean log magnitude near the first harmonics of each pitch, ``(frames, pitches)``."""
    rate_hz = recording.rate_hz
    width = int(round(PITCH_WINDOW_S * rate_hz))
    size = 1 << int(np.ceil(np.log2(width)))
    window = np.hanning(width).astype(np.float32)
    slices = []
    for pitch_hz in f0_hz:
        centres = pitch_hz * np.arange(1, HARMONICS + 1)
        centres = centres[centres < 0.45 * rate_hz]
        low = np.floor(centres * 2.0 ** (-NEAR_CENTS / 1200.0) * size / rate_hz).astype(int)
        high = np.ceil(centres * 2.0 ** (NEAR_CENTS / 1200.0) * size / rate_hz).astype(int)
        slices.append([slice(a, b + 1) for a, b in zip(low, high, strict=True)])
    pieces = []
    for _, frames in frames_in_blocks(recording.samples, rate_hz, width, PITCH_HOP_S):
        magnitude = np.abs(np.fft.rfft(frames * window, n=size, axis=1)) / width
        levels = [
            np.mean([np.log10(1e-5 + magnitude[:, near].max(axis=1)) for near in bands], axis=0)
            for bands in slices
        ]
        pieces.append(np.stack(levels, axis=1))
    return np.concatenate(pieces)


def _matched(entries: _Entries, line: WrittenLine, qpm: float) -> list[tuple[int, int]]:
    """The best (note, entry) pairs in time, one an onset of the part; several tempos compete."""
    _, firsts = np.unique(line.onset_quarters, return_index=True)
    quarters = line.onset_quarters[firsts]
    count, notes, lanes = len(entries.times_s), len(quarters), len(LANES)
    if not count:
        return []
    gain = (
        STRENGTH_GAIN * entries.strengths[:, None]
        + PITCH_GAIN * entries.pitch[:, firsts]
        - MATCH_COST
    )
    outside = np.append(0.0, np.cumsum(OUTSIDE_COST * entries.strengths))
    best = np.full((count, notes, lanes), _NEVER)
    tempo = np.zeros((count, notes, lanes))
    back = np.full((count, notes, lanes, 2), -1, dtype=np.int32)
    for k in range(count):
        entry = -min(outside[k], MOST_OUTSIDE) - SKIP_COST * np.arange(notes)
        best[k] = (gain[k] + entry)[:, None] - np.array(LANE_COST)
        tempo[k] = np.log(60.0 / qpm / np.array(LANES))
        first = np.searchsorted(entries.times_s, entries.times_s[k] - LONGEST_STEP_S)
        rows = np.arange(max(first, k - MOST_BETWEEN), k)
        for skipped in range(1, min(MOST_SKIPPED + 1, notes) if len(rows) else 1):
            _arrive(k, rows, skipped, entries.times_s, quarters, gain[k], best, tempo, back)
    left = SKIP_COST * (notes - 1 - np.arange(notes))
    after = np.minimum(outside[-1] - outside[1:], MOST_OUTSIDE)
    ends = best - left[None, :, None] - after[:, None, None]
    k, note, lane = (int(at) for at in np.unravel_index(int(ends.argmax()), ends.shape))
    matches = []
    while k >= 0:
        matches.append((int(firsts[note]), k))
        k, note = (int(at) for at in back[k, note, lane])
    return matches[::-1]


def _arrive(
    k: int,
    rows: np.ndarray,
    skipped: int,
    times_s: np.ndarray,
    quarters: np.ndarray,
    gain: np.ndarray,
    best: np.ndarray,
    tempo: np.ndarray,
    back: np.ndarray,
) -> None:
    """Arrivals at entry ``k`` from the entries ``rows``, each note from ``skipped`` before it."""
    notes = len(quarters)
    source, target = slice(0, notes - skipped), slice(skipped, notes)
    step = (quarters[target] - quarters[source])[None, :, None]
    gap = np.log(np.maximum(times_s[k] - times_s[rows], 1e-3))[:, None, None]
    carried = tempo[rows, source]
    ratio = gap - np.log(step) - carried
    spread = SPREAD**2 + (SPREAD_S / (step * np.exp(carried))) ** 2
    cost = np.minimum(0.5 * ratio**2 / spread, COST_CAP)
    total = best[rows, source] - cost
    chosen = total.argmax(axis=0)
    note, lane = np.indices(chosen.shape)
    arrived = total[chosen, note, lane] + gain[target, None] - SKIP_COST * (skipped - 1)
    better = arrived > best[k, target]
    pull = (TEMPO_GAIN * SPREAD**2 / spread * np.clip(ratio, -0.3, 0.3) * (ratio < 0.6))
    best[k, target][better] = arrived[better]
    tempo[k, target][better] = (carried + pull)[chosen, note, lane][better]
    back[k, target, :, 0][better] = rows[chosen][better]
    back[k, target, :, 1][better] = note[better]


def _near_the_beat(
    matches: list[tuple[int, int]], entries: _Entries, line: WrittenLine
) -> list[tuple[int, int]]:
    """The pairs without those far from the smooth beat, in stretches that have one."""
    for _ in range(2):  # once more, since a far one bends the beat beside it
        timing = timing_of(
            line.onset_quarters[[note for note, _ in matches]] if matches else np.zeros(0),
            entries.times_s[[entry for _, entry in matches]] if matches else np.zeros(0),
        )
        apart = timing.asynchrony_ms
        matches = [
            pair
            for pair, late_ms in zip(matches, apart, strict=True)
            if late_ms is not None and abs(late_ms) <= FAR_MS
        ]
    return matches


def _followed(
    matches: list[tuple[int, int]], entries: _Entries, line: WrittenLine
) -> bool:
    """True when enough entries were found, and the part's own pitches sound after them."""
    onsets = len(np.unique(line.onset_quarters))
    if len(matches) < FEWEST_FOUND * onsets:
        return False
    if not line.pitched or len(np.unique(line.midi)) < FEWEST_PITCHES:
        return True
    usual = entries.pitch.mean(axis=0)
    above = [entries.pitch[entry, note] - usual[note] for note, entry in matches]
    return float(np.mean(above)) >= LEAST_PITCH


def _assembled(
    recording: Recording,
    passage: Passage,
    line: WrittenLine,
    times_s: np.ndarray,
    matches: list[tuple[int, int]],
    qpm: float,
) -> Performance:
    """The performance of the entries found: starts, the smooth beat, and nothing else."""
    found = [note for note, _ in matches]
    onsets_s = np.array([times_s[entry] for _, entry in matches], dtype=float)
    timing = timing_of(line.onset_quarters[found] if found else np.zeros(0), onsets_s)
    notes = [HeardNote(index=index, outcome="missing") for index in range(len(line))]
    for place, note in enumerate(found):
        notes[note] = replace(
            notes[note],
            outcome="played",
            onset_s=float(onsets_s[place]),
            asynchrony_ms=timing.asynchrony_ms[place],
            probability=1.0,
        )
    return Performance(
        passage=passage,
        notes=tuple(notes),
        added=(),
        restarts=(),
        attempts=(),
        shift_semitones=0,
        tuning_cents=None,
        tuning_se_cents=None,
        tempo_qpm=timing.tempo_qpm,
        tempo_drift_percent=timing.drift_percent,
        tempo_drift_se_percent=timing.drift_se_percent,
        marked_tempo_qpm=qpm,
        fit=len(found) / len(np.unique(line.onset_quarters)),
        explained_share=1.0,
        seconds=recording.seconds,
        sounding_share=1.0,
        median_confidence=None,
    )
