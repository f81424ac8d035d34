"""Struck parts followed by their strokes: against strokes made by formula at exact times."""

from __future__ import annotations

from dataclasses import replace

import mir_eval
import numpy as np
import pytest
from tests.sound.struck import (
    TEMPO_QPM,
    Stroke,
    played,
    rhythm,
    sounded,
    stroke,
    written,
)

from standlight.listening import Terms, hear
from standlight.sound import FATAL, Recording, perform, striking
from standlight.sound.onsets import stroke_onsets
from standlight.sound.striking import match_strokes
from standlight.sound.written import written_line

WINDOW_S = 0.030
SCALE = (67, 69, 71, 72, 74, 76, 77, 79)
KETTLES = (43, 48)
INSTRUMENT = {"bar": "Xylophone", "kettle": "Timpani (pair 29/26 in)", "drum": "Snare drum"}


def line(kind, seed, beats=28, values=None, rolled=()):
    """A written passage for the kind of instrument."""
    rng, values = np.random.default_rng(seed), values or rhythm(seed, beats)
    pitches = {"bar": SCALE, "kettle": KETTLES, "drum": (None,)}[kind]
    midis = [pitches[int(rng.integers(len(pitches)))] for _ in values]
    return replace(written(values, midis, rolled), instrument=INSTRUMENT[kind])


def followed(kind, strokes, passage, seed=1):
    """The performance of struck sound."""
    return perform(sounded(kind, strokes, seed), passage, TEMPO_QPM, struck=True)


def told_onsets(performance):
    """Every onset told, written or not, in order."""
    sounds = (*performance.notes, *performance.attempts, *performance.added)
    return np.sort([one.onset_s for one in sounds if one.onset_s is not None])


def matched(true_s, told_s):
    """Precision, recall and the errors in ms of onsets within 30 ms, by mir_eval."""
    pairs = mir_eval.util.match_events(np.sort(true_s), told_s, WINDOW_S)
    errors = [1000.0 * (told_s[there] - np.sort(true_s)[here]) for here, there in pairs]
    return len(pairs) / len(told_s), len(pairs) / len(true_s), np.array(errors)


@pytest.mark.parametrize("kind", ["bar", "kettle", "drum"])
def test_every_stroke_is_found_where_it_was_made(kind):
    true, told, errors, wrong = 0, 0, [], 0
    for seed in range(4):
        passage = line(kind, seed)
        strokes = played(passage, seed, factor=(0.8, 1.0, 1.2, 1.1)[seed])
        performance = followed(kind, strokes, passage, seed)
        precision, recall, off = matched([one.at_s for one in strokes], told_onsets(performance))
        true, told = true + len(strokes), told + round(len(off) / precision)
        errors.extend(off)
        wrong += sum(note.outcome != "played" for note in performance.notes)
        assert recall > 0.93
    assert np.median(np.abs(errors)) < 5.0
    assert len(errors) / true >= 0.97
    assert len(errors) / told >= 0.97
    assert wrong <= 0.03 * true


@pytest.mark.parametrize("kind", ["bar", "kettle"])
def test_a_left_out_and_an_added_stroke_are_told(kind):
    passage = line(kind, 11, values=["1", "1/2", "1/2"] * 9)
    strokes = played(passage, 11)
    extra = replace(strokes[13], index=None, at_s=0.5 * (strokes[12].at_s + strokes[13].at_s))
    del strokes[20]
    performance = followed(kind, [*strokes, extra], passage)
    assert [n.index for n in performance.notes if n.outcome == "missing"] == [20]
    assert [one.onset_s for one in performance.added] == [pytest.approx(extra.at_s, abs=WINDOW_S)]


def test_a_wrong_bar_is_told_with_its_pitch_and_no_cents_are_claimed():
    passage = line("bar", 12)
    strokes = played(passage, 12)
    wrong = {5: 2, 14: -1, 21: 1, 30: -2}
    for index, semitones in wrong.items():
        strokes[index] = replace(strokes[index], midi=strokes[index].midi + semitones)
    performance = followed("bar", strokes, passage)
    told = {n.index: n.midi_heard for n in performance.notes if n.outcome == "other_pitch"}
    assert told == {index: passage.notes[index].midi + off for index, off in wrong.items()}
    assert all(n.onset_s == pytest.approx(strokes[n.index].at_s, abs=WINDOW_S)
               for n in performance.notes)  # fmt: skip
    assert performance.tuning_cents is None
    assert all(n.deviation_cents is None for n in performance.notes)


