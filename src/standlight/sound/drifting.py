"""A singer who sinks or rises on the way: what a note should sound at moves with the voice.

A choir's own centre may go down by a semitone in a page. Against the pitch that it began with the
last notes would be others than written, though every interval was sung right. So where a voice
surely drifts by more than is usual, its notes are told against the line that it drifts along, and
their deviations counted against the written pitch all the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy.stats import theilslopes

from standlight.sound.noting import Tuned
from standlight.sound.values import HeardNote
from standlight.sound.written import WrittenLine

FEWEST_NOTES = 8
"""Fewer notes show no drift (as for the drift that is told: `criteria.intonation`)."""

LEAST_SEMITONES = 0.4
"""From so much over the whole passage on: less leaves every note nearer to its own name than to any
other (our choice)."""

NEAR_SEMITONES = 1.6
"""Notes farther from the written pitch tell nothing of the centre."""


def along_the_voice(
    line: WrittenLine, heard: Sequence[HeardNote], tuned: Tuned
) -> WrittenLine:
    """``line`` with the pitches at which a voice that drifts should sound; itself where it stays.

    The drift is a straight line through what was ``heard`` (Theil 1950 and Sen 1968, by
    `scipy.stats.theilslopes`), beyond its own 95 percent interval.
    """
    apart = {
        note.index: note.midi_heard + tuned.a4_offset - line.midi[note.index] - tuned.offset
        for note in heard
        if note.midi_heard is not None
    }
    places = np.array([index for index, off in apart.items() if abs(off) < NEAR_SEMITONES], int)
    quarters = line.onset_quarters[places]
    if len(places) < FEWEST_NOTES or not np.ptp(quarters):
        return line
    off = np.array([apart[int(index)] for index in places])
    slope, start, low, high = theilslopes(off, quarters)
    drift = abs(slope) * float(np.ptp(line.onset_quarters))
    if drift < LEAST_SEMITONES or low <= 0.0 <= high:
        return line
    return replace(line, midi=line.midi + start + slope * line.onset_quarters)


def measured_from(
    heard: Sequence[HeardNote], line: WrittenLine, along: WrittenLine
) -> list[HeardNote]:
    """``heard`` with deviations from the written ``line`` instead of from the line ``along``."""
    cents = 100.0 * (along.midi - line.midi)
    return [
        note
        if note.deviation_cents is None
        else replace(note, deviation_cents=note.deviation_cents + float(cents[note.index]))
        for note in heard
    ]
