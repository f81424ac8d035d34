"""Which readings are drawn: noticeable ones, of what the check asks, from the take's own tuning."""

import pytest

from standlight.programme.queries.reading_marks import notation_marks, readings_of
from standlight.score import line_to_musicxml, read_passage
from tests.programme.desk_scene import note

BOTH = ["intonation", "rhythm", "notes"]


def marks(*notes, criteria=BOTH, tuning=0.0, written=()):
    return notation_marks({"notes": notes, "tuning_cents": tuning}, criteria, written)


# Hill & Summers 2007 (JASA): just-noticeable interval difference of amateurs, about 10 cents.
@pytest.mark.parametrize(("cents", "drawn"), [(9.9, False), (-9.9, False), (10.1, True)])
def test_a_note_is_drawn_only_beyond_what_a_listener_notices(cents, drawn):
    assert bool(marks(note(0, deviation_cents=cents, deviation_se_cents=0.01))) is drawn


# Onset matching window of 50 ms (the default of mir_eval, tests/authorities of the listening room).
@pytest.mark.parametrize(("ms", "drawn"), [(49.0, False), (-49.0, False), (-51.0, True)])
def test_an_entry_is_drawn_only_beyond_the_matching_window(ms, drawn):
    assert bool(marks(note(0, asynchrony_ms=ms))) is drawn


def test_an_interval_that_reaches_into_the_unnoticeable_is_unsure():
    (sure,) = marks(note(0, deviation_cents=20.0, deviation_se_cents=2.0))
    (unsure,) = marks(note(0, deviation_cents=20.0, deviation_se_cents=8.0))
    assert (sure.unsure, unsure.unsure) == (False, True)


def test_the_takes_own_tuning_moves_no_mark():
    flat = [note(0, deviation_cents=5.0), note(1, deviation_cents=25.0)]
    sharp = [note(0, deviation_cents=35.0), note(1, deviation_cents=55.0)]
    one, other = marks(*flat), marks(*sharp, tuning=30.0)
    assert [(m.index, m.cents) for m in one] == [(m.index, m.cents) for m in other] == [(1, 25.0)]


def test_a_criterion_that_is_not_asked_is_not_drawn():
    far = note(0, deviation_cents=30.0, asynchrony_ms=90.0)
    (only_time,) = marks(far, criteria=["rhythm"])
    assert (only_time.cents, only_time.ms) == (None, 90.0)
    assert marks(far, criteria=["tone"]) == ()


def test_a_missing_note_is_drawn_whatever_is_asked():
    gone = note(0, outcome="missing", deviation_cents=None, asynchrony_ms=None, midi_heard=None)
    assert [m.outcome for m in marks(gone, criteria=["tone"])] == ["missing"]


def test_another_pitch_is_named_as_the_part_writes_it():
    written = read_passage(line_to_musicxml("C5 q D5 q E5 h", instrument="Clarinet in Bb")).notes
    # A clarinet in B flat sounds a whole tone under what it reads: sounding D5 is its written E5.
    wrong = note(1, outcome="other_pitch", midi_heard=74.0, deviation_cents=None)
    assert [m.heard for m in marks(wrong, written=written)] == ["E5"]


def test_at_most_three_sentences_and_an_absent_figure_gives_its_reason():
    body = {
        "notes": [note(0)],
        "spots": [
            {"criterion": "rhythm", "first_measure": n, "last_measure": n, "sentence": f"Spot {n}."}
            for n in range(5)
        ],
        "readings": [
            {"criterion": "intonation", "name": "spread", "value": None, "low": None, "high": None,
             "unit": "cents", "n_notes": 2, "because": "too few notes"},
            {"criterion": "rhythm", "name": "asynchrony", "value": 23.4, "low": 18.0, "high": 29.0,
             "unit": "ms", "n_notes": 14, "because": ""},
        ],
    }
    found = readings_of(body, BOTH)
    assert found.sentences == ("Spot 0.", "Spot 1.", "Spot 2.")
    assert [f.figure for f in found.figures] == [
        "spread: too few notes", "asynchrony: 23.4 ms, likely 18.0 to 29.0; 14 notes",
    ]
