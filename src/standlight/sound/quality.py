"""Can this recording be read at all? Verdicts on the recording, in a musician's words.

A verdict that makes readings guesses is `FATAL`; the others stand beside the readings.
The limits are those of the house's trials on bad takes (design notes; synthetic takes in
docs/method.md), each a named constant.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standlight.music import STANDARD_A4_HZ
from standlight.sound.background import background_db, noise_in_notes_db
from standlight.sound.company import COMPANY_FROM, company
from standlight.sound.elsewhere import clear_tone_share
from standlight.sound.ending import (
    ending_of,
    is_cut_off,
    is_stopped_early,
    level_under_loud_db,
    starts_in_sound,
)
from standlight.sound.loudness import integrated_lkfs, k_power
from standlight.sound.order import found_count, is_in_rhythm, is_other_piece
from standlight.sound.spectrum import power_by_frame
from standlight.sound.tampering import (
    LESS_ERRORS,
    TELEPHONE_RATE_HZ,
    USUAL_SHARES,
    holes,
    is_suppressed,
)
from standlight.sound.values import HOP_S, Performance, Recording


@dataclass(frozen=True, slots=True)
class Verdict:
    """One judgement on the recording itself: machine ``code`` and a plain sentence."""

    code: str
    sentence: str


FATAL = frozenset(
    {"unreadable", "unreadable_notation", "silence", "too_short", "too_noisy", "other_piece"}
)
"""Codes with which no reading is given."""

SILENT_LKFS = -60.0
"""A whole take softer than this is silence (phones record speech at -40 to -20)."""

FAR_BELOW_DB = 49.0
"""A background so far under the loud moments harms no reading, whatever a codec made of it: two
real songs from a studio, 49.3 and 50.9 dB, have as many holes in it as any phone makes. Of 400
strongly processed made takes (seeds 3301, 3501) 6 lie beyond and are not told, and 8 in the
decibel before."""

SILENT_VOICED_SHARE = 0.10
"""Pitched sound for less than this share of the part's time is silence (trials)."""

CLEAR_SHARE = 0.5
"""Who plays another part far away has clear tones in so much of the recording (made takes: 0.69 and
more; 0.33 at most where a part lies under noise)."""

SHORTEST_S = 0.5
"""Shorter recordings hold no passage."""

CLIPPED_PEAK, CLIPPED_TOP, CLIPPED_SHARE = 0.89, 0.80, 0.02
"""Peak above -1 dBFS (trials), and over 2 percent of all samples above four fifths of it. A lossy
codec blurs the rail, so that a pile at the very top is no sure sign: on made takes of two
development seeds clipped ones had 4 to 57 percent up there after the codec, clean ones 1.0."""

CLIPPED_PILE, LEAST_PILE = 0.6, 0.4
"""As dense up there as three fifths of what lies between half and seven tenths; two fifths will do
where notes share a ceiling. Clipped takes had 0.43 and more."""

CEILING_FRAME_S, CEILING, CEILING_SHARE = 0.020, 0.90, 0.15
"""So many stretches of 20 ms come equally near to one ceiling, whatever note they are in: 13
percent at most of clean takes, 27 and more of clipped ones but for those that are soft at times."""

NOISY_DB_PAIRS = ((19.5, -10.5), (13.0, -17.0), (25.0, -8.0))
"""Level above the background, and noise inside the notes: noisy when both say so, by any pair.
On made takes of three development seeds the 80 noisy ones have 4 to 21 and -8.7 to -1; of 150
clean ones under 25 dB none has more than -10.3, under 19.5 none more than -12.2 (gain control
raises the gaps, but not what is inside the notes; voices in the next room leave gaps). Of 160
clean ones of seeds 1600 and 2601 none is under 14.8, so under 13 less is asked inside."""

NOISY_CONFIDENCE = 0.90
"""Unsteady periods, where too few notes can be looked at."""

UNREADABLE_STROKES_DB = 12.0
"""Strokes that fit no better than chance, so little above the background, are lost in it. With
noise added to made takes (seed 1500) those that fit were read right down to 6 dB, those that
did not were not, from 11 dB on."""

