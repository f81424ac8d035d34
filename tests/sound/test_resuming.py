"""Stops that one long note has swallowed, on frames and paths written down here.

A line of eighths at 0.4 s each; a path as the follower tells it, with the stop inside a long note.
"""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from standlight.music import Note
from standlight.score.values import Passage
from standlight.sound.evidence import Evidence
from standlight.sound.following import ADDED, WRITTEN, Path, Segment
from standlight.sound.resuming import with_resumptions
from standlight.sound.values import HOP_S
from standlight.sound.written import written_line

EIGHTH_S, OFFSET = 0.4, 0.2
REST = None
PITCHES = [60, 62, 64, 65, 67, 69, 71, 72]
LEVEL = [60, 62, 64, 64, 64, 64, 65, 67]


def line(pitches):
    notes = tuple(
        Note(Fraction(i, 2), Fraction(1, 2), measure=i // 8, midi=midi)
        for i, midi in enumerate(pitches)
    )
    return written_line(Passage("", "Horn", "", (), notes, Fraction(len(notes), 2)))


def frames(sounds, again=0.0):
    """Frames of ``(pitch, seconds)`` one after the other; each start may be the pitch's again."""
    midi, weight, odds = [], [], []
    for pitch, seconds in sounds:
        count = round(seconds / HOP_S)
        midi += [0.0 if pitch is REST else pitch + OFFSET] * count
        weight += [0.0 if pitch is REST else 1.0] * count
        odds += [again] + [-9.0] * (count - 1)
    return Evidence(np.array(midi), np.array(weight), np.zeros(len(midi)), np.array(odds))


def path(*told):
    """Segments ``(index, start_s, kind)`` up to the start of the next one; the last is cut off."""
    ends = [start_s for _, start_s, _ in told[1:]]
    return Path(
        segments=tuple(
            Segment(kind, index, start_s, end_s)
            for (index, start_s, kind), end_s in zip(told, ends, strict=False)
        ),
        jumps=(),
        fit=1.0,
        quarter_s=2 * EIGHTH_S,
    )


def played(pitches):
    return [(pitch, EIGHTH_S) for pitch in pitches]


def told(found):
    """Index and start of every segment, none of which is empty or runs into the next."""
    ends = [*(one.start_s for one in found.segments[1:]), np.inf]
    for one, end_s in zip(found.segments, ends, strict=True):
        assert one.start_s < one.end_s <= end_s + 1e-9
    return [(one.index, pytest.approx(one.start_s, abs=0.05)) for one in found.segments]


def test_what_sounds_after_the_silence_is_tried_again():
    sounds = [*played([60, 62, 64, 65]), (REST, 0.6), *played([64, 65, 67, 69])]
    swallowed = path(*((i, EIGHTH_S * i, WRITTEN) for i in range(4)), (4, 3.0, WRITTEN),
                     (5, 3.4, WRITTEN), (6, 3.8, WRITTEN))  # fmt: skip
    found = with_resumptions(swallowed, line(PITCHES), frames(sounds), OFFSET)
    assert found.jumps == ((pytest.approx(2.2, abs=0.05), 2),)
    assert told(found) == [(0, 0.0), (1, 0.4), (2, 0.8), (3, 1.2), (2, 2.2), (3, 2.6), (4, 3.0),
                           (5, 3.4)]  # fmt: skip


def test_a_wrong_sound_before_the_silence_stays_one():
    sounds = [*played([60, 62, 64, 65, 57]), (REST, 0.6), *played([64, 65, 67, 69])]
    swallowed = path(*((i, EIGHTH_S * i, WRITTEN) for i in range(4)), (4, 1.6, ADDED),
                     (4, 3.4, WRITTEN), (5, 3.8, WRITTEN), (6, 4.2, WRITTEN))  # fmt: skip
    found = with_resumptions(swallowed, line(PITCHES), frames(sounds), OFFSET)
    assert found.jumps == ((pytest.approx(2.6, abs=0.05), 2),)
    assert told(found)[3:7] == [(3, 1.2), (4, 1.6), (2, 2.6), (3, 3.0)]
    assert found.segments[4].kind == ADDED


def test_a_jump_that_the_path_has_is_not_told_again():
    sounds = [*played([60, 62, 64, 65]), (REST, 0.6), *played([64, 65, 67, 69])]
    swallowed = path(*((i, EIGHTH_S * i, WRITTEN) for i in range(4)), (4, 3.0, WRITTEN),
                     (5, 3.4, WRITTEN), (6, 3.8, WRITTEN))  # fmt: skip
    jumped = replace(swallowed, jumps=((3.0, 4),))
    assert with_resumptions(jumped, line(PITCHES), frames(sounds), OFFSET) == jumped


def test_a_fermata_is_held_as_long_as_one_likes():
    sounds = [*played([60, 62, 64]), (65, 0.9), (REST, 0.3), (65, 0.4), *played([67, 69])]
    held = path(*((i, EIGHTH_S * i, WRITTEN) for i in range(4)), (4, 2.8, WRITTEN),
                (5, 3.2, WRITTEN))  # fmt: skip
    free = np.arange(len(PITCHES)) == 3
    written = line(PITCHES)
    found = with_resumptions(held, written, frames(sounds), OFFSET)
    assert found.jumps == ((pytest.approx(2.4, abs=0.05), 3),)
    freely = replace(written, free=free)
    assert with_resumptions(held, freely, frames(sounds), OFFSET) == held


def test_a_note_that_only_comes_late_has_not_been_tried_again():
    sounds = [*played([60, 62, 64, 65]), (REST, 1.4), *played([67, 69])]
    late = path(*((i, EIGHTH_S * i, WRITTEN) for i in range(5)), (5, 3.4, WRITTEN),
                (6, 3.8, WRITTEN))  # fmt: skip
    assert with_resumptions(late, line(PITCHES), frames(sounds), OFFSET) == late


def test_an_added_sound_before_the_silence_was_the_first_try():
    sounds = [*played([60, 62, 64, 64, 65]), (REST, 0.6), *played([64, 65])]
    pitches = [60, 62, 64, 64, 65, 67]
    swallowed = path((0, 0.0, WRITTEN), (1, 0.4, WRITTEN), (2, 0.8, WRITTEN), (3, 1.6, ADDED),
                     (3, 2.6, WRITTEN), (4, 3.0, WRITTEN), (5, 3.4, WRITTEN))  # fmt: skip
    found = with_resumptions(swallowed, line(pitches), frames(sounds), OFFSET)
    assert found.jumps == ((2.6, 3),)
    assert told(found)[2:6] == [(2, 0.8), (3, 1.2), (4, 1.6), (3, 2.6)]


def test_three_equal_notes_that_one_swallowed_are_told_and_two_are_not():
    sounds = [*played([60, 62, 64, 64, 64]), (REST, 0.6), *played([64, 64, 64, 65])]
    swallowed = path((0, 0.0, WRITTEN), (1, 0.4, WRITTEN), (2, 0.8, WRITTEN), (3, 2.6, WRITTEN),
                     (4, 3.0, WRITTEN), (5, 3.4, WRITTEN), (6, 3.8, WRITTEN))  # fmt: skip
    found = with_resumptions(swallowed, line(LEVEL), frames(sounds), OFFSET)
    assert found.jumps == ((2.6, 3),)
    assert told(found)[2:5] == [(2, 0.8), (3, 1.2), (4, 1.6)]
    held = frames(sounds, again=-9.0)  # nothing tells that the pitch begins again: one long note
    assert with_resumptions(swallowed, line(LEVEL), held, OFFSET) == swallowed
    two = [*played([60, 62, 64, 64]), (REST, 1.0), *played([64, 64, 64, 65])]
    assert with_resumptions(swallowed, line(LEVEL), frames(two), OFFSET) == swallowed


@pytest.mark.parametrize(
    "sounds",
    [
        [*played([60, 62, 64, 65]), (REST, 1.4), *played([67, 69])],  # who waits
        [*played([60, 62, 64, 65]), (REST, 0.6), *played([57, 58]), *played([67, 69])],  # others
        [*played([60, 62, 64, 65]), (REST, 0.1), (65, 1.3), *played([67, 69])],  # no silence
        [*played([60, 62, 64, 65]), (REST, 1.2), (65, 0.2), *played([67, 69])],  # half a note
    ],
)
def test_who_waits_or_plays_something_else_has_not_tried_again(sounds):
    swallowed = path(*((i, EIGHTH_S * i, WRITTEN) for i in range(4)), (4, 3.0, WRITTEN),
                     (5, 3.4, WRITTEN))  # fmt: skip
    assert with_resumptions(swallowed, line(PITCHES), frames(sounds), OFFSET) == swallowed
