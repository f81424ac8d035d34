"""Can this recording be read at all? Verdicts on the recording, in a musician's words.

A verdict that makes readings guesses is `FATAL`; the others stand beside the readings.
The limits are those of the house's trials on bad takes (design notes; synthetic takes in
docs/method.md), each a named constant.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standlight.sound.loudness import integrated_lkfs, k_power
from standlight.sound.spectrum import power_by_frame
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

SILENT_VOICED_SHARE = 0.10
"""Pitched sound for less than this share of the part's time is silence (trials)."""

SHORTEST_S = 0.5
"""Shorter recordings hold no passage."""

CLIPPED_PEAK, CLIPPED_SHARE, CLIPPED_PILE = 0.89, 0.001, 3.0
"""Peak above -1 dBFS, over 0.1 percent of samples near it (trials), and those samples piled
up: three times as dense in the top 3 percent of the range as just below (a full-scale sine
has 2.8, music 0.1 to 0.6, 6 dB of clipping 5 and more on synthetic takes)."""

NOISY_DB, NOISY_CONFIDENCE = 15.0, 0.93
"""Level above the background (trials: 15 dB), and unsteady periods (added noise at 10 dB
gave 0.90 to 0.93, at 20 dB 0.97 and more)."""

TOO_NOISY_DB, TOO_NOISY_CONFIDENCE = 11.0, 0.82
"""Noise at 5 dB gave 0.77 to 0.81: there pitch and ends of notes become guesses."""

OTHER_PIECE_SHARE = 0.5
"""Under this share of notes found, between the first and the last heard, it is another piece
(random lines in the same key found 25 to 50 percent, right ones over 90)."""

FEWEST_FOUND_SHARE = 0.15
"""So few of the written notes found, in all, are chance."""

OTHER_SOUND_SHARE = 0.80
"""Less pitched sound on the part than this: somebody or something else sounds too. Trials
used 0.85 to 0.90; lower here because warming up before the passage is common."""

STOPPED_NOTES = 3
"""So many notes missing at the end are told as an early end."""

_STILL_SOUNDING_DB = 12.0
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
    elif is_clipped(recording):
        found.append(
            Verdict(
                "clipped",
                "The recording is overloaded: move the microphone away or turn it down. "
                "Loudness is not read.",
            )
        )
    return tuple(found)


def _silence() -> Verdict:
    """The verdict on a take in which hardly anything sounds."""
    return Verdict("silence", "We could hardly hear anything: is the microphone covered?")


def is_clipped(recording: Recording) -> bool:
    """True when samples pile up at the ceiling, also after a phone's compression."""
    size = np.abs(recording.samples)
    peak = float(size.max(initial=0.0))
    if peak < CLIPPED_PEAK:
        return False
    top = float(np.mean(size > 0.97 * peak))
    below = float(np.mean((size > 0.90 * peak) & (size <= 0.97 * peak)))
    pile = (top / 0.03) / max(below / 0.07, 1e-9)
    return top > CLIPPED_SHARE and pile > CLIPPED_PILE


def background_db(recording: Recording) -> float:
    """How far the loud frames (95th percentile) stand above the quiet ones (5th), in decibel."""
    power = power_by_frame(recording.samples, recording.rate_hz, 0.050)
    level = 10.0 * np.log10(np.maximum(power, 1e-12))
    return float(np.percentile(level, 95) - np.percentile(level, 5))


def first_sound_s(recording: Recording) -> float:
    """Seconds to the first sound within 30 dB of the loud ones that lasts; 0.0 if none."""
    power = power_by_frame(recording.samples, recording.rate_hz, HOP_S)
    level = 10.0 * np.log10(np.maximum(power, 1e-12))
    loud = level > max(float(np.percentile(level, 95)) - 30.0, -65.0)
    lasting = np.convolve(loud, np.ones(5), mode="full")[4:] >= 4
    first = np.flatnonzero(loud & lasting[: len(loud)])
    return float(first[0] * HOP_S) if len(first) else 0.0


def verdicts_on_performance(
    recording: Recording, performance: Performance, *, octave_free: bool
) -> tuple[Verdict, ...]:
    """What following the part adds: nothing heard, noise, other piece, key, cut off, others."""
    if performance.sounding_share < SILENT_VOICED_SHARE:
        return (_silence(),)
    noise = _noise(recording, performance)
    if noise is not None and noise.code in FATAL:
        return (noise,)
    if is_other_piece(performance):
        return (
            Verdict(
                "other_piece",
                "Less than half of the written notes could be found: "
                "is this another piece, part or place?",
            ),
        )
    found = [noise, _shift(performance, octave_free), *_edges(recording, performance)]
    if performance.explained_share < OTHER_SOUND_SHARE and not performance.unpitched:
        found.append(
            Verdict(
                "other_sounds",
                "Other sounds are in this recording beside the part: readings are less sure.",
            )
        )
    return tuple(verdict for verdict in found if verdict is not None)


def _noise(recording: Recording, performance: Performance) -> Verdict | None:
    """The verdict on noise, if any; an unpitched part has only the background to go by."""
    above = background_db(recording)
    confidence = performance.median_confidence
    if confidence is None:
        confidence = 0.0
    if above < TOO_NOISY_DB and confidence < TOO_NOISY_CONFIDENCE:
        return Verdict("too_noisy", "There is too much noise to read this take: find a quiet room.")
    if above < NOISY_DB and confidence < NOISY_CONFIDENCE:
        return Verdict("noisy", "There is noise in this recording: readings are less sure.")
    return None


def is_other_piece(performance: Performance) -> bool:
    """True when the notes found are too few for the written part."""
    played = [note.index for note in performance.notes if note.outcome == "played"]
    if len(played) <= FEWEST_FOUND_SHARE * len(performance.notes):
        return True
    sounded = [note.index for note in performance.notes if note.onset_s is not None]
    span = sounded[-1] - sounded[0] + 1 + len(performance.added)
    return len(played) / span < OTHER_PIECE_SHARE


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


def _edges(recording: Recording, performance: Performance) -> list[Verdict]:
    """Verdicts on a take whose start or end is missing."""
    heard = [note for note in performance.notes if note.onset_s is not None]
    if not heard:
        return []
    found = []
    power = power_by_frame(recording.samples, recording.rate_hz, HOP_S)
    level = 10.0 * np.log10(np.maximum(power, 1e-12))
    loud = float(np.percentile(level, 90))
    last = max(heard, key=lambda note: note.onset_s or 0.0)
    missing = len(performance.notes) - 1 - max(note.index for note in heard)
    if level[-4:-1].mean() > loud - _STILL_SOUNDING_DB and missing:
        found.append(Verdict("cut_off", "The recording ends while the music still sounds."))
    elif missing >= STOPPED_NOTES:
        measure = performance.passage.notes[last.index].measure
        printed = (
            performance.passage.measures[measure].printed
            if measure < len(performance.passage.measures)
            else str(measure + 1)
        )
        found.append(Verdict("stopped_early", f"The playing ends in measure {printed}."))
    if level[1:4].mean() > loud - _STILL_SOUNDING_DB and heard[0].index > 0:
        found.append(Verdict("cut_off_start", "The recording starts after the music began."))
    return found