TOO_NOISY_DB, TOO_NOISY_CONFIDENCE = 11.0, 0.82
"""Noise at 5 dB gave 0.77 to 0.81: there pitch and ends of notes become guesses."""

NOTHING_MOVES_DB, ROOM_CONFIDENCE = 5.0, 0.93
"""So little between loud and quiet moments, without a steady period, is a room and no music."""

ROOM_LKFS = -38.0
"""What never moves is a silent room below this (a gain control lifts rooms to -40), else noise."""

UNHEARD_SHARE, FITTING_SHARE = 0.35, 0.9
"""Where notes are heard in so little of a take's time, and nearly all that has a pitch is on the
part, it is no other piece but one that cannot be heard (our choice; docs/method.md)."""

_KEYS = {12: "an octave higher", -12: "an octave lower", 24: "two octaves higher",
         -24: "two octaves lower"}  # fmt: skip


def verdicts_on_sound(recording: Recording) -> tuple[Verdict, ...]:
    """What the sound alone tells: too short, silence, clipping, damage, a picture dropped."""
    found = []
    if recording.picture_dropped:
        found.append(Verdict("picture_dropped", "This is a video: only its sound was used."))
    if recording.damaged:
        found.append(
            Verdict("damaged", "The file is damaged: only the part that could be read was used.")
        )
    if recording.seconds < SHORTEST_S:
        found.append(
            Verdict(
                "too_short",
                f"The recording lasts only {recording.seconds:.1f} seconds: stopped at once?",
            )
        )
        return tuple(found)
    loudness = integrated_lkfs(k_power(recording))
    if loudness is None or loudness < SILENT_LKFS:
        found.append(_silence())
        return tuple(found)
    if is_clipped(recording):
        found.append(
            Verdict(
                "clipped",
                "The recording is overloaded: move the microphone away or turn it down. "
                "Loudness is not read.",
            )
        )
    found.extend(_worked_on(recording))
    return tuple(found)


def _worked_on(recording: Recording) -> list[Verdict]:
    """Cautions on what a telephone line or the phone's own processing did; readings stand."""
    found = []
    if recording.rate_hz < TELEPHONE_RATE_HZ:
        found.append(
            Verdict(
                "narrow_band",
                f"This has a telephone's sound (up to {recording.rate_hz / 2000:.0f} kHz): "
                "tone cannot be judged, and soft starts are less sure.",
            )
        )
    shares = holes(recording, less_errors=LESS_ERRORS)
    if is_suppressed(shares) and background_db(recording) < FAR_BELOW_DB:
        found.append(
            Verdict(
                "processed",
                "The phone, or what made this file, has worked on the sound (noise suppression "
                "leaves holes in the background, "
                f"at least {shares[0] / USUAL_SHARES[0]:.1f} times as many as usual): loudness and "
                "soft ends of notes are less sure. Turn such processing off, if you can.",
            )
        )
    return found


def _silence() -> Verdict:
    """The verdict on a take in which hardly anything sounds."""
    return Verdict("silence", "We could hardly hear anything: is the microphone covered?")


def is_clipped(recording: Recording) -> bool:
    """True when samples pile up near the ceiling, also after a phone's compression."""
    size = np.abs(recording.samples)
    peak = float(size.max(initial=0.0))
    if peak < CLIPPED_PEAK:
        return False
    top = float(np.mean(size > CLIPPED_TOP * peak))
    middle = float(np.mean((size > 0.5 * peak) & (size <= 0.7 * peak)))
    pile = (top / (1.0 - CLIPPED_TOP)) / max(middle / 0.2, 1e-9)
    if top <= CLIPPED_SHARE or pile <= LEAST_PILE:
        return False
    return pile > CLIPPED_PILE or ceiling_share(recording) > CEILING_SHARE


def ceiling_share(recording: Recording) -> float:
    """Share of frames of 20 ms that peak within a tenth of the highest (99th percentile), 0..1."""
    width = int(CEILING_FRAME_S * recording.rate_hz)
    count = len(recording.samples) // width
    if not count:
        return 0.0
    peaks = np.abs(recording.samples[: count * width]).reshape(count, width).max(axis=1)
    return float(np.mean(peaks > CEILING * np.percentile(peaks, 99)))


