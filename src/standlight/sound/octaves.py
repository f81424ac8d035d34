"""Is it the written octave? By which harmonics sound, for every note that has the right name.

Autocorrelation cannot tell a tone from the one an octave above it (every period of the
higher is also one of the lower when doubled), and the written range, which decides
elsewhere, is just what an octave slip leaves. The spectrum can: without its odd harmonics a
tone is the octave above; with sound half-way between its harmonics it is the octave below.
Where every third harmonic sounds alone it is the twelfth: a clarinet overblown.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple, replace

import numpy as np

from standlight.music import hz_of_midi
from standlight.sound.harmonics import MOST_PEAK_DB, HarmonicLevels, Spectra, within
from standlight.sound.values import HeardNote

UP_ODDS = (-3.94, -0.218, 0.106, -0.209, -0.082, 1.09, -8.18)
DOWN_ODDS = (-2.71, 0.231, -0.069, 0.236, 0.145, 2.48)
"""Log odds that a note is an octave above, or below: a constant, and so much for each of the signs
of `_signs_above` and `_signs_below`, decibels and where the pitch track lies an octave off. What
counts is how a note's harmonics differ from those of this player's notes near this pitch: a
bassoon's F sharp and a saxophone's low F have hardly any odd ones, and so has each of them in the
take, while a slip stands alone. Logistic regression on eight development seeds of 144 made takes
(``benchmarks/octave_odds.py``); half a point is added to both, since half of what lies there is
true. Each seed told by the seven others: 1,615 of 1,684 slips, and 32 that are none."""

LEAST_BETWEEN_DB = 8.0
"""Half-way harmonics of an octave below stand out at least so far (the same takes: one slip of
573 lost, 4 of 16 false ones gone)."""

APART_DB = (-30.0, 40.0)
ODD_APART_DB = (-30.0, 15.0)
MOST_BETWEEN_DB = (-30.0, 25.0)
"""Beyond these nothing more is told."""

NEAR_SEMITONES, USUAL_NOTES = 1.0, 1.5
"""Notes so near in pitch tell what is usual there; the middle of the whole take counts as so many
of them."""

OVERTONES = (7.02, 15.86)
"""How far above a written note the third and the fifth harmonic of the octave below lie: a pitch
track that is kept from so low a pitch may follow one of them."""

UNSEEN_LONG_S, UNSEEN_PEAK_DB = 0.15, 10.0
"""What sounds so long at the place of a note without a pitch must at least have harmonics that
stand out so far, or the note is missing."""

FAR_SEMITONES = 13.0
"""Nobody plays so far from the written note, but for octaves: the tracker follows a hum."""

SAME_SEMITONES = 0.7
"""A sound counts as the written note's name within this of it or its octaves."""

HOLLOW_PEAK_DB, HOLLOW_ODD_DB = 12.0, -28.0
"""A take followed an octave above its part sounds as written where the odd harmonics of the written
pitch stand out so far in the middle note, and hold so much of its sound: phones leave low strings
and tubas without their fundamental. Of 144 takes played an octave up (seed 4001) none has both.
None of its 288 others was followed so; the one that was seen, a double bass of 4301 on its lowest
string, has 19 and -18."""

TWELFTH, LEAST_THIRDS_DB = 12.0 * float(np.log2(3.0)), 24.0
"""The third harmonic above a note, semitones; and how far every third harmonic stands above the
rest where that is what sounds: of 4,392 notes played as written (seed 4501) the most is 18.8."""

EMPTY_PEAK_DB, EMPTY_ODD_DB = 8.0, -8.0
"""A wrong note whose odd harmonics stand out less than this, and are so far under the even ones, is
its own octave: of 611 wrong notes told on three seeds (4201, 4501, 4801) five were told an octave
too low; three of them have this, and none of the others."""


