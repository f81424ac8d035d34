"""Does somebody else sound too? Tones that are no harmonic of the note that was heard there.

In the later half of each heard note the spectrum's peaks are divided into those near a multiple
of the note's own pitch, those at the pitch of the notes just before (a room rings on) and the
others. One player leaves hardly any power in the others; a second player, a piano or a radio does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import median_filter

from standlight.music import hz_of_midi
from standlight.sound.spectrum import hanning
from standlight.sound.values import HeardNote, Performance, Recording

WINDOW_S, LOW_WINDOW_S, LOW_HZ = 0.085, 0.170, 150.0
"""Length of sound looked at; twice as long under 150 Hz, where harmonics stand close."""

SHORTEST_NOTE_S, LATER = 0.10, 0.60
"""Notes looked at; the window is centred three fifths into them."""

LOWEST_HZ, HIGHEST_HZ, HARMONICS, NYQUIST_SHARE = 60.0, 5_000.0, 16, 0.45
LEAST_TOP_HZ, UNDERTONE = 1_500.0, 0.3
"""Band looked at: from three tenths of the pitch to its 16th harmonic, from 60 Hz to 5 kHz."""

NEAR_BINS, NEAR_SHARE = 2.6, 0.03
"""How near a peak belongs to a harmonic: the window's own width, and 50 cents for vibrato."""

GLIDE_CENTS = np.arange(-150.0, 151.0, 15.0)
"""A voice may be so far from the note's own pitch within the window: a scoop, a fall."""

RINGING_S, RINGING_NOTES, RINGING_HARMONICS, RINGING_BINS = 1.0, 4, 8, 1.3
"""The last four notes may ring on for a second after their end, steady and so within the window's
own width, with their low harmonics: high ones die first."""

PEAK_POWER, BACKGROUND_HZ = 30.0, 400.0
"""A peak is a tone when it has 30 times (15 dB) the median power of the 400 Hz around it."""

FREE_SHARE = 0.25
"""Where harmonics leave less of the band free than this, nothing can be told of others."""

FEWEST_NOTES = 4
"""Fewer notes that can be looked at say nothing."""

FOREIGN_FROM = 0.02
"""Less of a note's tonal power is always there: resonance, codec, a slip of the tracker."""

MOST_FOREIGN = 0.3
"""More foreign power in one note tells no more."""

COMPANY_ODDS = (1.23, 10.6, 51.3, 1.19)
"""Log odds that somebody else sounds: a constant, and so much for the share of notes with foreign
power, for its mean, and for each e-fold of foreign pitch. Logistic regression on made takes of two
development seeds (3701, 3901: 386 with a second player 8 to 0 dB below, 416 clean and 288 faulty
ones). Each seed told by the other at 1 in 100 false: .961 of them; .940 where all that the part
does not explain counts, the tracker's slips and the room with it, as before.
``benchmarks/company_odds.py`` repeats it."""

LEAST_FOREIGN = 0.005
"""So much of the pitched sound is always foreign: breath, bow, a key."""

COMPANY_FROM = -1.0
"""From these log odds on somebody else sounds too: of those takes 375 of 386 with a second player
are told, 2 of 416 clean and 8 of 288 faulty ones. A unison double is not told (docs/method.md).
The weights were fitted on the foreign pitch of the whole take; that from the first heard note to
the last alone tells the same takes (seed 4501: 55 of 56 with a second player, 1 of 96 faulty)."""


def company(recording: Recording, performance: Performance, a4_hz: float) -> float:
    """Log odds that others sound too: `COMPANY_FROM` and more is somebody else."""
    return float(np.dot(COMPANY_ODDS, signs_of_company(recording, performance, a4_hz)))


def signs_of_company(
    recording: Recording, performance: Performance, a4_hz: float
) -> tuple[float, ...]:
    """What `COMPANY_ODDS` weighs.

    Tones that are not its own in how many notes, how loudly, and how much loud sound has a pitch
    that is not the part's, from the first heard note to the last: outside of them the player may
    play what else is written. Where too few notes can be looked at, the last sign alone tells.
    """
    notes = sorted(
        (note for note in (*performance.notes, *performance.attempts) if note.onset_s is not None),
        key=lambda note: note.onset_s or 0.0,
    )
    looks = [
        foreign_share(recording, note, a4_hz, notes[max(place - RINGING_NOTES, 0) : place])
        for place, note in enumerate(notes)
    ]
    shares = np.array([look for look in looks if look is not None])
    if len(shares) < FEWEST_NOTES:
        shares = np.zeros(1)
    return (
        1.0,
        float(np.mean(shares > FOREIGN_FROM)),
        float(np.mean(np.minimum(shares, MOST_FOREIGN))),
        float(np.log(performance.within_foreign_share + LEAST_FOREIGN)),
    )


