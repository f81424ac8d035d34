"""A rhythm read otherwise all through is told as that: no stumbles, no stops. Tones by formula."""

from fractions import Fraction

import pytest
from tests.sound.melody import MELODY, TONE_S, played

from standlight.listening import Terms, hear
from standlight.music import Note
from standlight.score.values import Passage

DOTTED = (Fraction(3, 2), Fraction(1, 2))
PITCHES = (*MELODY, 66, 67, 69, 71, 72, 71, 69, 67)
QPM = 60.0 / TONE_S


def dotted_passage():
    """Dotted quarters and eighths in turn."""
    notes = tuple(
        Note(at // 2 * Fraction(2) + at % 2 * DOTTED[0], DOTTED[at % 2], measure=at // 4, midi=midi)
        for at, midi in enumerate(PITCHES)
    )
    return Passage("", "Flute", "", (), notes, Fraction(len(notes)))


def readings(long_quarters):
    """What is read where the first of each pair takes so many of its two quarters."""
    shares = (long_quarters, 2.0 - long_quarters)
    lengths_s = [TONE_S * shares[at % 2] for at in range(len(PITCHES))]
    report = hear(played(PITCHES, lengths_s), dotted_passage(), Terms(QPM, "Flute"))
    said = {(one.criterion, one.name): one for one in report.readings}
    return report, said


@pytest.mark.parametrize("long_quarters", [1.0, 1.1, 4.0 / 3.0])
def test_dotted_pairs_played_evenly_are_a_rhythm_and_no_stumbles(long_quarters):
    report, said = readings(long_quarters)
    assert report.prolonged == () and report.restarts == () and report.added == ()
    assert [note.outcome for note in report.notes] == ["played"] * len(PITCHES)
    assert report.tempo_qpm == pytest.approx(QPM, rel=0.01)
    assert said["pulse", "stops"].value == 0.0
    long, short = (said["rhythm", f"length of {name}"] for name in ("dotted quarter notes",
                                                                    "eighth notes"))  # fmt: skip
    assert long.value == pytest.approx(100.0 * long_quarters / 1.5, abs=3.0)
    assert short.value == pytest.approx(100.0 * (2.0 - long_quarters) / 0.5, abs=8.0)
    assert "rushed" in long.sentence and "dragged" in short.sentence


def test_dotted_pairs_as_written_are_on_the_beat():
    _, said = readings(1.5)
    assert "as long as written" in said["rhythm", "length of eighth notes"].sentence
    assert said["rhythm", "scatter of entries"].sentence.startswith("All 24 entries are close")


def test_stops_after_two_of_three_long_notes_are_stops_and_no_rhythm():
    quarters = [1.0] * len(MELODY)
    long = (5, 9, 13)
    for at in long:
        quarters[at] = 2.0
    starts = [Fraction(int(sum(quarters[:at]))) for at in range(len(MELODY))]
    notes = tuple(
        Note(start, Fraction(int(length)), measure=int(start // 4), midi=midi)
        for start, length, midi in zip(starts, quarters, MELODY, strict=True)
    )
    passage = Passage("", "Flute", "", (), notes, Fraction(int(sum(quarters))))
    midis, lengths_s = [], []
    for at, (midi, length) in enumerate(zip(MELODY, quarters, strict=True)):
        stop = [(None, 1.3)] if at in long[1:] else []
        for one, seconds in [(midi, TONE_S * length), *stop]:
            midis.append(one)
            lengths_s.append(seconds)
    report = hear(played(midis, lengths_s), passage, Terms(QPM, "Flute"))
    (stops,) = (one for one in report.readings if one.name == "stops")
    assert stops.value == 2.0


def test_one_short_note_held_is_still_a_note_that_went_on():
    lengths_s = [TONE_S * float(DOTTED[at % 2]) for at in range(len(PITCHES))]
    lengths_s[9] += 0.5
    report = hear(played(PITCHES, lengths_s), dotted_passage(), Terms(QPM, "Flute"))
    assert report.prolonged == (9,)
