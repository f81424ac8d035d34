"""What sounds on at the pitch of the note before: a new note there, or the rest of the old one?

In a room a note that has ended still sounds, and where the next one was left out its tail lies in
that one's place. A tail dies away, it is soft, and nothing in it begins again; a wrong note at the
pitch of the one before, which musicians do play, stays.
"""

from __future__ import annotations

import numpy as np

from standlight.sound.harmonics import Spectra, early_part, late_part, within

ODDS = (0.97, 0.137, 0.168, 0.252)
"""Log odds of a new note: a constant, and so much for each decibel that its harmonics gain from the
early to the late part, for the log odds that the pitch begins again, and for each decibel that it
lies above the take's loud moments. Logistic regression on made takes of eight development seeds,
and of three with wrong notes at a neighbour's pitch. ``benchmarks/tail_odds.py`` repeats it: of
196 such notes 137 are believed, and 46 of 536 tails (weights fitted anew, each fifth told by the
others, 136 and 49; a clear start that is no echo, asked before, 118 and 76)."""

RISE_DB, BEFORE_S, AFTER_S = 18.0, ((-0.12, -0.07), (-0.07, -0.02)), (0.03, 0.13)
"""A pitch that is so much louder after a start than in either part before it (from when to when,
seconds from the start) began there, however it dies away: of 25 tails of 80 made takes (seed 4501)
the loudest rises by 15.5, notes tongued anew after a gap by 40 and more."""

FALL_DB, LEAST_AGAIN, LEAST_ABOVE_DB = (-30.0, 10.0), -6.0, -20.0
"""Beyond these nothing more is told."""


def is_tail(
    spectra: Spectra, between_s: tuple[float, float], hz: float, again: float, above_db: float
) -> bool:
    """True when what sounds at ``hz`` from when to when (seconds) is the rest of the note before.

    ``again`` are the log odds that the pitch begins again where it starts, ``above_db`` how far it
    lies above the loud moments of the take.

    >>> from standlight.sound.values import Recording
    >>> time_s = np.arange(48_000) / 48_000
    >>> held = np.sin(2 * np.pi * 440 * time_s)
    >>> dying = held * 10.0 ** -(2.0 * time_s)  # by 40 dB in a second
    >>> [is_tail(Spectra(Recording(one.astype(np.float32), 48_000)), (0.2, 0.9), 440.0, -3.0, -1.0)
    ...  for one in (held, dying)]
    [False, True]
    """
    if _rise_db(spectra, between_s, hz) >= RISE_DB:
        return False
    return float(np.dot(ODDS, _signs(spectra, between_s, hz, again, above_db))) < 0.0


def _rise_db(spectra: Spectra, between_s: tuple[float, float], hz: float) -> float:
    """By how much the harmonics of ``hz`` are louder after the start than before; 0 if unknown."""
    start_s, end_s = between_s
    *before, after = (
        spectra.sounding_db((start_s + first_s, min(start_s + last_s, end_s)), hz)
        for first_s, last_s in (*BEFORE_S, AFTER_S)
    )
    return 0.0 if after is None or None in before else after - max(before)


def _signs(
    spectra: Spectra, between_s: tuple[float, float], hz: float, again: float, above_db: float
) -> tuple[float, ...]:
    """What `ODDS` weighs."""
    early, late = (spectra.sounding_db(part(*between_s), hz) for part in (early_part, late_part))
    fall_db = 0.0 if early is None or late is None else late - early
    return (
        1.0,
        within(fall_db, FALL_DB),
        max(again, LEAST_AGAIN),
        max(above_db, LEAST_ABOVE_DB),
    )
