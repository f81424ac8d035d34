"""What stretches of sound are worth as notes: sums of scores between any two boundaries.

A stretch is worth what speaks for a pitch, up to a cap, less what speaks against it. Nothing of
this depends on what was played before, so that it is worked out for a block of boundaries at once;
notes of one pitch and one share of the cap gain the same and are looked at once, as a group.
"""

from __future__ import annotations

import numpy as np

from standlight.sound.evidence import Evidence, match_score
from standlight.sound.written import WrittenLine

FRAME = 0.5
"""Scores count 20 ms of sound as one, so a frame of ``HOP_S`` counts half."""

GAIN_CAP = 8.0
"""Most a note may gain (20 ms of match count one), or long notes buy wrong paths (trials).
What speaks against a note counts in full: a cap on both would hide an added sound in a long
note."""

GAIN_SLOPE = 0.1
"""What a frame beyond the cap still adds, so that boundaries stay sharp."""

AGAINST_SHARE = 0.6
"""Share at which sound off a note's pitch counts against it: scoops and wide vibrato are usual,
and an added sound of a quarter second must still cost more than an added sound does."""

UNHEARD_COST, HEARD_SCORE = 2.0, 1.0
"""A note in which less than this score sounds at its pitch costs up to so much, less than a note
left out: else a jump back would go through notes that nobody plays, in the silence before the
player goes on."""

OTHER_COST, OTHER_SHARE = 5.0, 0.6
"""What another pitch costs, and the share of its gain that it keeps: a chain of other pitches must
never pay (trials)."""

OCTAVE_COST = 3.5
"""Of a note an octave off: players and trackers slip by octaves more often than to any one
other pitch, and what sounds there speaks for that note as fully as the written octave would."""

BLOCK = 16
"""So many boundaries are worked on at once: more would look at more stretches that nobody asks."""

MARGIN = 32
"""Groups of so many notes to both sides of the window are looked at besides, while it moves on."""


def summed(values: np.ndarray) -> np.ndarray:
    """Sums of all rows before each one, ``(rows + 1, ...)``, in scores."""
    sums = np.zeros((len(values) + 1, *values.shape[1:]), dtype=np.float32)
    np.cumsum(FRAME * values, axis=0, out=sums[1:])
    return sums


def _capped(gain: np.ndarray) -> np.ndarray:
    """Gains beyond ``GAIN_CAP`` flattened to ``GAIN_SLOPE``; ``gain`` is written over."""
    beyond = gain - GAIN_CAP
    beyond *= GAIN_SLOPE
    beyond += GAIN_CAP
    return np.minimum(gain, beyond, out=gain)


