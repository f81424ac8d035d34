"""The last complete attempt is reported, also where the player goes back once more and stops."""

import pytest
from tests.sound.melody import MELODY, TEMPO_QPM, TONE_S, passage, played

from standlight.sound import perform

BEFORE_S, STOP = 0.5, [None, None]


def heard(*stretches):
    """What is told of stretches of the melody, first and last note each, a stop between them."""
    midis = []
    for first, last in stretches:
        midis += (STOP if midis else []) + list(MELODY[first : last + 1])
    return perform(played(midis), passage(), TEMPO_QPM)


@pytest.mark.parametrize(("first", "last"), [(8, 11), (10, 12), (0, 6)])
def test_a_try_that_stops_is_an_attempt_and_the_whole_is_reported(first, last):
    told = heard((0, len(MELODY) - 1), (first, last))
    starts = [note.onset_s for note in told.notes]
    wanted = [BEFORE_S + TONE_S * place for place in range(len(MELODY))]
    assert starts == pytest.approx(wanted, abs=0.03)
    again = len(MELODY) + len(STOP)
    assert [note.index for note in told.attempts] == list(range(first, last + 1))
    assert told.attempts[0].onset_s == pytest.approx(BEFORE_S + TONE_S * again, abs=0.03)
    assert [jump.to_index for jump in told.restarts] == [first]


def test_a_second_time_to_the_end_is_the_one_that_is_reported():
    told = heard((0, len(MELODY) - 1), (8, len(MELODY) - 1))
    starts = [note.onset_s for note in told.notes]
    assert starts == sorted(starts)
    assert starts[8] == pytest.approx(BEFORE_S + TONE_S * (len(MELODY) + len(STOP)), abs=0.03)
    assert [note.index for note in told.attempts] == list(range(8, len(MELODY)))


def test_of_two_stops_the_last_try_that_goes_to_the_end_is_reported():
    told = heard((0, 6), (4, len(MELODY) - 1), (9, 12))
    starts = [note.onset_s for note in told.notes]
    assert starts == sorted(starts)
    assert [note.index for note in told.attempts] == [4, 5, 6, 9, 10, 11, 12]
