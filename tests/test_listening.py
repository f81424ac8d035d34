"""The whole line from bytes to a report, and what it says of bytes that are no take."""

import io
import json
from dataclasses import fields, replace

import numpy as np
import pytest

from standlight.criteria import CRITERIA
from standlight.listening import (
    METHOD,
    ListeningTask,
    NoteReading,
    PitchTarget,
    Terms,
    listen,
    listen_to,
    report_as_json,
)
from standlight.score import line_to_musicxml, read_passage
from standlight.score.lines import on_line
from tests.divisi_makers import two_voices
from tests.hearing_scene import RECORDING, TUNE
from tests.sound.real_takes import RECORDINGS

ODE = (
    "A4 q A4 q Bb4 q C5 q | C5 q Bb4 q A4 q G4 q | F4 q F4 q G4 q A4 q | A4 q. G4 e G4 h"
)  # the tune of the spliced takes as it is written: the trumpet's seventh note sounds a G#
TRUMPET = RECORDINGS / "spliced" / "trumpet_ode_sd15c_sd30ms_1wrong.flac"

CONTRACT = {
    "method", "verdicts", "tuning_cents", "tempo_qpm", "notes", "added", "restarts", "attempts",
    "readings",
}  # fmt: skip
"""Keys of the JSON contract, beside ``file``."""


def notation():
    return line_to_musicxml(ODE, instrument="Flute")


def task(take, **more):
    return ListeningTask(take, notation(), Terms(100.0, **more))


def test_a_real_take_gives_notes_readings_and_words():
    report = listen(task(TRUMPET.read_bytes(), instrument="Trumpet in C"))
    assert report.method == METHOD
    assert report.verdicts == ()
    assert report.seconds == pytest.approx(11.1, abs=0.01)
    assert report.first_note_s == pytest.approx(0.5, abs=0.02)
    assert report.tempo_qpm == pytest.approx(100.0, abs=2.0)
    assert len(report.notes) == 15
    assert [note.index for note in report.notes if note.outcome != "played"] == [6]
    assert len(report.spots) <= 3
    for reading in report.readings:
        assert reading.sentence if reading.value is not None else reading.because


def test_the_report_is_the_json_contract():
    body = report_as_json(listen(task(TRUMPET.read_bytes())))
    assert set(body) >= CONTRACT
    assert json.loads(json.dumps(body, allow_nan=False)) == body
    assert set(body["notes"][0]) == {field.name for field in fields(NoteReading)}
    assert {"criterion", "name", "value", "low", "high", "unit", "n_notes", "because"} <= set(
        body["readings"][0]
    )


def test_only_the_asked_criteria_are_read_and_those_for_ears_say_so():
    report = listen(task(TRUMPET.read_bytes(), criteria=("tone", "intonation")))
    assert {reading.criterion for reading in report.readings} == {"tone", "intonation"}
    tone = report.readings[0]
    assert tone.value is None and tone.because.startswith(CRITERIA["tone"].by_ear)
    assert "not how good the tone is" in tone.because


def test_the_lines_of_a_take_stand_in_the_report_as_plain_numbers():
    body = report_as_json(listen(task(TRUMPET.read_bytes())))
    curve, line = body["tempo_curve"], body["loudness_line"]
    assert {type(value) for row in curve + line for value in row.values()} <= {float, int}
    # the take was spliced at 100 quarters a minute, entries scattered by 30 ms
    assert [row["tempo_qpm"] for row in curve] == pytest.approx([100.0] * len(curve), abs=8.0)
    assert len(curve) >= 12 and len(line) > 100
    assert max(row["quarters"] for row in line) <= 16.01


def test_just_intervals_and_a_drone_are_asked_for_with_the_task():
    just = listen(task(TRUMPET.read_bytes(), criteria=("intonation",),
                       target=PitchTarget("just", tonic=5)))  # fmt: skip
    assert "spread against just intervals" in [reading.name for reading in just.readings]
    drone = listen(task(TRUMPET.read_bytes(), criteria=("intonation",),
                        target=PitchTarget("drone", tonic=5)))  # fmt: skip
    (away,) = [reading for reading in drone.readings if reading.name == "distance from the drone"]
    assert away.low <= away.value <= away.high and away.unit == "cents"
    # what each note is called may differ; where and how high it was heard does not
    assert just.notes == drone.notes


def test_a_criterion_the_instrument_cannot_show_is_absent_with_the_reason():
    report = listen(task(TRUMPET.read_bytes(), instrument="Trumpet in C", criteria=("evenness",)))
    assert [r.value for r in report.readings] == [None]
    assert "brass" in report.readings[0].because


def test_another_tuning_note_moves_every_deviation_alike():
    usual = listen(task(TRUMPET.read_bytes()))
    high = listen(task(TRUMPET.read_bytes(), a4_hz=442.0))
    # ISO 16: 442 Hz lies 7.85 cents above 440 Hz
    assert usual.tuning_cents - high.tuning_cents == pytest.approx(7.85, abs=0.3)


