"""A fault is believed only when the harmonics say so: tones that are known by formula."""

from fractions import Fraction

import numpy as np
import pytest

from standlight.music import Note, hz_of_midi
from standlight.score.values import Passage
from standlight.sound.belief import ODDS, UNSEEN_DB, Scene, signs_of
from standlight.sound.following import OTHER, WRITTEN
from standlight.sound.harmonics import Spectra
from standlight.sound.noting import Frames, Tuned, noted
from standlight.sound.pitch import pitch_candidates, pitch_path
from standlight.sound.second_look import looked_again, with_probabilities, without_guesses
from standlight.sound.settling import Sounding
from standlight.sound.tails import is_tail
from standlight.sound.values import HOP_S, HeardNote, Recording
from standlight.sound.written import written_line

RATE_HZ = 44_100
SEED = 11
TONE_S = 0.4
HARMONICS = {1: 1.0, 2: 0.7, 3: 0.5, 4: 0.3, 5: 0.2, 6: 0.1}


def tone(midi, time_s):
    """What a tone of six harmonics sounds like, level."""
    hz = hz_of_midi(midi)
    return sum(a * np.sin(2 * np.pi * k * hz * time_s) for k, a in HARMONICS.items())


def sounds(midis, noise=1e-3):
    """One tone after the other, each rising for 20 ms; None is silence."""
    time_s = np.arange(int(TONE_S * RATE_HZ)) / RATE_HZ
    shape = np.minimum(1.0, np.minimum(time_s, TONE_S - time_s) / 0.02)
    pieces = [0.0 * time_s if midi is None else shape * tone(midi, time_s) for midi in midis]
    wave = 0.1 * np.concatenate(pieces)
    wave += np.random.default_rng(SEED).normal(0, noise, len(wave))
    return Recording(wave.astype(np.float32), RATE_HZ)


def frames_of(recording):
    """The frames of a recording in which something starts with every tone."""
    candidates = pitch_candidates(recording, 28.0, 96.0)
    track = pitch_path(candidates, 28.0, 96.0)
    onset = np.zeros(len(track.midi))
    onset[:: int(TONE_S / HOP_S)] = 1.0
    level_db = np.where(track.voiced, -12.0, -70.0)
    return Frames(recording, track, onset, candidates, level_db, np.full(len(onset), -5.0))


def sounding(kind, index, place, midi, length=1.0):
    return Sounding(kind, index, TONE_S * place, TONE_S * (place + length), midi)


def line_of(written):
    """A line of quarters at the ``written`` pitches."""
    notes = tuple(
        Note(Fraction(at), Fraction(1), measure=0, midi=midi) for at, midi in enumerate(written)
    )
    return written_line(Passage("", "Flute", "", (), notes, Fraction(len(notes))))


def scene_of(midis, heard, written, before=None, offset=0.0, noise=1e-3):
    """The notes ``heard`` laid one after the other over tones of ``midis``; ``offset`` semitones
    are the take's own and its ensemble's tuning."""
    settled = [sounding(OTHER, note.index, place, None) for place, note in enumerate(heard)]
    if before is not None:
        settled[0] = sounding(OTHER, 0, 0, before)
    tuned = Tuned(0, offset, offset, TONE_S, octave_free=False)
    return Scene(settled, frames_of(sounds(midis, noise)), line_of(written), tuned)


def looked(midis, heard, written, **more):
    """``heard`` after the second look over tones of ``midis``."""
    return looked_again(heard, scene_of(midis, heard, written, **more))


def told(index, midi):
    """A note told as another pitch at its place."""
    start_s = TONE_S * index
    return HeardNote(index, "other_pitch", start_s, start_s + 0.9 * TONE_S, float(midi))


@pytest.mark.parametrize("written", [38, 52, 67, 84])
@pytest.mark.parametrize("apart", [-4, -1, 1, 2, 3])
def test_a_wrong_note_stays_wrong_and_a_right_one_is_given_back(written, apart):
    told_both = [told(0, written + apart), told(1, written + apart)]
    wrong, right = looked([written + apart, written], told_both, [written, written])
    assert wrong == told_both[0]
    assert (right.outcome, right.midi_heard) == ("played", written)
    assert right.deviation_cents is None and right.deviation_se_cents is None
    assert (right.onset_s, right.offset_s) == (told_both[1].onset_s, told_both[1].offset_s)


