"""The course of a take as its notes tell it: exact tempos by construction, stops left out."""

from fractions import Fraction

import numpy as np
import pytest

from standlight.music import Note
from standlight.score.values import Passage
from standlight.sound.onsets import normalised
from standlight.sound.pacing import FAR_LOG, own_pace
from standlight.sound.values import HOP_S
from standlight.sound.written import written_line

LENGTHS = (Fraction(1), Fraction(1, 2), Fraction(1, 2), Fraction(2)) * 10


def line():
    onsets = [sum(LENGTHS[:i], Fraction(0)) for i in range(len(LENGTHS))]
    notes = tuple(
        Note(onset, length, measure=int(onset // 4), midi=60 + i % 5)
        for i, (onset, length) in enumerate(zip(onsets, LENGTHS, strict=True))
    )
    return written_line(Passage("", "Flute", "", (), notes, sum(LENGTHS)))


def seconds_a_quarter(pace):
    return np.exp(pace.course) * HOP_S


def test_a_steady_player_has_one_tempo_whatever_the_values():
    index = np.arange(len(LENGTHS))
    frames = np.array([float(length) for length in LENGTHS]) * 0.6 / HOP_S
    assert seconds_a_quarter(own_pace(line(), index, frames)) == pytest.approx(0.6, rel=1e-5)


def test_a_player_who_slows_down_is_followed():
    index = np.arange(len(LENGTHS))
    quarter_s = np.linspace(0.5, 0.75, len(LENGTHS))
    frames = np.array([float(length) for length in LENGTHS]) * quarter_s / HOP_S
    found = seconds_a_quarter(own_pace(line(), index, frames))
    assert found[8:32] == pytest.approx(quarter_s[8:32], rel=0.04)


def test_a_stop_and_a_shift_by_one_note_hardly_move_the_course():
    index = np.arange(len(LENGTHS))
    frames = np.array([float(length) for length in LENGTHS]) * 0.6 / HOP_S
    frames[20] *= np.exp(2 * FAR_LOG)  # waits at a quarter for four times its length
    frames[9:11] *= (0.4, 1.6)  # one boundary in a wrong place
    assert seconds_a_quarter(own_pace(line(), index, frames)) == pytest.approx(0.6, rel=0.01)


def test_without_a_note_that_tells_anything_there_is_no_course():
    last = np.array([len(LENGTHS) - 1])
    assert own_pace(line(), last, np.array([50.0])) is None


def test_a_take_of_few_notes_does_not_take_noise_for_starts():
    noise = np.random.default_rng(12).uniform(0.0, 1.0, 2_400)
    flux = noise.copy()
    flux[100:2_400:250] = 20.0  # ten starts in 24 s: fewer frames than two in a hundred
    evidence = normalised(flux, 10)
    assert np.all(evidence[100:2_400:250] > 0.9)
    assert np.max(np.delete(evidence, np.arange(100, 2_400, 250))) < 0.1
    assert np.all(normalised(np.zeros(50), 4) == 0.0) and not len(normalised(np.zeros(0), 4))
