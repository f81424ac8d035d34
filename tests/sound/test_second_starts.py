"""A note played once more than written, at its own pitch and in time, is told as an added sound."""

from fractions import Fraction

import numpy as np
import pytest
from tests.sound.melody import HARMONICS, RATE_HZ

from standlight.music import Note, hz_of_midi
from standlight.score.values import Passage
from standlight.sound import Recording, perform
from standlight.sound.curves import stops_of

MELODY = (67, 67, 69, 71, 71, 71, 72, 74, 74, 72, 71, 69, 69, 67, 71, 72)
TONE_S, TEMPO_QPM, SINKS_S, START_S = 1.1, 60.0, 0.03, 0.5
RUNS = {1: (0, 1), 5: (3, 4, 5), 8: (7, 8), 12: (11, 12)}
"""The last note of each run of one pitch, and the notes of the run."""


def part():
    """The melody in quarters."""
    notes = tuple(
        Note(Fraction(at), Fraction(1), measure=at // 4, midi=midi)
        for at, midi in enumerate(MELODY)
    )
    return Passage("", "Flute", "", (), notes, Fraction(len(notes)))


def tone(midi, sink_db, seconds=TONE_S, middle_db=0.0):
    """A tone that is ``sink_db`` softer where it begins and ends, ``middle_db`` in its middle."""
    time_s = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    edge = np.clip(1.0 - np.minimum(time_s, seconds - time_s) / SINKS_S, 0.0, 1.0)
    middle = np.clip(1.0 - np.abs(time_s - 0.5 * seconds) / SINKS_S, 0.0, 1.0)
    hz = float(hz_of_midi(midi))
    wave = sum(a * np.sin(2 * np.pi * k * hz * time_s) for k, a in HARMONICS.items())
    return 10.0 ** (-(sink_db * edge + middle_db * middle) / 20.0) * wave


def told(tones):
    """What is told of the tones one after the other, in a little noise."""
    silence = np.zeros(int(START_S * RATE_HZ))
    wave = 0.1 * np.concatenate([silence, *tones, silence])
    noise = np.random.default_rng(8).normal(0.0, 1e-3, len(wave))
    recording = Recording((wave + noise).astype(np.float32), RATE_HZ)
    return perform(recording, part(), TEMPO_QPM)


def all_played(performance):
    return {note.outcome for note in performance.notes} == {"played"}


@pytest.mark.parametrize("sink_db", [14.0, 18.0])
@pytest.mark.parametrize("last", RUNS)
def test_one_note_too_many_in_a_run_is_told_as_added(last, sink_db):
    pitches = (*MELODY[: last + 1], *MELODY[last:])
    performance = told([tone(midi, sink_db) for midi in pitches])
    (added,) = performance.added
    places = range(RUNS[last][0], last + 2)
    assert min(abs(added.onset_s - START_S - at * TONE_S) for at in places) < 0.05
    assert added.midi_heard == pytest.approx(MELODY[last], abs=0.1)
    assert all_played(performance)
    assert stops_of(performance) == performance.restarts == ()
    assert performance.prolonged == frozenset()
    late_ms = [note.asynchrony_ms for note in performance.notes]
    assert max(abs(ms) for ms in late_ms if ms is not None) < 50.0


def test_in_a_run_held_on_a_note_is_told_to_go_on():
    # no second start, but the time of one more note
    tones = [tone(midi, 14.0, TONE_S * (1 + (at == 8))) for at, midi in enumerate(MELODY)]
    performance = told(tones)
    assert performance.added == () and all_played(performance)
    assert len(performance.prolonged & set(RUNS[8])) == len(performance.prolonged) == 1
    assert stops_of(performance) == ()


@pytest.mark.parametrize("last", [1, 8, 12])
def test_a_held_note_that_swells_on_and_off_is_not_played_twice(last):
    # sinks as for a second start, but all through: a vibrato of the breath
    tones = [tone(midi, 14.0) for midi in MELODY]
    parts = [tone(MELODY[last], 14.0, TONE_S / 3.0) for _ in range(6)]
    performance = told([*tones[:last], *parts, *tones[last + 1 :]])
    assert performance.added == () and all_played(performance)


@pytest.mark.parametrize("middle_db", [0.0, 14.0])
def test_without_the_time_of_one_more_note_nothing_is_added(middle_db):
    # each run's last tone sinks as for a second start, but takes no longer than written
    tones = [tone(midi, 14.0, middle_db=middle_db * (at in RUNS)) for at, midi in enumerate(MELODY)]
    performance = told(tones)
    assert performance.added == performance.restarts == () and all_played(performance)
    assert performance.prolonged == frozenset()


@pytest.mark.parametrize("middle_db", [0.0, 4.0])
def test_what_swells_softly_in_a_held_note_is_no_second_start(middle_db):
    tones = [
        tone(midi, 14.0, TONE_S * (1 + (at == 8)), middle_db * (at == 8))
        for at, midi in enumerate(MELODY)
    ]
    assert told(tones).added == ()
