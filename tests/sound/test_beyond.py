"""Playing before the passage or on past its end is no second player and no added note."""

from dataclasses import replace

import pytest
from tests.sound.melody import MELODY, TEMPO_QPM, passage, played

from standlight.listening import Terms, hear
from standlight.sound import HeardNote, perform
from standlight.sound.beyond import FEWEST_SOUNDS, with_playing_beyond_told

BEFORE, AFTER = [63, 65, 68, 70, 66, 64], [70, 73, 66, 63, 68, 61, 65]
NAMES = ("added sounds", "other notes", "notes not heard")


def told_of(midis, lengths_s=None):
    """The report on the notes of what is played against the melody."""
    return hear(played(midis, lengths_s), passage(), Terms(TEMPO_QPM, criteria=("notes",)))


def codes(report):
    return [verdict.code for verdict in report.verdicts]


def values(report):
    return [one.value for name in NAMES for one in report.readings if one.name == name]


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        (BEFORE, [], "before the first note of this passage:"),
        ([], AFTER, "after the last note of this passage:"),
        (BEFORE, AFTER, "before the first note of this passage and after the last:"),
    ],
)
def test_what_is_played_beyond_the_passage_is_told_in_one_sentence(before, after, words):
    report = told_of([*before, *MELODY, *after])
    assert codes(report) == ["beyond_passage"] and words in report.verdicts[0].sentence
    assert report.added == () and values(report) == [0.0, 0.0, 0.0]


def test_playing_on_is_no_second_player_though_it_is_foreign():
    told = perform(played([*MELODY, *AFTER]), passage(), TEMPO_QPM)
    assert told.foreign_pitch_share > 0.1 > told.within_foreign_share
    assert told.within_explained_share > 0.95 > told.explained_share


def test_one_sound_beyond_the_passage_stays_an_added_one():
    performance = perform(played([*BEFORE[-1:], *MELODY]), passage(), TEMPO_QPM)
    assert len(performance.added) == 1
    assert with_playing_beyond_told(performance) == (performance, ())


def test_sounds_between_the_notes_stay_added_ones():
    report = told_of([*MELODY[:8], 63, 65, *MELODY[8:], *AFTER])
    assert codes(report) == ["beyond_passage"]
    assert len(report.added) == 2


def test_who_is_lost_at_the_end_is_not_said_to_play_beyond_it():
    told = perform(played([*MELODY, *AFTER]), passage(), TEMPO_QPM)
    lost = replace(told, notes=(*told.notes[:-1], HeardNote(len(MELODY) - 1, "missing")))
    assert len(told.added) >= FEWEST_SOUNDS and not with_playing_beyond_told(told)[0].added
    assert with_playing_beyond_told(lost) == (lost, ())
