"""What belongs to the part: made takes with a known tone laid over them."""

import numpy as np
import pytest
from tests.sound.takes import RATE_HZ, make_take

from standlight.music import hz_of_midi
from standlight.sound import Recording, perform

TAKE = make_take(41, timbre="clarinet", count=24)


def test_one_player_alone_leaves_nothing_foreign():
    alone = perform(TAKE.recording, TAKE.passage, TAKE.tempo_qpm)
    assert alone.explained_share > 0.95 and alone.foreign_pitch_share < 0.01


@pytest.mark.parametrize(
    ("apart", "above_db", "foreign"),
    [(6.0, 0.0, True), (12.0, 0.0, False), (19.0, 0.0, False), (6.0, -30.0, False)],
)
def test_what_is_loud_and_no_slip_of_a_pitch_track_is_foreign(apart, above_db, foreign):
    last = max(TAKE.last_played())
    ended_s = TAKE.recording.seconds
    samples = np.append(TAKE.recording.samples, np.zeros(2 * RATE_HZ, dtype=np.float32))
    first = int((ended_s + 0.3) * RATE_HZ)
    loud = np.sqrt(np.mean(TAKE.recording.samples**2)) * 10 ** (above_db / 20)
    midi = TAKE.passage.notes[last].midi + apart
    phase = 2 * np.pi * float(hz_of_midi(midi)) * np.arange(len(samples) - first) / RATE_HZ
    samples[first:] += (loud * np.sin(phase) * np.sqrt(2)).astype(np.float32)
    played = perform(Recording(samples, RATE_HZ), TAKE.passage, TAKE.tempo_qpm)
    assert (played.foreign_pitch_share > 0.03) is foreign
