"""A tone that dies away is the rest of the note before, unless it was silent just before it."""

import numpy as np
import pytest

from standlight.sound.harmonics import Spectra
from standlight.sound.tails import is_tail
from standlight.sound.values import Recording

RATE_HZ, HZ, START_S, END_S = 44_100, 330.0, 0.6, 1.6


def dying(gap_s):
    """A held tone to ``gap_s`` before ``START_S``; from there one that falls by 40 dB a second."""
    time_s = np.arange(int(END_S * RATE_HZ)) / RATE_HZ
    level = np.where(time_s < START_S - gap_s, 1.0, 0.0)
    level += np.where(time_s >= START_S, 10.0 ** (-2.0 * (time_s - START_S)), 0.0)
    tone = sum(np.sin(2 * np.pi * HZ * number * time_s) / number for number in (1, 2, 3, 4))
    noise = np.random.default_rng(4).normal(0.0, 1e-4, len(time_s))
    return Spectra(Recording((0.1 * level * tone + noise).astype(np.float32), RATE_HZ))


@pytest.mark.parametrize(("gap_s", "tail"), [(0.0, True), (0.12, False), (0.2, False)])
def test_what_was_silent_before_it_began_anew_however_it_dies_away(gap_s, tail):
    told = is_tail(dying(gap_s), (START_S, END_S), HZ, again=2.0, above_db=-1.0)
    assert told is tail