def sounds_as_written(levels: Sequence[HarmonicLevels]) -> bool:
    """True where notes that were followed an octave above the written ones sound as written.

    ``levels`` are those at the written pitches.

    >>> hollow = HarmonicLevels(-18.0, -35.0, 19.0, -3.0, 30.0, 14.0, -5.0)
    >>> sounds_as_written([hollow] * 3), sounds_as_written([])
    (True, False)
    """
    if not levels:
        return False
    stands_out_db = float(np.median([level.odd_peak_db for level in levels]))
    share_db = float(np.median([level.odd_db for level in levels]))
    return stands_out_db >= HOLLOW_PEAK_DB and share_db >= HOLLOW_ODD_DB


def with_octaves(
    heard: Sequence[HeardNote], spectra: Spectra, written: np.ndarray, a4_offset: float
) -> list[HeardNote]:
    """``heard`` with the octave of each note that has the written name decided by harmonics.

    A wrong note of another name is told an octave higher where only even harmonics of it sound.
    ``written`` are the pitches that the notes should sound at by index, the take's shift and
    tuning in them, ``a4_offset`` what ``midi_heard`` leaves out (both in semitones).
    """
    folded = [_folded(note, written, a4_offset) for note in heard]
    levels = [
        spectra.levels(note.onset_s, note.offset_s, float(hz_of_midi(midi)))
        if midi is not None and note.onset_s is not None and note.offset_s is not None
        else None
        for note, midi in zip(heard, folded, strict=True)
    ]
    places = np.array([at for at, level in enumerate(levels) if level is not None], dtype=int)
    table = np.array([astuple(levels[at]) for at in places])
    pitches = np.array([written[heard[at].index] for at in places])
    decided = []
    for place, (note, midi, level) in enumerate(zip(heard, folded, levels, strict=True)):
        if midi is None:
            decided.append(_raised(_plain(note, written, a4_offset), spectra, a4_offset))
            continue
        if level is None:
            decided.append(_plain(note, written, a4_offset))
            continue
        apart = np.abs(pitches - written[note.index])
        usual = _usual(table[places != place], apart[places != place], level)
        octave = _octave(note, midi - a4_offset, level, usual)
        if _is_twelfth(note, spectra, float(hz_of_midi(midi))):
            decided.append(_sounding_at(note, midi - a4_offset + TWELFTH))
        elif not octave and _no_tone(note, level):
            decided.append(HeardNote(note.index, "missing", probability=note.probability))
        elif not octave and _overtone(note, written, a4_offset):
            decided.append(_plain(note, written, a4_offset))
        else:
            decided.append(_at(note, midi - a4_offset, octave))
    return decided


def _raised(note: HeardNote, spectra: Spectra, a4_offset: float) -> HeardNote:
    """A wrong ``note`` of another name, an octave higher where only the even harmonics sound."""
    if note.outcome != "other_pitch" or note.midi_heard is None:
        return note
    hz = float(hz_of_midi(note.midi_heard + a4_offset))
    level = spectra.levels(note.onset_s, note.offset_s, hz)
    if level is None or level.odd_peak_db >= EMPTY_PEAK_DB or level.odd_db >= EMPTY_ODD_DB:
        return note
    return replace(note, midi_heard=note.midi_heard + 12.0)


def _is_twelfth(note: HeardNote, spectra: Spectra, hz: float) -> bool:
    """True where only every third harmonic of ``hz`` sounds in ``note``."""
    thirds_db = spectra.thirds_db(note.onset_s, note.offset_s, hz)
    return thirds_db is not None and thirds_db >= LEAST_THIRDS_DB


def _usual(others: np.ndarray, apart: np.ndarray, level: HarmonicLevels) -> HarmonicLevels:
    """What the take's ``others`` have near a note of ``level``, which is its own without any.

    ``others`` are their levels in the order of `HarmonicLevels`, ``(notes, 4)``, ``apart`` how
    many semitones they are away.
    """
    if not len(others):
        return level
    near = others[apart <= NEAR_SEMITONES]
    total = near.sum(axis=0) + USUAL_NOTES * np.median(others, axis=0)
    return HarmonicLevels(*(total / (len(near) + USUAL_NOTES)).tolist())


def _no_tone(note: HeardNote, level: HarmonicLevels) -> bool:
    """True where no pitch was seen and no harmonics stand out: a breath, a knock, a chair."""
    if note.midi_heard is not None or note.offset_s - note.onset_s < UNSEEN_LONG_S:
        return False
    return level.odd_peak_db < UNSEEN_PEAK_DB


