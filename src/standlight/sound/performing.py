"""From a recording and a passage to a `Performance`: the whole line of the sound room."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from standlight.music import STANDARD_A4_HZ
from standlight.score.values import Passage
from standlight.sound.following import ADDED, OTHER, SKIPPED, Path, evidence_of, follow
from standlight.sound.following import frame_weight as weight_of
from standlight.sound.loudness import k_power, loudness_lkfs
from standlight.sound.onsets import onset_evidence
from standlight.sound.pitch import PitchCandidates, pitch_candidates, pitch_path, strong_near
from standlight.sound.settling import Sounding, settle
from standlight.sound.spectrum import power_by_frame
from standlight.sound.strokes import follow_strokes
from standlight.sound.timing import Timing, timing_of
from standlight.sound.values import (
    HOP_S,
    AddedSound,
    HeardNote,
    Performance,
    PitchTrack,
    Recording,
    Resumed,
)
from standlight.sound.written import WrittenLine, written_line

BEYOND_RANGE_SEMITONES = 14
"""Heard beyond the written range on both sides: an octave and a wrong transposition show."""

OTHER_PITCH_SEMITONES = 0.6
"""From here on (tuning removed) a sound is another pitch. mir_eval's match tolerance is 0.5;
a little more, because single notes spread around the take's tuning."""

SILENT_SHARE = 0.20
"""A note that sounds for less of its written time than this is missing."""

OFFSET_DB = -20.0
"""A note ends where it has fallen this far below its loudest (common practice, no source)."""

EDGE_SHARE, EDGE_START_S, EDGE_END_S = 0.15, 0.040, 0.020
"""What is left out of a note before its steady middle is measured: attack and release."""

TRACKER_SE_CENTS = 1.0
"""What the tracker itself adds to a note's standard error (median 1.35 cents in trials)."""

SHIFT_MARGIN = 0.15
"""The written octave and key are believed unless another shift explains this much more."""

NEIGHBOUR_SEMITONES, GLIDE_S = 1.2, 0.10
"""How near to the part's notes, and how long around them, sound counts as the player's own
(scoops of a semitone and slides of a tenth of a second are usual in untrained voices)."""

TUNING_REDO_SEMITONES = 0.15
"""If matched notes put the tuning so far from the first guess, the part is followed again."""


@dataclass(frozen=True, slots=True, eq=False)
class _Hearing:
    """One try to follow the part at one shift."""

    shift: int
    offset: float
    track: PitchTrack
    onset: np.ndarray
    path: Path
    support: float


def perform(
    recording: Recording,
    passage: Passage,
    tempo_qpm: float,
    *,
    a4_hz: float = STANDARD_A4_HZ,
    octave_free: bool = False,
    sung: bool = False,
) -> Performance:
    """Follow ``passage`` through ``recording``; an unpitched passage by its strokes.

    ``tempo_qpm`` is the marked tempo in quarters a minute. ``sung`` notes start with their
    vowel. Raises ValueError for a passage
    without notes.
    """
    line = written_line(passage)
    if not len(line):
        raise ValueError("a passage without notes cannot be followed")
    if not line.pitched:
        return follow_strokes(recording, passage, line, tempo_qpm)
    a4_offset = 12.0 * float(np.log2(a4_hz / STANDARD_A4_HZ))
    lowest = max(line.midi.min() - BEYOND_RANGE_SEMITONES, 16.0)
    highest = min(line.midi.max() + BEYOND_RANGE_SEMITONES, 115.0)
    candidates = pitch_candidates(recording, lowest, highest)
    hearing = _best_hearing(recording, candidates, line, tempo_qpm, a4_offset)
    settled = settle(
        hearing.path, line, recording, hearing.track, hearing.onset, hearing.offset, sung=sung
    )
    frames = _Frames(recording, hearing, candidates)
    return _assemble(
        recording, passage, line, hearing, frames, settled, tempo_qpm, a4_offset, octave_free
    )


