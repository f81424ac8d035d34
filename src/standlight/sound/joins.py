"""Does the sound itself break somewhere? What a plain cut or a moved phone leaves in a take.

Two things are looked for: a moment of digital nothing in the middle of sound, and an instant from
which the room and the music together are louder or softer by much. Dynamics move the music and
not the room; a gain control moves the two against each other; both are left alone. A careful cut
in a quiet place leaves neither and is not found, and phones make both by themselves: what is
found is only ever a question to a person.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import fft

from standlight.sound.values import Recording

GAP, STEP = "gap", "step"
"""Kinds of joins: nothing at all for a moment; everything at once louder or softer."""

FRAME_S, HOP_S = 0.023, 0.0115
"""Length and distance of the frames: 1024 samples at 44.1 kHz, half overlapping."""

NOTHING_PEAK = 3e-5
"""Samples under -90 dBFS: one step of 16 bits. Rooms and microphones never are so quiet."""

SHORTEST_GAP_S, LONGEST_GAP_S = 0.04, 2.0
"""Shorter ones are a codec's; longer ones are a pause that anybody hears (our choice)."""

SOUND_DB = -60.0
"""What sounds right before and after a gap is at least so loud."""

MOST_GAPS = 2
"""More gaps than this are the phone's own gate, which shuts in every rest."""

NOISE_FLATNESS = 0.25
"""Geometric over arithmetic mean of the power in `NOISE_HZ`: noise has 0.56 in one frame (e to
the minus Euler's constant), a room less, tones and their echoes under 0.1."""

NOISE_HZ = (1_000.0, 6_000.0)

UNDER_MUSIC_DB = 15.0
"""Background lies so far under the music of its side, or it may be soft playing."""

SIDE_S, APART_S, GRID_S = 4.0, 0.15, 0.1
"""Seconds looked at to either side of an instant, seconds left out around it, and the grid."""

FEWEST_FRAMES = 10
"""Frames of background on each side; about a tenth of a second."""

LEAST_STEP_DB, ALIKE_DB = 10.0, 6.0
"""The room and the music must both move by so much, and by as much as each other within this."""

SURE_SHARE = 0.9
"""Share of the background frames of each side that lie on their side of the middle."""


@dataclass(frozen=True, slots=True)
class Join:
    """A place where the sound breaks: its kind, the second, by how many decibels all changes."""

    kind: str
    at_s: float
    change_db: float = 0.0


def joins_of(recording: Recording) -> tuple[Join, ...]:
    """The joins of a recording in time; none is the usual answer."""
    if recording.seconds < 2.0 * SIDE_S:
        return ()
    gaps = _gaps(recording)
    steps = _step(recording)
    found = [*(gaps if len(gaps) <= MOST_GAPS else []), *steps]
    return tuple(sorted(found, key=lambda join: join.at_s))


def _gaps(recording: Recording) -> list[Join]:
    """Moments of digital nothing with sound right before and after."""
    samples, rate = recording.samples, recording.rate_hz
    quiet = np.abs(samples) < NOTHING_PEAK
    edges = np.flatnonzero(np.diff(np.concatenate([[False], quiet, [False]]).astype(np.int8)))
    found = []
    beside = int(0.1 * rate)
    for first, end in edges.reshape(-1, 2):
        seconds = (end - first) / rate
        if not SHORTEST_GAP_S <= seconds <= LONGEST_GAP_S:
            continue
        before, after = samples[max(first - beside, 0) : first], samples[end : end + beside]
        if min(_level_db(before), _level_db(after)) >= SOUND_DB:
            found.append(Join(GAP, float(first / rate)))
    return found


def _level_db(samples: np.ndarray) -> float:
    """Level of a stretch of samples in dBFS; very low for none."""
    if not len(samples):
        return -120.0
    return float(10.0 * np.log10(np.mean(np.square(samples, dtype=float)) + 1e-12))