def first_sound_s(recording: Recording) -> float:
    """Seconds to the first sound within 30 dB of the loud ones that lasts; 0.0 if none."""
    power = power_by_frame(recording.samples, recording.rate_hz, HOP_S)
    level = 10.0 * np.log10(np.maximum(power, 1e-12))
    loud = level > max(float(np.percentile(level, 95)) - 30.0, -65.0)
    lasting = np.convolve(loud, np.ones(5), mode="full")[4:] >= 4
    first = np.flatnonzero(loud & lasting[: len(loud)])
    return float(first[0] * HOP_S) if len(first) else 0.0


def verdicts_on_performance(
    recording: Recording,
    performance: Performance,
    *,
    octave_free: bool,
    a4_hz: float = STANDARD_A4_HZ,
) -> tuple[Verdict, ...]:
    """What following the part adds: nothing heard, noise, other piece, key, cut off, others."""
    if performance.sounding_share < SILENT_VOICED_SHARE:
        return (_hardly_anything(recording),)
    noise = _noise(recording, performance, a4_hz)
    others = _others(recording, performance, a4_hz)
    if noise is not None and noise.code in FATAL:
        return (noise,) if others is None or noise.code == "silence" else (noise, others)
    edges = _edges(recording, performance, noisy=noise is not None)
    if is_other_piece(performance):
        if _is_mostly_unheard(recording, performance):
            return (_mostly_unheard(performance),)
        return (_other_piece(performance), *(edge for edge in edges if edge.code == "cut_off"))
    found = [
        noise,
        _shift(performance, octave_free),
        *edges,
        others,
    ]
    return tuple(verdict for verdict in found if verdict is not None)


def _hardly_anything(recording: Recording) -> Verdict:
    """The verdict on a take in which hardly anything sounds near the part.

    Tones elsewhere, only noise, or silence.
    """
    if clear_tone_share(recording) >= CLEAR_SHARE:
        return Verdict(
            "other_piece",
            "Tones can be heard, but hardly any near the written notes: is this another piece, "
            "part or place?",
        )
    loudness = integrated_lkfs(k_power(recording))
    if loudness is not None and loudness > ROOM_LKFS:
        return Verdict("too_noisy", "There is noise in this take, but hardly a tone can be heard.")
    return _silence()


def _is_mostly_unheard(recording: Recording, performance: Performance) -> bool:
    """True when little is heard, that is the part, and there is noise for the rest to lie under."""
    told = (*performance.notes, *performance.attempts, *performance.added)
    heard_s = sum(one.offset_s - one.onset_s for one in told if one.offset_s is not None)
    return (
        not performance.struck
        and heard_s < UNHEARD_SHARE * performance.seconds
        and performance.explained_share >= FITTING_SHARE
        and background_db(recording) < NOISY_DB_PAIRS[-1][0]
    )


def _mostly_unheard(performance: Performance) -> Verdict:
    """The verdict on a take most of which is too soft for its room."""
    played = found_count(performance)
    return Verdict(
        "too_noisy",
        f"Only {played} of the {len(performance.notes)} written notes stand out of the noise in "
        "this take: play closer to the device, or in a quieter room.",
    )


def _other_piece(performance: Performance) -> Verdict:
    """The verdict on a take of something else, with what was found."""
    played = found_count(performance)
    found = f"{played} of the {len(performance.notes)} written notes"
    said = f"{found} were found, with too many others between them"
    if 2 * played < len(performance.notes):
        said = f"Only {found} could be found"
    if not played:
        said = f"None of the {len(performance.notes)} written notes could be found"
    return Verdict("other_piece", f"{said}: is this another piece, part or place?")


def _others(recording: Recording, performance: Performance, a4_hz: float) -> Verdict | None:
    """The verdict on somebody or something else that sounds beside the part."""
    if performance.struck:
        return None
    if company(recording, performance, a4_hz) < COMPANY_FROM:
        return None
    foreign = 100.0 * (1.0 - performance.within_explained_share)
    return Verdict(
        "other_sounds",
        "Other sounds are in this recording beside the part "
        f"({foreign:.0f} percent of what has a pitch): readings are less sure.",
    )


