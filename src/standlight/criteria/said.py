"""How far each note is off as the words count it, and whether the words call it out.

The very finders that the words count with decide, so that nothing drawn from here can say
other than the sentences beside it.
"""

from __future__ import annotations

from dataclasses import dataclass

from standlight.criteria import intonation, rhythm
from standlight.criteria.limits import NOTE_CENTS
from standlight.sound.values import Performance


@dataclass(frozen=True, slots=True)
class Apart:
    """One note's deviation: ``value`` in cents (sharp positive) or in ms (late positive).

    ``said`` is true when the words call it out; ``unsure`` when it lies beyond their limit, but
    not surely enough for them.
    """

    value: float
    said: bool
    unsure: bool = False


def pitch_apart(performance: Performance) -> dict[int, Apart]:
    """Each note's distance from its target in cents, by note index, as intonation's words count."""
    said = {trouble.index for trouble in intonation.find(performance)}
    return {
        index: Apart(cents, index in said, index not in said and abs(cents) >= NOTE_CENTS)
        for index, cents in intonation.deviations(performance).items()
    }


def time_apart(performance: Performance) -> dict[int, Apart]:
    """Each entry's distance from the smooth beat in ms, by note index, as rhythm's words count."""
    said = {trouble.index for trouble in rhythm.find(performance)}
    return {
        note.index: Apart(note.asynchrony_ms, note.index in said)
        for note in performance.notes
        if note.asynchrony_ms is not None
    }
