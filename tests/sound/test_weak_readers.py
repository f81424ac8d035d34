"""Who reads half the notes wrong, but in time, plays this part; another tune is another tune."""

from dataclasses import replace
from fractions import Fraction

import pytest
from tests.sound.melody import MELODY, TEMPO_QPM, passage, played

from standlight.listening import Terms, hear
from standlight.music import Note

NATURALS = {66: 65, 69: 68, 71: 70, 73: 72, 76: 75}
"""A key signature of sharps forgotten, as it were: each of these is played a semitone low."""

AS_PLAYED = (0, 2, -1, 3, 0, 0, -2, 1, 0, -3, 0, 2, 0, 0, 1, -1)
"""Nine notes of the melody's sixteen wrong, by so many semitones."""


def codes(report):
    return {verdict.code for verdict in report.verdicts}


@pytest.mark.parametrize("sounded", [
    tuple(NATURALS.get(midi, midi) for midi in MELODY),
    tuple(midi + off for midi, off in zip(MELODY, AS_PLAYED, strict=True)),
])  # fmt: skip
def test_half_the_notes_wrong_in_time_are_a_reading_of_this_part(sounded):
    report = hear(played(sounded), passage(), Terms(TEMPO_QPM, "Flute"))
    assert "other_piece" not in codes(report)
    told = [(note.outcome, round(note.midi_heard)) for note in report.notes]
    assert told == [
        ("played" if heard == written else "other_pitch", heard)
        for heard, written in zip(sounded, MELODY, strict=True)
    ]


@pytest.mark.parametrize("places", [
    (5, 9, 0, 13, 10, 3, 15, 6, 12, 1, 8, 14, 4, 11, 2, 7),
    (12, 3, 10, 7, 0, 14, 5, 11, 2, 8, 15, 1, 6, 13, 9, 4),
])  # fmt: skip
def test_the_same_pitches_and_values_in_another_order_are_another_piece(places):
    report = hear(played([MELODY[place] for place in places]), passage(),
                  Terms(TEMPO_QPM, "Flute"))  # fmt: skip
    assert "other_piece" in codes(report) and report.notes == ()


STEPS = (71, 69, 67, 69, 71, 71, 71, 69, 69, 69, 71, 74, 74, 71, 69, 67, 69, 71, 71, 71, 69, 67)
LEAPS = (67, 71, 74, 71, 67, 71, 74, 71, 67, 74, 71, 74, 69, 72, 69, 72, 67, 71, 74, 71, 74, 67)


def test_tunes_of_five_notes_all_in_quarters_are_told_apart():
    notes = tuple(
        Note(Fraction(at), Fraction(1), measure=at // 4, midi=midi)
        for at, midi in enumerate(LEAPS)
    )
    line = replace(passage(), notes=notes, length_quarters=Fraction(len(notes)))
    assert codes(hear(played(STEPS), line, Terms(TEMPO_QPM, "Flute"))) == {"other_piece"}
