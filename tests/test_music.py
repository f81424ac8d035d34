"""The units of the house, against ISO 16 and figures computed outside the project."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standlight.music import (
    NOTE_MARKS,
    STANDARD_A4_HZ,
    Note,
    cents_between,
    hz_of_midi,
    midi_of_hz,
    pitch_name,
)

with (Path(__file__).parent / "authorities" / "trade" / "check_values.tsv").open() as table:
    CHECKS = {row["id"]: row for row in csv.DictReader(table, delimiter="\t")}


def test_the_standard_tuning_is_that_of_iso_16():
    # ISO 16:1975, A4 = 440 Hz (title page seen in a stored copy).
    assert CHECKS["pitch.ref"]["source"].startswith("ISO 16")
    assert float(CHECKS["pitch.ref"]["value"]) == STANDARD_A4_HZ
    assert float(hz_of_midi(69)) == STANDARD_A4_HZ


def test_middle_c_in_equal_temperament():
    assert float(hz_of_midi(60)) == pytest.approx(float(CHECKS["pitch.c4"]["value"]), abs=1e-4)


@pytest.mark.parametrize(
    ("hz", "cents"), [(441, 3.930), (442, 7.851), (443, 11.764), (437, -11.844)]
)
def test_one_hertz_at_a4_in_cents(hz, cents):
    # check_values.tsv, pitch.1hz: computed outside the project.
    assert f"{cents:+.3f}" in CHECKS["pitch.1hz"]["use"]
    assert float(cents_between(hz, 440)) == pytest.approx(cents, abs=5e-4)


@pytest.mark.parametrize(
    ("name", "ratio", "semitones"),
    [("pitch.ji.M3", 5 / 4, 4), ("pitch.ji.m3", 6 / 5, 3), ("pitch.ji.P5", 3 / 2, 7)],
)
def test_just_intervals_differ_from_tempered_ones_as_published(name, ratio, semitones):
    away = float(cents_between(ratio, 1)) - 100 * semitones
    assert away == pytest.approx(float(CHECKS[name]["value"]), abs=5e-4)


@given(st.floats(0, 127), st.floats(400, 480))
def test_hertz_and_midi_undo_each_other_at_any_tuning(midi, a4_hz):
    assert float(midi_of_hz(hz_of_midi(midi, a4_hz), a4_hz)) == pytest.approx(midi, abs=1e-9)


@given(st.floats(20, 5000), st.floats(20, 5000))
def test_cents_are_antisymmetric_and_an_octave_is_1200(one, other):
    assert float(cents_between(one, other)) == pytest.approx(-float(cents_between(other, one)))
    assert float(cents_between(2 * one, one)) == pytest.approx(1200)


def test_arrays_keep_their_shape():
    assert hz_of_midi(np.array([[60, 61], [62, 63]])).shape == (2, 2)


def test_names_are_those_of_scientific_pitch_notation():
    # C4 is middle C, MIDI 60 (scientific pitch notation; General MIDI numbering).
    names = [pitch_name(midi) for midi in (21, 60, 61, 63, 69, 70, 108)]
    assert names == ["A0", "C4", "C#4", "Eb4", "A4", "Bb4", "C8"]


@pytest.mark.parametrize(
    ("midi", "drum", "duration"), [(None, None, 1), (60, "snare", 1), (60, None, 0)]
)
def test_a_note_is_a_pitch_or_a_drum_and_takes_time(midi, drum, duration):
    with pytest.raises(ValueError, match="a note"):
        Note(0, duration, midi, 0, drum=drum)


def test_marks_are_plain_words():
    assert all(mark.replace("_", "").isalpha() for mark in NOTE_MARKS)
