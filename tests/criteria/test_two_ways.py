"""Places with two explanations, against every alignment written out."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from tests.criteria.test_readings import play

from standlight.criteria import CRITERIA
from standlight.criteria.two_ways import two_way_places, ways
from standlight.sound.values import AddedSound


def every_alignment(written, heard):
    """Faults of each way to walk through both lists: together, a note alone, a sound alone."""
    if not written or not heard:
        return [len(written) + len(heard)]
    return (
        [(written[0] != heard[0]) + rest for rest in every_alignment(written[1:], heard[1:])]
        + [1 + rest for rest in every_alignment(written[1:], heard)]
        + [1 + rest for rest in every_alignment(written, heard[1:])]
    )


@pytest.mark.parametrize("lengths", list(product((1, 2, 4), (0, 2, 3, 5))))
def test_the_cheapest_alignments_are_those_of_the_list_of_all(lengths):
    rng = np.random.default_rng([4, *lengths])
    for _ in range(12):
        written = [int(pitch) for pitch in rng.integers(60, 63, lengths[0])]
        heard = [int(pitch) for pitch in rng.integers(60, 63, lengths[1])]
        costs = every_alignment(written, heard)
        assert ways(written, heard) == (min(costs), costs.count(min(costs)))


LINE = [60, 62, 64, 65, 67, 69, 71, 72]


def told(outcomes=None, added=(), midi=None):
    """A performance of a scale with some notes ``missing`` or at another pitch, and additions."""
    base = play(["1"] * len(midi or LINE), midi=midi or LINE)
    notes = list(base.notes)
    for index, outcome in (outcomes or {}).items():
        if outcome is None:
            notes[index] = replace(notes[index], outcome="missing", onset_s=None, offset_s=None,
                                   midi_heard=None, deviation_cents=None)  # fmt: skip
        else:
            notes[index] = replace(notes[index], outcome="other_pitch", midi_heard=outcome,
                                   deviation_cents=None)  # fmt: skip
    return replace(base, notes=tuple(notes), added=tuple(added))


def between(performance, index, midi):
    """A sound half-way between written note ``index`` and the next."""
    onset_s = performance.notes[index].onset_s + 0.3
    return AddedSound(onset_s, onset_s + 0.2, midi)


def test_one_wrong_or_missing_or_added_note_has_one_explanation():
    clean = told()
    assert two_way_places(clean) == ()
    assert two_way_places(told({3: 66.0})) == ()
    assert two_way_places(told({3: None})) == ()
    assert two_way_places(told(added=[between(clean, 3, 61.0)])) == ()


def test_an_added_sound_beside_a_wrong_note_could_be_the_other_way_round():
    clean = told()
    found = two_way_places(told({4: 63.0}, [between(clean, 4, 61.0)]))
    assert found == ((2, 7),)


def test_which_of_two_equal_notes_is_missing_nobody_can_tell():
    repeated = [60, 62, 64, 64, 67, 69, 71, 72]
    assert two_way_places(told({3: None}, midi=repeated)) == ((1, 5),)


def test_a_take_that_sounds_in_another_key_is_looked_at_in_its_own():
    clean = told()
    moved = replace(told({3: 66.0 + 2.0}), shift_semitones=2)
    assert two_way_places(moved) == two_way_places(told({3: 66.0})) == ()
    assert two_way_places(replace(told({4: 65.0}, [between(clean, 4, 63.0)]), shift_semitones=2))


def test_a_line_on_one_pitch_says_that_time_alone_tells():
    named = {one.name: one for one in CRITERIA["notes"].read(told(midi=[60] * 8))}
    assert named["places with two explanations"].value is None
    assert "by time alone" in named["places with two explanations"].sentence


def test_the_place_is_told_in_words_and_only_where_there_is_one():
    clean = told()
    names = {one.name: one for one in CRITERIA["notes"].read(told({3: 66.0}))}
    assert "places with two explanations" not in names
    two = CRITERIA["notes"].read(told({4: 63.0}, [between(clean, 4, 61.0)]))
    reading = {one.name: one for one in two}["places with two explanations"]
    assert reading.value == 1.0
    assert reading.sentence.startswith("In measure 2 another note could be the wrong one")


@pytest.mark.parametrize(
    ("probabilities", "words"),
    [
        ((0.9, 0.95), "Two notes other than written (of 8)."),
        ((0.9, 0.5), "Two notes other than written (of 8), one of them not sure."),
        ((0.6, 0.5), "Two notes other than written (of 8), two of them not sure."),
        ((0.6,), "One note other than written (of 8), not sure."),
    ],
)
def test_the_words_say_how_many_faults_are_not_sure(probabilities, words):
    performance = told({2 * at + 1: 60.5 for at in range(len(probabilities))})
    notes = list(performance.notes)
    for at, chance in enumerate(probabilities):
        notes[2 * at + 1] = replace(notes[2 * at + 1], probability=chance)
    reading = CRITERIA["notes"].read(replace(performance, notes=tuple(notes)))[0]
    assert reading.sentence == words
    assert (reading.value, reading.low) == (
        len(probabilities), sum(chance >= 0.8 for chance in probabilities)
    )  # fmt: skip
