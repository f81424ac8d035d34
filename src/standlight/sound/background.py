"""How loud is what sounds beside the music: between the notes, and inside them.

Between the notes alone it cannot be told: a legato line leaves no gap, and a phone's gain
control raises every gap. Inside a note the tone's power lies at its harmonics, noise between
them too.
"""

from __future__ import annotations

import numpy as np

from standlight.sound.company import later_spectrum, near_harmonics
from standlight.sound.spectrum import power_by_frame
from standlight.sound.values import HeardNote, Performance, Recording

BANDS_HZ = (
    (100.0, 200.0), (200.0, 400.0), (400.0, 800.0), (800.0, 1_600.0), (1_600.0, 3_200.0),
    (3_200.0, 5_000.0),
)  # fmt: skip
"""Octaves in which the level between harmonics is taken, each by itself: noise is not white."""

FEWEST_CELLS = 6
"""An octave that harmonics leave fewer free cells of the spectrum is left out."""

MEDIAN_OF_NOISE = float(np.log(2.0))
"""Median over mean of noise power in a cell (an exponential law): peaks and glides between the
harmonics do not move a median."""

FEWEST_NOTES = 4
"""Fewer notes that can be looked at say nothing."""

NOTES_PERCENTILE = 75.0
"""Voices in the next room come and go: a quarter of the notes may be in noise (our choice)."""

NYQUIST_SHARE = 0.45


def background_db(recording: Recording) -> float:
    """How far the loud frames (95th percentile) stand above the quiet ones (5th), in decibel."""
    power = power_by_frame(recording.samples, recording.rate_hz, 0.050)
    level = 10.0 * np.log10(np.maximum(power, 1e-12))
    return float(np.percentile(level, 95) - np.percentile(level, 5))


def noise_in_notes_db(
    recording: Recording, performance: Performance, a4_hz: float
) -> float | None:
    """Noise between the harmonics against the whole sound of a note, decibel, 0 at most or so.

    None where fewer than ``FEWEST_NOTES`` notes can be looked at.
    """
    notes = [*performance.notes, *performance.attempts]
    shares = [noise_share(recording, note, a4_hz) for note in notes if note.outcome == "played"]
    told = [share for share in shares if share is not None]
    if len(told) < FEWEST_NOTES:
        return None
    return float(10.0 * np.log10(max(np.percentile(told, NOTES_PERCENTILE), 1e-12)))


def noise_share(recording: Recording, note: HeardNote, a4_hz: float) -> float | None:
    """Share of noise in the power of ``note``, 100 Hz to 5 kHz; a little over 1 in mere noise.

    None for a note that did not sound, is too short, or leaves no free cell.
    """
    later = later_spectrum(recording, note, a4_hz)
    if later is None:
        return None
    hz, power = later.hz, later.power
    free = ~near_harmonics(hz, later.pitch_hz, later.step_hz)
    noise = whole = 0.0
    for low_hz, high_hz in BANDS_HZ:
        band = (hz >= low_hz) & (hz < min(high_hz, NYQUIST_SHARE * recording.rate_hz))
        between = power[band & free]
        if len(between) >= FEWEST_CELLS:
            noise += float(np.median(between)) / MEDIAN_OF_NOISE * int(band.sum())
            whole += float(power[band].sum())
    return noise / whole if whole > 0.0 else None
