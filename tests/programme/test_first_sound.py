"""The count-in and the starting sound, against metronome arithmetic and ISO 16."""

from dataclasses import replace
from fractions import Fraction

import pytest

from standlight.programme.queries.first_sound import (
    MOST_FLASHES_A_SECOND,
    count_in,
    starting_sound,
)
from standlight.score import Measure, line_to_musicxml, read_passage


def measure(beats, unit, length=None):
    full = Fraction(beats * 4, unit)
    return Measure(0, "1", 0, Fraction(0), full if length is None else length, beats, unit)


@pytest.mark.parametrize(
    ("first", "qpm", "beats", "beat_s", "words"),
    [
        (measure(4, 4), 96, 4, 0.625, "96 quarter notes a minute"),
        (measure(3, 4), 60, 3, 1.0, "60 quarter notes a minute"),
        (measure(2, 2), 120, 2, 1.0, "60 half notes a minute"),
        (measure(6, 8), 90, 2, 1.0, "60 dotted quarter notes a minute"),
        (measure(3, 8), 60, 3, 0.5, "120 eighth notes a minute"),
        (measure(4, 4, Fraction(1)), 60, 7, 1.0, "60 quarter notes a minute"),
        (measure(4, 4, Fraction(1, 2)), 60, 8, 1.0, "60 quarter notes a minute"),
        (measure(6, 8, Fraction(1, 2)), 90, 4, 1.0, "60 dotted quarter notes a minute"),
        (measure(6, 4, Fraction(1)), 60, 5, 1.0, "60 quarter notes a minute"),
    ],
)
def test_a_count_in_is_one_measure_and_leads_into_a_pickup(first, qpm, beats, beat_s, words):
    counted = count_in((first,), qpm)
    assert (counted.beats, counted.tempo_words) == (beats, words)
    assert counted.beat_s == pytest.approx(beat_s)


@pytest.mark.parametrize(
    ("beats", "unit", "printed", "words", "counted"),
    [(4, 4, Fraction(2), "45 half notes a minute", 2),
     (6, 8, Fraction(1, 2), "180 eighth notes a minute", 6),
     (3, 4, Fraction(3), "30 dotted half notes a minute", 2),
     (4, 4, Fraction(3, 2), "90 quarter notes a minute", 4)],
)  # fmt: skip
def test_the_count_is_in_the_note_that_the_tempo_is_printed_in(
    beats, unit, printed, words, counted
):
    first = replace(measure(beats, unit), tempo_beat_quarters=printed)
    found = count_in((first,), 90.0)
    assert (found.tempo_words, found.beats) == (words, counted)


def test_without_notation_four_quarters_are_counted():
    assert count_in((), 120).beats == 4


@pytest.mark.parametrize("qpm", range(30, 330, 7))
def test_flashes_stay_under_three_a_second(qpm):
    """W3C, WCAG 2.2, success criterion 2.3.1."""
    counted = count_in((measure(4, 4),), qpm)
    assert 1 / (counted.beat_s * counted.flash_every) < MOST_FLASHES_A_SECOND


def sound_of(instrument, *, mode=b"", a4_hz=440.0):
    notation = line_to_musicxml("key F  A4 q G4 q A4 h", instrument=instrument)
    if mode:
        notation = notation.replace(b"</fifths>", b"</fifths><mode>" + mode + b"</mode>")
    return starting_sound(read_passage(notation), notation, instrument, a4_hz)


def test_a_violin_hears_its_first_note_at_the_groups_tuning():
    """ISO 16: A4 is 440 Hz."""
    assert sound_of("Violin").tones_hz == pytest.approx((440.0,))
    assert sound_of("Violin", a4_hz=442.0).tones_hz == pytest.approx((442.0,))
    assert "A4" in sound_of("Violin").words


def test_a_singer_hears_the_home_chord_first_when_the_mode_is_written():
    """F major is F A C, D minor D F A; equal temperament at A4 = 440, ISO 16 (computed)."""
    major = sound_of("Soprano", mode=b"major").tones_hz
    assert major == pytest.approx((349.228, 440.0, 523.251, 440.0), abs=0.01)
    minor = sound_of("Soprano", mode=b"minor").tones_hz
    assert minor == pytest.approx((293.665, 349.228, 440.0, 440.0), abs=0.01)
    assert len(sound_of("Soprano").tones_hz) == 1


def test_winds_and_drums_are_given_no_pitch():
    assert sound_of("Flute") is None
    strokes = line_to_musicxml("x q x q x h", instrument="Snare drum")
    assert starting_sound(read_passage(strokes), strokes, "Snare drum", 440.0) is None
