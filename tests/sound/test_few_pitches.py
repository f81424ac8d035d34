"""A line on one pitch, played slowly, is followed once through, note by note.

The frames are made by formula: every note lasts equally long and begins clearly; what wavers in its
middle looks a little like a start, as a room's beating waves do.
"""

from fractions import Fraction

import numpy as np
import pytest

from standlight.music import Note
from standlight.score.values import Passage
from standlight.sound import following
from standlight.sound.evidence import Evidence
from standlight.sound.following import WRITTEN, follow, follow_again
from standlight.sound.values import HOP_S
from standlight.sound.written import written_line

NOTES, QPM = 24, 100.0
LONG_ON_EACH = (53,) * 22 + (57, 58)
"""Three pitches, but two of its 23 steps change them."""


def line(pitches):
    notes = tuple(
        Note(Fraction(i, 2), Fraction(1, 2), measure=i // 8, midi=pitches[i % len(pitches)])
        for i in range(NOTES)
    )
    return written_line(Passage("", "Horn", "", (), notes, Fraction(NOTES, 2)))


def frames(written, share, wavering):
    """What sounds when the line is played at a ``share`` of its tempo, and each note's frames."""
    length = round(30.0 / QPM / share / HOP_S)
    onset = np.zeros(length)
    onset[0], onset[length // 2] = 0.9, wavering
    sounds, everywhere = np.repeat(written.midi, length), np.ones(NOTES * length)
    again = np.where(np.tile(onset, NOTES) > 0.5, 1.0, -8.0)
    heard = Evidence(sounds, everywhere, np.tile(onset, NOTES), again)
    return heard, length


def misses(path, length):
    """Notes that are not told once, as written, where they begin; 0.03 s are the grid's."""
    told = [(one.index, one.start_s) for one in path.segments if one.kind == WRITTEN]
    true = [(index, index * length * HOP_S) for index in range(NOTES)]
    return sum(
        not any(at == index and abs(start_s - told_s) < 0.03 for at, told_s in told)
        for index, start_s in true
    )


@pytest.mark.parametrize("share", [0.37, 0.5, 0.6, 0.8, 1.0, 1.3])
@pytest.mark.parametrize("pitches", [(50,), (50, 57), LONG_ON_EACH])
def test_a_line_of_few_pitches_is_followed_at_every_tempo(share, pitches):
    written = line(pitches)
    heard, length = frames(written, share, 0.25)
    first = follow(written, heard, 0.0, QPM)
    again = follow_again(written, heard, 0.0, first)
    assert not first.jumps and not again.jumps
    assert misses(again, length) == 0


def test_what_is_asked_of_other_lines_would_not_do(monkeypatch):
    written = line((50,))
    heard, _ = frames(written, 0.37, 0.25)
    monkeypatch.setattr(following, "FEW_PITCHES", 0)
    monkeypatch.setattr(following, "FEW_CHANGES", 0.0)
    assert follow(written, heard, 0.0, QPM).jumps


def test_nor_would_it_where_the_pitch_seldom_changes(monkeypatch):
    written = line(LONG_ON_EACH)
    heard, _ = frames(written, 0.37, 0.5)
    assert not follow(written, heard, 0.0, QPM).jumps
    monkeypatch.setattr(following, "FEW_CHANGES", 0.0)
    assert follow(written, heard, 0.0, QPM).jumps