def _octave(
    note: HeardNote, midi: float, level: HarmonicLevels, usual: HarmonicLevels
) -> int:
    """1 for a note that sounds an octave above the written ``midi``, -1 below, 0 as written."""
    seen = 0.0 if note.midi_heard is None else (note.midi_heard - midi) / 12.0
    up = down = -np.inf
    if note.midi_heard is not None:  # without a pitch there may be no tone, and no odd harmonics
        up = float(np.dot(UP_ODDS, _signs_above(level, usual, seen)))
    if level.between_peak_db >= LEAST_BETWEEN_DB:
        down = float(np.dot(DOWN_ODDS, _signs_below(level, usual, seen)))
    if max(up, down) <= 0.0:
        return 0
    return 1 if up > down else -1


def _signs_above(level: HarmonicLevels, usual: HarmonicLevels, seen: float) -> tuple[float, ...]:
    """What `UP_ODDS` weighs; ``seen`` is where the pitch track lies, in octaves from ``level``."""
    return (
        1.0,
        min(level.odd_peak_db, MOST_PEAK_DB),
        min(level.even_peak_db, MOST_PEAK_DB),
        within(level.odd_db - usual.odd_db, ODD_APART_DB),
        within(level.odd_least_db - usual.odd_least_db, APART_DB),
        float(seen > 0.5),
        float(seen < -0.5),
    )


def _signs_below(level: HarmonicLevels, usual: HarmonicLevels, seen: float) -> tuple[float, ...]:
    """What `DOWN_ODDS` weighs."""
    return (
        1.0,
        within(level.between_db, MOST_BETWEEN_DB),
        min(level.odd_least_db, MOST_PEAK_DB),
        within(level.between_peak_db - usual.between_peak_db, APART_DB),
        within(level.between_least_db - usual.between_least_db, APART_DB),
        float(seen < -0.5),
    )


def _folded(note: HeardNote, written: np.ndarray, a4_offset: float) -> float | None:
    """The heard pitch brought to the written octave, the written one where none was seen.

    None for any other note.
    """
    if note.midi_heard is None:
        return float(written[note.index]) if note.outcome == "played" else None
    apart = note.midi_heard + a4_offset - written[note.index]
    if _overtone(note, written, a4_offset):
        return float(written[note.index])
    octaves = round(apart / 12.0)
    if abs(octaves) > 1 or abs(apart - 12.0 * octaves) > SAME_SEMITONES:
        return None
    return note.midi_heard + a4_offset - 12.0 * octaves


def _overtone(note: HeardNote, written: np.ndarray, a4_offset: float) -> bool:
    """True for a note heard where an overtone of the octave below the written one lies."""
    if note.outcome != "other_pitch" or note.midi_heard is None:
        return False
    apart = note.midi_heard + a4_offset - written[note.index]
    return any(abs(apart - overtone) <= SAME_SEMITONES for overtone in OVERTONES)


def _plain(note: HeardNote, written: np.ndarray, a4_offset: float) -> HeardNote:
    """``note`` as it is; missing where it lies so far off that only an overtone explained it."""
    if not _overtone(note, written, a4_offset):
        return note
    if note.midi_heard + a4_offset - written[note.index] <= FAR_SEMITONES:
        return note
    return HeardNote(note.index, "missing", probability=note.probability)


def _at(note: HeardNote, midi: float, octaves: int) -> HeardNote:
    """``note`` at ``octaves`` from the written one (``midi``); in that octave it is played."""
    if not octaves:
        known = note.deviation_cents is not None
        return replace(note, outcome="played", midi_heard=midi) if known else note
    return _sounding_at(note, midi + 12.0 * octaves)


def _sounding_at(note: HeardNote, midi: float) -> HeardNote:
    """``note`` told at ``midi``, which is not the written one."""
    return replace(
        note, outcome="other_pitch", midi_heard=midi, deviation_cents=None, deviation_se_cents=None
    )
