"""Where the beat of a player surely is, and so how surely an entry lies off it.

A smooth curve through onsets says where each note lies; it does not say how well the notes around
it know that. A beat bends, slow notes leave it open by more than quick ones, and beside a stop or
at an end only one side speaks. So each note is foretold from all others: the beat's tempo wanders
(an integrated random walk, whose mean is the cubic smoothing spline: Wahba 1978, from memory), its
steps vary with their length (Wing and Kristofferson 1973, from memory), after a stop it starts
anew, and single notes and single steps may lie far off. What is foretold without the note itself,
and how exactly, has a closed form (Rasmussen and Williams 2006, equation 5.12, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from standlight.sound.timing import FEWEST_NOTES, paced_by, stops_of

WANDER = 0.02
"""The tempo wanders by such a share in a quarter (standard deviation; our choice: a bend of a tenth
over three bars is no surprise). With 0.03 fewer entries are told, as many of them rightly."""

STEP_SHARE = 0.02
"""A step of a quarter varies by such a share of it (our choice, below the 2.5 percent of one step
that a listener just notices: Friberg and Sundberg 1995, abstract)."""

SCATTER_S, LEAST_SCATTER_S = 0.020, 0.010
"""How far notes lie from the beat while it is sought, and at least in every take (our choice:
skilled players 10 to 20 ms, beginners more)."""

GUESSED_S = 0.05
"""A start that is only guessed may be so far from where it was (our choice; with 0.1 the neighbours
of a steady player's one late note leave it doubtful)."""

FREE_S = 1.0
"""Nobody knows by how much the beat moves at a stop."""

UNKNOWN_TEMPO, UNKNOWN_START_S = 0.3, 10.0
"""How little is known beforehand: the whole run's tempo, as a share of the usual one, and when it
begins (our choice; wider changes nothing)."""

NOTE_TAIL, STEP_TAIL = 4.0, 1.0
"""Degrees of freedom of a note's scatter and of a step's while the beat is sought (Student's t:
single notes far off do not bend it, and a wait that nobody told moves it; Lange, Little and Taylor
1989, from memory)."""

STEPS = 6
"""So often what lies far off is given less weight and worked out anew."""

STRETCH, BESIDE = 96, 32
"""Long runs are worked out so many notes at a time, with so many beside them at both ends: what is
farther away tells nothing of a beat, and work stays linear in the notes."""

ODD_SHARE, ODD_S = 0.05, 0.15
"""One entry in twenty lies off for reasons of its own, by so much (our choice; with one in fifty
three calls of two hundred come out otherwise)."""

READ_S = 0.008
"""How exactly a start is read that can be seen (made takes: median 5 to 8 ms)."""


_TINY = 1e-8
"""Square seconds, a tenth of a millisecond: no variance is less."""


@dataclass(frozen=True, slots=True, eq=False)
class Apart:
    """How far each note lies from where the others put it, and how exactly they know, seconds.

    Both ``(notes,)``, nan where too few notes are near; the note after a hesitation is off by it.
    ``scatter_s`` is the player's own.
    """

    off_s: np.ndarray
    se_s: np.ndarray
    scatter_s: float


def apart_of(
    quarters: np.ndarray, onsets_s: np.ndarray, breaks: Sequence[bool], doubts: np.ndarray
) -> Apart:
    """`Apart` of notes at musical time ``quarters`` heard at ``onsets_s``, all ``(notes,)``.

    ``breaks`` are those of `timing.timing_of`; ``doubts`` how probably a start was not where it was
    heard, 0 to 1.

    >>> steady = 0.5 * np.arange(12.0)
    >>> steady[5] += 0.08
    >>> apart = apart_of(np.arange(12.0), steady, np.zeros(12, bool), np.zeros(12))
    >>> round(float(apart.off_s[5]), 2), bool(abs(apart.off_s[6]) < 0.03)
    (0.08, True)
    """
    count = len(quarters)
    off_s, se_s = np.full(count, np.nan), np.full(count, np.nan)
    if count < FEWEST_NOTES:
        return Apart(off_s, se_s, LEAST_SCATTER_S)
    stops = stops_of(quarters, onsets_s, breaks)
    free = np.append(False, stops.rests | stops.waits)
    paced = paced_by(quarters, stops.slower)
    for run in np.split(np.arange(count), np.flatnonzero(stops.backwards) + 1):
        for own, seen in _stretches(run):
            if len(seen) >= FEWEST_NOTES:
                left_out = _left_out(
                    paced[seen], onsets_s[seen], stops.quarter_s, free[seen], doubts[seen]
                )
                inside = np.isin(seen, own)
                off_s[own], se_s[own] = (values[inside] for values in left_out)
    scatter_s = _scatter_s(off_s, se_s)
    after = np.flatnonzero(stops.waits) + 1
    off_s[after], se_s[after] = stops.late_s[stops.waits], SCATTER_S
    return Apart(off_s, se_s, scatter_s)


def off_probability(apart: Apart, doubts: np.ndarray, least_s: float) -> np.ndarray:
    """How probably each note lies ``least_s`` or more off the beat, to the side it was heard on.

    ``doubts`` as in `apart_of`; ``(notes,)``, 0 where nothing is known. The player's own scatter is
    weighed against a beat that is not known exactly, and both against an entry off for reasons of
    its own.

    >>> clear = Apart(np.array([0.09]), np.array([0.01]), 0.015)
    >>> loose = Apart(np.array([0.09]), np.array([0.05]), 0.015)
    >>> [round(float(off_probability(one, np.zeros(1), 0.025)[0]), 1) for one in (clear, loose)]
    [1.0, 0.2]
    """
    told = np.nan_to_num(np.abs(apart.off_s))
    known = np.nan_to_num(apart.se_s, nan=1.0) ** 2 + READ_S**2
    weights, above = [], []
    for share, spread_s in ((1.0 - ODD_SHARE, apart.scatter_s), (ODD_SHARE, ODD_S)):
        whole = spread_s**2 + known
        weights.append(share * np.exp(-0.5 * told**2 / whole) / np.sqrt(whole))
        middle, width = told * spread_s**2 / whole, spread_s * np.sqrt(known / whole)
        above.append(ndtr((middle - least_s) / width))
    probability = np.average(above, axis=0, weights=weights)
    return np.where(np.isnan(apart.off_s), 0.0, (1.0 - doubts) * probability)


def _stretches(run: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
    """Notes to work out together, and those seen while it is done."""
    return [
        (run[first : first + STRETCH], run[max(first - BESIDE, 0) : first + STRETCH + BESIDE])
        for first in range(0, len(run), STRETCH)
    ]


def _left_out(
    quarters: np.ndarray,
    onsets_s: np.ndarray,
    quarter_s: float,
    free: np.ndarray,
    doubts: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Seconds from where the others put each note, and how exactly they know it, ``(notes,)``."""
    bent = _bent(quarters, quarter_s)
    bare = onsets_s - onsets_s.mean() - quarter_s * (quarters - quarters.mean())
    usual_own = SCATTER_S**2 + GUESSED_S**2 * doubts
    usual_step = (STEP_SHARE * quarter_s) ** 2 * np.append(0.0, np.diff(quarters)) + _TINY
    own, step = usual_own, usual_step
    for again in range(STEPS + 1):
        taken = np.where(free, FREE_S**2, step)
        inverse = np.linalg.inv(bent + _moved(taken) + np.diag(own))
        off_s, without = _foretold(inverse, own, bare)
        if again < STEPS:
            own = _heavier(usual_own, NOTE_TAIL, off_s**2 / (without + usual_own))
            step = _heavier(usual_step, STEP_TAIL, _squares(inverse, taken, bare) / usual_step)
    return off_s, np.sqrt(without)


def _bent(quarters: np.ndarray, quarter_s: float) -> np.ndarray:
    """How places of a bent beat at ``quarters`` vary together, square seconds, ``(notes, notes)``.

    The tempo as a whole and the first beat are hardly known beforehand.
    """
    since = quarters - quarters[0]
    early = np.minimum(since[:, None], since[None, :])
    late = np.maximum(since[:, None], since[None, :])
    walk = (WANDER * quarter_s) ** 2 * early**2 * (3.0 * late - early) / 6.0
    centred = UNKNOWN_TEMPO * quarter_s * (quarters - quarters.mean())
    return walk + np.outer(centred, centred) + UNKNOWN_START_S**2


def _moved(steps: np.ndarray) -> np.ndarray:
    """What steps of these variances, ``(notes,)``, add to `_bent`: all notes after each move."""
    moved = np.cumsum(steps)
    return np.minimum(moved[:, None], moved[None, :])


def _foretold(
    inverse: np.ndarray, own: np.ndarray, bare: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Each note less what the others foretell of it, and the variance of that, ``(notes,)``."""
    alone = np.diag(inverse)
    return (inverse @ bare) / alone, np.maximum(1.0 / alone - own, _TINY)


def _squares(inverse: np.ndarray, steps: np.ndarray, bare: np.ndarray) -> np.ndarray:
    """The square of each step that is to be expected after all was heard, ``(notes,)``."""
    middle = steps * _from_here_on(inverse @ bare)
    both = _from_here_on(_from_here_on(inverse).T)
    return middle**2 + np.maximum(steps - steps**2 * np.diag(both), 0.0)


def _from_here_on(values: np.ndarray) -> np.ndarray:
    """Sums of the first axis from each place to its end, same shape."""
    return values[::-1].cumsum(axis=0)[::-1]


def _heavier(usual: np.ndarray, tail: float, surprise: np.ndarray) -> np.ndarray:
    """Variances of Student's t with ``tail`` degrees of freedom where the ``surprise`` is large."""
    return usual * np.maximum((tail + surprise) / (tail + 1.0), 1.0)


def _scatter_s(off_s: np.ndarray, se_s: np.ndarray) -> float:
    """The player's own scatter around the beat: of what is seen, less what the beat itself adds."""
    known = ~np.isnan(off_s)
    if not known.any():
        return LEAST_SCATTER_S
    seen = 1.4826 * np.median(np.abs(off_s[known]))
    return float(np.sqrt(max(seen**2 - np.median(se_s[known] ** 2), LEAST_SCATTER_S**2)))
