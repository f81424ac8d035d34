"""When the measures of a passage sound in a take, against a take whose times are planted."""

import pytest

from standlight.programme.queries.measure_times import measure_times, written_times
from standlight.score import cut_passage, line_to_musicxml, read_passage
from tests.programme.desk_scene import LINE, note


@pytest.fixture(scope="module")
def written():
    whole = line_to_musicxml(LINE, instrument="Clarinet in Bb")
    return written_times(read_passage(cut_passage(whole, 0, 0, 3)))


def played(written, second_of, *, without=(), seconds=60.0):
    """A report on a take in which each note sounds at ``second_of(quarter)``."""
    notes = [
        note(n, onset_s=None, outcome="missing") if n in without else note(n, onset_s=second_of(q))
        for n, q in enumerate(written.notes)
    ]
    return {"notes": notes, "seconds": seconds}


def spans(body, written):
    return [(row.from_s, row.to_s) for row in measure_times(body, written)]


def test_in_steady_time_every_measure_is_where_it_was_planted(written):
    # 96 quarters a minute from 1.5 s on: a measure of four lasts 2.5 s.
    body = played(written, lambda quarter: 1.5 + quarter * 60 / 96)
    assert spans(body, written) == [(1.5, 4.0), (4.0, 6.5), (6.5, 9.0), (9.0, 11.5)]
    assert [row.printed for row in measure_times(body, written)] == ["1", "2", "3", "4"]


def test_a_measure_played_slower_lasts_longer(written):
    body = played(written, lambda quarter: quarter if quarter <= 4 else 4 + 2 * (quarter - 4))
    assert spans(body, written)[:2] == [(0.0, 4.0), (4.0, 12.0)]


def test_a_note_that_is_missing_at_a_bar_line_moves_no_measure_in_steady_time(written):
    first_of_second = written.notes.index(4.0)
    body = played(written, lambda quarter: 1.0 + quarter / 2, without=[0, first_of_second])
    assert spans(body, written) == [(1.0, 3.0), (3.0, 5.0), (5.0, 7.0), (7.0, 9.0)]


def test_no_measure_reaches_out_of_the_take(written):
    body = played(written, lambda quarter: quarter / 2, without=[0], seconds=7.0)
    assert spans(body, written)[-1] == (6.0, 7.0)


@pytest.mark.parametrize("kept", [0, 1])
def test_with_fewer_than_two_notes_nobody_can_tell(written, kept):
    body = played(written, lambda quarter: quarter, without=range(kept, len(written.notes)))
    assert measure_times(body, written) == ()


def test_a_report_on_another_passage_tells_nothing(written):
    body = played(written, lambda quarter: quarter)
    body["notes"] = body["notes"][:-1]
    assert measure_times(body, written) == ()
    assert measure_times(body, None) == ()