def test_an_octave_is_left_to_those_who_tell_octaves_and_keeps_its_deviation():
    octave = HeardNote(0, "other_pitch", 0.0, 0.36, 48.02, 2.0, 1.0)
    assert looked([60], [octave], [60]) == [octave]


def test_the_ensembles_own_a_counts():
    """At A4 = 430 Hz the same tones are written 0.4 semitones lower."""
    low = -0.398
    notes = [told(0, 63), told(1, 63)]
    found = looked([60 + low, 62 + low], notes, [60, 62], offset=low)
    assert [note.outcome for note in found] == ["played", "played"]
    assert [note.midi_heard for note in found] == pytest.approx([60.0, 62.0])


def test_in_noise_no_pitch_is_held_against_a_player_and_a_missing_note_stays_missing():
    assert looked([None], [told(0, 63)], [60], noise=0.05)[0].outcome == "played"
    missing = [HeardNote(0, "missing", probability=0.9)]
    assert looked([None], missing, [60], noise=0.05) == missing


def test_a_take_in_which_nothing_was_found_is_looked_at_all_the_same():
    assert looked([None], [], [60]) == with_probabilities([], scene_of([None], [], [60])) == []


def test_a_look_that_is_too_short_says_nothing():
    short = HeardNote(0, "other_pitch", 0.0, 0.02, 31.0)
    scene = scene_of([30], [short], [30])
    signs = signs_of(short, 0, (None, None), scene)
    assert signs["own_db"] == signs["told_db"] == signs["before_db"] == UNSEEN_DB


@pytest.mark.parametrize("written", [45, 60, 79])
def test_a_missing_note_that_sounds_is_given_back_and_silence_and_a_tail_are_not(written):
    missing = [HeardNote(0, "played", 0.0, 0.4), HeardNote(1, "missing", probability=0.9)]
    _, found = looked([55, written], missing, [55, written], before=55.0)
    assert (found.outcome, found.onset_s) == ("played", TONE_S)
    assert found.deviation_cents is None and found.midi_heard is None
    assert found.offset_s == pytest.approx(2 * TONE_S) and found.loudness_lkfs < 0.0
    for sounded in (None, 55):
        assert looked([55, sounded], missing, [55, written], before=55.0)[1] == missing[1]


def test_a_repeated_pitch_that_sounds_in_its_time_is_not_called_missing():
    """Whether it began a second time cannot be heard here: nothing is held against the player."""
    missing = [HeardNote(0, "played", 0.0, 0.4), HeardNote(1, "missing", probability=0.9)]
    assert looked([55, 55], missing, [55, 55], before=55.0)[1].outcome == "played"


def test_what_sounds_as_told_is_surely_so_and_what_does_not_is_not():
    right, wrong = HeardNote(0, "played", 0.0, 0.36, 60.0, 0.0, 1.0), told(1, 63)
    sure = with_probabilities([right, wrong], scene_of([60, 63], [right, wrong], [60, 62]))
    assert [note.outcome for note in sure] == ["played", "other_pitch"]
    assert min(note.probability for note in sure) > 0.9
    doubted = with_probabilities([right, wrong], scene_of([57, 62], [right, wrong], [60, 62]))
    assert doubted[0].probability < 0.9
    assert doubted[1].outcome == "played" and doubted[1].probability > 0.9


@pytest.mark.parametrize(("sounded", "outcome"), [(60, "played"), (None, "missing")])
def test_an_octave_that_does_not_sound_is_played_or_missing(monkeypatch, sounded, outcome):
    monkeypatch.setitem(globals(), "HARMONICS", {1: 1.0, 3: 0.5, 5: 0.3})  # a closed pipe's
    octave = HeardNote(0, "other_pitch", 0.0, 0.36, 48.0)
    (found,) = with_probabilities([octave], scene_of([sounded], [octave], [60], noise=0.02))
    assert (found.outcome, found.midi_heard, found.deviation_cents) == (outcome, None, None)
    assert 0.5 < found.probability <= 1.0


def test_every_sign_that_counts_is_read_and_whats_told_has_its_odds():
    note = HeardNote(0, "played", 0.0, 0.36, 60.0)
    signs = signs_of(note, 0, (None, None), scene_of([60], [note], [60]))
    assert {name for odds in ODDS.values() for name in odds} == set(signs)
    assert set(ODDS) == {"played", "other", "octave", "missing"}


