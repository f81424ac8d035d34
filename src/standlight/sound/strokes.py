"""Following a struck part, with or without pitches, by its strokes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from standlight.score.values import Passage
from standlight.sound.chance import gain_over_chance
from standlight.sound.loudness import k_power, loudness_lkfs
from standlight.sound.onsets import stroke_onsets
from standlight.sound.ringing import Ringing, ringing_of
from standlight.sound.spectrum import power_by_frame
from standlight.sound.striking import StrokePath, match_strokes, stroke_count
from standlight.sound.timing import timing_of
from standlight.sound.values import (
    HOP_S,
    AddedSound,
    HeardNote,
    Performance,
    Recording,
    Resumed,
)
from standlight.sound.written import WrittenLine

STROKE_S = 0.080
"""A stroke's loudness is read over this long (common practice, no source)."""

MOST_A_NOTE = 2.0
"""More strokes a note (beside those of rolls) are noise, and the weakest are left out: with noise
15 dB under made takes (seed 1500) precision is .95 so and .87 without, the same takes without noise
lose none."""

ADDED_STRENGTH = 0.25
"""An unwritten stroke is told from this strength on: weaker ones may be false."""

GRACE_S, GRACE_DB = 0.060, 6.0
"""A stroke so shortly before a louder one is its grace note (a flam, or one of a drag), which no
passage carries. After silence it rises as much as the stroke itself: its level tells."""

GRACE_STRENGTH = 0.06
"""A grace note counts as a stroke so weak that it may be false."""

ROLL_END_S = 0.1
"""Which stroke ends a roll and which begins the next note is not known so nearly (our choice)."""

_LEVEL_STEP_S, _LEVEL_S = 0.003, 0.030


def follow_strokes(
    recording: Recording, passage: Passage, line: WrittenLine, tempo_qpm: float
) -> Performance:
    """``passage`` followed through ``recording`` by its strokes."""
    times_s, strengths = stroke_onsets(recording)
    strengths = np.where(_graces(recording, times_s), GRACE_STRENGTH, strengths)
    kept = _strongest(strengths, stroke_count(line, tempo_qpm, MOST_A_NOTE))
    times_s, strengths = times_s[kept], strengths[kept]
    path = match_strokes(times_s, strengths, line, tempo_qpm)
    rhythm_gain = gain_over_chance(times_s, strengths, line, tempo_qpm, path)
    ringing = ringing_of(recording, times_s, line, path)
    if ringing is not None:
        path = match_strokes(times_s, strengths, line, tempo_qpm, ringing.favour(line))
    power = k_power(recording)
    final: dict[int, HeardNote] = {}
    attempts = []
    for note, stroke, probability in path.matches:
        if note in final:
            attempts.append(final[note])
        heard = _heard_stroke(note, stroke, probability, times_s, power)
        final[note] = _with_pitch(heard, stroke, float(line.midi[note]), ringing)
    notes = [
        final.get(index) or HeardNote(index=index, outcome="missing", probability=1.0)
        for index in range(len(line))
    ]
    sounded = sorted(final)
    resumed = {note for note, stroke, _ in path.matches if stroke in path.jumps}
    timing = timing_of(
        line.onset_quarters[sounded],
        np.array([final[index].onset_s for index in sounded], dtype=float),
        [index in resumed for index in sounded],
    )
    for place, index in enumerate(sounded):
        notes[index] = replace(notes[index], asynchrony_ms=timing.asynchrony_ms[place])
    used = {stroke for _, stroke, _ in path.matches}
    return Performance(
        passage=passage,
        notes=tuple(notes),
        added=_extra(times_s, strengths, used, path, line, ringing),
        restarts=tuple(
            Resumed(float(times_s[stroke]), note)
            for note, stroke, _ in path.matches
            if stroke in path.jumps
        ),
        attempts=tuple(attempts),
        shift_semitones=0,
        tuning_cents=None,
        tuning_se_cents=None,
        tempo_qpm=timing.tempo_qpm,
        tempo_drift_percent=timing.drift_percent,
        tempo_drift_se_percent=timing.drift_se_percent,
        marked_tempo_qpm=tempo_qpm,
        fit=float(np.mean([note.probability * (note.outcome == "played") for note in notes])),
        explained_share=_explained(strengths, path, line),
        seconds=recording.seconds,
        sounding_share=len(times_s) / len(line),
        median_confidence=None,
        rhythm_gain=rhythm_gain,
    )