def _best_hearing(
    recording: Recording,
    candidates: PitchCandidates,
    line: WrittenLine,
    qpm: float,
    a4_offset: float,
) -> _Hearing:
    """Follow at the written pitch, and at shifts that the heard pitches suggest; keep the best."""
    neutral = pitch_path(candidates, candidates.lowest_midi, candidates.highest_midi)
    tuning = _first_tuning(neutral, a4_offset)
    guesses = _likely_shifts(neutral, line, tuning + a4_offset)
    tried = [
        _hear(recording, candidates, neutral, line, qpm, shift, tuning + a4_offset)
        for shift in guesses
    ]
    written = tried[0]
    best = max(tried, key=lambda hearing: hearing.support)
    if best.support < written.support + SHIFT_MARGIN:
        best = written
    again = _matched_offset(best, line)
    if again is not None and abs(again - best.offset) > TUNING_REDO_SEMITONES:
        best = _hear(
            recording, candidates, neutral, line, qpm, best.shift, again - best.shift
        )
    return best


def _first_tuning(track: PitchTrack, a4_offset: float) -> float:
    """Circular mean of the frames' distance from the grid of semitones, -0.5 to 0.5."""
    turn = np.exp(2j * np.pi * (track.midi[track.voiced] - a4_offset))
    return float(np.angle(turn.sum()) / (2.0 * np.pi)) if len(turn) else 0.0


def _likely_shifts(track: PitchTrack, line: WrittenLine, tuning: float) -> list[int]:
    """0, and up to two other shifts in semitones by overlap of heard and written pitches."""
    heard = np.round(track.midi[track.voiced] - tuning).astype(int)
    if not len(heard):
        return [0]
    written = np.bincount(line.midi.astype(int), weights=line.sounding_quarters, minlength=160)
    sounded = np.bincount(np.clip(heard, 0, 159), minlength=160).astype(float)
    written, sounded = written / written.sum(), sounded / sounded.sum()
    reach = BEYOND_RANGE_SEMITONES
    overlap = {
        shift: float(np.minimum(np.roll(written, shift), sounded).sum())
        for shift in range(-reach, reach + 1)
    }
    others = sorted((shift for shift in overlap if shift), key=lambda shift: -overlap[shift])
    return [0, *(shift for shift in others[:2] if overlap[shift] > overlap[0])]


def _hear(
    recording: Recording,
    candidates: PitchCandidates,
    neutral: PitchTrack,
    line: WrittenLine,
    qpm: float,
    shift: int,
    tuning: float,
) -> _Hearing:
    """Follow the part ``shift`` semitones away, with the pitch path bounded accordingly."""
    offset = shift + tuning
    track = pitch_path(candidates, line.midi.min() + offset, line.midi.max() + offset)
    onset = onset_evidence(recording, track)
    path = follow(line, evidence_of(track, onset), offset, qpm)
    support = _support(path, line, offset, neutral)
    return _Hearing(shift, offset, track, onset, path, support)


def _support(path: Path, line: WrittenLine, offset: float, neutral: PitchTrack) -> float:
    """Share of notes found at the shift by the track that knows no range, 0..1."""
    found = np.zeros(len(line))
    for segment in path.segments:
        span = slice(int(segment.start_s / HOP_S), int(segment.end_s / HOP_S) + 1)
        voiced = neutral.voiced[span]
        if segment.kind in (ADDED, SKIPPED) or not voiced.any():
            continue
        near = np.abs(neutral.midi[span] - line.midi[segment.index] - offset) < 0.6
        share = float((near & voiced).sum() / voiced.sum())
        found[segment.index] = max(found[segment.index], share)
    return float(found.mean())


def _matched_offset(hearing: _Hearing, line: WrittenLine) -> float | None:
    """Median distance in semitones of heard from written over frames of written segments."""
    distances = []
    for segment in hearing.path.segments:
        span = slice(int(segment.start_s / HOP_S), int(segment.end_s / HOP_S) + 1)
        apart = hearing.track.midi[span] - line.midi[segment.index]
        good = hearing.track.voiced[span] & (np.abs(apart - hearing.offset) < 0.9)
        if segment.kind not in (ADDED, OTHER) and good.sum() >= 3:
            distances.append(float(np.median(apart[good])))
    return float(np.median(distances)) if len(distances) >= 3 else None


