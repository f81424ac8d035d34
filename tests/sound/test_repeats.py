"""A repeat left out, or taken though the passage has none, is said in words; the rest is right."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from tests.criteria.test_readings import play
from tests.sound.takes import RATE_HZ, finished, melody, tone

from standlight.listening import Terms, hear
from standlight.score.values import Passage
from standlight.sound.repeats import with_repeats_told
from standlight.sound.values import Resumed

CRITERIA = ("notes", "pulse", "rhythm", "intonation")


def joined(*sections):
    """Sections one after the other, each from a barline."""
    notes, at = [], Fraction(0)
    for section in sections:
        for note in section.notes:
            onset = note.onset_quarters + at
            notes.append(replace(note, onset_quarters=onset, measure=int(onset // 4)))
        at += Fraction(-(-section.length_quarters // 4) * 4)
    return Passage("", "", "", (), tuple(notes), at)


def played(passage, seed, *, stop_before=None, stop_s=0.0):
    """The passage at 96; ``stop_s`` of silence before note ``stop_before``."""
    rng = np.random.default_rng(seed)
    wave = np.zeros(int((float(passage.length_quarters) * 0.625 + 3 + stop_s) * RATE_HZ))
    onsets = []
    for index, note in enumerate(passage.notes):
        late = stop_s if stop_before is not None and index >= stop_before else 0.0
        onsets.append(0.6 + float(note.onset_quarters) * 0.625 + late + rng.normal(0, 0.010))
        sound = tone(note.midi, float(note.duration_quarters) * 0.57, "flute", rng)
        first = int(onsets[-1] * RATE_HZ)
        wave[first : first + len(sound)] += sound
    return finished(wave, rng, 35.0, 0.3), onsets


@pytest.fixture(params=(1100, 1105, 1106))
def sections(request):
    rng = np.random.default_rng(request.param)
    return request.param, *(melody(rng, 62, 81, count) for count in (8, 12, 12))


def codes(report):
    return [verdict.code for verdict in report.verdicts]


def words_of(report, name):
    return next(reading.sentence for reading in report.readings if reading.name == name)


def test_a_repeat_that_is_left_out_is_said_and_the_rest_is_read_right(sections):
    seed, lead, once, after = sections
    recording, onsets = played(joined(lead, once, after), seed)
    report = hear(recording, joined(lead, once, once, after), Terms(96.0, criteria=CRITERIA))
    assert codes(report) == ["repeat_left_out"]
    words = report.verdicts[0].sentence
    assert "have the same music, which was heard one time" in words
    outcomes = [note.outcome for note in report.notes]
    assert outcomes.count("missing") == 12 and outcomes.count("played") == 32
    missing = tuple(note.index for note in report.notes if note.outcome == "missing")
    assert report.left_out == missing and report.seams == (missing[-1] + 1,)
    heard = [note.onset_s for note in report.notes if note.onset_s is not None]
    assert np.max(np.abs(np.array(heard) - onsets)) < 0.050
    assert report.restarts == () and report.spots == ()
    assert words_of(report, "stops") == "It went on without a stop."
    assert words_of(report, "notes not heard") == "Every written note was heard."
    assert report.tempo_qpm == pytest.approx(96.0, rel=0.01)


def test_a_repeat_that_the_passage_does_not_have_is_said_and_is_no_restart(sections):
    seed, lead, once, after = sections
    recording, onsets = played(joined(lead, once, once, after), seed)
    report = hear(recording, joined(lead, once, after), Terms(96.0, criteria=CRITERIA))
    assert codes(report) == ["repeat_taken"]
    assert "played twice without a stop" in report.verdicts[0].sentence
    assert [note.outcome for note in report.notes] == ["played"] * 32
    heard = [note.onset_s for note in report.notes]
    assert np.max(np.abs(np.array(heard) - (onsets[:8] + onsets[20:]))) < 0.050
    assert report.restarts == () and len(report.attempts) == 12
    assert report.left_out == () and report.seams == (8, 20)
    assert words_of(report, "stops") == "It went on without a stop."
    assert report.tempo_qpm == pytest.approx(96.0, rel=0.01)


def test_a_stop_and_a_new_start_is_still_a_restart(sections):
    seed, lead, once, after = sections
    recording, _ = played(joined(lead, once, once, after), seed, stop_before=20, stop_s=1.2)
    report = hear(recording, joined(lead, once, after), Terms(96.0, criteria=CRITERIA))
    assert codes(report) == [] and [one.to_index for one in report.restarts] == [8]
    assert words_of(report, "stops").startswith("It stopped one time")


def test_measures_left_out_that_stand_nowhere_else_are_missing_notes(sections):
    seed, lead, once, after = sections
    recording, _ = played(joined(lead, after), seed)
    report = hear(recording, joined(lead, once, after), Terms(96.0, criteria=CRITERIA))
    assert codes(report) == []
    assert words_of(report, "notes not heard").startswith("12 written notes not heard")


def twice(midi, stop_s=0.0):
    """A line that was played twice, ``stop_s`` between, as the follower would give it."""
    base = play(["1"] * len(midi), midi=midi)
    again_s = 0.6 * len(midi) + stop_s
    later = [
        replace(n, onset_s=n.onset_s + again_s, offset_s=n.offset_s + again_s) for n in base.notes
    ]
    return replace(
        base, notes=tuple(later), attempts=base.notes, restarts=(Resumed(again_s, 0),)
    )


def test_of_a_line_on_one_pitch_no_repeat_is_told():
    told, verdicts = with_repeats_told(twice([60, 62, 64, 65] * 3))
    assert [one.code for one in verdicts] == ["repeat_taken"] and told.seams
    alike = twice([60] * 12)
    assert with_repeats_told(alike) == (alike, ())


def test_more_than_a_quarter_second_is_a_stop_and_no_repeat():
    midi = [60, 62, 64, 65] * 3
    assert with_repeats_told(twice(midi, stop_s=0.15))[1]
    stopped = twice(midi, stop_s=0.28)  # less than half of its quarter of 0.6 s
    assert with_repeats_told(stopped) == (stopped, ())


def test_two_measures_played_twice_in_time_are_a_restart():
    again = twice([60, 62, 64, 65] * 2)
    assert with_repeats_told(again) == (again, ())
    assert [one.to_index for one in again.restarts] == [0]


def test_who_begins_in_the_middle_has_not_started_again(sections):
    seed, lead, once, after = sections
    recording, onsets = played(after, seed)
    report = hear(recording, joined(lead, once, after), Terms(96.0, criteria=CRITERIA))
    assert report.restarts == () and report.attempts == ()
    assert [note.outcome for note in report.notes] == ["missing"] * 20 + ["played"] * 12
    told = [note.onset_s for note in report.notes[20:]]
    assert np.max(np.abs(np.array(told) - onsets)) < 0.050
    assert words_of(report, "stops") == "It went on without a stop."
