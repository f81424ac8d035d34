"""BS.1770 against the figures of the trade table (check_values.tsv, loud.*)."""

import gc
import weakref

import numpy as np
import pyloudnorm
import pytest
from tests.sound.takes import make_take

from standlight.sound import Recording
from standlight.sound.loudness import integrated_lkfs, k_power, k_response


def sine(hz, level, seconds, rate_hz=48_000):
    time_s = np.arange(int(seconds * rate_hz)) / rate_hz
    return (level * np.sin(2 * np.pi * hz * time_s)).astype(np.float32)


@pytest.mark.parametrize("rate_hz", [44_100, 48_000])
def test_a_full_scale_997_hz_sine_reads_minus_3_01_lkfs(rate_hz):
    # ITU-R BS.1770, loud.997: -3.01 LKFS within 0.1
    power = k_power(Recording(sine(997.0, 1.0, 3.0, rate_hz), rate_hz))
    assert integrated_lkfs(power) == pytest.approx(-3.01, abs=0.02)


@pytest.mark.parametrize(
    ("hz", "gain_db"), [(100, -1.133), (1000, 0.698), (2000, 3.071), (10_000, 4.042)]
)
def test_the_k_filter_has_the_published_gain(hz, gain_db):
    # loud.k: computed from the published 48 kHz coefficients
    gain = np.abs(k_response(np.array([float(hz)]), 48_000))[0]
    assert 20 * np.log10(gain) == pytest.approx(gain_db, abs=0.002)


def test_the_relative_gate_leaves_silence_out():
    # BS.1770-2 gating: two seconds of tone and ten of near silence read like the tone alone
    tone = sine(997.0, 0.1, 2.0)
    quiet = sine(997.0, 0.0001, 10.0)
    alone = integrated_lkfs(k_power(Recording(tone, 48_000)))
    both = integrated_lkfs(k_power(Recording(np.concatenate([tone, quiet]), 48_000)))
    assert both == pytest.approx(alone, abs=0.6)  # blocks across the edge hold half a tone


def test_digital_silence_has_no_loudness():
    assert integrated_lkfs(k_power(Recording(np.zeros(48_000, np.float32), 48_000))) is None


@pytest.mark.parametrize("timbre", ["flute", "cello", "tuba", "voice"])
def test_gated_loudness_is_pyloudnorm_s(timbre):
    # pyloudnorm (Steinmetz & Reiss, AES 150, 2021) is a reference implementation of BS.1770-4
    recording = make_take(7300, timbre=timbre).recording
    meter = pyloudnorm.Meter(recording.rate_hz)
    asked = meter.integrated_loudness(recording.samples.astype(np.float64))
    assert integrated_lkfs(k_power(recording)) == pytest.approx(asked, abs=0.1)
    softer = Recording((recording.samples * 10 ** (-13.0 / 20)).astype(np.float32), 44_100)
    assert integrated_lkfs(k_power(softer)) == pytest.approx(asked - 13.0, abs=0.1)


def test_the_weighted_power_of_a_recording_is_worked_out_once_and_forgotten_with_it():
    one, other = (Recording(sine(440.0, level, 1.0), 48_000) for level in (0.1, 0.2))
    power = k_power(one)
    assert k_power(one) is power and not power.flags.writeable
    assert np.median(k_power(other) / power) == pytest.approx(4.0, rel=1e-4)
    kept = weakref.ref(one)
    del one
    gc.collect()
    assert kept() is None
