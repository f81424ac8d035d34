"""Strokes inside a roll, against rolls made with exact times and levels."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from tests.criteria.test_table import performance

from standlight.criteria import CRITERIA
from standlight.music import Note
from standlight.score.values import Passage
from standlight.sound import HeardNote, Recording, rolls_of
from standlight.sound.rolling import strokes_between

RATE_HZ = 44_100


def rolled(times_s, levels, seconds, seed=1, decay_s=0.02):
    """Strokes of noise that die away, at exact times."""
    rng, samples = np.random.default_rng(seed), np.zeros(int(seconds * RATE_HZ))
    for time_s, level in zip(times_s, levels, strict=True):
        count = min(int(0.1 * RATE_HZ), len(samples) - int(time_s * RATE_HZ))
        at = np.arange(count) / RATE_HZ
        first = int(time_s * RATE_HZ)
        burst = rng.normal(size=count) * np.exp(-at / decay_s) * np.minimum(at / 0.001, 1.0)
        samples[first : first + count] += 0.2 * level * burst
    samples += rng.normal(0, 0.0005, len(samples))
    return Recording(samples.astype(np.float32), RATE_HZ)


def roll_written(count):
    """A rolled whole note at 100 quarters a minute (2.4 s), heard at 0.5 s, ``count`` times."""
    notes = tuple(
        Note(Fraction(4 * i), Fraction(4), None, i, drum="snare", marks=frozenset({"tremolo"}))
        for i in range(count)
    )
    heard = [
        HeardNote(index=i, outcome="played", onset_s=0.5 + 2.4 * i, offset_s=0.58 + 2.4 * i,
                  asynchrony_ms=0.0)
        for i in range(count)
    ]  # fmt: skip
    return performance(heard, passage=Passage("", "", "", (), notes, Fraction(4 * count)))


@pytest.mark.parametrize("speed", [10.0, 16.0, 20.0])
def test_the_strokes_of_a_roll_are_found_one_by_one(speed):
    rng = np.random.default_rng(4)
    times = 0.5 + np.arange(int(2.3 * speed)) / speed + rng.normal(0, 0.002, int(2.3 * speed))
    recording = rolled(times, np.ones(len(times)), 3.2)
    found, _ = strokes_between(recording, 0.5, 2.9)
    near = np.abs(found[:, None] - times[None, :]).min(axis=0) < 0.012
    assert near.mean() > 0.93
    assert len(found) == pytest.approx(len(times), rel=0.07)


def test_speed_and_evenness_of_a_roll_are_as_made():
    rng = np.random.default_rng(6)
    times = 0.5 + np.arange(34) / 15.0 + rng.normal(0, 0.006, 34)
    recording = rolled(times, 10.0 ** (rng.normal(0, 3.0, 34) / 20.0), 3.2)
    play = roll_written(1)
    play = replace(play, rolls=rolls_of(recording, play))
    by_name = {r.name: r for r in CRITERIA["evenness"].read(play)}
    assert by_name["roll speed"].value == pytest.approx(15.0, rel=0.05)
    # gaps of independent starts scatter by sqrt(2) times 6 ms of 66.7 ms: 12.7 percent
    assert by_name["roll evenness in time"].low < 12.7 < by_name["roll evenness in time"].high
    even = rolled(0.5 + np.arange(34) / 15.0, np.ones(34), 3.2)
    smooth = replace(play, rolls=rolls_of(even, play))
    by_even = {r.name: r for r in CRITERIA["evenness"].read(smooth)}
    assert by_even["roll evenness in time"].value < 5.0
    assert by_even["roll evenness in loudness"].value < by_name["roll evenness in loudness"].value


def test_a_roll_that_is_one_noise_gives_no_figure_but_a_reason():
    rng = np.random.default_rng(2)
    hiss = Recording((0.05 * rng.normal(size=3 * RATE_HZ)).astype(np.float32), RATE_HZ)
    play = roll_written(1)
    readings = CRITERIA["evenness"].read(replace(play, rolls=rolls_of(hiss, play)))
    roll = [r for r in readings if r.name == "roll speed"]
    assert [r.value for r in roll] == [None]


def test_a_part_without_rolls_has_none():
    heard = [HeardNote(index=0, outcome="played", onset_s=0.5, offset_s=0.6)]
    silence = Recording(np.zeros(RATE_HZ, dtype=np.float32), RATE_HZ)
    assert rolls_of(silence, performance(heard)) == ()