def _noise(recording: Recording, performance: Performance, a4_hz: float) -> Verdict | None:
    """The verdict on noise, if any; of strokes the background tells, and their rhythm."""
    above = background_db(recording)
    confidence = performance.median_confidence
    stands = f"the music stands {above:.0f} decibel above it"
    if confidence is None:
        sunk = above < UNREADABLE_STROKES_DB and not is_in_rhythm(performance)
        moves = above >= NOTHING_MOVES_DB or not sunk
    else:
        sunk = above < TOO_NOISY_DB and confidence < TOO_NOISY_CONFIDENCE
        moves = above >= NOTHING_MOVES_DB or confidence >= ROOM_CONFIDENCE
    if not moves:
        return _hardly_anything(recording)
    if sunk:
        return Verdict(
            "too_noisy",
            f"There is too much noise to read this take ({stands}): find a quiet room.",
        )
    if _is_noisy(recording, performance, above, a4_hz):
        return Verdict(
            "noisy", f"There is noise in this recording ({stands}): readings are less sure."
        )
    return None


def _is_noisy(
    recording: Recording, performance: Performance, above_db: float, a4_hz: float
) -> bool:
    """True when the gaps and the notes are full of noise; of strokes only the gaps tell."""
    above, below = NOISY_DB_PAIRS[0][0], NOISY_DB_PAIRS[-1][0]
    if performance.median_confidence is None or above_db >= below:
        return above_db < above
    inside_db = noise_in_notes_db(recording, performance, a4_hz)
    if inside_db is None:
        return above_db < above and performance.median_confidence < NOISY_CONFIDENCE
    return any(above_db < gaps and inside_db > notes for gaps, notes in NOISY_DB_PAIRS)


def _shift(performance: Performance, octave_free: bool) -> Verdict | None:
    """The verdict on a take that sounds in another octave or key."""
    shift = performance.shift_semitones
    if not shift or (octave_free and shift % 12 == 0):
        return None
    if shift % 12 == 0:
        return Verdict("octave", f"The take sounds {_KEYS[shift]} than written.")
    way = "higher" if shift > 0 else "lower"
    return Verdict(
        "transposed",
        f"The whole take sounds {abs(shift)} semitone{'s' * (abs(shift) > 1)} {way} than written: "
        "another instrument's part, or another key?",
    )


def _edges(recording: Recording, performance: Performance, *, noisy: bool) -> list[Verdict]:
    """Verdicts on a take whose start or end is missing; noise at the edge alone is neither."""
    heard = [note for note in performance.notes if note.onset_s is not None]
    if not heard:
        return []
    found = []
    level_db, ending = level_under_loud_db(recording), ending_of(performance)
    if is_cut_off(level_db, performance, ending.missing) and (ending.is_early or not noisy):
        found.append(Verdict("cut_off", _cut_off_words(ending.missing)))
    elif (
        heard[0].index < ending.first_missing
        and is_stopped_early(level_db, performance, ending)
    ):
        last = max(note.index for note in heard if note.index < ending.first_missing)
        measure = _printed(performance, performance.passage.notes[last].measure)
        found.append(Verdict("stopped_early", f"The playing ends in measure {measure}."))
    if heard[0].index > 0 and not noisy and starts_in_sound(level_db):
        found.append(Verdict("cut_off_start", "The recording starts after the music began."))
    return found


def _cut_off_words(missing: int) -> str:
    """The recording ends in the middle of a sound; how much of the part is then missing."""
    left = f"; {missing} note{'s' * (missing > 1)} of the part are missing" if missing else ""
    left = left.replace("note of the part are", "note of the part is")
    return f"The recording ends while the music still sounds{left}."


def _printed(performance: Performance, measure: int) -> str:
    """The printed number of a measure, or its count from 1 where nothing is printed."""
    measures = performance.passage.measures
    return measures[measure].printed if measure < len(measures) else str(measure + 1)
