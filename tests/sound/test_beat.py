"""Where the beat surely is: against a smoothing spline, kriging by hand, and made players."""

import numpy as np
import pytest
from scipy.interpolate import make_smoothing_spline

from standlight.sound import beat
from standlight.sound.beat import Apart, apart_of, off_probability

COUNT = 24
QUARTERS = np.arange(float(COUNT))
NO_BREAKS, NO_DOUBT = np.zeros(COUNT, bool), np.zeros(COUNT)


def scattered(seed, spread_s, count=COUNT, quarter_s=0.5):
    """Onsets of a player whose notes lie off a steady beat by ``spread_s`` (standard deviation)."""
    return quarter_s * np.arange(count) + np.random.default_rng(seed).normal(0, spread_s, count)


def test_a_bent_beat_is_the_cubic_smoothing_spline():
    # Wahba 1978: the mean of an integrated random walk under noise is the smoothing spline
    onsets = scattered(3, 0.03)
    noise, quarter_s = 0.02**2, 0.5
    between = beat._bent(QUARTERS, quarter_s)
    centre = onsets.mean() + quarter_s * (QUARTERS - QUARTERS.mean())
    ours = centre + between @ np.linalg.solve(
        between + noise * np.eye(COUNT), onsets - centre
    )
    stiffness = noise / (beat.WANDER * quarter_s) ** 2
    spline = make_smoothing_spline(QUARTERS, onsets, lam=stiffness)
    assert ours == pytest.approx(spline(QUARTERS), abs=0.0005)
    assert np.abs(ours - onsets).max() > 0.02  # it smooths


def test_what_the_others_foretell_is_what_they_foretell_without_the_note():
    onsets, own = scattered(4, 0.02), np.full(COUNT, 0.02**2)
    own[7] = 0.1**2
    bare = onsets - 0.5 * QUARTERS
    between = beat._bent(QUARTERS, 0.5) + beat._moved(np.linspace(0.0, 0.001, COUNT))
    off, variance = beat._foretold(np.linalg.inv(between + np.diag(own)), own, bare)
    for note in (0, 7, 12, COUNT - 1):
        others = np.delete(np.arange(COUNT), note)
        gain = np.linalg.solve(
            between[np.ix_(others, others)] + np.diag(own[others]), between[others, note]
        )
        assert off[note] == pytest.approx(bare[note] - gain @ bare[others], abs=1e-7)
        left = between[note, note] - gain @ between[others, note]
        assert variance[note] == pytest.approx(left, rel=1e-4)


def test_how_exactly_it_is_known_holds_what_was_so():
    """Players whose tempo wanders as is believed here: 95 in 100 lie within two standard errors."""
    inside = []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        tempo = 0.5 * np.exp(np.cumsum(rng.normal(0, beat.WANDER, COUNT)))
        true = np.cumsum(tempo)
        scatter = rng.normal(0, 0.02, COUNT)
        apart = apart_of(QUARTERS, true + scatter, NO_BREAKS, NO_DOUBT)
        inside.append(np.abs(apart.off_s - scatter) < 1.96 * apart.se_s)
    share = np.mean(inside)
    assert 0.90 < share < 0.99


@pytest.mark.parametrize("late_ms", [-90.0, 90.0, 150.0])
def test_one_entry_off_in_a_steady_line_is_surely_so_and_its_neighbours_are_not(late_ms):
    onsets = scattered(5, 0.008)
    onsets[11] += late_ms / 1000.0
    apart = apart_of(QUARTERS, onsets, NO_BREAKS, NO_DOUBT)
    probability = off_probability(apart, NO_DOUBT, 0.025)
    assert np.sign(apart.off_s[11]) == np.sign(late_ms)
    assert probability[11] > 0.9
    assert np.delete(probability, 11).max() < 0.3


def test_a_start_that_is_doubted_is_not_surely_off():
    onsets = scattered(5, 0.008)
    onsets[11] += 0.09
    doubts = NO_DOUBT.copy()
    doubts[11] = 0.6
    apart = apart_of(QUARTERS, onsets, NO_BREAKS, doubts)
    assert off_probability(apart, doubts, 0.025)[11] <= 0.4


