"""Joins: planted cuts and jumps are found; dynamics, gain controls and gates are left alone."""

import numpy as np
import pytest
from tests.sound.real_takes import RECORDINGS, sound
from tests.sound.takes import make_take
from tests.sound.test_quality import through_codec

from standlight.sound import Recording, joins_of

SEEDS = range(5000, 5012)
"""Made takes of every timbre; none of them chose a limit."""


def made(seed, **facts):
    return make_take(seed, **facts).recording


def changed(take, samples):
    return Recording(samples.astype(np.float32), take.rate_hz)


def middle(take):
    return len(take.samples) // 2


def with_gap(take, seconds=0.15):
    samples = take.samples.copy()
    samples[middle(take) : middle(take) + int(seconds * take.rate_hz)] = 0.0
    return changed(take, samples)


def with_step(take, change_db):
    samples = take.samples.copy()
    samples[middle(take) :] *= 10 ** (change_db / 20)
    return changed(take, samples)


def test_takes_that_were_played_through_have_no_join():
    assert [joins_of(made(seed)) for seed in SEEDS] == [()] * len(SEEDS)


def test_real_takes_that_were_played_through_have_no_join():
    names = [
        f"{kind}/{file.name}"
        for kind in ("violin", "voice", "winds")
        for file in sorted((RECORDINGS / kind).glob("*.flac"))
    ]
    takes = [sound(name) for name in names]
    assert sum(take.seconds > 8.0 for take in takes) >= 3
    assert [joins_of(take) for take in takes] == [()] * len(takes)


def test_a_moment_of_nothing_inside_a_take_is_found_where_it_is():
    for seed in SEEDS:
        take = made(seed)
        (join,) = joins_of(with_gap(take))
        assert join.kind == "gap"
        assert join.at_s == pytest.approx(middle(take) / take.rate_hz, abs=0.01)


def test_a_gate_that_shuts_in_every_rest_is_no_join():
    take = made(5003)
    samples = take.samples.copy()
    for share in (0.2, 0.35, 0.5, 0.65, 0.8):
        start = int(share * len(samples))
        samples[start : start + int(0.1 * take.rate_hz)] = 0.0
    assert joins_of(changed(take, samples)) == ()


@pytest.mark.parametrize("change_db", [-14.0, 14.0])
def test_everything_at_once_louder_or_softer_is_found_where_the_room_can_be_heard(change_db):
    found, told_elsewhere = 0, 0
    for seed in range(5000, 5020):
        take = made(seed, gap_share=0.25, echo=0.1)
        for join in joins_of(with_step(take, change_db)):
            near = abs(join.at_s - middle(take) / take.rate_hz) < 2.0
            found += near and abs(join.change_db - change_db) < 4.0
            told_elsewhere += not near
    assert found >= 10
    assert told_elsewhere == 0


def test_loud_and_soft_playing_in_one_room_is_no_join():
    for seed in SEEDS:
        take = made(seed, snr_db=80.0, gap_share=0.25, echo=0.1)
        music = with_step(take, -16.0).samples
        noise = np.random.default_rng(seed).normal(0.0, 0.001, len(music))
        assert joins_of(changed(take, music + noise)) == (), seed


def test_a_gain_control_that_lifts_soft_playing_and_the_room_with_it_is_no_join():
    for seed in SEEDS:
        take = made(seed, snr_db=80.0, gap_share=0.25, echo=0.1)
        noise = np.random.default_rng(seed).normal(0.0, 0.001, len(take.samples))
        levelled = with_step(changed(take, with_step(take, -16.0).samples + noise), 12.0)
        assert joins_of(levelled) == (), seed


def test_after_a_browsers_codec_a_gap_is_blurred_and_nothing_is_made_up():
    # The codec lets the room fade into the gap, so nothing is told: a limit, said in the module.
    take = made(5001)
    assert joins_of(through_codec(with_gap(take, 0.4).samples)) == ()
    assert joins_of(through_codec(take.samples)) == ()


def test_a_short_recording_is_never_asked_about():
    take = made(5002)
    short = changed(take, with_gap(take).samples[middle(take) - 44_100 : middle(take) + 88_200])
    assert joins_of(short) == ()