def test_kettles_whose_pitch_does_not_stand_out_make_no_wrong_notes():
    passage = line("kettle", 13)
    other = [replace(one, midi=one.midi + 1) for one in played(passage, 13)]
    performance = followed("kettle", other, passage)
    assert all(note.outcome != "other_pitch" for note in performance.notes)


def test_bars_an_octave_away_are_no_wrong_notes():
    passage = line("bar", 14)
    performance = followed("bar", [replace(one, midi=one.midi + 12)
                                   for one in played(passage, 14)], passage)  # fmt: skip
    assert sum(note.outcome == "played" for note in performance.notes) > 0.95 * len(passage.notes)


@pytest.mark.parametrize("kind", ["bar", "drum"])
def test_who_goes_back_is_followed(kind):
    passage = line(kind, 15, beats=24)
    first = played(passage, 15)
    stop = next(i for i, note in enumerate(passage.notes) if note.measure == 4) - 2
    back = next(i for i, note in enumerate(passage.notes) if note.measure == 2)
    again_s = first[stop].at_s + 1.6
    tried = first[: stop + 1]
    later = [replace(one, at_s=one.at_s - first[back].at_s + again_s) for one in first[back:]]
    performance = followed(kind, [*tried, *later], passage)
    assert [(r.to_index, round(r.onset_s - again_s, 1)) for r in performance.restarts] == [
        (back, 0.0)
    ]
    assert sum(note.outcome == "played" for note in performance.notes) > 0.95 * len(passage.notes)


def test_who_stops_early_has_not_jumped_to_the_end():
    passage = line("drum", 16)
    performance = followed("drum", played(passage, 16)[:25], passage)
    assert not performance.restarts
    assert [n.index for n in performance.notes if n.onset_s is not None] == list(range(25))


def test_flams_and_ghost_strokes_do_not_derail():
    passage = line("drum", 17)
    strokes = played(passage, 17, spread_ms=5.0)
    rng = np.random.default_rng(17)
    flams = [Stroke(one.at_s - 0.045, None, None, 0.3) for one in strokes[::4]]
    gaps = np.diff([one.at_s for one in strokes])
    ghosts = [Stroke(strokes[i].at_s + 0.5 * gaps[i], None, None, 0.04)
              for i in rng.choice(np.flatnonzero(gaps > 0.4), 4, replace=False)]  # fmt: skip
    performance = followed("drum", [*strokes, *flams, *ghosts], passage)
    off = [note.onset_s - strokes[note.index].at_s for note in performance.notes if note.onset_s]
    assert len(off) >= 0.97 * len(passage.notes)
    assert np.mean(np.abs(off) < WINDOW_S) > 0.95
    assert len(performance.added) <= 4


def ripple_followed(seed):
    """How many of the strokes told are true: quick ones, with three that ripple after each."""
    passage, rng = line("kettle", seed, beats=20), np.random.default_rng(seed)
    true_s = np.array([one.at_s for one in played(passage, seed, factor=1.35, spread_ms=15.0)])
    false_s = np.concatenate([true_s + after_s for after_s in (0.05, 0.08, 0.17)])
    false_s = false_s[np.abs(false_s[:, None] - true_s).min(axis=1) > 0.04]
    times_s = np.concatenate([true_s, false_s])
    strengths = np.concatenate(
        [rng.uniform(0.14, 0.6, len(true_s)), rng.uniform(0.06, 0.14, len(false_s))]
    )
    order = np.argsort(times_s)
    path = match_strokes(
        times_s[order], strengths[order], written_line(passage), TEMPO_QPM
    )
    told = {int(order[stroke]) for _, stroke, _ in path.matches}
    return sum(stroke < len(true_s) for stroke in told), len(told), len(true_s)


def test_what_ripples_between_quick_strokes_is_not_followed_at_twice_the_tempo(monkeypatch):
    right, told, true = np.sum([ripple_followed(seed) for seed in range(4)], axis=0)
    assert right > 0.95 * told and right > 0.95 * true
    monkeypatch.setattr(striking, "MOST_NO_STRENGTH", striking.NO_STRENGTH)
    right, told, true = np.sum([ripple_followed(seed) for seed in range(4)], axis=0)
    assert right < 0.9 * told  # what it is for: without it ripple is followed


