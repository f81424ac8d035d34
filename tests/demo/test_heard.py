"""What the machine player played is what the listening hears: player and ear check each other.

The player's timeline is exact, so every figure here has a truth beside it.
"""

import numpy as np
import pytest

from standlight.demo.faults import Faults
from standlight.demo.player import encode, play
from standlight.listening import ListeningTask, Terms, listen
from standlight.score import line_to_musicxml, read_passage

MONOTONE = "time 4/4 tempo 76\nF4 q F4 q F4 q F4 q | F4 q F4 q F4 h | G4 q F4 q F4 q F4 q"
TUNE = "time 4/4 tempo 88\nBb4 q C5 q D5 q Eb5 q | F5 h D5 h | Eb5 q C5 q D5 q Bb4 q | C5 w"
STROKES = (
    "time 4/4 tempo 88\nsnare q snare q snare e snare e snare q"
    " | snare q snare e snare e snare q r q"
)


def heard(line, instrument, *, tempo_qpm, faults=None, seed=3):
    notation = line_to_musicxml(line, instrument=instrument)
    take = play(
        read_passage(notation).notes,
        tempo_qpm=tempo_qpm,
        instrument=instrument,
        faults=faults,
        seed=seed,
    )
    criteria = ("rhythm", "notes", "intonation")
    terms = Terms(tempo_qpm, instrument, criteria=criteria)
    return take, listen(ListeningTask(encode(take), notation, terms))


def onset_errors_ms(take, report):
    true = {sound.index: sound.onset_s for sound in take.played if sound.index is not None}
    return [
        1000 * abs(note.onset_s - true[note.index])
        for note in report.notes
        if note.onset_s is not None
    ]


@pytest.mark.parametrize("instrument", ["Flute", "Violin", "Alto"])
def test_one_pitch_again_and_again_is_followed_straight_through(instrument):
    take, report = heard(MONOTONE, instrument, tempo_qpm=76)
    assert report.restarts == ()
    assert {note.outcome for note in report.notes} == {"played"}
    assert report.tempo_qpm == pytest.approx(76, rel=0.02)
    assert max(onset_errors_ms(take, report)) < 50


def test_a_tune_with_a_wrong_a_missing_and_a_detuned_note_is_told_as_played():
    faults = Faults(tuning_cents=-14, wrong=((2, 1),), skipped=(7,))
    take, report = heard(TUNE, "Trumpet / cornet / flugelhorn in Bb", tempo_qpm=80, faults=faults)
    outcomes = [note.outcome for note in report.notes]
    assert outcomes[2] == "other_pitch"
    assert outcomes[7] == "missing"
    assert {o for i, o in enumerate(outcomes) if i not in (2, 7)} == {"played"}
    assert report.tuning_cents == pytest.approx(-14, abs=3)
    assert np.median(onset_errors_ms(take, report)) < 20


def test_an_exact_snare_line_is_followed_stroke_by_stroke():
    take, report = heard(STROKES, "Snare drum", tempo_qpm=88)
    assert report.restarts == ()
    assert [note.outcome for note in report.notes] == ["played"] * len(take.played)
    assert report.tempo_qpm == pytest.approx(88, rel=0.03)
    assert max(onset_errors_ms(take, report)) < 30