class _Frames:
    """Frame signals that a note's figures are read from."""

    def __init__(
        self, recording: Recording, hearing: _Hearing, candidates: PitchCandidates
    ) -> None:
        """Gather pitch, weight, level in decibel and K-weighted power by frame."""
        self.candidates = candidates
        self.midi, self.weight = hearing.track.midi.copy(), weight_of(hearing.track)
        power = power_by_frame(recording.samples, recording.rate_hz, HOP_S)
        self.level_db = 10.0 * np.log10(np.maximum(power, 1e-12))
        self.floor_db = float(np.percentile(self.level_db, 5))
        self.k_power = k_power(recording)
        self.count = min(len(self.midi), len(self.level_db))

    def span(self, start_s: float, end_s: float) -> np.ndarray:
        """Frame numbers from ``start_s`` up to ``end_s``, at least one."""
        first = min(max(int(np.ceil(start_s / HOP_S)), 0), self.count - 1)
        return np.arange(first, max(min(int(end_s / HOP_S), self.count), first + 1))

    def end_of(self, start_s: float, until_s: float) -> float:
        """Where the sound that starts at ``start_s`` has died away, at the latest ``until_s``."""
        frames = self.span(start_s, until_s)
        level = self.level_db[frames]
        top = level[: max(len(level) // 2, 1)].max()
        limit = max(top + OFFSET_DB, min(self.floor_db + 6.0, top - 3.0))
        above = np.flatnonzero(level >= limit)
        last = frames[above[-1]] if len(above) else frames[0]
        return float(min((last + 1) * HOP_S, until_s))


def _assemble(
    recording: Recording,
    passage: Passage,
    line: WrittenLine,
    hearing: _Hearing,
    frames: _Frames,
    settled: tuple[Sounding, ...],
    qpm: float,
    a4_offset: float,
    octave_free: bool,
) -> Performance:
    """Every figure of every note, chosen among attempts, then the take's own figures."""
    heard = [
        _heard(sounding, line, frames, hearing, a4_offset, octave_free)
        for sounding in settled
        if sounding.kind != ADDED
    ]
    final, attempts = _last_attempts(heard, len(line))
    jumps = tuple(Resumed(_first_after(heard, time_s, to), to) for time_s, to in hearing.path.jumps)
    deviations = np.array([n.deviation_cents for n in final if n.deviation_cents is not None])
    tuning = float(np.median(deviations)) if len(deviations) >= 3 else None
    spread = 1.4826 * float(np.median(np.abs(deviations - tuning))) if tuning is not None else None
    final, timing = _timed(final, line, jumps)
    sure = hearing.track.confidence[hearing.track.voiced]
    written_s = float(line.sounding_quarters.sum()) * 60.0 / qpm
    return Performance(
        passage=passage,
        notes=tuple(final),
        added=_added(settled, frames, a4_offset),
        restarts=jumps,
        attempts=tuple(attempts),
        shift_semitones=hearing.shift,
        tuning_cents=tuning,
        tuning_se_cents=_median_se(spread, len(deviations)) if spread is not None else None,
        tempo_qpm=timing.tempo_qpm,
        tempo_drift_percent=timing.drift_percent,
        tempo_drift_se_percent=timing.drift_se_percent,
        marked_tempo_qpm=qpm,
        fit=_fit(final),
        explained_share=_explained(final, attempts, frames, line, hearing.offset, a4_offset),
        seconds=recording.seconds,
        sounding_share=float(hearing.track.voiced.sum()) * HOP_S / written_s,
        median_confidence=float(np.median(sure)) if len(sure) else 0.0,
    )


def _median_se(spread: float, count: float) -> float:
    """Standard error of a median of ``count`` independent values of robust ``spread``."""
    return 1.253 * spread / float(np.sqrt(max(count, 1.0)))


def _heard(
    sounding: Sounding,
    line: WrittenLine,
    frames: _Frames,
    hearing: _Hearing,
    a4_offset: float,
    octave_free: bool,
) -> HeardNote:
    """The figures of one settled note."""
    index = sounding.index
    end_s = frames.end_of(sounding.onset_s, sounding.until_s)
    span = frames.span(sounding.onset_s, end_s)
    sure = frames.weight[span] > 0.2
    written_s = line.sounding_quarters[index] * hearing.path.quarter_s
    sounds_s = float(sure.sum()) * HOP_S
    if sounds_s < min(SILENT_SHARE * written_s, 0.5 * written_s) or sure.sum() < 2:
        return HeardNote(index=index, outcome="missing", probability=1.0 - float(sure.mean()))
    target = line.midi[index] + hearing.offset
    midi, se_semitones = _steady_pitch(span, sure, frames, target)
    if midi < target - OTHER_PITCH_SEMITONES:
        strong, peak = strong_near(frames.candidates, span, target, OTHER_PITCH_SEMITONES)
        if strong[sure].mean() >= 0.5:
            frames.midi[span[strong]] = peak[strong]
            midi, se_semitones = _steady_pitch(span, sure & strong, frames, target)
    apart = midi - target
    octave = 12.0 * np.round(apart / 12.0) if octave_free else 0.0
    played = abs(apart - octave) <= OTHER_PITCH_SEMITONES
    near = np.abs(frames.midi[span][sure] - midi) < OTHER_PITCH_SEMITONES
    written_now = line.midi[index] + hearing.shift + octave + a4_offset
    return HeardNote(
        index=index,
        outcome="played" if played else "other_pitch",
        onset_s=sounding.onset_s,
        offset_s=end_s,
        midi_heard=midi - a4_offset,
        deviation_cents=100.0 * (midi - written_now) if played else None,
        deviation_se_cents=100.0 * se_semitones if played else None,
        probability=float(near.mean() * np.mean(frames.weight[span][sure])),
        loudness_lkfs=loudness_lkfs(frames.k_power[span]),
    )


def _steady_pitch(
    span: np.ndarray, sure: np.ndarray, frames: _Frames, target: float
) -> tuple[float, float]:
    """Median pitch of a note's steady middle and its standard error, both in semitones.

    Frames that lie on the written pitch decide when they are a third or more of the note:
    the tail of the note before and slips of the tracker belong to nobody.
    """
    length = len(span)
    start = max(int(EDGE_START_S / HOP_S), int(EDGE_SHARE * length))
    end = max(int(EDGE_END_S / HOP_S), int(0.1 * length))
    inner = np.zeros(length, dtype=bool)
    inner[start : max(length - end, start)] = True
    chosen = sure & inner
    if chosen.sum() < 3:
        chosen = sure
    pitch = frames.midi[span][chosen]
    on_target = np.abs(pitch - target) <= OTHER_PITCH_SEMITONES
    if on_target.mean() >= 1.0 / 3.0:
        pitch = pitch[on_target]
    middle = float(np.sort(pitch)[len(pitch) // 2])  # one that sounded, never between two
    near = pitch[np.abs(pitch - middle) < 1.0]
    middle = float(np.median(near))
    spread = 1.4826 * float(np.median(np.abs(near - middle)))
    independent = len(near) * HOP_S / 0.04  # a window of about 40 ms makes neighbours alike
    se = _median_se(spread, independent)
    return middle, float(np.hypot(se, TRACKER_SE_CENTS / 100.0))


def _last_attempts(
    heard: list[HeardNote], count: int
) -> tuple[list[HeardNote], list[HeardNote]]:
    """For each written note its last attempt that sounded, and all the other attempts."""
    by_index: list[list[HeardNote]] = [[] for _ in range(count)]
    for note in heard:
        by_index[note.index].append(note)
    final, earlier = [], []
    for index, tries in enumerate(by_index):
        sounded = [note for note in tries if note.outcome != "missing"]
        missing = HeardNote(
            index=index, outcome="missing", probability=tries[-1].probability if tries else 1.0
        )
        final.append(sounded[-1] if sounded else missing)
        earlier.extend(sounded[:-1])
    return final, sorted(earlier, key=lambda note: note.onset_s or 0.0)


def _first_after(heard: list[HeardNote], time_s: float, index: int) -> float:
    """Onset of the first try of note ``index`` from a little before ``time_s`` on."""
    onsets = [
        n.onset_s
        for n in heard
        if n.onset_s is not None and n.index >= index and n.onset_s >= time_s - 0.2
    ]
    return min(onsets, default=time_s)


def _timed(
    final: list[HeardNote], line: WrittenLine, jumps: tuple[Resumed, ...]
) -> tuple[list[HeardNote], Timing]:
    """The notes with asynchrony and sounding share filled in, and the take's `Timing`."""
    sounded = [note for note in final if note.onset_s is not None]
    resumed = {jump.to_index for jump in jumps}
    breaks = [
        any(index in resumed for index in range(previous + 1, note.index + 1))
        or bool(line.free[previous : note.index].any())
        for previous, note in zip(
            [-1, *(n.index for n in sounded)], sounded, strict=False
        )
    ]
    timing = timing_of(
        line.onset_quarters[[note.index for note in sounded]] if sounded else np.zeros(0),
        np.array([note.onset_s for note in sounded], dtype=float),
        breaks,
    )
    timed = list(final)
    for place, note in enumerate(sounded):
        quarter_s = timing.quarter_s[place]
        written_s = line.sounding_quarters[note.index] * quarter_s if quarter_s else None
        timed[note.index] = replace(
            note,
            asynchrony_ms=timing.asynchrony_ms[place],
            sounding_share=(note.offset_s - note.onset_s) / written_s
            if written_s and note.offset_s is not None
            else None,
        )
    return timed, timing


def _added(
    settled: tuple[Sounding, ...], frames: _Frames, a4_offset: float
) -> tuple[AddedSound, ...]:
    """Sounds of the path that belong to no written note and are more than a breath of noise."""
    found = []
    for sounding in settled:
        if sounding.kind != ADDED or sounding.midi is None:
            continue
        end_s = frames.end_of(sounding.onset_s, sounding.until_s)
        span = frames.span(sounding.onset_s, end_s)
        if (frames.weight[span] > 0.2).sum() >= 4:
            found.append(AddedSound(sounding.onset_s, end_s, sounding.midi - a4_offset))
    return tuple(found)


def _fit(final: list[HeardNote]) -> float:
    """Share of written notes that sounded at their pitch, each by how surely, 0..1."""
    return float(np.mean([n.probability if n.outcome == "played" else 0.0 for n in final]))


def _explained(
    final: list[HeardNote],
    attempts: list[HeardNote],
    frames: _Frames,
    line: WrittenLine,
    offset: float,
    a4_offset: float,
) -> float:
    """Share of pitched sound near the note it belongs to or that note's neighbours, 0..1.

    Neighbours, because a voice slides from one note to the next; ``NEIGHBOUR_SEMITONES``
    wide, because it scoops.
    """
    on_part = np.zeros(frames.count, dtype=bool)
    for note in [*final, *attempts]:
        if note.onset_s is None or note.offset_s is None:
            continue
        span = frames.span(note.onset_s - GLIDE_S, note.offset_s + GLIDE_S)
        targets = line.midi[max(note.index - 1, 0) : note.index + 2] + offset
        if note.outcome == "other_pitch" and note.midi_heard is not None:
            targets = np.append(targets, note.midi_heard + a4_offset)
        apart = np.abs(frames.midi[span][:, None] - targets[None, :]).min(axis=1)
        on_part[span] |= apart < NEIGHBOUR_SEMITONES
    weight = frames.weight[: frames.count]
    return float(weight[on_part].sum()) / max(float(weight.sum()), 1e-9)
