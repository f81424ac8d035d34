"""From the coarse path to exact onsets: a second decoding near the path, then a fine look.

The second pass moves every boundary of the path by up to ``REACH_S`` on frames of
``HOP_S``. Each onset is then refined where the note's own harmonics begin to rise; where that
is not seen (a repeated pitch), where the energy rises (2 ms envelope) or the pitch crosses
from the old note to the new one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from standlight.sound.evidence import frame_weight, match_score, other_score
from standlight.sound.following import ADDED, NO_ONSET, ONSET_BONUS, OTHER, WRITTEN, Path, Segment
from standlight.sound.rising import Rising
from standlight.sound.spectrum import power_by_frame
from standlight.sound.values import HOP_S, PitchTrack, Recording
from standlight.sound.written import WrittenLine

REACH_S = 0.16
"""How far a boundary may move in the second pass."""

EARLY_SILENCE, LOUDEST_SILENCE = 0.15, 0.1
"""Cost of each silent frame between an onset and its first sound, and the most weight of a silent
frame."""

OWN_SEMITONES, OWN_FRAMES = 1.0, 3
"""A note began before a silence if its pitch sounds there within this for so many frames."""

LENGTH_SPREAD = 0.15
"""Spread of a note's length around the local tempo in the second pass, a share of it."""

LENGTH_SPREAD_S = 0.05
FINE_HOP_S = 0.002
"""Step of the energy envelope."""

RISE_DB = 5.0
"""An energy rise from here on shows a tongued, struck or bowed start (synthetic takes)."""

SUDDEN_DB = 18.0
"""So steep a rise starts out of near silence (made takes and joined real notes)."""

RISE_SHARE = 0.15
"""The onset is where the envelope has climbed this share of its rise in decibel."""

LEAST_CLIMB_DB = 2.0
"""At least so far above the valley before it: less is a ripple of echo or noise."""

DEEPEST_DB = 45.0
"""Nothing further below the note than this counts as a valley: it is the room's own noise."""

BEFORE_PITCH_S = 0.015
"""A sung note starts at most this long before its pitch can be seen: with the vowel, as
annotators of singing place it; what comes earlier is a consonant or a breath."""

SAME_SEMITONES = 0.6
"""A pitch this near to the one before is the same: its harmonics never stopped sounding."""

VALLEY_SMOOTH_S, VALLEY_DB, VALLEY_EDGE_DB = 0.030, 1.5, 1.0
"""Between two softly begun tones of one pitch the sound sinks at least so far, smoothed over so
long; the second begins where it comes within the last of these of its lowest."""

LOOK_BACK_S, LOOK_AHEAD_S = 0.110, 0.055
"""Where around the second pass's onset the fine look searches."""

LATEST_RISE_S = 0.030
"""Harmonics that seem to begin later than that after the second pass's onset swell: the onset
stands (288 made takes: within 50 ms in 76 of 83 such places, 49 where they seemed to begin)."""

RISEN_BACK_S = 0.20
"""How far back harmonics may begin: the second pass hears a soft start late, never early."""


@dataclass(frozen=True, slots=True)
class Sounding:
    """A settled segment: ``kind``, ``index``, exact onset, the end of its span, its pitch."""

    kind: int
    index: int
    onset_s: float
    until_s: float
    midi: float | None


def settle(
    path: Path,
    line: WrittenLine,
    recording: Recording,
    track: PitchTrack,
    onset: np.ndarray,
    offset: float,
    *,
    sung: bool = False,
) -> tuple[Sounding, ...]:
    """Exact onsets for the segments of ``path``; ``offset`` is the take's shift in semitones.

    ``sung`` notes start with their vowel.
    """
    if not path.segments:
        return ()
    frames = min(len(track.midi), len(onset))
    midi, weight = track.midi[:frames], frame_weight(track)[:frames]
    path = _begun_with_sound(path, line, midi, weight, offset)
    targets = [_target(segment, line, midi, weight, offset) for segment in path.segments]
    bounds = _second_pass(path, line, midi, weight, onset[:frames], targets)
    envelope, rising = _envelope(recording), Rising(recording)
    settled = []
    for place, segment in enumerate(path.segments):
        start, end = bounds[place], bounds[place + 1]
        before = bounds[place - 1] if place else 0
        earlier = targets[place - 1] if place else None
        onset_s = _sudden((before, start, end), envelope) if not sung else None
        if onset_s is None:
            onset_s = _risen((before, start, end), earlier, targets[place], rising)
        if onset_s is None:
            onset_s = _refined(
                (before, start, end), (earlier, targets[place]), envelope, midi, weight, sung=sung
            )
        settled.append((segment, onset_s, targets[place]))
    ends = [onset_s for _, onset_s, _ in settled[1:]] + [bounds[-1] * HOP_S]
    return tuple(
        Sounding(
            segment.kind, segment.index, float(onset_s), float(max(end_s, onset_s + HOP_S)), target
        )
        for (segment, onset_s, target), end_s in zip(settled, ends, strict=True)
    )


