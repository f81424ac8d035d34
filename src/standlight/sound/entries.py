"""An entry that seems early or late was so, or its start was only guessed.

A soft bow or tongue repeats a pitch without a start that can be seen: the follower then puts the
note where its length asks, or where the room wavers. Near the beat that does no harm; far from it
somebody would be told of a late entry that nobody played. So what is far off is told only where
the start can be seen: by the evidence of an onset, by the odds that the pitch begins again, and
by those of the note itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from standlight.sound.noting import Frames
from standlight.sound.values import HOP_S, HeardNote

FAR_MS = 50.0
"""Entries so far from the smooth beat are asked about (mir_eval's window of an onset)."""

ODDS = (2.03, -0.351, -1.07, -0.479)
"""Log odds that such an entry was not where it was heard (35 ms and more off): a constant, then for
each of the log odds that the pitch begins again, the evidence of an onset (0..1) and the log odds
of the note. Logistic regression on 288 made takes of seed 4001, `benchmarks/entry_odds.py`."""

MOST_DOUBT = 0.3
"""What is doubted more is not told. On those takes 363 of 1,367 far entries were not where they
were heard; of the 902 that are told 88 are not. On seed 4201, which nobody had looked at, 417 of
1,374, and 122 of the 891 that are told; of those that were so, eight in ten are told."""

REACH = 3
"""A start is seen within so many frames."""

MOST_AGAIN, MOST_SURE = 10.0, 0.9999
"""Log odds and probabilities beyond these tell no more."""


def signs_of_entry(onset: float, again: float, probability: float) -> tuple[float, ...]:
    """What tells whether an entry was where it was heard, as many values as `ODDS`."""
    sure = min(probability, MOST_SURE)
    note = float(-np.log(1.0 - sure))
    return 1.0, float(np.clip(again, -MOST_AGAIN, MOST_AGAIN)), onset, note


def doubt_of(signs: Sequence[float]) -> float:
    """How probably an entry with these `signs_of_entry` was not where it was heard, 0..1.

    >>> round(doubt_of(signs_of_entry(onset=0.9, again=4.0, probability=0.99)), 2)
    0.07
    >>> round(doubt_of(signs_of_entry(onset=0.1, again=-5.0, probability=0.99)), 2)
    0.81
    """
    return float(1.0 / (1.0 + np.exp(-np.dot(ODDS, signs))))


def entry_signs(note: HeardNote, frames: Frames) -> tuple[float, ...]:
    """`signs_of_entry` of a ``note`` that sounded."""
    place = round(note.onset_s / HOP_S)
    near = slice(max(place - REACH, 0), place + REACH + 1)
    onset = float(frames.onset[near].max(initial=0.0))
    again = float(frames.again[near].max(initial=-MOST_AGAIN))
    return signs_of_entry(onset, again, note.probability)


def without_guessed_entries(notes: Sequence[HeardNote], frames: Frames) -> list[HeardNote]:
    """``notes`` without the asynchrony of those that lie far off and whose start is doubted."""
    return [
        replace(note, asynchrony_ms=None) if _is_guessed(note, frames) else note for note in notes
    ]


def _is_guessed(note: HeardNote, frames: Frames) -> bool:
    """True of an entry that is far off and doubted."""
    far = note.asynchrony_ms is not None and abs(note.asynchrony_ms) > FAR_MS
    return far and doubt_of(entry_signs(note, frames)) > MOST_DOUBT
