"""A pitch that begins again is told from one that is held, by tones made by formula."""

import numpy as np
import pytest
from tests.sound.takes import RATE_HZ, finished, tone

from standlight.sound import Recording
from standlight.sound.evidence import AGAIN_FROM, AGAIN_SPAN
from standlight.sound.onsets import signs_of
from standlight.sound.pitch import pitch_candidates, pitch_path
from standlight.sound.rearticulation import again_odds
from standlight.sound.values import HOP_S

SEAM_S, END_S = 1.0, 2.0
SURE = AGAIN_FROM + AGAIN_SPAN


def odds_of(recording, midi):
    candidates = pitch_candidates(recording, midi - 14.0, midi + 14.0)
    return again_odds(signs_of(recording, 2), pitch_path(candidates, midi, midi))


def sounding(midi, timbre, *, repeated, gap_s=0.05, echo=0.3, gain=1.0):
    """Two tones of one pitch that meet at `SEAM_S`, or one that is held, in a room with noise."""
    rng = np.random.default_rng(int(midi))
    wave = np.zeros(int((END_S + 0.5) * RATE_HZ))
    spans = [(0.2, SEAM_S - gap_s), (SEAM_S, END_S)] if repeated else [(0.2, END_S)]
    for start_s, end_s in spans:
        one = tone(midi, end_s - start_s, timbre, rng)
        wave[int(start_s * RATE_HZ) : int(start_s * RATE_HZ) + len(one)] += one
    made = finished(wave, rng, 35.0, echo)
    return Recording((gain * made.samples).astype(np.float32), RATE_HZ)


def around(odds, at_s, reach_s=0.05):
    return float(odds[int((at_s - reach_s) / HOP_S) : int((at_s + reach_s) / HOP_S) + 1].max())


LINES = [(45, "cello"), (60, "horn"), (70, "violin"), (76, "flute")]


@pytest.mark.parametrize("midi,timbre", LINES)
def test_a_pitch_begun_again_stands_out_and_a_held_one_does_not(midi, timbre):
    again = odds_of(sounding(midi, timbre, repeated=True), midi)
    held = odds_of(sounding(midi, timbre, repeated=False), midi)
    inside = slice(int(0.5 / HOP_S), int(1.7 / HOP_S))
    assert around(again, SEAM_S) > SURE
    assert held[inside].max() < AGAIN_FROM
    assert abs(int(again[inside].argmax()) * HOP_S + 0.5 - SEAM_S) < 0.05


def test_the_wider_the_gap_the_higher_the_odds():
    told = [
        around(odds_of(sounding(67, "violin", repeated=True, gap_s=gap_s), 67), SEAM_S)
        for gap_s in (0.01, 0.03, 0.06, 0.12)
    ]
    assert told == sorted(told) and told[-1] > told[0] + 1.0


def test_a_softer_recording_tells_the_same():
    loud, soft = (
        around(odds_of(sounding(67, "horn", repeated=True, gain=gain), 67), SEAM_S)
        for gain in (1.0, 0.25)
    )
    assert soft == pytest.approx(loud, abs=1.0) and soft > SURE


def test_odds_are_one_a_frame_and_numbers_even_of_silence():
    silent = Recording(np.zeros(RATE_HZ, dtype=np.float32), RATE_HZ)
    odds = odds_of(silent, 60)
    assert len(odds) == 101 and np.isfinite(odds).all() and odds.max() < AGAIN_FROM
