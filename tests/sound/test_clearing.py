"""A steady background is turned down before the pitch is read, and nothing else changes."""

from fractions import Fraction

import numpy as np
import pytest
from scipy.optimize import brentq
from tests.sound.melody import HARMONICS, RATE_HZ

from standlight.music import Note, hz_of_midi
from standlight.score.values import Passage
from standlight.sound import Recording, perform
from standlight.sound.clearing import (
    FULL_SHARE,
    LEAST_GAIN,
    background_gain,
    clear_candidates,
    gain_of,
)
from standlight.sound.pitch import pitch_candidates, pitch_path

LINE = (60, 60, 62, 64, 64, 62, 60, 60, 65, 64, 62, 62, 60, 62, 64, 60)
STEP_S, SHARE, TEMPO_QPM, START_S = 0.5, 0.85, 120.0, 0.5
NOISE, SOFT = 0.1, 0.05
"""Root mean square of a fan (white), and of a soft tone."""


def tone(midi, seconds, size):
    """A tone of this root mean square, without clicks."""
    time_s = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    wave = sum(
        a * np.sin(2 * np.pi * k * float(hz_of_midi(midi)) * time_s)
        for k, a in HARMONICS.items()
    )
    edge = np.clip(np.minimum(time_s, seconds - time_s) / 0.02, 0.0, 1.0)
    return size * edge * wave / np.sqrt(np.mean(wave**2))


def take(sizes, noise=NOISE, line=LINE):
    """The line, its notes of so many ``sizes`` in turn, beside a fan."""
    wave = np.zeros(int((2 * START_S + len(line) * STEP_S) * RATE_HZ))
    for place, midi in enumerate(line):
        first = int((START_S + place * STEP_S) * RATE_HZ)
        sound = tone(midi, SHARE * STEP_S, sizes[place * len(sizes) // len(line)])
        wave[first : first + len(sound)] += sound
    wave += np.random.default_rng(5).normal(0.0, max(noise, 1e-5), len(wave))
    return Recording((0.5 * wave).astype(np.float32), RATE_HZ)


def part(line=LINE):
    """The line in quarters."""
    notes = tuple(
        Note(Fraction(at), Fraction(1), measure=at // 4, midi=midi)
        for at, midi in enumerate(line)
    )
    return Passage("", "Horn in F", "", (), notes, Fraction(len(notes)))


def track_of(recording, candidates):
    """The pitch track by one or the other way to find ``candidates``."""
    return pitch_path(candidates(recording, 46.0, 79.0), 60.0, 65.0)


def voiced_share(recording, candidates, line=LINE):
    """Share of the middle frames of all notes that have their pitch."""
    track = track_of(recording, candidates)
    found = []
    for place, midi in enumerate(line):
        first = int(100 * (START_S + place * STEP_S)) + 5
        there = slice(first, first + 30)
        found.append(track.voiced[there] & (np.abs(track.midi[there] - midi) < 0.3))
    return float(np.mean(found))


def test_a_line_softer_than_the_fan_has_its_pitch():
    recording = take((SOFT,))
    assert voiced_share(recording, pitch_candidates) < 0.6
    assert voiced_share(recording, clear_candidates) > 0.95


def test_such_a_line_is_told_note_by_note():
    performance = perform(take((SOFT,)), part(), TEMPO_QPM)
    assert [note.outcome for note in performance.notes] == ["played"] * len(LINE)
    assert not performance.added and not performance.restarts
    off = [
        note.onset_s - START_S - place * STEP_S for place, note in enumerate(performance.notes)
    ]
    assert np.median(np.abs(off)) < 0.05


def test_soft_notes_after_loud_ones_are_heard_under_a_gain_control():
    recording = take((0.4, SOFT))
    half = len(recording.samples) // 2
    wave = recording.samples.copy()
    wave[half:] *= 3.0  # both the soft notes and the noise under them
    raised = Recording(np.clip(wave, -1.0, 1.0), RATE_HZ)
    assert voiced_share(raised, pitch_candidates) < 0.8
    assert voiced_share(raised, clear_candidates) > 0.95


@pytest.mark.parametrize("noise", [0.0, 0.001])
def test_a_quiet_room_leaves_the_pitch_as_it_is(noise):
    recording = take((0.2,), noise)
    plain, after = (track_of(recording, one) for one in (pitch_candidates, clear_candidates))
    both = plain.voiced & after.voiced
    assert both.sum() > 0.97 * plain.voiced.sum()
    assert 100.0 * np.percentile(np.abs(plain.midi[both] - after.midi[both]), 95) < 0.5


@pytest.mark.parametrize("times", [1.5, 2.0, 3.0, 4.0, 41.0])
def test_the_gain_is_wieners(times):
    """Noise of density 1, in a band half the time so many times as strong: S / (S + N) is known.

    Each half has an exponential law, so the level that is reached in a quarter of the frames is.
    """
    power = np.random.default_rng(2).exponential(size=(16_000, 200))
    power[8_000:, 94:107] *= times
    at_times = brentq(lambda one: 0.5 * (np.exp(-one) + np.exp(-one / times)) - 0.25, 0.1, 99.0)
    share = 1.0 - 1.0 / at_times
    wanted = LEAST_GAIN + (1.0 - LEAST_GAIN) * (share - LEAST_GAIN) / (FULL_SHARE - LEAST_GAIN)
    gain = gain_of(power, 6.0)
    assert gain[100] == pytest.approx(min(wanted, 1.0), abs=0.05)
    assert gain[:80].mean() == pytest.approx(LEAST_GAIN, abs=0.03)


@pytest.mark.parametrize("midi", [29, 40, 60, 84])
def test_a_tone_that_fills_the_take_is_turned_down_by_no_more_than_its_noise(midi):
    wave = tone(midi, 8.0, 0.2) + np.random.default_rng(3).normal(0.0, 0.01, 8 * RATE_HZ)
    recording = Recording(wave.astype(np.float32), RATE_HZ)
    gain = background_gain(recording)
    harmonics = [k * float(hz_of_midi(midi)) for k in HARMONICS if k * hz_of_midi(midi) < 4_000.0]
    kept_db, around_db = (
        20.0 * np.log10(gain(np.array(hz))) for hz in (harmonics, np.arange(100.0, 4_000.0, 4.0))
    )
    assert kept_db.min() > around_db.mean() - 1.0


def test_short_recordings_are_left_and_silent_ones_have_no_pitch():
    short = Recording(np.zeros(9_000, dtype=np.float32), RATE_HZ)
    assert background_gain(short) is None
    silent = Recording(np.zeros(3 * RATE_HZ, dtype=np.float32), RATE_HZ)
    assert not track_of(silent, clear_candidates).voiced.any()