def _step(recording: Recording) -> list[Join]:
    """The instant from which room and music together are louder or softer, if there is one."""
    level_db, noise_db = _frames(recording)
    grid = np.arange(SIDE_S, recording.seconds - SIDE_S, GRID_S)
    before = _music_db(level_db, grid - SIDE_S, grid - APART_S)
    after = _music_db(level_db, grid + APART_S, grid + SIDE_S)
    steps = [
        (grid[at], _change_at(level_db, noise_db, float(grid[at]), (before[at], after[at])))
        for at in np.flatnonzero(np.abs(after - before) >= LEAST_STEP_DB)
    ]
    sure = [(abs(change), at, change) for at, change in steps if change is not None]
    if not sure:
        return []
    _, at, change = max(sure)
    return [Join(STEP, float(at), float(change))]


def _music_db(level_db: np.ndarray, begin_s: np.ndarray, end_s: np.ndarray) -> np.ndarray:
    """How loud the music is from each of ``begin_s`` to ``end_s``: the 90th percentile, dB."""
    first, last = (begin_s / HOP_S).astype(int), (end_s / HOP_S).astype(int)
    last = np.minimum(last, len(level_db))
    music_db = np.empty(len(first))
    for count in np.unique(last - first):
        chosen = last - first == count
        windows = np.lib.stride_tricks.sliding_window_view(level_db, count)
        music_db[chosen] = np.percentile(windows[first[chosen]], 90, axis=1)
    return music_db


def _change_at(
    level_db: np.ndarray, noise_db: np.ndarray, at_s: float, music_db: tuple[float, float]
) -> float | None:
    """By how much room and music change together at a second, ``None`` where they do not.

    ``music_db`` is how loud the music is before and after.
    """
    sides = []
    for begin, end, music in (
        (at_s - SIDE_S, at_s - APART_S, music_db[0]),
        (at_s + APART_S, at_s + SIDE_S, music_db[1]),
    ):
        here = slice(int(begin / HOP_S), int(end / HOP_S))
        room = noise_db[here]
        room = room[np.isfinite(room) & (level_db[here] < music - UNDER_MUSIC_DB)]
        if len(room) < FEWEST_FRAMES:
            return None
        sides.append((music, room))
    (music_before, before), (music_after, after) = sides
    room_change = float(np.median(after) - np.median(before))
    music_change = music_after - music_before
    if min(abs(room_change), abs(music_change)) < LEAST_STEP_DB:
        return None
    if abs(room_change - music_change) > ALIKE_DB:
        return None
    middle = (np.median(after) + np.median(before)) / 2.0
    up = np.sign(room_change)
    shares = np.mean(up * (middle - before) > 0), np.mean(up * (after - middle) > 0)
    return room_change if min(shares) >= SURE_SHARE else None


def _frames(recording: Recording) -> tuple[np.ndarray, np.ndarray]:
    """Level of every frame in dB, and of its band of noise where it is noise, else not finite."""
    size, step = (int(seconds * recording.rate_hz) for seconds in (FRAME_S, HOP_S))
    frames = np.lib.stride_tricks.sliding_window_view(recording.samples, size)[::step]
    window = np.hanning(size).astype(np.float32)
    hz = np.fft.rfftfreq(size, 1.0 / recording.rate_hz)
    band = (hz > NOISE_HZ[0]) & (hz < min(NOISE_HZ[1], 0.45 * recording.rate_hz))
    level = np.empty(len(frames))
    noise = np.empty(len(frames))
    for first in range(0, len(frames), 500):
        block = frames[first : first + 500] * window
        power = np.square(np.abs(fft.rfft(block, axis=1))[:, band]) + 1e-12
        level[first : first + 500] = np.mean(np.square(block), axis=1)
        mean = power.mean(axis=1)
        flat = np.exp(np.log(power).mean(axis=1)) / mean
        noise[first : first + 500] = np.where(flat > NOISE_FLATNESS, mean, np.nan)
    return 10.0 * np.log10(level + 1e-12), 10.0 * np.log10(noise)
