"""Tempo and asynchrony against truths made by hand."""

import numpy as np
import pytest
from tests.sound.takes import TIMBRES, make_take

from standlight.sound import perform
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


def test_a_hesitation_makes_one_note_late_and_its_neighbours_neither_early_nor_late():
    onsets = 1.2 * np.arange(16.0)
    onsets[9:] += 0.4
    late = np.array(timing_of(np.arange(16.0), onsets).asynchrony_ms)
    assert late[9] == pytest.approx(400.0)
    assert np.abs(np.delete(late, 9)).max() < 1.0


def test_a_slow_note_that_is_bent_a_little_is_no_hesitation():
    quarters = np.array([0.0, 1.0, 2.0, 3.0, 4.0, 8.0, 9.0, 10.0, 11.0, 12.0])
    onsets = 1.2 * quarters
    onsets[5:] += 0.6  # an eighth of the long note's 4.8 s
    late = np.array(timing_of(quarters, onsets).asynchrony_ms)
    assert abs(late[5]) < 600.0 - 1.0


def test_where_time_is_lost_or_won_the_notes_beside_are_judged_by_their_own_side():
    onsets = 0.5 * np.arange(20.0)
    onsets[7:] -= 0.2
    onsets[14:] += 0.1
    known = [place in (7, 14) for place in range(20)]
    late = np.array(timing_of(np.arange(20.0), onsets, known).asynchrony_ms)
    assert np.abs(late).max() < 1.0
    unknown = np.array(timing_of(np.arange(20.0), onsets).asynchrony_ms)
    assert np.abs(unknown).max() > 50.0


def called_out(take):
    """How many notes of a take are far from the beat, and how many are timed."""
    heard = perform(take.recording, take.passage, take.tempo_qpm)
    timed = [note for note in heard.notes if note.asynchrony_ms is not None]
    return sum(abs(note.asynchrony_ms) > 50.0 for note in timed), len(timed)


def test_a_steady_player_who_leaves_out_and_adds_notes_is_neither_early_nor_late():
    takes = [
        make_take(700 + seed, timbre=timbre, count=32, skipped=2, added=2, spread_ms=8.0)
        for seed, timbre in enumerate(TIMBRES)
    ]
    far, timed = np.sum([called_out(take) for take in takes], axis=0)
    assert timed > 0.6 * 32 * len(takes)
    assert far <= 0.03 * timed
