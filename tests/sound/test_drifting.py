"""A voice that sinks or rises is followed along its own centre: tones by formula."""

from fractions import Fraction

import numpy as np
import pytest
from tests.sound.melody import MELODY, TEMPO_QPM, played

from standlight.music import Note
from standlight.score.values import Passage
from standlight.sound import perform

SONG = MELODY * 2
WRONG, WRONG_SEMITONES = 20, 1
PLACES = np.arange(len(SONG)) / (len(SONG) - 1)


def song():
    """The melody twice, in quarters."""
    notes = tuple(
        Note(Fraction(at), Fraction(1), measure=at // 4, midi=midi) for at, midi in enumerate(SONG)
    )
    return Passage("", "Soprano", "", (), notes, Fraction(len(notes)))


def sung(drift_semitones):
    """What is told of a voice that drifts evenly and sings one note a semitone too high."""
    midis = [midi + drift_semitones * place for midi, place in zip(SONG, PLACES, strict=True)]
    midis[WRONG] += WRONG_SEMITONES
    return perform(played(midis), song(), TEMPO_QPM, sung=True)


@pytest.mark.parametrize("drift", [-1.2, -0.9, -0.6, -0.2, 0.0, 0.2, 0.6, 0.9, 1.2])
def test_every_note_of_a_voice_that_drifts_is_told_as_itself_and_the_wrong_one_as_wrong(drift):
    told = sung(drift)
    wanted = ["other_pitch" if at == WRONG else "played" for at in range(len(SONG))]
    assert [note.outcome for note in told.notes] == wanted
    # deviations count from the written pitch: the whole drift is in them
    apart = [
        (note.deviation_cents, 100.0 * drift * place)
        for note, place in zip(told.notes, PLACES, strict=True)
        if note.outcome == "played"
    ]
    assert [cents for cents, _ in apart] == pytest.approx([true for _, true in apart], abs=3.0)
    assert told.foreign_pitch_share < 0.05 and told.explained_share > 0.9
    heard = told.notes[WRONG].midi_heard
    assert heard == pytest.approx(SONG[WRONG] + WRONG_SEMITONES + drift * PLACES[WRONG], abs=0.05)


def test_a_whole_song_a_semitone_off_is_another_key_and_no_drift():
    told = perform(played([midi - 1 for midi in SONG]), song(), TEMPO_QPM, sung=True)
    assert told.shift_semitones == -1
    assert [note.outcome for note in told.notes] == ["played"] * len(SONG)
