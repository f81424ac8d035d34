"""A phrase in the wrong octave, at a wrong step or left out: tones by formula, known exactly."""

import pytest
from tests.sound.melody import MELODY, TEMPO_QPM, passage, played

from standlight.sound import perform

FIRST = 4


def outcomes(change, count):
    """What is told of each note where ``count`` notes are as ``change`` makes of the written."""
    run = range(FIRST, FIRST + count)
    midis = [change(midi) if at in run else midi for at, midi in enumerate(MELODY)]
    told = perform(played(midis), passage(), TEMPO_QPM).notes
    return [note.outcome for note in told], [note.midi_heard for note in told]


@pytest.mark.parametrize("count", [1, 2, 3, 5, 8])
@pytest.mark.parametrize("apart", [-12, 12, -3, -1, 1, 3])
def test_every_note_of_a_phrase_that_is_off_is_told_at_its_pitch(apart, count):
    # by a whole tone a line of steps is nearly itself, a note later: fewer faults explain it so
    told, midis = outcomes(lambda midi: midi + apart, count)
    off = ["other_pitch"] * count
    assert told == ["played"] * FIRST + off + ["played"] * (len(MELODY) - FIRST - count)
    run = slice(FIRST, FIRST + count)
    wanted = [midi + apart for midi in MELODY[run]]
    assert midis[run] == pytest.approx(wanted, abs=0.1)


@pytest.mark.parametrize("count", [1, 2, 3, 5, 8])
def test_every_note_of_a_phrase_left_out_in_time_is_missing(count):
    told, _ = outcomes(lambda midi: None, count)
    gone = ["missing"] * count
    assert told == ["played"] * FIRST + gone + ["played"] * (len(MELODY) - FIRST - count)
