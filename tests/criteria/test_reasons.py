"""What is absent has its reason: entries without a time, struck takes without a tuning."""

from dataclasses import replace

import pytest
from tests.criteria.test_readings import named, play

from standlight.criteria.questions import SAID_OF_VALUES

NAME = "entries not timed"


def untimed(performance, soft=(), alone=()):
    """The same performance with ``soft`` entries, and others in too short a stretch."""
    notes = [
        replace(
            note,
            asynchrony_ms=None if note.index in (*soft, *alone) else note.asynchrony_ms,
            sounding_share=None if note.index in alone else note.sounding_share,
        )
        for note in performance.notes
    ]
    return replace(performance, notes=tuple(notes))


def test_a_take_with_a_time_for_every_entry_says_nothing_more():
    assert NAME not in named("rhythm", play([1] * 12))


@pytest.mark.parametrize(
    ("soft", "alone", "count", "because"),
    [
        ((3, 4), (), 2, "a soft start, or one that is not surely off the beat"),
        ((), (0, 1, 2), 3, "too few notes in a row to have a beat"),
        ((7,), (0, 1), 3, "two with too few notes in a row to have a beat; "
         "one with a soft start, or one that is not surely off the beat"),
    ],
)  # fmt: skip
def test_entries_without_a_time_are_counted_with_the_reason(soft, alone, count, because):
    told = named("rhythm", untimed(play([1] * 12), soft, alone))
    assert told[NAME].value == count and told[NAME].unit == "notes"
    assert told[NAME].because == because and because in told[NAME].sentence
    # the first sentence is as it was, and a rater is asked the same as before
    assert told["scatter of entries"].sentence.endswith("more could not be timed.")
    assert not told[NAME].sentence.endswith(SAID_OF_VALUES)


def test_where_too_few_entries_are_timed_the_others_are_told_all_the_same():
    told = named("rhythm", untimed(play([1] * 6), alone=range(6)))
    assert told["scatter of entries"].value is None and told[NAME].value == 6


@pytest.mark.parametrize("timed", [0, 1, 2])
def test_a_tempo_without_timed_entries_is_not_told_and_says_why(timed):
    whole = play([1] * 12)
    told = named("pulse", untimed(whole, soft=range(timed, 12)))
    assert whole.tempo_qpm is not None
    assert told["tempo"].value is None and told["tempo"].n_notes == timed
    assert told["tempo"].because == "entries not timed: their starts cannot be seen surely"
    assert told["stops"].value == 0


def test_a_note_that_was_not_heard_is_not_one_that_was_not_timed():
    whole = play([1] * 12)
    missing = replace(
        whole.notes[3], outcome="missing", onset_s=None, offset_s=None, asynchrony_ms=None
    )
    notes = (*whole.notes[:3], missing, *whole.notes[4:])
    assert NAME not in named("rhythm", replace(whole, notes=notes))


def test_a_struck_take_says_why_it_has_no_tuning_and_others_do_not():
    drums = named("notes", play([1] * 8, drums=True, median_confidence=None))
    assert drums["tuning of the take"].because == "the part has no pitches"
    bars = named("notes", play([1] * 8, median_confidence=None))["tuning of the take"]
    assert bars.value is None and "ring too shortly" in bars.because and not bars.sentence
    assert "tuning of the take" not in named("notes", play([1] * 8))
