"""Rhythm against published values and a general library's meter."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import meter

from standlight.passages.rhythm import beat_of, kind_of_value, metric_weight, off_beat, syncopation

# Gómez, Melvin, Rappaport & Toussaint 2005: weighted note-to-beat distances of the six
# claves and bell patterns, as listed in authorities/SOURCES.md with their onsets (Toussaint).
WEIGHTED_DISTANCES = {
    "shiko": ((0, 4, 6, 10, 12), 1.2),
    "son": ((0, 3, 6, 10, 12), 2.8),
    "rumba": ((0, 3, 7, 10, 12), 3.6),
    "soukous": ((0, 3, 6, 10, 11), 3.6),
    "gahu": ((0, 3, 6, 10, 14), 3.6),
    "bossa nova": ((0, 3, 6, 10, 13), 4.0),
}


@pytest.mark.parametrize("name", WEIGHTED_DISTANCES)
def test_notes_off_the_beat_have_the_published_values(name):
    onsets, published = WEIGHTED_DISTANCES[name]
    ends = (*onsets[1:], 16)
    found = [
        off_beat(Fraction(start, 4), Fraction(end - start, 4))
        for start, end in zip(onsets, ends, strict=True)
    ]
    assert sum(found) / len(onsets) == pytest.approx(published)


@pytest.mark.parametrize("signature", ["4/4", "3/4", "2/4", "2/2", "6/8", "12/8"])
def test_weights_order_places_as_music21_s_accents_do(signature):
    accents = meter.TimeSignature(signature)
    beats, unit = (int(number) for number in signature.split("/"))
    beat_quarters, n_beats = beat_of(beats, unit)
    assert n_beats == accents.beatCount
    assert float(beat_quarters) == accents.beatDuration.quarterLength
    places = [Fraction(beat) for beat in range(n_beats)]
    ours = [metric_weight(place, n_beats) for place in places]
    theirs = [accents.getAccentWeight(float(place * beat_quarters)) for place in places]
    for one in range(n_beats):
        for other in range(n_beats):
            if theirs[one] > theirs[other]:
                assert ours[one] >= ours[other], (signature, one, other)


def test_weights_fall_by_one_with_each_halving():
    # The definition of Longuet-Higgins & Lee 1984 for 4/4, from memory.
    sixteenths = [metric_weight(Fraction(at, 4), 4) for at in range(16)]
    assert sixteenths == [0, -4, -3, -4, -2, -4, -3, -4, -1, -4, -3, -4, -2, -4, -3, -4]


def test_a_note_on_a_strong_place_is_never_syncopated_and_a_held_off_beat_is():
    assert syncopation(Fraction(0), Fraction(4), 4) == 0
    assert syncopation(Fraction(2), Fraction(2), 4) == 0
    held = syncopation(Fraction(7, 2), Fraction(1), 4)  # over the barline
    assert held == 3 == syncopation(Fraction(7, 2), Fraction(3, 2), 4)
    assert syncopation(Fraction(7, 2), Fraction(1, 2), 4) == 0
    assert syncopation(Fraction(1, 4), Fraction(1, 2), 4) == 1  # over the half of a beat


@given(
    place=st.fractions(min_value=0, max_value=4, max_denominator=8),
    length=st.fractions(min_value=Fraction(1, 8), max_value=8, max_denominator=8),
    beats=st.sampled_from([2, 3, 4]),
)
def test_syncopation_grows_with_what_is_sounded_over(place, length, beats):
    assert 0 <= syncopation(place, length, beats) <= syncopation(place, length + 1, beats)


@pytest.mark.parametrize("longer", [Fraction(1), Fraction(2), Fraction(4)])
def test_kinds_of_values_do_not_depend_on_how_long_values_are_written(longer):
    for quarters, beat, kind in (
        (Fraction(1), Fraction(1), "plain"),
        (Fraction(3, 2), Fraction(1), "dotted"),
        (Fraction(7, 4), Fraction(1), "dotted"),
        (Fraction(2, 3), Fraction(1), "tuplet"),
        (Fraction(1, 5), Fraction(1), "tuplet"),
        (Fraction(3, 2), Fraction(3, 2), "plain"),
        (Fraction(3), Fraction(3, 2), "plain"),
        (Fraction(1, 2), Fraction(3, 2), "plain"),
        (Fraction(3, 4), Fraction(3, 2), "dotted"),
    ):
        assert kind_of_value(longer * quarters, longer * beat) == kind, (quarters, beat)
