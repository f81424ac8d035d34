"""From a recording and a passage to a `Performance`: the whole line of the sound room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import groupby, pairwise

import numpy as np

from standlight.music import STANDARD_A4_HZ, hz_of_midi
from standlight.score.values import Passage
from standlight.sound.belief import Scene
from standlight.sound.belonging import belonging_of
from standlight.sound.clearing import clear_candidates
from standlight.sound.drifting import along_the_voice, measured_from
from standlight.sound.entries import FAR_MS, without_guessed_entries, without_unsure_entries
from standlight.sound.evidence import Evidence, evidence_of
from standlight.sound.extras import added_of
from standlight.sound.following import ADDED, OTHER, SKIPPED, Path, follow, follow_again
from standlight.sound.harmonics import Spectra
from standlight.sound.hum import without_hum
from standlight.sound.noting import Frames, Tuned, median_se, noted, without_false_starts
from standlight.sound.octaves import sounds_as_written, with_octaves
from standlight.sound.onsets import Signs, onset_evidence, signs_of
from standlight.sound.pitch import PitchCandidates, pitch_path
from standlight.sound.plainer import without_held_attempts, without_needless_jumps, without_tails
from standlight.sound.prolonged import prolonged_of
from standlight.sound.quick_slips import with_quick_slips
from standlight.sound.rearticulation import again_odds
from standlight.sound.second_look import looked_again, with_probabilities, without_guesses
from standlight.sound.second_starts import with_second_starts
from standlight.sound.settling import Sounding, settle
from standlight.sound.strokes import follow_strokes
from standlight.sound.stumbles import with_extras, with_stumbles
from standlight.sound.timing import Timing, timing_of
from standlight.sound.values import (
    HOP_S,
    HeardNote,
    Performance,
    PitchTrack,
    Recording,
    Resumed,
)
from standlight.sound.written import WrittenLine, written_line

BEYOND_RANGE_SEMITONES = 14
"""Heard beyond the written range on both sides: an octave and a wrong transposition show."""

SHIFT_MARGIN = 0.15
"""The written octave and key are believed unless another shift explains this much more."""

OUT_OF_TUNE_SEMITONES = 0.65
"""A take so near to the written key is out of tune and in no other one: half-way between two keys
the written one is believed (our choice)."""

LEFT_OUT_PROBABILITY, LONG_GAP_PROBABILITY, LONG_GAP_NOTES = 0.94, 0.5, 3
"""How probably a note that the follower leaves out altogether was not played, and one of so many
or more in a row with notes heard on both sides. Of single ones and pairs 185 of 188 were left out
(made takes of seeds 3901 and 4001), of 25 in longer gaps 2: there the follower was at a wrong
place. Made takes hold no long gaps, musicians do leave out lines: so even odds (our choice)."""

JUST_BEFORE_S = 0.2
"""A note may begin so long before the boundary that the follower set for it."""

OCTAVE = 12
"""Semitones."""

TUNING_REDO_SEMITONES = 0.15
"""If matched notes put the tuning so far from the first guess, the part is followed again."""


@dataclass(frozen=True, slots=True, eq=False)
class _Hearing:
    """One try to follow the part at one shift."""

    shift: int
    offset: float
    track: PitchTrack
    evidence: Evidence
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
    struck: bool = False,
    onset_tolerance_ms: float = FAR_MS,
) -> Performance:
    """Follow ``passage`` through ``recording``; one that is ``struck`` or unpitched by its strokes.

    ``tempo_qpm`` is the marked tempo in quarters a minute. ``sung`` notes start with their
    vowel. Entries that seem ``onset_tolerance_ms`` and more off the beat must surely be so, or
    have no asynchrony. Raises ValueError for a passage without notes.
    """
    line = written_line(passage)
    if not len(line):
        raise ValueError("a passage without notes cannot be followed")
    if struck or not line.pitched:
        strokes = follow_strokes(recording, passage, line, tempo_qpm)
        return replace(strokes, onset_tolerance_ms=onset_tolerance_ms)
    a4_offset = 12.0 * float(np.log2(a4_hz / STANDARD_A4_HZ))
    lowest = max(line.midi.min() - BEYOND_RANGE_SEMITONES, 16.0)
    highest = min(line.midi.max() + BEYOND_RANGE_SEMITONES, 115.0)
    candidates = clear_candidates(recording, lowest, highest)
    signs = signs_of(recording, len(line))
    hearing = _best_hearing(signs, candidates, line, tempo_qpm, a4_offset)
    hearing = _in_own_octave(hearing, line, recording)
    onset = hearing.evidence.onset
    settled = settle(
        hearing.path, line, recording, hearing.track, onset, hearing.offset, sung=sung
    )
    again = hearing.evidence.again
    frames = Frames(recording, hearing.track, onset, candidates, signs.level_db, again)
    settled = with_second_starts(without_false_starts(settled, frames), line, frames)
    settled = settled if sung else with_quick_slips(settled, frames)
    return _assemble(
        recording, passage, line, hearing, frames, settled, tempo_qpm, a4_offset, octave_free,
        sung, onset_tolerance_ms,
    )  # fmt: skip


def _best_hearing(
    signs: Signs,
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
        _hear(signs, candidates, neutral, line, qpm, shift, tuning + a4_offset)
        for shift in guesses
    ]
    written = tried[0]
    best = max(tried, key=lambda hearing: hearing.support)
    if best.support < written.support + SHIFT_MARGIN:
        best = written
    if abs(best.offset - a4_offset) <= OUT_OF_TUNE_SEMITONES:
        best = replace(best, shift=0)
    again = _matched_offset(best, line)
    if again is not None and abs(again - best.offset) > TUNING_REDO_SEMITONES:
        best = _hear(signs, candidates, neutral, line, qpm, best.shift, again - best.shift)
    evidence = best.evidence
    finished = partial(_with_accidents, line=line, evidence=evidence, offset=best.offset)
    path = finished(follow_again(line, evidence, best.offset, best.path))
    path = without_needless_jumps(path, line, evidence, best.offset, qpm, finished)
    path = without_tails(without_held_attempts(path, line, evidence), line, evidence)
    return replace(best, path=path)


def _with_accidents(path: Path, line: WrittenLine, evidence: Evidence, offset: float) -> Path:
    """``path`` with extra sounds and short attempts told as such."""
    path = with_extras(path, line)
    return with_stumbles(path, line, evidence.midi, evidence.weight, offset)


def _in_own_octave(hearing: _Hearing, line: WrittenLine, recording: Recording) -> _Hearing:
    """``hearing``, an octave lower where it was followed above the part and sounds as written."""
    if hearing.shift != OCTAVE:
        return hearing
    below, spectra = hearing.offset - OCTAVE, Spectra(recording)
    levels = [
        spectra.levels(part.start_s, part.end_s, float(hz_of_midi(line.midi[part.index] + below)))
        for part in hearing.path.segments
        if part.kind not in (ADDED, SKIPPED)
    ]
    if not sounds_as_written([level for level in levels if level is not None]):
        return hearing
    track = replace(hearing.track, midi=hearing.track.midi - OCTAVE)
    return replace(hearing, shift=0, offset=below, track=track)


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
    signs: Signs,
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
    track = without_hum(track, signs.level_db)
    evidence = evidence_of(track, onset_evidence(signs, track), again_odds(signs, track))
    path = follow(line, evidence, offset, qpm)
    support = _support(path, line, offset, neutral)
    return _Hearing(shift, offset, track, evidence, path, support)


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
        if segment.kind in (ADDED, OTHER):
            continue
        span = slice(int(segment.start_s / HOP_S), int(segment.end_s / HOP_S) + 1)
        apart = hearing.track.midi[span] - line.midi[segment.index]
        good = hearing.track.voiced[span] & (np.abs(apart - hearing.offset) < 0.9)
        if good.sum() >= 3:
            distances.append(float(np.median(apart[good])))
    return float(np.median(distances)) if len(distances) >= 3 else None


def _assemble(
    recording: Recording,
    passage: Passage,
    line: WrittenLine,
    hearing: _Hearing,
    frames: Frames,
    settled: tuple[Sounding, ...],
    qpm: float,
    a4_offset: float,
    octave_free: bool,
    sung: bool,
    onset_tolerance_ms: float,
) -> Performance:
    """Every figure of every note, chosen among attempts, then the take's own figures."""
    quarter_s = hearing.path.quarter_s
    tuned = Tuned(hearing.shift, hearing.offset, a4_offset, quarter_s, octave_free)
    heard = noted(settled, line, frames, tuned)
    along = along_the_voice(line, heard, tuned) if sung else line
    if along is not line:
        heard = noted(settled, along, frames, tuned)
    scene = Scene(settled, frames, along, tuned)
    heard = looked_again(heard, scene)
    if not octave_free:
        heard = with_octaves(heard, frames.spectra, along.midi + hearing.offset, a4_offset)
    heard = without_guesses(with_probabilities(heard, scene))
    heard = measured_from(heard, line, along)
    final, attempts = _last_attempts(heard, len(line))
    jumps = _restarts(heard, hearing.path.jumps)
    deviations = np.array([n.deviation_cents for n in final if n.deviation_cents is not None])
    tuning = float(np.median(deviations)) if len(deviations) >= 3 else None
    spread = 1.4826 * float(np.median(np.abs(deviations - tuning))) if tuning is not None else None
    added = added_of(settled, frames, a4_offset)
    played = {note.index for note in final if note.outcome == "played"}
    prolonged = prolonged_of(settled, line, frames) & played
    between = tuple(one.onset_s for one in settled if one.kind == ADDED)
    beaten = _beaten(final, line, jumps, between, prolonged)
    final, timing = _timed(final, line, beaten)
    final = without_guessed_entries(final, frames)
    final = without_unsure_entries(final, frames, *beaten, onset_tolerance_ms)
    sure = hearing.track.confidence[hearing.track.voiced]
    written_s = float(line.sounding_quarters.sum()) * 60.0 / qpm
    belonging = belonging_of([*final, *attempts], frames, along, hearing.offset, a4_offset)
    return Performance(
        passage=passage,
        notes=tuple(final),
        added=added,
        restarts=jumps,
        attempts=tuple(attempts),
        prolonged=prolonged,
        shift_semitones=hearing.shift,
        tuning_cents=tuning,
        tuning_se_cents=median_se(spread, len(deviations)) if spread is not None else None,
        tempo_qpm=timing.tempo_qpm,
        tempo_drift_percent=timing.drift_percent,
        tempo_drift_se_percent=timing.drift_se_percent,
        marked_tempo_qpm=qpm,
        onset_tolerance_ms=onset_tolerance_ms,
        fit=_fit(final),
        explained_share=belonging.explained_share,
        foreign_pitch_share=belonging.foreign_share,
        within_explained_share=belonging.within_explained_share,
        within_foreign_share=belonging.within_foreign_share,
        seconds=recording.seconds,
        sounding_share=float(hearing.track.voiced.sum()) * HOP_S / written_s,
        median_confidence=float(np.median(sure)) if len(sure) else 0.0,
    )


