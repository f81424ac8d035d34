"""Who plays on in time has not jumped ahead, though the same figure stands at the end too.

The frames are made by formula: every note lasts equally long and begins clearly; an eighth's rest
stands after the opening.
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

QPM, SHARE, SILENCE_S = 60.0, 0.65, 1.5
REST = -1
OPENING = [41, 50, 43, 52, 45, 48, 53, REST]
FIGURE = [53, 48, 53, 48]
MIDDLE = [55, 50, 55, 53, 52, 48, 53, 48]
LENGTH_FRAMES = round(30.0 / QPM / SHARE / HOP_S)


def line(pitches):
    notes = tuple(
        Note(Fraction(i, 2), Fraction(1, 2), measure=i // 4, midi=midi)
        for i, midi in enumerate(pitches)
        if midi != REST
    )
    return written_line(Passage("", "Tuba", "", (), notes, Fraction(len(pitches), 2)))


def frames(pitches):
    """What sounds when ``pitches`` are played one after the other, then nothing for a while."""
    sounds = np.append(np.repeat(pitches, LENGTH_FRAMES), np.full(round(SILENCE_S / HOP_S), REST))
    weight = (sounds != REST).astype(float)
    onset = np.zeros(len(sounds))
    onset[np.arange(len(pitches)) * LENGTH_FRAMES] = 0.9 * (np.array(pitches) != REST)
    return Evidence(sounds.astype(float), weight, onset, np.where(onset > 0.5, 1.0, -8.0))


def told(written, played):
    """The written notes that are told as played, in time."""
    evidence = frames(played)
    path = follow_again(written, evidence, 0.0, follow(written, evidence, 0.0, QPM))
    return [one.index for one in path.segments if one.kind == WRITTEN]


def test_who_stops_where_the_end_begins_alike_has_stopped():
    written = line(OPENING + FIGURE + MIDDLE + FIGURE)
    assert told(written, OPENING + FIGURE) == list(range(11))


def test_a_jump_ahead_that_costs_no_more_than_others_would_not_do(monkeypatch):
    monkeypatch.setattr(following, "FORWARD_COST", following.FAR_COST)
    written = line(OPENING + FIGURE + MIDDLE + FIGURE)
    assert told(written, OPENING + FIGURE)[-1] == len(written) - 1


@pytest.mark.parametrize("coda", [[60, 62, 64, 65, 67], [60, 62, 64, 65, 67, 69, 71, 72]])
def test_music_that_is_left_out_is_jumped_over(coda):
    written = line(OPENING + FIGURE + MIDDLE + coda)
    through = list(range(7)) + list(range(19, 19 + len(coda)))
    assert told(written, OPENING + coda) == through
