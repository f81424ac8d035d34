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

from standlight.sound.beat import apart_of, off_probability
from standlight.sound.noting import Frames
from standlight.sound.values import HOP_S, HeardNote

FAR_MS = 50.0
"""Entries so far from the smooth beat are asked about (mir_eval's window of an onset)."""

ODDS = (2.03, -0.351, -1.07, -0.479)
"""Log odds that such an entry was not where it was heard (35 ms and more off): a constant, then for
each of the log odds that the pitch begins again, the evidence of an onset (0..1) and the log odds
of the note. Logistic regression (`benchmarks/entry_odds.py`) on the 1,367 far entries of 288 made
takes of seed 4001 that there were while one beat went through left-out and added notes. Fitted on
the 821 that are left it is (1.91, -0.383, -0.397, -0.479): righter on such takes (of 351 told of
4201 69 wrong), but it tells fewer of those that were so (.63 for .73, and of the tunes of the
tests' own generator .71 for more than .85). So these stay."""

MOST_DOUBT = 0.3
"""What is doubted more is not told. On seed 4001 311 of 821 far entries were not where they were
heard; of the 467 that are told 62 are not. On 4201 363 of 809, and 96 of the 421 that are told; of
those that were so, seven in ten are told."""

HALF = 0.5
"""An entry is rightly told to be off if it was at least so much of what is worth words."""

SURE_PROBABILITY = 0.8
"""An entry that is worth words is told where it is off so probably, the doubt of its start and the
beat around it taken together (what is called sure elsewhere too: `criteria.limits`). Without it 143
entries of 144 faulty takes of seed 4501 were called early or late, 76 of them not half as far off;
with it 46 and 17. The price: of entries truly so far off 29 of 154 were called, now 14
(`benchmarks/call_outs.py`)."""

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


def without_unsure_entries(
    notes: Sequence[HeardNote],
    frames: Frames,
    quarters: np.ndarray,
    breaks: Sequence[bool],
    limit_ms: float,
) -> list[HeardNote]:
    """``notes`` without the asynchrony of those that are worth words and only perhaps off.

    ``quarters`` is the musical time of the notes that sounded and ``breaks`` where the beat begins
    anew among them (`timing.timing_of`). ``limit_ms`` is how far off is worth words.
    """
    sounded = [note for note in notes if note.onset_s is not None]
    doubts = np.array([doubt_of(entry_signs(note, frames)) for note in sounded])
    onsets_s = np.array([note.onset_s for note in sounded])
    apart = apart_of(quarters, onsets_s, breaks, doubts)
    probability = off_probability(apart, doubts, HALF * limit_ms / 1000.0)
    told = list(notes)
    for note, off_s, sure in zip(sounded, apart.off_s, probability, strict=True):
        apart_ms = note.asynchrony_ms
        if apart_ms is None or abs(apart_ms) < limit_ms:
            continue
        if sure < SURE_PROBABILITY or apart_ms * off_s <= 0.0:
            told[note.index] = replace(note, asynchrony_ms=None)
    return told