def _strongest(strengths: np.ndarray, most: int) -> np.ndarray:
    """Numbers of the ``most`` strongest strokes in time."""
    return np.sort(np.argsort(-strengths, kind="stable")[:most])


def _graces(recording: Recording, times_s: np.ndarray) -> np.ndarray:
    """Which strokes are grace notes of a louder one just after them, bool ``(strokes,)``."""
    power = power_by_frame(recording.samples, recording.rate_hz, _LEVEL_STEP_S)
    first = np.round(times_s / _LEVEL_STEP_S).astype(int)
    until = np.minimum(np.append(first[1:], len(power)), first + round(_LEVEL_S / _LEVEL_STEP_S))
    level = [
        10.0 * np.log10(power[start : max(end, start + 1)].max(initial=1e-12))
        for start, end in zip(first, until, strict=True)
    ]
    grace = np.zeros(len(times_s), dtype=bool)
    main = level[-1] if level else 0.0
    for stroke in range(len(times_s) - 2, -1, -1):
        near = times_s[stroke + 1] - times_s[stroke] < GRACE_S
        grace[stroke] = near and level[stroke] < main - GRACE_DB
        main = main if grace[stroke] else level[stroke]
    return grace


def _heard_stroke(
    note: int, stroke: int, probability: float, times_s: np.ndarray, power: np.ndarray
) -> HeardNote:
    """The figures of one matched stroke."""
    onset_s = float(times_s[stroke])
    following = float(times_s[stroke + 1]) if stroke + 1 < len(times_s) else onset_s + STROKE_S
    offset_s = min(onset_s + STROKE_S, following)
    first = int(onset_s / HOP_S)
    frames = power[first : max(int(offset_s / HOP_S), first + 1)]
    return HeardNote(
        index=note,
        outcome="played",
        onset_s=onset_s,
        offset_s=offset_s,
        probability=probability,
        loudness_lkfs=loudness_lkfs(frames),
    )


def _with_pitch(
    note: HeardNote, stroke: int, midi: float, ringing: Ringing | None
) -> HeardNote:
    """The same stroke as another pitch, to the semitone, where it clearly is one.

    How far a struck note is off in cents is not read: a stroke rings too shortly.
    """
    if ringing is None or not ringing.is_other(stroke, midi):
        return note
    return replace(note, outcome="other_pitch", midi_heard=ringing.heard(stroke))


def _explained(strengths: np.ndarray, path: StrokePath, line: WrittenLine) -> float:
    """Share of clear strokes that are matched or lie inside a rolled note, 0..1."""
    clear = strengths >= ADDED_STRENGTH
    on_part = path.rolled(line, len(strengths))
    on_part[[stroke for _, stroke, _ in path.matches]] = True
    return float((clear & on_part).sum() / max(clear.sum(), 1))


def _extra(
    times_s: np.ndarray,
    strengths: np.ndarray,
    used: set[int],
    path: StrokePath,
    line: WrittenLine,
    ringing: Ringing | None,
) -> tuple[AddedSound, ...]:
    """Clear strokes between the first and the last match that nobody wrote; rolls left out."""
    if not path.matches:
        return ()
    owner = {stroke: note for note, stroke, _ in path.matches}
    found, current, since_s = [], path.matches[0][0], 0.0
    for stroke in range(path.matches[0][1], path.matches[-1][1]):
        if stroke in owner:
            current, since_s = owner[stroke], float(times_s[stroke])
        rolled = line.tremolo[current] or (
            current > 0 and line.tremolo[current - 1] and times_s[stroke] < since_s + ROLL_END_S
        )
        if stroke in used or strengths[stroke] < ADDED_STRENGTH or rolled:
            continue
        onset_s = float(times_s[stroke])
        midi = ringing.heard(stroke) if ringing is not None else None
        found.append(AddedSound(onset_s, onset_s + STROKE_S, midi))
    return tuple(found)