class Gains:
    """What the stretches up to a boundary are worth, asked in rising order of that boundary."""

    def __init__(
        self,
        line: WrittenLine,
        evidence: Evidence,
        offset: float,
        places: np.ndarray,
        share: np.ndarray,
        unmarked: np.ndarray,
    ) -> None:
        """Sum up the scores to each of ``places`` for pitches ``line.midi + offset`` (semitones).

        ``share`` ``(notes,)`` is what of its match a note gains, ``unmarked`` ``(boundaries,)``
        what another pitch costs more that begins there.
        """
        sounded = evidence.midi[evidence.weight > 0] - offset
        low = min(line.midi.min(), sounded.min(initial=line.midi.min()))
        high = max(line.midi.max(), sounded.max(initial=line.midi.max()))
        grid = np.arange(int(np.floor(low)), int(np.ceil(high)) + 1)
        match = match_score(evidence.midi, evidence.weight, grid + offset)
        self._agree = summed(np.maximum(match, 0.0))[places]
        self._against = summed(np.minimum(match, 0.0))[places]
        self._unmarked = unmarked
        self._columns = len(grid)
        column = np.searchsorted(grid, np.round(line.midi).astype(int))
        alike = np.stack([column.astype(float), share.astype(float)])
        groups, group = np.unique(alike, axis=1, return_inverse=True)
        self._groups, self._all = groups, group.reshape(-1)
        self._first, self._rows = -BLOCK, (0, 0)
        self._look_at(0, 0)

    def _look_at(self, low: int, high: int) -> None:
        """Look at the groups of the notes ``low`` up to ``high`` and of some to both sides."""
        self._window = (max(low - MARGIN, 0), min(high + MARGIN, len(self._all)))
        used, here = np.unique(self._all[slice(*self._window)], return_inverse=True)
        self.group = np.zeros(len(self._all), dtype=int)
        """The group of each note that is looked at, ``(notes,)``."""
        self.group[slice(*self._window)] = here
        self._column = self._groups[0, used].astype(int)
        self._share = self._groups[1, used].astype(np.float32)
        self._octaves = []
        for shift in (-12, 12):
            columns = self._column + shift
            known = np.flatnonzero((columns >= 0) & (columns < self._columns))
            if len(known):
                everywhere = slice(None) if len(known) == len(columns) else known
                self._octaves.append((everywhere, columns[known], self._share[known]))

    def up_to(
        self, k: int, first: int, last: int, window: tuple[int, int]
    ) -> tuple[np.ndarray, ...]:
        """What sounds from the boundaries ``first`` up to ``last`` to ``k`` is worth.

        As any one pitch, ``(rows,)``; as each group of the notes of the ``window``, or as another
        pitch in its place where that is more, ``(rows, groups)``; whether it is that; and the most
        it is, ``(rows,)``. Which group a note is in stands in ``group`` until the next question.
        """
        inside = self._first <= k < self._first + BLOCK
        if window[0] < self._window[0] or window[1] > self._window[1]:
            self._look_at(*window)
            inside = False
        if not inside or first < self._rows[0]:
            self._work_out(k, first)
        at, here = k - self._first, slice(first - self._rows[0], last - self._rows[0])
        return tuple(table[at, here] for table in self._tables)

    def since(self, k: int, first: int) -> int:
        """The boundary from which on nothing is left to work out for ``k``; ``first`` if none."""
        inside = self._first <= k < self._first + BLOCK
        return self._rows[0] if inside else first

    def earlier(self, k: int, first: int, last: int) -> np.ndarray:
        """The most that sounds from boundaries ``first`` up to ``last`` to ``k`` are worth."""
        return self._worth(slice(k, k + 1), slice(first, last))[3][0]

    def _work_out(self, k: int, first: int) -> None:
        """The next block: from ``k`` on, and from the boundary ``first`` to the block's last."""
        end = min(k + BLOCK, len(self._agree))
        self._first, self._rows = k, (first, end)
        self._tables = self._worth(slice(k, end), slice(first, end))

    def _worth(self, now: slice, since: slice) -> tuple[np.ndarray, ...]:
        """`up_to` for boundaries ``now`` from each of those ``since``, ``(now, since, ...)``."""
        agree = self._agree[now][:, None] - self._agree[since]
        against = self._against[now][:, None] - self._against[since]
        against *= AGAINST_SHARE
        one_pitch = np.minimum(agree, GAIN_CAP)
        one_pitch += against
        one_pitch = one_pitch.max(axis=2)
        sounds = agree.take(self._column, axis=2)
        gain = _capped(sounds * self._share)
        gain += against.take(self._column, axis=2)
        sounds /= HEARD_SCORE
        np.subtract(1.0, sounds, out=sounds)
        np.maximum(0.0, sounds, out=sounds)
        sounds *= UNHEARD_COST
        gain -= sounds
        other = sounds
        other[:] = (OTHER_SHARE * one_pitch - OTHER_COST)[:, :, None]
        for known, columns, share in self._octaves:
            there = _capped(agree.take(columns, axis=2) * share)
            there += against.take(columns, axis=2)
            there -= OCTAVE_COST
            other[:, :, known] = np.maximum(other[:, :, known], there)
        other -= self._unmarked[since][:, None]
        as_other = other > gain
        np.maximum(gain, other, out=gain)
        return one_pitch, gain, as_other, gain.max(axis=2)
