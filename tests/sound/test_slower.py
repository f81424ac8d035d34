"""Who slows down for a hard place has not stopped there, and nothing in it is late."""

from fractions import Fraction

import numpy as np
import pytest
from tests.sound.melody import MELODY, TEMPO_QPM, TONE_S, played

from standlight.criteria.pulse import read
from standlight.music import Note
from standlight.score.values import Passage
from standlight.sound import perform
from standlight.sound.curves import stops_of
from standlight.sound.timing import timing_of

SONG = MELODY * 2
FIRST, LAST = 8, 15
"""The third and fourth measure of eight are hard."""


def song():
    """The melody twice, in quarters."""
    notes = tuple(
        Note(Fraction(at), Fraction(1), measure=at // 4, midi=midi)
        for at, midi in enumerate(SONG)
    )
    return Passage("", "Flute", "", (), notes, Fraction(len(notes)))


def heard(times_longer):
    """What is told of the song whose notes last ``times_longer`` than usual, by index."""
    lengths_s = [TONE_S * times_longer.get(at, 1.0) for at in range(len(SONG))]
    return perform(played(SONG, lengths_s), song(), TEMPO_QPM)


def said(performance):
    """The sentences of the pulse, by name."""
    return {reading.name: reading.sentence for reading in read(performance)}


@pytest.mark.parametrize("times", [1.3, 1.6, 2.0])
def test_a_place_played_slower_is_a_tempo_and_no_stops(times):
    told = heard(dict.fromkeys(range(FIRST, LAST + 1), times))
    assert stops_of(told) == ()
    words = said(told)
    assert words["stops"] == "It went on without a stop."
    slowest = words["bending of the tempo"].split("slowest in ")[-1]
    assert slowest in ("measure 3.", "measure 4.")
    assert words["drift"] == "The tempo holds from start to end."
    late_ms = [note.asynchrony_ms for note in told.notes if note.asynchrony_ms is not None]
    assert len(late_ms) == len(SONG) and max(np.abs(late_ms)) < 30.0
    mean_s = TONE_S * (len(SONG) + (times - 1.0) * (LAST - FIRST + 1)) / len(SONG)
    assert told.tempo_qpm == pytest.approx(60.0 / mean_s, rel=0.02)


def test_two_waits_in_a_row_and_three_of_other_lengths_stay_stops():
    assert stops_of(heard({9: 2.0, 10: 2.0})) == (10, 11)
    assert stops_of(heard({9: 1.8, 10: 2.6, 11: 3.6})) == (10, 11, 12)


def test_a_stop_in_a_slower_place_is_one_stop():
    slower = dict.fromkeys(range(FIRST - 2, LAST + 1), 1.6)
    told = heard({**slower, 11: 4.0})
    assert stops_of(told) == (12,)


def test_who_is_slower_from_some_measure_on_gets_slower():
    # a third of the music, taken 1.25 times as long: the last quarter is 20 percent slower
    onsets_s = np.append(0.0, np.cumsum(np.where(np.arange(31) >= 20, 1.25, 1.0))) * TONE_S
    timing = timing_of(np.arange(32.0), onsets_s)
    assert timing.drift_percent == pytest.approx(-20.0, abs=1.0)
    assert np.abs(np.array(timing.asynchrony_ms)).max() < 1.0
    assert timing.tempo_qpm == pytest.approx(60.0 * 31 / onsets_s[-1], rel=1e-6)


def test_a_few_slow_notes_at_the_start_are_no_drift():
    onsets_s = np.append(0.0, np.cumsum(np.where(np.arange(31) < 3, 1.3, 1.0))) * TONE_S
    assert timing_of(np.arange(32.0), onsets_s).drift_percent == pytest.approx(0.0, abs=0.5)