def _begun_with_sound(
    path: Path, line: WrittenLine, midi: np.ndarray, weight: np.ndarray, offset: float
) -> Path:
    """``path`` with the long silence at the beginning of a sound given to the one before.

    Silence speaks neither for nor against a note, so the follower may set a boundary anywhere in
    it, and the second pass looks no farther than `REACH_S`. Of 288 made takes (seed 4001) ten
    notes begin elsewhere by more than 50 ms for it, eight of them nearer to the truth. A sound of
    another pitch stays: what is heard in it need not be one tone, and a note may be lost in the
    room for a moment (seed 4801, one begins 0.2 s late else).
    """
    silence = _silence_ahead(weight, len(weight))
    segments = list(path.segments)
    for place, segment in enumerate(segments):
        target = _target(segment, line, midi, weight, offset)
        if target is None or segment.kind == OTHER:
            continue
        within = OWN_SEMITONES if segment.kind == WRITTEN else SAME_SEMITONES
        own = (np.abs(midi - target) < within) & (weight > LOUDEST_SILENCE)
        sounds_s = _own_sound_s(segment, own, silence)
        if sounds_s is None:
            continue
        segments[place] = replace(segment, start_s=sounds_s)
        if place and segments[place - 1].end_s == segment.start_s:
            segments[place - 1] = replace(segments[place - 1], end_s=sounds_s)
    return replace(path, segments=tuple(segments))


def _own_sound_s(segment: Segment, own: np.ndarray, silence: np.ndarray) -> float | None:
    """Where a note's own sound begins after a long silence; None where it began before.

    ``own`` ``(frames,)`` says where its pitch sounds, ``silence`` how many frames are silent from
    each on.
    """
    first, last, reach = (
        round(seconds / HOP_S) for seconds in (segment.start_s, segment.end_s, REACH_S)
    )
    quiet = first + np.flatnonzero(silence[first : first + reach + 1] > reach)[:1]
    if not len(quiet):
        return None
    sounds = int(quiet[0] + silence[quiet[0]])
    began = np.count_nonzero(own[first:sounds]) >= OWN_FRAMES
    begins = np.count_nonzero(own[sounds : min(sounds + reach, last)]) >= OWN_FRAMES
    return sounds * HOP_S if begins and not began else None


def _target(
    segment: Segment, line: WrittenLine, midi: np.ndarray, weight: np.ndarray, offset: float
) -> float | None:
    """The pitch a segment should sound: written, or the median of what is heard in it."""
    if segment.kind == WRITTEN:
        return float(line.midi[segment.index] + offset)
    span = slice(int(segment.start_s / HOP_S), max(int(segment.end_s / HOP_S), 1))
    heard = midi[span][weight[span] > 0]
    return float(np.median(heard)) if len(heard) else None


def _second_pass(
    path: Path,
    line: WrittenLine,
    midi: np.ndarray,
    weight: np.ndarray,
    onset: np.ndarray,
    targets: list[float | None],
) -> list[int]:
    """Boundaries in frames of ``HOP_S`` by a chain through all segments; one more than segments."""
    frames = len(midi)
    reach = int(REACH_S / HOP_S)
    starts = [int(round(segment.start_s / HOP_S)) for segment in path.segments]
    starts.append(int(round(path.segments[-1].end_s / HOP_S)))
    moves = np.arange(-reach, reach + 1)
    bonus = np.append(ONSET_BONUS * onset - NO_ONSET, -NO_ONSET)
    silence = _silence_ahead(weight)
    any_pitch = np.append(0.0, np.cumsum(other_score(midi, weight)))
    scores, backs = np.zeros(len(moves)), []
    place = np.clip(starts[0] + moves, 0, frames)
    scores = bonus[place] - EARLY_SILENCE * silence[place]
    for number, segment in enumerate(path.segments):
        ahead = np.clip(starts[number + 1] + moves, 0, frames)
        summed = _summed(midi, weight, targets[number], any_pitch)
        gain = summed[ahead][None, :] - summed[place][:, None]
        length = ahead[None, :] - place[:, None]
        gain = np.where(length >= 2, gain - _length_cost(segment, line, path, length), -1e6)
        total = scores[:, None] + gain
        back = total.argmax(axis=0)
        backs.append(back)
        scores = total[back, np.arange(len(moves))]
        last = number + 1 == len(path.segments)
        if not last:
            scores = scores + bonus[ahead] - EARLY_SILENCE * silence[ahead]
        place = ahead
    chosen = int(scores.argmax())
    bounds = [int(np.clip(starts[-1] + moves[chosen], 0, frames))]
    for number in range(len(path.segments) - 1, -1, -1):
        chosen = int(backs[number][chosen])
        bounds.append(int(np.clip(starts[number] + moves[chosen], 0, frames)))
    return bounds[::-1]


