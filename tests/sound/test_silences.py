"""One long recording cut at its silences, on sequences put together with known boundaries."""

import numpy as np
import pytest
from benchmarks.silences import RATE_HZ, compared, made_row, peer

from standlight.sound.silences import HOP_S, Span, envelope_db, spans_between_silences

HOPS_A_SECOND = round(1 / HOP_S)


def level(seconds, db):
    return np.full(round(seconds * HOPS_A_SECOND), float(db))


def noisy(*pieces, seed=1):
    whole = np.concatenate(pieces)
    return whole + np.random.default_rng(seed).normal(0, 0.5, len(whole))


def music(envelope, **more):
    return [span for span in spans_between_silences(envelope, **more) if not span.short]


@pytest.mark.parametrize("seed", [0, 3, 5, 8])
def test_rows_of_twelve_takes_with_words_between_them_are_found_nearly_all(seed):
    row = made_row(seed)
    envelope = envelope_db(row.samples, RATE_HZ)
    found, errors, spare = compared(row.takes, list(spans_between_silences(envelope)))
    assert found >= 10
    assert spare == 0
    assert np.median(np.abs(errors)) < 0.1


def test_over_four_rows_more_takes_are_found_than_by_a_fixed_threshold_and_nothing_is_added():
    ours = theirs = spare = 0
    for seed in (0, 3, 5, 8):
        row = made_row(seed, closest_words_s=1.0)
        envelope = envelope_db(row.samples, RATE_HZ)
        found, _, more = compared(row.takes, list(spans_between_silences(envelope)))
        ours, spare = ours + found, spare + more
        theirs += compared(row.takes, peer(envelope))[0]
    assert ours > theirs
    assert spare == 0


def test_a_soft_take_between_loud_ones_is_found_and_a_louder_room_changes_nothing():
    for floor in (-75, -55):
        rest = level(4, floor)
        loud, soft = level(20, -15), level(22, floor + 14)
        found = music(noisy(rest, loud, rest, soft, rest, loud, rest))
        assert [(round(s.start_s), round(s.end_s)) for s in found] == [(4, 24), (28, 50), (54, 74)]


def test_a_quieter_copy_of_the_whole_recording_is_cut_at_the_same_places():
    row = made_row(3)
    envelope = envelope_db(row.samples, RATE_HZ)
    assert spans_between_silences(envelope - 20.0) == spans_between_silences(envelope)


def test_words_between_takes_stand_apart_marked_and_glue_nothing_together():
    gap = level(2, -70)
    envelope = noisy(level(2, -70), level(20, -20), gap, level(2, -30), gap, level(22, -20), gap)
    assert [span.short for span in spans_between_silences(envelope)] == [False, True, False]


def test_rests_inside_a_take_do_not_cut_it_and_the_written_length_helps():
    rest, pause = level(1.6, -70), level(3, -70)
    take = (level(8, -20), rest, level(7, -20), rest, level(9, -20))
    envelope = noisy(pause, *take, pause, *take, pause, *take, pause)
    assert len(music(envelope, expected_s=27)) == 3
    assert len(music(envelope, expected_s=8)) == 9


def test_a_written_length_that_is_far_off_glues_nothing_together():
    pause, take = level(4, -70), level(10, -20)
    envelope = noisy(pause, take, pause, take, pause, take, pause)
    for expected_s in (4.0, 10.0, 40.0, None):
        assert len(music(envelope, expected_s=expected_s)) == 3


def test_strokes_far_apart_are_one_take():
    stroke = np.concatenate([level(0.04, -20), level(0.46, -70)])
    take = np.tile(stroke, 30)
    pause = level(5, -70)
    found = music(noisy(pause, take, pause, take, pause))
    assert [round(span.start_s) for span in found] == [5, 25]


def test_a_recording_without_silence_is_one_span_and_silence_alone_is_none():
    steady = noisy(level(1, -70), level(60, -20), level(1, -70))
    assert len(spans_between_silences(steady)) == 1
    assert spans_between_silences(np.zeros(0)) == ()
    knocks = level(60, -70)
    knocks[500:505] = -20.0
    assert spans_between_silences(knocks) == ()


def test_a_device_that_writes_nothing_in_silence_is_cut_too():
    digital, hiss = level(4, -120), level(0.5, -95)
    envelope = np.concatenate([digital, level(20, -20), hiss, digital, level(20, -25), digital])
    found = music(envelope)
    assert [(round(span.start_s), round(span.end_s)) for span in found] == [(4, 24), (28, 48)]


def test_a_span_and_a_length_that_are_none_are_refused():
    with pytest.raises(ValueError, match="swapped"):
        Span(5.0, 3.0)
    with pytest.raises(ValueError, match="minutes"):
        spans_between_silences(level(10, -20), expected_s=0)
