"""A habit changes what it says of a playing, and nothing else."""

import numpy as np
import pytest
from benchmarks import habits
from benchmarks.hearing import takes
from benchmarks.hearing.lines import made_line
from benchmarks.hearing.playing import Plan, play
from benchmarks.hearing.timbres import BY_KEY


@pytest.fixture(scope="module")
def played():
    """A made line that has a repeated note, and its faultless playing."""
    for number in range(40):
        rng = np.random.default_rng([1900, number])
        line = made_line(rng, BY_KEY["clarinet"], 1.0, 20.0)
        midi = [note.midi for note in line.passage.notes]
        if any(a == b for a, b in zip(midi[1:], midi[2:-1], strict=False)):
            return line, play(rng, line, Plan(), 1.0).sounds
    raise AssertionError("no such line")


def changed(key, played):
    line, sounds = played
    return habits.HABITS[key].change(np.random.default_rng(4), line, sounds)


@pytest.mark.parametrize("key", ["twelfth", "weak", "beside"])
def test_wrong_notes_are_wrong_in_pitch_alone(key, played):
    before, after = played[1], changed(key, played)
    wrong = [at for at, (a, b) in enumerate(zip(before, after, strict=True)) if a.midi != b.midi]
    assert wrong and wrong == [at for at, one in enumerate(after) if one.kind == "other"]
    assert [one.onset_s for one in before] == [one.onset_s for one in after]
    off = [after[at].midi - before[at].midi for at in wrong]
    if key == "twelfth":
        assert off == pytest.approx([12.0 * np.log2(3.0)] * len(off), abs=0.01)
    if key == "beside":
        midi = [note.midi for note in played[0].passage.notes]
        for at, by in zip(wrong, off, strict=True):
            assert midi[at] + round(by) in (midi[at - 1], midi[at + 1])


def test_once_too_often_adds_one_sound_in_time_and_moves_the_rest(played):
    before, after = played[1], changed("more", played)
    (at,) = [place for place, one in enumerate(after) if one.index is None]
    assert len(after) == len(before) + 1
    assert round(after[at].midi) == round(after[at - 1].midi) == round(after[at + 1].midi)
    step_s = after[at].onset_s - after[at - 1].onset_s
    later = [b.onset_s - a.onset_s for a, b in zip(before[at:], after[at + 1 :], strict=True)]
    assert later == pytest.approx([step_s] * len(later))


def test_a_place_at_half_speed_takes_twice_the_time_and_the_rest_its_own(played):
    before, after = played[1], changed("half", played)
    steps = [np.diff([one.onset_s for one in sounds]) for sounds in (before, after)]
    ratio = steps[1] / steps[0]
    assert set(np.round(ratio, 6)) == {1.0, habits.SLOWER}
    slow = np.flatnonzero(ratio > 1.5)
    assert np.all(np.diff(slow) == 1) and habits.SLOW_NOTES[0] <= len(slow) <= habits.SLOW_NOTES[1]


def test_a_cut_passage_begins_with_its_first_note(played):
    whole = played[0].passage
    first, last = habits.up_to(whole), habits.from_within(whole)
    assert first.notes == whole.notes[: len(first.notes)]
    assert last.notes[0].onset_quarters == 0
    assert [note.midi for note in last.notes] == [n.midi for n in whole.notes[-len(last.notes) :]]


def test_a_metronome_clicks_once_a_quarter_and_changes_nothing_else():
    kind = f"plain for {__name__}"
    takes.KINDS[kind] = Plan()
    made = takes.make(1900, kind, 0)
    before, after = made.recording(), habits.with_metronome(made)
    off = np.abs(after.samples.astype(float) - before.samples)
    assert after.rate_hz == before.rate_hz and len(off) == len(before.samples)
    loud = np.flatnonzero(off > 0.3 * off.max()) / after.rate_hz
    clicks = loud[np.append(True, np.diff(loud) > 0.1)]
    step = np.diff(clicks)
    assert len(clicks) > 5 and np.ptp(step) < 0.02
    notes = made.passage.notes
    took_s = made.truth.notes[-1].onset_s - made.truth.notes[0].onset_s
    quarters = float(notes[-1].onset_quarters - notes[0].onset_quarters)
    assert np.median(step) == pytest.approx(took_s / quarters, rel=0.1)
    assert np.mean(off < 1e-3) > 0.5
