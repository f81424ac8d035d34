"""The figures of one heard note: where it ends, how high it is and how surely, how loud."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from standlight.music import hz_of_midi
from standlight.sound.evidence import frame_weight as weight_of
from standlight.sound.following import ADDED, CLEAR_ONSET, OTHER, WRITTEN
from standlight.sound.harmonics import Spectra
from standlight.sound.loudness import k_power, loudness_lkfs
from standlight.sound.octaves import FAR_SEMITONES, OVERTONES
from standlight.sound.pitch import PitchCandidates, strong_near
from standlight.sound.rearticulation import odds_near
from standlight.sound.settling import Sounding
from standlight.sound.tails import is_tail
from standlight.sound.values import HOP_S, HeardNote, PitchTrack, Recording
from standlight.sound.written import WrittenLine

OTHER_PITCH_SEMITONES = 0.7
"""From here on (tuning removed) a sound is another pitch. mir_eval's match tolerance is 0.5;
more, because single notes spread around the take's tuning: on made takes right notes lie up to
0.65 off, wrong ones 0.8 and more."""

OTHER_FRAMES = 7
"""Another pitch is told from so many frames of it on (70 ms): less is a tracker finding its way."""

SILENT_SHARE = 0.20
"""A note that sounds for less of its written time than this is missing."""

OFFSET_DB = -20.0
"""A note ends where it has fallen this far below its loudest (common practice, no source)."""

GONE_FRAMES, ATTACK_FRAMES = 10, 2
"""What comes after so many softer frames is another sound, a bump or a gain control that opens; so
few loud ones at the very end are the next note's attack (the hundredth of the notes of 72 made
takes whose ends are farthest off are off by 254 ms and more, 287 before)."""

EDGE_SHARE, EDGE_START_S, EDGE_END_S = 0.20, 0.050, 0.030
"""What is left out of a note before its steady middle is measured: attack and release."""

WAVE_S = 0.18
"""Notes of twice this length are averaged over it before the median is taken: about one wave of
a vibrato, so that the part of a wave at the end does not move the middle (made takes of seeds
1600 and 1700: notes of half a second and more 0.70 cents off, before 0.88)."""

TRACKER_SE_CENTS = 1.0
"""What the tracker itself adds to a note's standard error (median 1.35 cents in trials)."""


SHORT_SE_CENTS, SHORT_NOTE_S = 1.5, 0.25
"""What short notes add: in a quarter second so much, more the shorter (room and edges; set on
made takes of seeds 1500 and 1510 so that 95 of 100 intervals hold the truth at each length)."""

UNCLEAR_DB, UNCLEAR_SHARE, UNCLEAR_PROBABILITY = -12.0, 0.35, 0.4
"""A quick note whose pitch cannot be seen was played all the same if the place sounds no more
than so far under the loud moments (90th percentile) for such a share of its written time: made
takes have 30 such notes there and 7 that were left out, and softer or shorter 44 left out."""

EVEN_DB, EVEN_SHARE, EVEN_RISE_DB = -6.0, 0.5, 3.0
"""Where the tail of the note before seems to sound on, but so loud, so long and with such a rise,
the odds of a note left out and of one that cannot be made out are even (made takes: 17 to 19):
then it is not told."""

RUN_ON_S = 0.05
"""Two sounds with a longer gap are two."""

ANEW_DB = 6.0
"""A pitch that sounds already starts anew with at least such a rise (made takes)."""

ANEW_ODDS = -1.5
"""Nor does it under these log odds. Of sounds told as added at the pitch of a note beside them
(`benchmarks/swells.py`, seeds 4501 and 4801) six were that note going on, of which four lie below,
and 18 were played, of which four do: those take longer than written, and can still be told as
that. On 5201, heard after: two of three, and one of 16."""

ECHO_DB, ECHO_S = 8.0, 0.30
"""What sounds on so far below the loudest of this time before it is the room: its waves beat, so
that a tail may sink and rise again by ten decibel (seen on made takes in halls and classrooms)."""

