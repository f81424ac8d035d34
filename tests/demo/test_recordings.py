"""What the demo's groups listen to is what the words about it say."""

import io

import av
import numpy as np
import pytest

from standlight.demo.recordings import RECORDINGS, played
from standlight.demo.work_table import WORK
from standlight.demo.written.listening import moment_s


def samples_of(data):
    with av.open(io.BytesIO(data)) as file:
        rate = file.streams.audio[0].rate
        parts = [frame.to_ndarray().astype(float).mean(axis=0) for frame in file.decode(audio=0)]
    whole = np.concatenate(parts)
    return whole / np.abs(whole).max(), rate


@pytest.fixture(scope="module")
def ferry():
    return samples_of(played(RECORDINGS["Ferry at Dusk, played by the machine"]))


def loudness(ferry, first, last):
    """Root mean square between two measures, the last one left out."""
    samples, rate = ferry
    span = samples[round(moment_s(first) * rate) : round(moment_s(last) * rate)]
    return float(np.sqrt((span**2).mean()))


def test_the_ferry_lasts_as_long_as_its_measures_at_the_tempo_of_the_pins(ferry):
    samples, rate = ferry
    assert moment_s(25) < samples.size / rate < moment_s(25) + 2.0


def test_it_is_softer_at_letter_a_and_loud_again_at_b_as_the_musicians_write(ferry):
    assert loudness(ferry, 9, 13) < 0.9 * loudness(ferry, 1, 9)
    assert loudness(ferry, 17, 21) > 1.3 * loudness(ferry, 9, 13)


def test_every_recording_that_is_named_can_be_played():
    assert {given.sound_name for given in WORK if given.sound_name} == set(RECORDINGS)
