"""The mains' hum between notes is no note; a note at the hum's pitch is.

50 and 60 Hz are the frequencies of public supply (IEC 60038, from memory).
"""

from fractions import Fraction

import numpy as np
import pytest
from tests.sound.takes import RATE_HZ, tone

from standlight.listening import Terms, hear
from standlight.music import Note, midi_of_hz
from standlight.score.values import Passage
from standlight.sound import PitchTrack, Recording
from standlight.sound.elsewhere import clear_tone_share
from standlight.sound.hum import HUM_DB, without_hum

FRAMES = 100


def track_at(midi):
    return PitchTrack(np.full(FRAMES, float(midi)), np.full(FRAMES, 0.9), np.full(FRAMES, True))


def level(soft_db):
    """Loud in the first half, softer by so much in the second."""
    return np.where(np.arange(FRAMES) < FRAMES // 2, -20.0, -20.0 - soft_db)


@pytest.mark.parametrize("hz", [50.0, 60.0, 100.0, 120.0, 150.0, 180.0])
def test_what_follows_the_mains_far_under_the_music_is_no_voice(hz):
    kept = without_hum(track_at(midi_of_hz(hz)), level(HUM_DB + 1.0))
    assert kept.voiced[: FRAMES // 2].all() and not kept.voiced[FRAMES // 2 :].any()
    assert not kept.confidence[FRAMES // 2 :].any()


@pytest.mark.parametrize("hz,soft_db", [(60.0, HUM_DB - 1.0), (61.0, 30.0), (200.0, 30.0)])
def test_what_is_louder_or_beside_it_stays(hz, soft_db):
    assert without_hum(track_at(midi_of_hz(hz)), level(soft_db)).voiced.all()


@pytest.mark.parametrize("hz", [50.0, 60.0, 100.0, 180.0])
def test_a_room_that_only_hums_has_no_tone_in_it(hz):
    time_s = np.arange(3 * RATE_HZ) / RATE_HZ
    hum, beside = (
        Recording((0.1 * np.sin(2 * np.pi * at * time_s)).astype(np.float32), RATE_HZ)
        for at in (hz, 1.03 * hz)
    )
    assert clear_tone_share(hum) < 0.05 < 0.9 < clear_tone_share(beside)


def test_frames_beyond_the_level_stay():
    kept = without_hum(track_at(midi_of_hz(60.0)), level(30.0)[:80])
    assert kept.voiced[80:].all() and not kept.voiced[60:80].any()


@pytest.mark.parametrize("hz", [50.0, 60.0])
def test_a_player_who_waits_in_a_humming_room_adds_no_note(hz):
    rng = np.random.default_rng(31)
    midi = [41, 43, 45, 46, 48, 46, 45, 43, 41, 43, 45, 46]
    notes = tuple(
        Note(Fraction(i), Fraction(1), midi=one, measure=i // 4) for i, one in enumerate(midi)
    )
    passage = Passage("", "Tuba", "", (), notes, Fraction(12))
    onsets = [0.6 + 0.6 * i + (2.0 if i > 6 else 0.0) for i in range(12)]
    wave = 1e-5 * rng.normal(size=int(11.0 * RATE_HZ))
    for onset_s, one in zip(onsets, midi, strict=True):
        sound = tone(one, 0.55, "tuba", rng)
        wave[int(onset_s * RATE_HZ) : int(onset_s * RATE_HZ) + len(sound)] += sound
    loud = float(np.sqrt(np.mean(tone(45, 0.5, "tuba", rng) ** 2)))
    wave += loud * 10 ** (-25 / 20) * np.sqrt(2) * np.sin(
        2 * np.pi * hz * np.arange(len(wave)) / RATE_HZ
    )
    report = hear(Recording(wave.astype(np.float32), RATE_HZ), passage, Terms(100.0))
    assert report.added == () and report.restarts == ()
    assert [note.outcome for note in report.notes] == ["played"] * 12
    told = np.array([note.onset_s for note in report.notes])
    assert np.abs(told - onsets).max() < 0.05