def _last_attempts(
    heard: list[HeardNote], count: int
) -> tuple[list[HeardNote], list[HeardNote]]:
    """For each written note its last complete attempt that sounded, and all the other attempts.

    Who goes back once more and stops has not played those notes anew.
    """
    by_index: list[list[tuple[int, HeardNote]]] = [[] for _ in range(count)]
    for place, note in enumerate(heard):
        by_index[note.index].append((place, note))
    until = _end_of_complete(heard)
    final, earlier = [], []
    left_out = _left_out([bool(tries) for tries in by_index])
    for index, tries in enumerate(by_index):
        sounded = [(place, note) for place, note in tries if note.outcome != "missing"]
        complete = [note for place, note in sounded if place < until]
        sure = tries[-1][1].probability if tries else left_out[index]
        missing = HeardNote(index=index, outcome="missing", probability=sure)
        chosen = [*(note for _, note in sounded), *complete][-1] if sounded else missing
        final.append(chosen)
        earlier.extend(note for _, note in sounded if note is not chosen)
    return final, sorted(earlier, key=lambda note: note.onset_s or 0.0)


def _end_of_complete(heard: Sequence[HeardNote]) -> int:
    """How many of ``heard`` there are up to the end of the last attempt that went to the end.

    An attempt ends where the notes go back; the end is the last note that ever sounded, or the one
    before it.

    >>> played = [HeardNote(index, "played") for index in (0, 1, 2, 3, 1, 2, 3, 0, 1)]
    >>> _end_of_complete(played), _end_of_complete(played[:4]), _end_of_complete([])
    (7, 4, 0)
    """
    sounded = [(at, note.index) for at, note in enumerate(heard) if note.outcome != "missing"]
    ends = [
        place
        for place, ((_, index), (_, after)) in enumerate(pairwise(sounded))
        if after <= index
    ]
    ends = [*ends, len(sounded) - 1] if sounded else []
    furthest = max((index for _, index in sounded), default=0)
    reached = [sounded[place][0] for place in ends if sounded[place][1] >= furthest - 1]
    return reached[-1] + 1 if reached else 0