def _summed(
    midi: np.ndarray, weight: np.ndarray, target: float | None, any_pitch: np.ndarray
) -> np.ndarray:
    """Cumulative match with one target pitch, ``(frames + 1,)``; with any pitch for None."""
    if target is None:
        return any_pitch
    match = match_score(midi, weight, np.array([target]))[:, 0]
    return np.append(0.0, np.cumsum(match))


def _length_cost(
    segment: Segment, line: WrittenLine, path: Path, length: np.ndarray
) -> np.ndarray:
    """Cost of segment lengths in frames against the coarse path's own length and the tempo."""
    own = max((segment.end_s - segment.start_s) / HOP_S, 1.0)
    if segment.kind == ADDED:
        return np.zeros(length.shape)
    expected = line.step_quarters[segment.index] * path.quarter_s / HOP_S
    expected = own if abs(np.log(own / expected)) > 0.7 else 0.5 * (own + expected)
    spread = LENGTH_SPREAD * expected + LENGTH_SPREAD_S / HOP_S
    return np.minimum(0.5 * ((length - expected) / spread) ** 2, 6.0)


def _silence_ahead(weight: np.ndarray, most: int = 20) -> np.ndarray:
    """Silent frames from each boundary to the next sound, at most ``most``, ``(frames + 1,)``."""
    ahead = np.zeros(len(weight) + 1)
    for frame in range(len(weight) - 1, -1, -1):
        ahead[frame] = 0.0 if weight[frame] > LOUDEST_SILENCE else min(ahead[frame + 1] + 1.0, most)
    return ahead


def _envelope(recording: Recording) -> np.ndarray:
    """Energy in decibel every ``FINE_HOP_S``, smoothed over three steps, ``(steps,)``."""
    power = power_by_frame(recording.samples, recording.rate_hz, FINE_HOP_S)
    smooth = np.convolve(power, np.ones(3) / 3.0, mode="same")
    return 10.0 * np.log10(np.maximum(smooth, 1e-9))


def _look(
    bounds: tuple[int, int, int], envelope: np.ndarray
) -> tuple[float, float, int, np.ndarray]:
    """Where the fine look begins and ends in seconds, its first step, and that envelope."""
    before, start, end = bounds
    rough_s = start * HOP_S
    low_s = max(rough_s - LOOK_BACK_S, 0.5 * (before + start) * HOP_S, 0.0)
    high_s = min(rough_s + LOOK_AHEAD_S, 0.5 * (start + end) * HOP_S)
    low, high = int(low_s / FINE_HOP_S), min(int(high_s / FINE_HOP_S) + 1, len(envelope))
    return low_s, high_s, low, envelope[low:high]


def _sudden(bounds: tuple[int, int, int], envelope: np.ndarray) -> float | None:
    """Onset in seconds of a start out of near silence: nothing is exacter than its energy."""
    _, _, low, piece = _look(bounds, envelope)
    rise = _rise(piece, SUDDEN_DB)
    return None if rise is None else (low + rise) * FINE_HOP_S


def _risen(
    bounds: tuple[int, int, int], earlier: float | None, target: float | None, rising: Rising
) -> float | None:
    """Onset in seconds by the harmonics of a pitch that did not sound before; None without.

    ``bounds`` are the frames before, at and after it.
    """
    if target is None or (earlier is not None and abs(earlier - target) < SAME_SEMITONES):
        return None
    before, start, end = (frame * HOP_S for frame in bounds)
    found = rising.onset(start, end, target)
    if found is None:
        return None
    if found > start + LATEST_RISE_S:
        return start
    low_s = max(start - RISEN_BACK_S, 0.5 * (before + start))
    return found if low_s <= found <= 0.5 * (start + end) else None


