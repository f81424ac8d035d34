"""Slow players do not start again because their notes would be worth two, and who does is told.

The frames are made by formula: every note lasts equally long and begins clearly; what wavers in its
middle looks like half a start, as an unsteady bow or tongue does.
"""

import numpy as np
import pytest
from tests.sound.test_few_pitches import NOTES, QPM, line

from standlight.sound.evidence import Evidence
from standlight.sound.following import WRITTEN, Path, Segment, follow, follow_again
from standlight.sound.plainer import Standing, standing_of, without_needless_jumps
from standlight.sound.values import HOP_S

PEDAL = (62, 62, 44, 62, 62, 44, 62, 62, 46)
TUNE = (66, 64, 66, 66, 66, 66, 69, 67)
STOP_FRAMES = 100


def frames(written, order, share, *, stops=(), wavering=0.0):
    """What sounds when the notes in ``order`` are played at a ``share`` of the tempo; starts in s.

    After the places in ``stops`` a second is silent.
    """
    length = round(30.0 / QPM / share / HOP_S)
    midi, weight, onset, starts = [], [], [], []
    for place, index in enumerate(order):
        starts.append(sum(map(len, midi)) * HOP_S)
        silent = STOP_FRAMES if place in stops else 0
        begins = np.zeros(length + silent)
        begins[0], begins[length // 2] = 0.9, wavering
        onset.append(begins)
        midi.append(np.full(length + silent, written.midi[index]))
        weight.append(np.repeat([1.0, 0.0], [length, silent]))
    onset = np.concatenate(onset)
    again = np.where(onset > 0.5, 1.0, -8.0)
    return Evidence(np.concatenate(midi), np.concatenate(weight), onset, again), starts


def told(written, heard):
    """The course that the follower finds, and what is left of it."""
    path = follow_again(written, heard, 0.0, follow(written, heard, 0.0, QPM))
    return path, without_needless_jumps(path, written, heard, 0.0, QPM, lambda one: one)


@pytest.mark.parametrize("share", [0.36, 0.4, 0.45])
@pytest.mark.parametrize("stops", [(4, 11, 15), (3, 9, 17)])
@pytest.mark.parametrize("pitches", [PEDAL, TUNE])
def test_a_beginner_at_half_the_tempo_has_not_started_again(pitches, stops, share):
    written = line(pitches)
    heard, starts = frames(written, range(NOTES), share, stops=stops, wavering=0.8)
    found, left = told(written, heard)
    assert found.jumps  # else nothing is tried here
    assert not left.jumps
    assert [one.index for one in left.segments if one.kind == WRITTEN] == list(range(NOTES))
    begun = [one.start_s for one in left.segments]
    assert np.abs(np.subtract(begun, starts)).max() < 0.03  # the grid of boundaries


@pytest.mark.parametrize("share", [0.4, 0.7, 1.0])
@pytest.mark.parametrize("pitches", [PEDAL, TUNE])
def test_who_goes_back_four_notes_after_a_stop_has_started_again(pitches, share):
    written = line(pitches)
    order = [*range(12), *range(8, NOTES)]
    heard, starts = frames(written, order, share, stops=(11,))
    found, left = told(written, heard)
    assert left is found
    assert [index for _, index in left.jumps] == [8]
    assert abs(left.jumps[0][0] - starts[12]) < 0.03


def test_a_course_without_jumps_is_left_as_it_is():
    written = line(TUNE)
    heard, _ = frames(written, range(NOTES), 1.0)
    path, left = told(written, heard)
    assert not path.jumps and left is path


def test_a_course_stands_to_its_take_by_share_faults_and_odd_lengths():
    written = line(TUNE)
    heard, starts = frames(written, range(NOTES), 1.0)
    ends = [*starts[1:], len(heard.weight) * HOP_S]
    whole = [Segment(WRITTEN, i, starts[i], ends[i]) for i in range(NOTES)]
    path = Path(tuple(whole), (), 1.0, 0.6)
    assert standing_of(path, written, heard, 0.0) == Standing(pytest.approx(1.0), 0, 0)
    # Two notes left out; the one before them (of the pitch of the first) sounds for all three.
    held = Segment(WRITTEN, 2, starts[2], ends[4])
    path = Path((*whole[:2], held, *whole[5:]), (), 1.0, 0.6)
    assert standing_of(path, written, heard, 0.0) == Standing(pytest.approx(1.0), 2, 1)
    # Told a whole note too early, only what has the same pitch by chance is explained.
    late = [Segment(WRITTEN, i, starts[i - 1], ends[i - 1]) for i in range(1, NOTES)]
    alike = sum(a == b for a, b in zip(written.midi[1:], written.midi, strict=False))
    standing = standing_of(Path(tuple(late), (), 1.0, 0.6), written, heard, 0.0)
    assert standing == Standing(pytest.approx(alike / NOTES), 1, 0)


def test_what_explains_no_more_or_has_more_faults_does_not_win():
    jumping = Standing(0.90, 2, 1)
    assert jumping.is_beaten_by(Standing(0.92, 2, 1))
    assert not jumping.is_beaten_by(Standing(0.905, 0, 0))
    assert not jumping.is_beaten_by(Standing(0.99, 3, 0))
    assert not jumping.is_beaten_by(Standing(0.99, 0, 2))
    assert not Standing(0.3, 9, 9).is_beaten_by(Standing(0.5, 0, 0))  # most is noise