def _left_out(tried: Sequence[bool]) -> list[float]:
    """How probably each note would be missing if it was left out; nothing else by those ``tried``.

    >>> _left_out([True, False, True, False, False, False, True, False])
    [0.94, 0.94, 0.94, 0.5, 0.5, 0.5, 0.94, 0.94]
    """
    probability, begin = [], 0
    for one, notes in groupby(tried):
        count = len(list(notes))
        inside = begin > 0 and begin + count < len(tried)
        is_long = not one and inside and count >= LONG_GAP_NOTES
        probability += [LONG_GAP_PROBABILITY if is_long else LEFT_OUT_PROBABILITY] * count
        begin += count
    return probability


def _restarts(
    heard: list[HeardNote], jumps: Sequence[tuple[float, int]]
) -> tuple[Resumed, ...]:
    """Where the player went on after each of the ``jumps`` (time in seconds, to index).

    Who has not played yet has not started again: a take that begins in mid-part is no restart.
    """
    first_s = min((note.onset_s for note in heard if note.onset_s is not None), default=np.inf)
    resumed = [_resumed(heard, time_s, to) for time_s, to in jumps]
    return tuple(one for one in resumed if one.onset_s > first_s)


def _resumed(heard: list[HeardNote], time_s: float, index: int) -> Resumed:
    """Where the player went on after a jump at ``time_s`` to note ``index``.

    The first note that sounds counts: a jump may lead to notes that were left out. The last one of
    the attempt may begin just before the jump; after it the notes go back.
    """
    after = [
        (note.onset_s, note.index)
        for note, then in zip(heard, [*heard[1:], None], strict=True)
        if note.onset_s is not None
        and note.index >= index
        and note.onset_s >= time_s - JUST_BEFORE_S
        and (note.onset_s >= time_s or then is None or then.index > note.index)
    ]
    return Resumed(*min(after, default=(time_s, index)))