TAIL_SHARE, TAIL_SEMITONES = 0.40, 0.5
"""What sounds on at the pitch of the note before, without a new start, is its tail and no other
note; so is a remnant of under this share of a note that the follower heard nothing else in."""

SLIPS, SLIP_SEMITONES, SLIP_PEAK_DB = (-19.02, -12.0, 12.0, 19.02), 0.7, 10.0
"""What is told as added so near to an octave or a twelfth above or below the note beside it is that
note if the odd harmonics of the lower pitch stand out so far, or, below, do not (288 made takes:
four such places without a start between, each the note; a true one has 40 dB; above by a twelfth,
the third harmonic that rings on, four more on seeds 4501, 5901 and 6001, all of them the note)."""


@dataclass(frozen=True, slots=True)
class Tuned:
    """What pitches are measured against: the take's shift (semitones), shift and tuning together,
    the ensemble's A4 against 440 Hz, the local quarter in seconds, and whether octaves are free.
    """

    shift: int
    offset: float
    a4_offset: float
    quarter_s: float
    octave_free: bool


class Frames:
    """Frame signals that a note's figures are read from."""

    def __init__(
        self,
        recording: Recording,
        track: PitchTrack,
        onset: np.ndarray,
        candidates: PitchCandidates,
        level_db: np.ndarray,
        again: np.ndarray,
    ) -> None:
        """Gather pitch, weight, level in decibel and K-weighted power by frame.

        ``again`` are the log odds that a pitch begins again.
        """
        self.spectra, self.candidates = Spectra(recording), candidates
        self.onset, self.again = onset, again
        self.midi, self.weight = track.midi.copy(), weight_of(track)
        self.level_db = level_db
        self.floor_db = float(np.percentile(self.level_db, 5))
        self.loud_db = float(np.percentile(self.level_db, 90))
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
        loudest = int(level[: max(len(level) // 2, 1)].argmax())
        top = level[loudest]
        limit = max(top + OFFSET_DB, min(self.floor_db + 6.0, top - 3.0))
        heard = loudest + np.flatnonzero(level[loudest:] >= limit)
        steps = np.diff(heard)
        gone, breaks = np.flatnonzero(steps > GONE_FRAMES), np.flatnonzero(steps > 1)
        last = heard[gone[0]] if len(gone) else heard[-1]
        if last == len(level) - 1 and len(breaks) and len(steps) - breaks[-1] <= ATTACK_FRAMES:
            last = heard[breaks[-1]]
        return float(min((frames[last] + 1) * HOP_S, until_s))

    def starts(self, onset_s: float) -> bool:
        """True when a pitch that sounds already clearly starts anew near ``onset_s``."""
        return self.begins(onset_s, ANEW_DB)

    def echoes(self, onset_s: float) -> bool:
        """True when what sounds from ``onset_s`` on is much softer than what was before it."""
        at = int(round(onset_s / HOP_S))
        before = self.level_db[max(at - int(ECHO_S / HOP_S), 0) : at]
        after = self.level_db[at : at + int(ECHO_S / HOP_S)]
        return bool(len(before) and len(after)) and float(after.max() - before.max()) < -ECHO_DB

    def above_db(self, start_s: float, end_s: float) -> float:
        """How far the loudest of a stretch lies above the loud moments of the take."""
        return float(self.level_db[self.span(start_s, end_s)].max() - self.loud_db)

    def begins_again(self, onset_s: float) -> float:
        """The highest log odds near ``onset_s`` that the pitch that sounds begins again."""
        return odds_near(self.again, onset_s)

    def begins(self, onset_s: float, least_db: float) -> bool:
        """True when a start with a rise of ``least_db`` is near ``onset_s``."""
        at = int(round(onset_s / HOP_S))
        around = self.onset[max(at - 3, 0) : at + 5]
        if not len(around) or float(around.max()) < CLEAR_ONSET:
            return False
        return self.rise_db(onset_s) >= least_db

    def rise_db(self, onset_s: float) -> float:
        """How far the level rises around ``onset_s``, decibel; none at the very end."""
        at = int(round(onset_s / HOP_S))
        before, after = self.level_db[max(at - 6, 0) : at + 2], self.level_db[at : at + 9]
        return float(after.max() - before.min()) if len(after) and len(before) else -np.inf


def median_se(spread: float, count: float) -> float:
    """Standard error of a median of ``count`` independent values of robust ``spread``."""
    return 1.253 * spread / float(np.sqrt(max(count, 1.0)))


def without_false_starts(soundings: Sequence[Sounding], frames: Frames) -> list[Sounding]:
    """``soundings`` without added sounds that are the start or the rest of a note beside them.

    Such a sound has the note's pitch and no new start between: the note takes its time.
    """
    kept: list[Sounding] = []
    for sounding in soundings:
        before = kept[-1] if kept else None
        if before is None or not _runs_on(before, sounding, frames):
            kept.append(sounding)
        elif sounding.kind == ADDED:
            kept[-1] = replace(before, until_s=sounding.until_s)
        elif before.kind == ADDED:
            kept[-1] = replace(sounding, onset_s=before.onset_s)
        else:
            kept.append(sounding)
    return kept


def _runs_on(before: Sounding, sounding: Sounding, frames: Frames) -> bool:
    """True when ``sounding`` goes on at the pitch of ``before`` and does not start anew."""
    if before.midi is None or sounding.midi is None or sounding.onset_s > before.until_s + RUN_ON_S:
        return False
    apart = abs(before.midi - sounding.midi)
    if ADDED in (before.kind, sounding.kind) and apart < OTHER_PITCH_SEMITONES:
        # a note may lie so far off its written pitch: what was heard counts too
        apart = min(apart, abs(heard_midi(before, frames) - heard_midi(sounding, frames)))
    if apart < TAIL_SEMITONES:
        begins = frames.begins_again(sounding.onset_s) >= ANEW_ODDS
        return not (begins and frames.starts(sounding.onset_s))
    return _is_slip(before, sounding, frames) and not frames.starts(sounding.onset_s)


def heard_midi(sounding: Sounding, frames: Frames) -> float:
    """The middle of the pitches that are heard in a sound; its target where none is."""
    span = frames.span(sounding.onset_s, sounding.until_s)
    heard = frames.midi[span][frames.weight[span] > 0.0]
    return float(np.median(heard)) if len(heard) else float(sounding.midi)


def _is_slip(before: Sounding, sounding: Sounding, frames: Frames) -> bool:
    """True when the added one of both has the other's tone, whose octave or twelfth was tracked.

    The odd harmonics of the lower pitch tell: above the note they must be there, below it not.
    """
    if before.kind == sounding.kind or ADDED not in (before.kind, sounding.kind):
        return False
    added, note = (before, sounding) if before.kind == ADDED else (sounding, before)
    apart = added.midi - note.midi
    if all(abs(apart - slip) >= SLIP_SEMITONES for slip in SLIPS):
        return False
    low_hz = float(hz_of_midi(min(added.midi, note.midi)))
    levels = frames.spectra.levels(added.onset_s, added.until_s, low_hz)
    if levels is None:
        return False
    is_low = levels.odd_peak_db >= SLIP_PEAK_DB
    return is_low if apart > 0.0 else not is_low


def noted(
    soundings: Sequence[Sounding], line: WrittenLine, frames: Frames, tuned: Tuned
) -> list[HeardNote]:
    """The figures of every settled sound that belongs to a written note, in order."""
    heard, own = [], []
    for place, sounding in enumerate(soundings):
        if sounding.kind != ADDED:
            before = soundings[place - 1].midi if place else None
            heard.append(_noted(sounding, before, line, frames, tuned))
            own.append(sounding)
    return _rejoined(_given_back(heard, own, line, frames, tuned), line, frames, tuned)


def _given_back(
    heard: list[HeardNote],
    soundings: Sequence[Sounding],
    line: WrittenLine,
    frames: Frames,
    tuned: Tuned,
) -> list[HeardNote]:
    """``heard`` with a wrong note told as the missing one beside it that has its pitch.

    One note left out explains it then, not one gone wrong and one left out. ``soundings`` are
    those of the notes, one each.
    """
    given = list(heard)
    for place, sounding in enumerate(soundings):
        for step in (-1, 1):
            note, index = given[place], sounding.index + step
            if note.outcome != "other_pitch" or not _is_untold(given, place + step, index, line):
                continue
            target = float(line.midi[index] + tuned.offset)
            if abs(note.midi_heard + tuned.a4_offset - target) > TAIL_SEMITONES:
                continue
            own = replace(sounding, kind=WRITTEN, index=index, midi=target)
            told = _noted(own, None, line, frames, tuned)
            if told.outcome == "played" and told.midi_heard is not None:
                given[place] = told
                if any(one.index == index for one in heard):
                    given[place + step] = HeardNote(
                        note.index, "missing", probability=note.probability
                    )
    return given


def _is_untold(heard: list[HeardNote], place: int, index: int, line: WrittenLine) -> bool:
    """True when note ``index`` is missing at its ``place``, or was left out altogether."""
    if not 0 <= index < len(line):
        return False
    if all(note.index != index for note in heard):
        return True
    there = 0 <= place < len(heard) and heard[place].index == index
    return there and heard[place].outcome == "missing"


def _rejoined(
    heard: list[HeardNote], line: WrittenLine, frames: Frames, tuned: Tuned
) -> list[HeardNote]:
    """Notes cut in two put together: a wrong note that runs on into a right one at its pitch.

    Without a new start between them both are the second note, and the first is missing; but what
    sounds as long as both should is both.
    """
    joined = list(heard)
    for place, (note, after) in enumerate(zip(heard[:-1], heard[1:], strict=True)):
        if note.outcome != "other_pitch" or after.outcome != "played" or after.midi_heard is None:
            continue
        same = abs(note.midi_heard - after.midi_heard) < TAIL_SEMITONES
        near = after.onset_s - note.offset_s < RUN_ON_S
        if not same or not near or after.index != note.index + 1 or frames.starts(after.onset_s):
            continue
        if not _lasts_as_both(note, after, line, tuned.quarter_s):
            joined[place] = HeardNote(note.index, "missing", probability=note.probability)
            joined[place + 1] = replace(after, onset_s=note.onset_s)
    return joined


def _lasts_as_both(
    note: HeardNote, after: HeardNote, line: WrittenLine, quarter_s: float
) -> bool:
    """True where the sound from ``note`` to the end of ``after`` is nearer to both their lengths.

    Than to that of ``after`` alone, by their ratios, the rest after it counted in: notes before
    rests are held. Never where the next note has the same pitch: that may be what sounds.
    """
    if after.index + 1 < len(line) and line.midi[after.index + 1] == line.midi[after.index]:
        return False
    first, second = line.step_quarters[[note.index, after.index]]
    return bool(after.offset_s - note.onset_s > quarter_s * np.sqrt(second * (first + second)))


def _noted(
    sounding: Sounding, before: float | None, line: WrittenLine, frames: Frames, tuned: Tuned
) -> HeardNote:
    """The figures of one settled note; ``before`` is the pitch that sounded last.

    A note an octave off has a deviation too, from its octave: harmonics decide later.
    """
    index = sounding.index
    end_s = frames.end_of(sounding.onset_s, sounding.until_s)
    span = frames.span(sounding.onset_s, end_s)
    sure = frames.weight[span] > 0.2
    written_s = line.sounding_quarters[index] * tuned.quarter_s
    sounds_s = float(sure.sum()) * HOP_S
    unseen = HeardNote(index, "missing", probability=1.0 - float(sure.mean()))
    if _sounds_unclear(sounding, end_s, written_s, frames):
        unseen = HeardNote(
            index, "played", sounding.onset_s, end_s, probability=UNCLEAR_PROBABILITY,
            loudness_lkfs=loudness_lkfs(frames.k_power[span]),
        )  # fmt: skip
    if sounds_s < SILENT_SHARE * written_s or sure.sum() < 2:
        return unseen
    target = line.midi[index] + tuned.offset
    midi, se_semitones = _steady_pitch(span, sure, frames, target)
    if midi < target - OTHER_PITCH_SEMITONES:
        strong, peak = strong_near(frames.candidates, span, target, OTHER_PITCH_SEMITONES)
        if strong[sure].mean() >= 0.5:
            frames.midi[span[strong]] = peak[strong]
            midi, se_semitones = _steady_pitch(span, sure & strong, frames, target)
    octave = 12.0 * round((midi - target) / 12.0)
    named = abs(midi - target - octave) <= OTHER_PITCH_SEMITONES
    played = named and (octave == 0.0 or tuned.octave_free)
    overtone = any(abs(midi - target - one) <= OTHER_PITCH_SEMITONES for one in OVERTONES)
    if abs(midi - target) > FAR_SEMITONES and not (named or overtone and not tuned.octave_free):
        return unseen  # the octave's harmonics decide about an overtone
    if not played and _is_left_over(sounding, before, midi, sounds_s / written_s, frames):
        return unseen
    near = np.abs(frames.midi[span][sure] - midi) < OTHER_PITCH_SEMITONES
    if not named and near.sum() < OTHER_FRAMES:
        return unseen
    written_now = line.midi[index] + tuned.shift + octave + tuned.a4_offset
    return HeardNote(
        index=index,
        outcome="played" if played else "other_pitch",
        onset_s=sounding.onset_s,
        offset_s=end_s,
        midi_heard=midi - tuned.a4_offset,
        deviation_cents=100.0 * (midi - written_now) if named else None,
        deviation_se_cents=100.0 * se_semitones if named else None,
        probability=float(near.mean() * np.mean(frames.weight[span][sure])),
        loudness_lkfs=loudness_lkfs(frames.k_power[span]),
    )


def _sounds_unclear(
    sounding: Sounding, end_s: float, written_s: float, frames: Frames
) -> bool:
    """True when something as loud as the music sounds where the note belongs, long enough.

    Where the follower heard another pitch, it must be louder and begin there by itself.
    """
    share = (sounding.until_s - sounding.onset_s) / written_s
    above_db = frames.above_db(sounding.onset_s, end_s)
    if sounding.kind == WRITTEN:
        return bool(share >= UNCLEAR_SHARE and above_db > UNCLEAR_DB)
    begins = frames.begins(sounding.onset_s, EVEN_RISE_DB)
    return bool(begins and share >= EVEN_SHARE and above_db > EVEN_DB)


def _is_left_over(
    sounding: Sounding, before: float | None, midi: float, share: float, frames: Frames
) -> bool:
    """True when what sounds is left over from the note before and nothing new."""
    if sounding.kind != OTHER and share < TAIL_SHARE:
        return True
    if before is None or abs(midi - before) >= TAIL_SEMITONES:
        return False
    between_s = sounding.onset_s, sounding.until_s
    again, above_db = frames.begins_again(sounding.onset_s), frames.above_db(*between_s)
    return is_tail(frames.spectra, between_s, float(hz_of_midi(midi)), again, above_db)


def _averaged(pitch: np.ndarray) -> np.ndarray:
    """``pitch`` as a moving mean over ``WAVE_S``; as it is where the note is too short for it."""
    width = int(round(WAVE_S / HOP_S))
    if len(pitch) < 2 * width:
        return pitch
    return np.convolve(pitch, np.full(width, 1.0 / width), "valid")


def _steady_pitch(
    span: np.ndarray, sure: np.ndarray, frames: Frames, target: float
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
    middle = float(np.median(_averaged(near)))
    spread = 1.4826 * float(np.median(np.abs(near - middle)))
    independent = len(near) * HOP_S / 0.04  # a window of about 40 ms makes neighbours alike
    se = median_se(spread, independent)
    short = (SHORT_NOTE_S / (length * HOP_S)) ** 1.5
    return middle, float(np.hypot(se, (TRACKER_SE_CENTS + SHORT_SE_CENTS * short) / 100.0))


