"""Who stops and tries a place again has jumped back; who only waits has not.

The frames are made by formula: every note lasts equally long and begins clearly.
"""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standlight.music import Note
from standlight.score.values import Passage
from standlight.sound import following
from standlight.sound.evidence import QUIET_WEIGHT, Evidence, silence_before
from standlight.sound.following import WRITTEN, follow, follow_again
from standlight.sound.performing import _restarts
from standlight.sound.values import HOP_S, HeardNote
from standlight.sound.written import written_line

QPM, EIGHTH_S, REST = 75.0, 0.4, 0
SCALE = [60, 62, 64, 65, 67, 69, 71, 72, 71, 69, 67, 65, 64, 62, 60, 59]
TWO_ALIKE = [60, 62, 64, 64, 65, 67, 69, 67, 65, 64, 62, 60, 59, 60, 62, 64]
STOP = 6
"""Notes played before the stop."""


def line(pitches):
    notes = tuple(
        Note(Fraction(i, 2), Fraction(1, 2), measure=i // 8, midi=midi)
        for i, midi in enumerate(pitches)
    )
    return written_line(Passage("", "Horn", "", (), notes, Fraction(len(notes), 2)))


def frames(pitches, stop, silence_s, resumed):
    """``stop`` notes, a silence, then everything from the note ``resumed`` on."""
    sounds = [(pitch, EIGHTH_S) for pitch in pitches]
    midi, onset = [], []
    for pitch, seconds in [*sounds[:stop], (REST, silence_s), *sounds[resumed:]]:
        count = round(seconds / HOP_S)
        midi += [float(pitch)] * count
        onset += [0.9 * (pitch != REST)] + [0.0] * (count - 1)
    starts = np.array(onset)
    weight = (np.array(midi) != REST).astype(float)
    return Evidence(np.array(midi), weight, starts, np.where(starts > 0.5, 1.0, -8.0))


def told(pitches, stop, silence_s, resumed):
    written, evidence = line(pitches), frames(pitches, stop, silence_s, resumed)
    return follow_again(written, evidence, 0.0, follow(written, evidence, 0.0, QPM))


def indexes(path):
    """The written notes told as played, in time, no two of which overlap or leave a gap."""
    for one, following_one in zip(path.segments, path.segments[1:], strict=False):
        assert one.start_s < one.end_s == following_one.start_s
    return [one.index for one in path.segments if one.kind == WRITTEN]


@pytest.mark.parametrize(
    ("back", "silence_s"),
    [(1, 1.0), (1, 2.0), *((back, s) for back in (2, 3, 4) for s in (0.4, 1.0, 2.0))],
)
def test_who_stops_and_tries_again_is_told(back, silence_s):
    resumed = STOP - back
    path = told(SCALE, STOP, silence_s, resumed)
    assert path.jumps == ((pytest.approx(EIGHTH_S * STOP + silence_s, abs=0.03), resumed),)
    assert indexes(path) == [*range(STOP), *range(resumed, len(SCALE))]


@pytest.mark.parametrize("silence_s", [0.4, 1.0, 2.0])
def test_who_waits_has_not_tried_again(silence_s):
    path = told(SCALE, STOP, silence_s, STOP)
    assert path.jumps == ()
    assert indexes(path) == list(range(len(SCALE)))


def test_a_stop_before_a_note_of_the_same_pitch():
    assert told(TWO_ALIKE, 3, 1.0, 1).jumps == ((pytest.approx(2.2, abs=0.03), 1),)
    assert told(TWO_ALIKE, 3, 1.0, 3).jumps == ()


def test_a_silence_that_speaks_against_the_jump_would_hide_it(monkeypatch):
    monkeypatch.setattr(following, "RESUME_COST", 1e3)
    assert told(SCALE, STOP, 1.0, STOP - 1).jumps == ()
    late = [*range(STOP), STOP, *range(STOP - 3, len(SCALE))]  # the silence is a note nobody plays
    assert indexes(told(SCALE, STOP, 0.4, STOP - 3)) == late


@given(st.lists(st.sampled_from([0.0, 0.1, 0.5, 1.0]), max_size=60), st.integers(1, 20))
def test_silence_by_counting_it_frame_by_frame(weights, least):
    silent, began = silence_before(np.array(weights), least)
    for frame in range(len(weights) + 1):
        sounding = sum(weights[max(frame - least, 0) : frame])
        near = abs(sounding - QUIET_WEIGHT * least) < 1e-6
        assert near or silent[frame] == (sounding < QUIET_WEIGHT * least)
        if silent[frame]:
            assert began[frame] <= frame
            assert began[frame] == began[frame - 1] or frame == 0 or not silent[frame - 1]


def told_notes(*notes):
    """Heard notes of index and onset, in the order of the course; without an onset not played."""
    return [
        HeardNote(index, "missing" if onset_s is None else "played", onset_s)
        for index, onset_s in notes
    ]


@pytest.mark.parametrize(
    ("notes", "resumed"),
    [
        # the attempt's last note begins just before the jump: it is not where the player went on
        (((66, 20.2), (68, 20.8), (64, 22.2), (65, 22.5)), (22.2, 64)),
        # the first note after the jump begins just before its boundary
        (((66, 20.2), (67, 20.5), (64, 20.8), (65, 21.2)), (20.8, 64)),
        # the notes that the jump leads to were left out
        (((66, 20.2), (68, 20.8), (64, None), (65, 22.5)), (22.5, 65)),
        # one note after the jump, and the recording ends
        (((66, 20.2), (67, 20.5), (64, 20.95)), (20.95, 64)),
        # nothing sounds after it
        (((66, 20.2), (67, 20.5)), (20.9, 64)),
    ],
)
def test_the_player_goes_on_at_the_first_note_after_the_jump(notes, resumed):
    (told,) = _restarts(told_notes(*notes), [(20.9, 64)])
    assert (told.onset_s, told.to_index) == resumed