def test_of_slow_notes_at_an_end_less_is_known():
    """Four bars of one note each, the last 120 ms late: nobody can tell it from a bent beat."""
    slow, quick = 4.0 * np.arange(4.0), 0.5 * np.arange(12.0)
    sure = []
    for quarters in (slow, quick):
        onsets = 0.6 * quarters
        onsets[-1] += 0.12
        quiet = np.zeros(len(quarters))
        apart = apart_of(quarters, onsets, quiet > 0.0, quiet)
        sure.append(float(off_probability(apart, quiet, 0.025)[-1]))
    assert sure[0] < 0.3 and sure[1] > 0.9


def test_where_the_beat_begins_anew_the_first_note_is_not_known_and_the_next_are():
    onsets = scattered(6, 0.008)
    onsets[12:] += 0.3
    breaks = NO_BREAKS.copy()
    breaks[12] = True
    apart = apart_of(QUARTERS, onsets, breaks, NO_DOUBT)
    assert np.abs(np.delete(apart.off_s, 12)).max() < 0.05
    assert off_probability(apart, NO_DOUBT, 0.025).max() < 0.6
    onsets[15] += 0.1
    apart = apart_of(QUARTERS, onsets, breaks, NO_DOUBT)
    assert off_probability(apart, NO_DOUBT, 0.025)[15] > 0.9


def test_what_is_expected_of_a_step_is_what_two_parts_of_a_gaussian_tell():
    """Step 9 alone unknown beside everything else: regression of it on the onsets, written out."""
    onsets, own, steps = scattered(8, 0.02), np.full(COUNT, 0.02**2), np.full(COUNT, 1e-4)
    onsets[9:] += 0.05
    bare = onsets - 0.5 * QUARTERS
    whole = beat._bent(QUARTERS, 0.5) + beat._moved(steps) + np.diag(own)
    after = (QUARTERS >= 9).astype(float)
    gain = np.linalg.solve(whole, steps[9] * after)
    mean, variance = gain @ bare, steps[9] - gain @ (steps[9] * after)
    squares = beat._squares(np.linalg.inv(whole), steps, bare)
    assert squares[9] == pytest.approx(mean**2 + variance, rel=1e-6)
    assert squares.argmax() == 9


def test_a_wait_that_nobody_told_moves_the_beat_and_no_note_is_early():
    onsets = scattered(9, 0.005, quarter_s=0.7)
    onsets[14:] += 0.2  # too short for a hesitation
    apart = apart_of(QUARTERS, onsets, NO_BREAKS, NO_DOUBT)
    assert off_probability(apart, NO_DOUBT, 0.025).max() < 0.6


def test_a_note_after_a_hesitation_is_off_by_it():
    onsets = 1.2 * QUARTERS
    onsets[9:] += 0.4
    apart = apart_of(QUARTERS, onsets, NO_BREAKS, NO_DOUBT)
    assert apart.off_s[9] == pytest.approx(0.4)
    assert np.abs(np.delete(apart.off_s, 9)).max() < 0.005


def test_a_long_line_is_worked_out_in_stretches_without_a_seam():
    count = 3 * beat.STRETCH + 5
    quarters, quiet = 0.5 * np.arange(float(count)), np.zeros(count)
    onsets = scattered(7, 0.015, count, 0.3)
    apart = apart_of(quarters, onsets, quiet > 0.0, quiet)
    assert not np.isnan(apart.off_s).any()
    whole = beat._left_out(quarters, onsets, 0.6, quiet > 0.0, quiet)[0]
    assert np.abs(apart.off_s - whole).max() < 0.002


@pytest.mark.parametrize("count", [0, 1, 3])
def test_too_few_notes_have_no_beat(count):
    quiet = np.zeros(count)
    apart = apart_of(np.arange(float(count)), 0.5 * np.arange(count), quiet > 0.0, quiet)
    assert np.isnan(apart.off_s).all() and len(apart.off_s) == count
    assert (off_probability(apart, quiet, 0.025) == 0.0).all()


def test_time_that_goes_back_is_no_beat_but_both_sides_are():
    onsets = np.append(0.5 * np.arange(12.0), 1.0 + 0.5 * np.arange(12.0))
    apart = apart_of(QUARTERS, onsets, NO_BREAKS, NO_DOUBT)
    assert np.abs(apart.off_s).max() < 0.01


def test_an_uneven_player_is_believed_to_be_off_where_a_steady_one_is_not():
    off, se = np.array([0.06]), np.array([0.03])
    even, uneven = (
        float(off_probability(Apart(off, se, spread_s), np.zeros(1), 0.025)[0])
        for spread_s in (0.012, 0.05)
    )
    assert even < 0.4 and uneven > 0.7