def test_a_take_without_notation_is_judged_by_its_sound_alone():
    report = listen(ListeningTask(TRUMPET.read_bytes(), None, Terms(100.0)))
    assert [verdict.code for verdict in report.verdicts] == ["no_notation"]
    assert report.notes == ()
    assert report.first_note_s == pytest.approx(0.5, abs=0.05)


def test_notation_that_is_no_score_is_told_and_nothing_is_lost():
    report = listen(ListeningTask(TRUMPET.read_bytes(), b"<html/>", Terms(100.0)))
    assert "unreadable_notation" in {verdict.code for verdict in report.verdicts}
    assert report.seconds > 11.0 and report.notes == ()


ABOVE = (
    "time 4/4 tempo 84 F#5 h F#5 h | A5 q E5 q D#5 q C#5 q | "
    "B4 q. B4 e C5 q D5 q | E5 h F#5 h"
)
"""An upper voice to the tune that the clarinet plays, in another rhythm."""


def test_a_real_take_of_the_lower_line_is_read_against_it():
    both = two_voices(ABOVE, TUNE, instrument="Clarinet in Bb")
    take = RECORDING.read_bytes()

    def outcomes(notation):
        report = listen(ListeningTask(take, notation, Terms(84.0, "Clarinet in Bb")))
        return [note.outcome for note in report.notes]

    # The recording plays all 15 notes of the tune (its own account, beside the file).
    assert outcomes(on_line(both, line="lower")) == ["played"] * 15
    assert outcomes(both).count("played") < 7


def test_a_part_with_and_without_pitches_is_for_the_ear_and_never_followed_as_strokes():
    passage = read_passage(notation())
    drum = replace(passage.notes[0], midi=None, drum="drum")
    mixed = replace(passage, notes=(drum, *passage.notes[1:]))
    report = listen_to(TRUMPET.read_bytes(), mixed, Terms(100.0, "Trumpet in C"))
    assert [verdict.code for verdict in report.verdicts] == ["mixed_notes"]
    assert report.notes == () and all(reading.value is None for reading in report.readings)
    whole = listen_to(TRUMPET.read_bytes(), passage, Terms(100.0, "Trumpet in C"))
    assert whole.verdicts == () and len(whole.notes) == len(passage.notes)


def test_several_notes_at_once_are_for_the_ear_and_it_says_so():
    both = two_voices(ABOVE, TUNE, instrument="Clarinet in Bb")
    everything = on_line(both, line="all")
    terms = Terms(84.0, criteria=("rhythm",))
    report = listen(ListeningTask(RECORDING.read_bytes(), everything, terms))
    assert [verdict.code for verdict in report.verdicts] == ["several_at_once"]
    assert report.notes == () and report.seconds > 5
    assert [reading.value for reading in report.readings] == [None]
    assert "several notes at once" in report.readings[0].because
    # One voice alone is read although "all" was chosen: there is nothing more to it.
    alone = on_line(line_to_musicxml(TUNE, instrument="Clarinet in Bb"), line="all")
    assert len(listen(ListeningTask(RECORDING.read_bytes(), alone, Terms(84.0))).notes) == 15


BAD = {
    "empty": (b"", "empty"),
    "text renamed": (b"Dear director, my phone was broken.\n" * 40, "text file"),
    "nonsense": (np.random.default_rng(2).bytes(20_000), "not a recording"),
    "cut at the start": (TRUMPET.read_bytes()[:30], "recording"),
    "a drawing": (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "text file"),
}


@pytest.mark.parametrize("name", BAD)
def test_bytes_that_are_no_take_become_a_sentence(name):
    take, words = BAD[name]
    report = listen(task(take))
    assert [verdict.code for verdict in report.verdicts] == ["unreadable"]
    assert words in report.verdicts[0].sentence
    assert report.notes == () and report.first_note_s == 0.0
    assert all(reading.value is None and reading.because for reading in report.readings)


def test_an_hour_is_refused_in_words():
    av = pytest.importorskip("av")
    target = io.BytesIO()
    with av.open(target, "w", format="flac") as out:
        stream = out.add_stream("flac", rate=8000, layout="mono")
        second = np.zeros((1, 8000), dtype=np.int16)
        for number in range(3600):
            frame = av.AudioFrame.from_ndarray(second, format="s16", layout="mono")
            frame.sample_rate, frame.pts = 8000, number * 8000
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    report = listen(task(target.getvalue()))
    assert "longer than 10 minutes" in report.verdicts[0].sentence


def test_a_truncated_take_gives_its_beginning():
    report = listen(task(TRUMPET.read_bytes()[:150_000]))
    codes = {verdict.code for verdict in report.verdicts}
    assert codes & {"damaged", "cut_off", "stopped_early"}
    assert report.notes[0].outcome == "played"
    assert report.notes[-1].outcome == "missing"