def _beaten(
    final: list[HeardNote],
    line: WrittenLine,
    jumps: tuple[Resumed, ...],
    added_s: tuple[float, ...],
    prolonged: frozenset[int],
) -> tuple[np.ndarray, list[bool]]:
    """Musical time in quarters of the notes that sounded, and where the beat begins anew."""
    sounded = [note for note in final if note.onset_s is not None]
    breaks = [True] + [
        before.index in prolonged or _begins_anew(before, note, line, jumps, added_s)
        for before, note in pairwise(sounded)
    ]
    indexes = np.array([note.index for note in sounded], dtype=int)
    return line.onset_quarters[indexes], breaks


def _timed(
    final: list[HeardNote], line: WrittenLine, beaten: tuple[np.ndarray, list[bool]]
) -> tuple[list[HeardNote], Timing]:
    """The notes with asynchrony and sounding share filled in, and the take's `Timing`."""
    sounded = [note for note in final if note.onset_s is not None]
    quarters, breaks = beaten
    timing = timing_of(
        quarters, np.array([note.onset_s for note in sounded], dtype=float), breaks
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


def _begins_anew(
    before: HeardNote,
    note: HeardNote,
    line: WrittenLine,
    jumps: tuple[Resumed, ...],
    added_s: tuple[float, ...],
) -> bool:
    """True when the beat may begin anew between two notes that sounded one after the other.

    After a restart, a fermata or a breath; and where a note was left out or a sound was added, told
    or too soft to be told, for nobody knows what a player makes of its time.
    """
    between = range(before.index + 1, note.index + 1)
    return (
        len(between) != 1
        or any(jump.to_index in between for jump in jumps)
        or bool(line.free[before.index : note.index].any())
        or any(before.onset_s <= at_s <= note.onset_s for at_s in added_s)
    )


def _fit(final: list[HeardNote]) -> float:
    """Share of written notes that sounded at their pitch, each by how surely, 0..1."""
    return float(np.mean([n.probability if n.outcome == "played" else 0.0 for n in final]))