def _refined(
    bounds: tuple[int, int, int],
    pitches: tuple[float | None, float | None],
    envelope: np.ndarray,
    midi: np.ndarray,
    weight: np.ndarray,
    *,
    sung: bool,
) -> float:
    """Onset in seconds of one segment; ``bounds`` are the frames before, at and after it.

    ``pitches`` are those of the segment before and of this one.
    """
    start = bounds[1]
    earlier, target = pitches
    rough_s = start * HOP_S
    low_s, high_s, low, piece = _look(bounds, envelope)
    if len(piece) >= 8:
        rise = _rise(piece, RISE_DB)
        if rise is not None and not sung:
            return (low + rise) * FINE_HOP_S
        if rise is not None:
            earliest_s = _pitch_start(low_s, high_s, target, midi, weight) - BEFORE_PITCH_S
            return max((low + rise) * FINE_HOP_S, min(earliest_s, high_s))
    crossing = _crossing(start, earlier, target, midi, weight)
    if crossing is not None:
        return crossing
    valley = _valley(piece)
    return rough_s if valley is None or sung else (low + valley) * FINE_HOP_S


def _pitch_start(
    low_s: float, high_s: float, target: float | None, midi: np.ndarray, weight: np.ndarray
) -> float:
    """Where the target pitch first lasts three frames within the look; its start if nowhere."""
    first, last = int(low_s / HOP_S), min(int(high_s / HOP_S) + 4, len(midi))
    near = weight[first:last] > 0.2
    if target is not None:
        near = near & (np.abs(midi[first:last] - target) < 1.0)
    lasting = np.flatnonzero(near[2:] & near[1:-1] & near[:-2])
    return (first + int(lasting[0])) * HOP_S if len(lasting) else low_s


def _valley(piece: np.ndarray) -> int | None:
    """Step at which the sound has sunk between two tones of one pitch; None where it does not."""
    width = int(VALLEY_SMOOTH_S / FINE_HOP_S)
    if len(piece) < 3 * width:
        return None
    smooth = np.convolve(np.pad(piece, width // 2, mode="edge"), np.ones(width) / width, "valid")
    bottom = int(smooth.argmin())
    depth = min(smooth[: bottom + 1].max(), smooth[bottom:].max()) - smooth[bottom]
    if depth < VALLEY_DB:
        return None
    return int(np.flatnonzero(smooth <= smooth[bottom] + VALLEY_EDGE_DB)[0])


def _rise(piece: np.ndarray, least_db: float) -> float | None:
    """Step at which the strongest rise of ``piece`` has climbed its share.

    None without a rise of ``least_db`` in 20 ms.
    """
    span = 10  # 20 ms
    if len(piece) <= span:
        return None
    climbed = piece[span:] - piece[:-span]
    top = int(climbed.argmax())
    if climbed[top] < least_db:
        return None
    valley = int(piece[: top + 1].argmin())
    peak = top + int(piece[top : top + 2 * span].argmax())
    low = max(piece[valley], piece[peak] - DEEPEST_DB)
    level = low + max(RISE_SHARE * (piece[peak] - low), LEAST_CLIMB_DB)
    below = np.flatnonzero(piece[valley : peak + 1] < level)
    return float(valley + below[-1] + 1) if len(below) else float(valley)


def _crossing(
    start: int,
    earlier: float | None,
    target: float | None,
    midi: np.ndarray,
    weight: np.ndarray,
) -> float | None:
    """Seconds at which the pitch passes half-way from ``earlier`` to ``target``; None if never."""
    if earlier is None or target is None or abs(target - earlier) < 0.6:
        return None
    low, high = max(start - 8, 1), min(start + 9, len(midi))
    toward = np.sign(target - earlier) * (midi - 0.5 * (target + earlier))
    best, chosen = None, None
    for frame in range(low, high):
        if weight[frame] > 0 and weight[frame - 1] > 0 and toward[frame - 1] < 0 <= toward[frame]:
            apart = abs(frame - start)
            if best is None or apart < best:
                best = apart
                share = -toward[frame - 1] / (toward[frame] - toward[frame - 1])
                chosen = (frame - 1 + share) * HOP_S
    return chosen