def foreign_share(
    recording: Recording, note: HeardNote, a4_hz: float, before: Sequence[HeardNote] = ()
) -> float | None:
    """Share of tonal power in ``note`` that is neither its own nor of notes ``before``, 0..1.

    None for a note that did not sound, is too short, or leaves no free band.
    """
    later = later_spectrum(recording, note, a4_hz)
    if later is None:
        return None
    hz, power, pitch_hz, step_hz = later.hz, later.power, later.pitch_hz, later.step_hz
    top_hz = min(
        HIGHEST_HZ, NYQUIST_SHARE * recording.rate_hz, max(HARMONICS * pitch_hz, LEAST_TOP_HZ)
    )
    band = (hz > max(LOWEST_HZ, UNDERTONE * pitch_hz)) & (hz < top_hz)
    power, hz = power[band], hz[band]
    if 1.0 - near_harmonics(hz, pitch_hz, step_hz).mean() < FREE_SHARE:
        return None
    tonal = _tones(power, round(BACKGROUND_HZ / (hz[1] - hz[0])) | 1)
    hz, power = hz[tonal], power[tonal]
    whole = float(power.sum())
    if whole <= 0.0:
        return None
    glides_hz = pitch_hz * 2.0 ** (GLIDE_CENTS / 1200.0)
    own = max(
        near_harmonics(hz, glides_hz[:, None], step_hz),
        key=lambda near: float(power[near].sum()),
    )
    ringing = _ringing(hz, step_hz, note.onset_s, before, a4_hz)
    return float(power[~own & ~ringing].sum()) / whole


def _ringing(
    hz: np.ndarray, step_hz: float, onset_s: float, before: Sequence[HeardNote], a4_hz: float
) -> np.ndarray:
    """True at the low harmonics of notes ``before`` that may still ring at ``onset_s``."""
    rings = np.zeros(len(hz), dtype=bool)
    for note in before:
        if note.midi_heard is None or note.offset_s is None or onset_s - note.offset_s > RINGING_S:
            continue
        pitch_hz = float(hz_of_midi(note.midi_heard, a4_hz))
        number = np.clip(np.round(hz / pitch_hz), 1.0, RINGING_HARMONICS)
        rings |= np.abs(hz - number * pitch_hz) < RINGING_BINS * step_hz
    return rings


def near_harmonics(
    hz: np.ndarray, pitch_hz: float | np.ndarray, step_hz: float
) -> np.ndarray:
    """True where ``hz`` is as near to a harmonic of ``pitch_hz`` as one's own tone may be.

    ``step_hz`` is one over the length of sound looked at; shapes are broadcast.

    >>> near_harmonics(np.array([200.0, 300.0, 405.0]), 200.0, 5.0)
    array([ True, False,  True])
    """
    harmonic_hz = np.maximum(np.round(hz / pitch_hz), 1.0) * pitch_hz
    return np.abs(hz - harmonic_hz) < np.maximum(NEAR_BINS * step_hz, NEAR_SHARE * harmonic_hz)


@dataclass(frozen=True, slots=True, eq=False)
class LaterSpectrum:
    """Power ``(bins,)`` at ``hz`` in a note's later half, its pitch, and one over its length."""

    hz: np.ndarray
    power: np.ndarray
    pitch_hz: float
    step_hz: float


def later_spectrum(recording: Recording, note: HeardNote, a4_hz: float) -> LaterSpectrum | None:
    """The spectrum of a note's later half; None for one that did not sound or is too short."""
    if note.onset_s is None or note.offset_s is None or note.midi_heard is None:
        return None
    pitch_hz = float(hz_of_midi(note.midi_heard, a4_hz))
    piece = _later_half(recording, note.onset_s, note.offset_s, pitch_hz)
    if piece is None:
        return None
    count = len(piece)
    power = np.square(np.abs(np.fft.rfft(piece * hanning(count), 2 * count)))
    hz = np.fft.rfftfreq(2 * count, 1.0 / recording.rate_hz)
    return LaterSpectrum(hz, power, pitch_hz, recording.rate_hz / count)


def _later_half(
    recording: Recording, onset_s: float, offset_s: float, pitch_hz: float
) -> np.ndarray | None:
    """Samples of the window in the note's later half, ``(n,)``; None where it does not fit."""
    length_s = offset_s - onset_s
    window_s = WINDOW_S if pitch_hz >= LOW_HZ else LOW_WINDOW_S
    if length_s < SHORTEST_NOTE_S:
        return None
    centre_s = max(
        onset_s + 0.5 * window_s, min(offset_s - 0.5 * window_s, onset_s + LATER * length_s)
    )
    start = int((centre_s - 0.5 * window_s) * recording.rate_hz)
    count = int(window_s * recording.rate_hz)
    if start < 0 or start + count > len(recording.samples):
        return None
    return recording.samples[start : start + count].astype(float)


def _tones(power: np.ndarray, width: int) -> np.ndarray:
    """True at the peaks of ``power`` that stand out from the median of ``width`` bins around."""
    peak = np.zeros(len(power), dtype=bool)
    peak[1:-1] = (power[1:-1] > power[:-2]) & (power[1:-1] >= power[2:])
    return peak & (power > PEAK_POWER * median_filter(power, width))
