"""Tempo and asynchrony against truths made by hand."""

import numpy as np
import pytest

from standlight.sound.timing import timing_of

QUARTERS = np.arange(16.0)


def test_one_late_note_is_told_and_its_neighbours_are_not():
    onsets = 0.6 * QUARTERS
    onsets[7] += 0.080
    timing = timing_of(QUARTERS, onsets)
    late = np.array(timing.asynchrony_ms)
    assert late[7] == pytest.approx(80.0, abs=8.0)
    assert np.abs(np.delete(late, 7)).max() < 12.0


def test_a_smooth_slowing_is_drift_and_not_sixteen_late_notes():
    onsets = 0.6 * QUARTERS + 0.002 * QUARTERS**2
    timing = timing_of(QUARTERS, onsets)
    assert np.abs(np.array(timing.asynchrony_ms)).max() < 12.0
    # local quarter: 0.6 s at the start, 0.66 s at the end: about 9.5 percent slower
    assert timing.drift_percent == pytest.approx(-9.5, abs=1.0)
    assert abs(timing.drift_percent) > 2 * timing.drift_se_percent


def test_a_pause_starts_a_new_run():
    onsets = 0.6 * QUARTERS
    onsets[8:] += 3.0
    timing = timing_of(QUARTERS, onsets)
    assert np.abs(np.array(timing.asynchrony_ms)).max() < 1.0
    assert timing.tempo_qpm == pytest.approx(100.0, rel=1e-6)


def test_three_notes_have_no_tempo():
    timing = timing_of(QUARTERS[:3], 0.6 * QUARTERS[:3])
    assert timing.tempo_qpm is None and timing.asynchrony_ms == (None, None, None)


def test_moving_the_start_changes_nothing():
    # a recorder's own delay is -83 to +23 ms: only the music counts
    rng = np.random.default_rng(4)
    onsets = 0.6 * QUARTERS + rng.normal(0, 0.02, 16)
    here, later = timing_of(QUARTERS, onsets), timing_of(QUARTERS, onsets + 7.3)
    assert here.asynchrony_ms == pytest.approx(later.asynchrony_ms, abs=1e-6)
