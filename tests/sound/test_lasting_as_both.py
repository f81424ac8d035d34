"""One tone at the pitch of the next note: two notes joined, or one left out and the next early."""

import pytest
from tests.sound.melody import MELODY, TEMPO_QPM, TONE_S, passage, played

from standlight.sound import perform

AT = 5


def test_a_wrong_note_slurred_into_the_next_at_its_pitch_is_told_and_the_next_is_on_time():
    midis, lengths = list(MELODY), [TONE_S] * len(MELODY)
    del midis[AT]
    del lengths[AT]
    lengths[AT] = 2 * TONE_S
    told = perform(played(midis, lengths), passage(), TEMPO_QPM)
    assert [note.index for note in told.notes if note.outcome != "played"] == [AT]
    assert told.notes[AT].outcome == "other_pitch"
    assert told.notes[AT].midi_heard == pytest.approx(MELODY[AT + 1], abs=0.1)
    assert told.notes[AT + 1].onset_s == pytest.approx(0.5 + TONE_S * (AT + 1), abs=0.1)


def test_a_note_left_out_without_its_time_is_missing():
    midis = list(MELODY)
    del midis[AT]
    told = perform(played(midis), passage(), TEMPO_QPM)
    assert [note.index for note in told.notes if note.outcome != "played"] == [AT]
    assert told.notes[AT].outcome == "missing"
    assert told.notes[AT + 1].onset_s == pytest.approx(0.5 + TONE_S * AT, abs=0.03)