def test_a_pitch_that_was_not_measured_is_not_told():
    guessed = HeardNote(0, "played", 0.0, 0.4, 60.0)
    measured = HeardNote(1, "played", 0.4, 0.8, 62.0, 3.0, 1.0)
    assert [note.midi_heard for note in without_guesses([guessed, measured, told(2, 63)])] == [
        None, 62.0, 63.0
    ]  # fmt: skip


def test_a_deviation_that_could_be_anything_is_not_told():
    """Its interval must be narrower than the 25 cents that are heard (Larrouy-Maestri 2018)."""
    sure, unsure = (HeardNote(0, "played", 0.0, 0.1, 60.0, -9.0, se) for se in (12.5, 13.0))
    assert without_guesses([sure]) == [sure]
    (left,) = without_guesses([unsure])
    assert (left.outcome, left.midi_heard) == ("played", 60.0)
    assert left.deviation_cents is None and left.deviation_se_cents is None


@pytest.mark.parametrize("midi", [45, 60, 79])
def test_what_dies_away_is_a_tail_and_what_is_held_or_begins_again_is_none(midi):
    """A room of one second of reverberation (ISO 3382-2: 60 dB) against a held tone."""
    time_s = np.arange(RATE_HZ) / RATE_HZ
    held = 0.1 * tone(midi, time_s)
    dying = held * 10.0 ** (-3.0 * time_s)
    hz = float(hz_of_midi(midi))

    def tail(wave, again, above_db):
        spectra = Spectra(Recording(wave.astype(np.float32), RATE_HZ))
        return is_tail(spectra, (0.2, 0.8), hz, again, above_db)

    assert tail(dying, -4.0, -8.0) and tail(dying, -np.inf, -40.0)
    assert not tail(held, -4.0, -1.0) and not tail(held, 4.0, -3.0)
    assert not tail(dying * 10.0 ** (1.5 * time_s), 3.0, 0.0)  # a note that is let go softly


def figures(midis, soundings, written):
    """What `noted` tells of ``soundings`` over tones of ``midis`` in a line of ``written``."""
    line, tuned = line_of(written), Tuned(0, 0.0, 0.0, TONE_S, octave_free=False)
    found = {note.index: note for note in noted(soundings, line, frames_of(sounds(midis)), tuned)}
    return [found.get(index) for index in range(len(written))]


NOTHING_LEFT = sounding(WRITTEN, 2, 2.25, 65.0, 0.5)


def test_one_note_left_out_explains_a_wrong_one_and_a_missing_one_beside_it():
    """C E F, the E left out: told as E gone wrong and the F, of which nothing was left, missing."""
    first, second, third = figures(
        [60, 65, None],
        [sounding(WRITTEN, 0, 0, 60.0), sounding(OTHER, 1, 1, 65.0), NOTHING_LEFT],
        [60, 64, 65],
    )
    assert (first.outcome, second.outcome, third.outcome) == ("played", "missing", "played")
    assert third.onset_s == pytest.approx(TONE_S) and abs(third.deviation_cents) < 2.0
    assert third.deviation_se_cents > 0.0


def test_the_same_where_the_follower_left_the_other_note_out_or_it_came_before():
    skipped = figures(
        [60, 65], [sounding(WRITTEN, 0, 0, 60.0), sounding(OTHER, 1, 1, 65.0)], [60, 64, 65]
    )
    assert skipped[1] is None and skipped[2].outcome == "played"
    before = figures(
        [None, 65], [sounding(WRITTEN, 0, 0, 65.0, 0.5), sounding(OTHER, 1, 1, 65.0)], [65, 64]
    )
    assert [note.outcome for note in before] == ["played", "missing"]
    assert before[0].onset_s == pytest.approx(TONE_S)


def test_a_wrong_note_with_another_pitch_keeps_its_place_beside_a_missing_one():
    first, second, third = figures(
        [60, 62, None],
        [sounding(WRITTEN, 0, 0, 60.0), sounding(OTHER, 1, 1, 62.0), NOTHING_LEFT],
        [60, 64, 65],
    )
    assert (first.outcome, second.outcome, third.outcome) == ("played", "other_pitch", "missing")
    assert second.midi_heard == pytest.approx(62.0, abs=0.03)