@pytest.mark.parametrize("kind", ["bar", "kettle", "drum"])
def test_rolls_are_one_note_and_what_follows_is_found(kind):
    values = ["1", "1/2", "1/2", "2", "1", "1/2", "1/2", "1", "2", "1", "1", "2", "1/2", "1/2", "1"]
    values = values * 2
    rolled = [index for index, value in enumerate(values) if value == "2"]
    passage = line(kind, 18, values=values, rolled=rolled)
    strokes = played(passage, 18, spread_ms=5.0)
    rolls = [
        replace(strokes[index], index=None, at_s=at_s, level=0.6)
        for index in rolled
        for at_s in np.arange(strokes[index].at_s + 1 / 14, strokes[index + 1].at_s - 0.04, 1 / 14)
    ]
    performance = followed(kind, [*strokes, *rolls], passage)
    off = [note.onset_s - strokes[note.index].at_s for note in performance.notes if note.onset_s]
    assert len(off) == len(passage.notes)
    after = [off[index] for index in range(len(values)) if index - 1 not in rolled]
    assert np.abs(after).max() < WINDOW_S
    assert np.abs(off).max() < 0.1
    assert not performance.added
    report = hear(sounded(kind, [*strokes, *rolls], 1), passage, Terms(TEMPO_QPM))
    assert not {verdict.code for verdict in report.verdicts} & FATAL
    speed = next(reading for reading in report.readings if reading.name == "roll speed")
    assert speed.value == pytest.approx(14.0, rel=0.05)


@pytest.mark.parametrize("kind", ["bar", "kettle", "drum"])
def test_another_piece_is_told_and_an_uneven_player_is_not(kind):
    told, refused = 0, 0
    for seed in range(30, 36):
        passage, other = line(kind, seed), line(kind, seed + 100)
        for take, own in ((passage, True), (other, False)):
            recording = sounded(kind, played(take, seed, spread_ms=25.0), seed)
            verdicts = {v.code for v in hear(recording, passage, Terms(TEMPO_QPM)).verdicts}
            refused += own and "other_piece" in verdicts
            told += not own and "other_piece" in verdicts
    assert refused == 0
    assert told >= 4


def test_a_line_of_equal_strokes_is_no_other_piece():
    passage = line("drum", 19, values=["1/2"] * 40)
    report = hear(sounded("drum", played(passage, 19), 19), passage, Terms(TEMPO_QPM))
    assert not report.verdicts
    assert sum(note.outcome == "played" for note in report.notes) == 40


@pytest.mark.parametrize("kind", ["bar", "drum"])
def test_noise_and_a_silent_room_give_no_strokes(kind):
    passage, rng = line(kind, 20), np.random.default_rng(20)
    hiss = rng.normal(size=44_100 * 15).astype(np.float32)
    for level, code in ((0.05, {"too_noisy", "other_piece"}), (0.0002, {"silence"})):
        report = hear(Recording(level * hiss, 44_100), passage, Terms(TEMPO_QPM))
        assert {v.code for v in report.verdicts} & code
        assert not report.notes


def test_the_level_of_a_recording_does_not_matter():
    passage = line("bar", 21)
    loud = sounded("bar", played(passage, 21), 21)
    soft = replace(loud, samples=loud.samples * np.float32(0.02))
    (here, strong), (there, weak) = stroke_onsets(loud), stroke_onsets(soft)
    assert here == pytest.approx(there)
    assert strong == pytest.approx(weak, abs=0.01)


def test_intonation_of_struck_notes_is_absent_with_a_reason():
    passage = line("bar", 22)
    terms = Terms(TEMPO_QPM, criteria=("intonation", "evenness"))
    report = hear(sounded("bar", played(passage, 22), 22), passage, terms)
    absent = [r for r in report.readings if r.criterion == "intonation"]
    assert absent
    assert all(r.value is None and r.because for r in absent)
    assert any(r.criterion == "evenness" and r.value is not None for r in report.readings)


def test_evenness_is_as_made():
    for spread_ms in (4.0, 20.0):
        passage = line("kettle", 23, beats=40)
        strokes = played(passage, 23, spread_ms=spread_ms)
        report = hear(sounded("kettle", strokes, 23), passage, Terms(TEMPO_QPM))
        told = next(r for r in report.readings if r.name == "evenness in time")
        assert told.value == pytest.approx(spread_ms, abs=0.35 * spread_ms)


def test_a_stroke_of_the_maker_begins_at_its_first_sample():
    rng = np.random.default_rng(1)
    for kind, midi in (("bar", 72), ("kettle", 45), ("drum", None)):
        wave = np.abs(stroke(kind, midi, rng))
        assert np.argmax(wave > 0.1 * wave.max()) < 0.004 * 44_100
