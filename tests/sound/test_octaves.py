"""The octave by harmonics: tones whose harmonics are chosen, so that the octave is known."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from tests.sound.melody import MELODY, TEMPO_QPM, passage, played

from standlight.music import Note, hz_of_midi
from standlight.score.values import Passage
from standlight.sound import perform
from standlight.sound.harmonics import Spectra
from standlight.sound.octaves import with_octaves
from standlight.sound.values import HeardNote, Recording

RATE_HZ = 44_100
SEED = 3


def tones(midis, weights, seconds=0.4):
    """One tone after the other; ``weights`` are the harmonics' amplitudes."""
    time_s = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    noise = np.random.default_rng(SEED)
    pieces = [
        sum(a * np.sin(2 * np.pi * k * hz_of_midi(midi) * time_s) for k, a in weights.items())
        for midi in midis
    ]
    wave = 0.1 * np.concatenate(pieces)
    return Recording((wave + noise.normal(0, 1e-4, len(wave))).astype(np.float32), RATE_HZ)


FULL = {1: 1.0, 2: 0.8, 3: 0.5, 4: 0.3, 5: 0.2, 6: 0.1}
HOLLOW = {1: 1.0, 3: 0.5, 5: 0.3}  # odd harmonics only, as a clarinet's low register nearly has
THIN = {1: 0.35, 2: 1.0, 3: 0.3, 4: 0.6, 5: 0.2}  # most in the even ones, yet the octave


def heard(midis, sounded):
    """Notes as the pitch track would tell them, all in the written octave."""
    return [
        HeardNote(i, "played", 0.4 * i, 0.4 * i + 0.38, float(midi), 0.0, 1.0, probability=1.0)
        for i, (midi, _) in enumerate(zip(midis, sounded, strict=True))
    ]


@pytest.mark.parametrize("weights", [FULL, HOLLOW, THIN])
@pytest.mark.parametrize("low", [40, 60, 74])
def test_an_octave_up_or_down_is_told_and_nothing_else(weights, low):
    written = [low, low + 2, low + 4, low + 5, low + 7]
    sounded = [low, low + 14, low + 4, low - 7, low + 7]
    notes = with_octaves(
        heard(written, sounded), Spectra(tones(sounded, weights)), np.array(written, float), 0.0
    )
    assert [note.outcome for note in notes] == [
        "played", "other_pitch", "played", "other_pitch", "played"
    ]  # fmt: skip
    assert [note.midi_heard for note in notes] == sounded
    assert notes[1].deviation_cents is None and notes[0].deviation_cents == 0.0


@pytest.mark.parametrize("weights", [FULL, HOLLOW, THIN])
@pytest.mark.parametrize("low", [40, 60, 74])
def test_a_wrong_note_tracked_an_octave_low_is_told_where_it_sounds(weights, low):
    written = [low, low + 2, low + 4, low + 5]
    sounded = [low, low + 7, low + 10, low + 5]
    notes = heard(written, sounded)
    for place, tracked in ((1, low + 7), (2, low - 2)):
        notes[place] = HeardNote(
            place, "other_pitch", 0.4 * place, 0.4 * place + 0.38, float(tracked), probability=1.0
        )
    told = with_octaves(notes, Spectra(tones(sounded, weights)), np.array(written, float), 0.0)
    assert [note.midi_heard for note in told] == sounded
    assert [note.outcome for note in told] == ["played", "other_pitch", "other_pitch", "played"]


def test_a_whole_hollow_take_is_no_octave_slip():
    written = [50, 52, 53, 55]
    notes = heard(written, written)
    spectra = Spectra(tones(written, HOLLOW))
    assert with_octaves(notes, spectra, np.array(written, float), 0.0) == notes


def test_too_short_a_look_says_nothing():
    assert Spectra(tones([60], FULL)).levels(0.1, 0.105, 261.6) is None


def test_weak_odd_harmonics_that_stand_out_are_the_written_octave():
    # A saxophone's low F: 20 dB less in the odd harmonics, yet they are there.
    weak = {1: 0.1, 2: 1.0, 3: 0.08, 4: 0.6, 5: 0.06, 6: 0.3}
    written = [53, 55, 57, 58]
    recording = tones(written, FULL)
    odd = tones([53], weak)
    samples = recording.samples.copy()
    samples[: len(odd.samples)] = odd.samples
    notes = with_octaves(
        heard(written, written), Spectra(Recording(samples, RATE_HZ)), np.array(written, float), 0.0
    )
    assert [note.outcome for note in notes] == ["played"] * 4
    level = Spectra(odd).levels(0.0, 0.38, float(hz_of_midi(53)))
    assert level.odd_db < -15.0 and level.odd_peak_db > 25.0


WEAK = {1: 0.1, 2: 1.0, 3: 0.08, 4: 0.6, 6: 0.3}  # a bassoon's F sharp in a noisy room


def noisy(midis, weights, level=2e-2):
    """Tones of their own weights each, in so much noise that weak harmonics hardly stand out."""
    pieces = [tones([midi], one).samples for midi, one in zip(midis, weights, strict=True)]
    wave = np.concatenate(pieces)
    noise = np.random.default_rng(SEED).normal(0.0, level, len(wave))
    return Recording((wave + noise).astype(np.float32), RATE_HZ)


@pytest.mark.parametrize(("at", "outcome"), [((2,), "other_pitch"), ((0, 2, 4, 6), "played")])
def test_what_every_note_of_this_pitch_has_is_no_slip(at, outcome):
    # The same sound at note 2: alone it is a slip, among its likes it is the instrument.
    written = [54, 57, 54, 59, 54, 61, 54, 57]
    weights = [WEAK if place in at else FULL for place in range(len(written))]
    notes = with_octaves(
        heard(written, written), Spectra(noisy(written, weights)), np.array(written, float), 0.0
    )
    assert notes[2].outcome == outcome
    assert {note.outcome for note in notes if note.index not in at} == {"played"}


@pytest.mark.parametrize("above", [7, 16])
def test_an_overtone_of_the_octave_below_is_that_octave(above):
    written = [62, 64, 65, 67]
    sounded = [62, 64, 53, 67]
    notes = heard(written, written)
    notes[2] = HeardNote(2, "other_pitch", 0.8, 1.18, 65.0 + above, probability=0.8)
    told = with_octaves(notes, Spectra(tones(sounded, FULL)), np.array(written, float), 0.0)
    assert told[2].outcome == "other_pitch" and told[2].midi_heard == pytest.approx(53.0)
    assert [note.outcome for note in told].count("played") == 3


@pytest.mark.parametrize(("above", "outcome"), [(7, "other_pitch"), (16, "missing")])
def test_a_pitch_where_an_overtone_would_lie_stays_one_where_no_octave_sounds(above, outcome):
    written = [62, 64, 65, 67]
    notes = heard(written, written)
    notes[2] = HeardNote(2, "other_pitch", 0.8, 1.18, 65.0 + above, probability=0.8)
    sounded = [62, 64, 65 + above, 67]
    told = with_octaves(notes, Spectra(tones(sounded, FULL)), np.array(written, float), 0.0)
    assert told[2].outcome == outcome
    assert told[2].midi_heard == (65.0 + above if outcome == "other_pitch" else None)


def test_a_place_without_a_pitch_is_a_note_only_where_harmonics_stand_out():
    written = [60, 62, 64, 65]
    recording = tones(written, FULL)
    samples = recording.samples.copy()
    breath = np.random.default_rng(SEED).normal(0.0, 0.1, int(0.4 * RATE_HZ))
    samples[2 * len(breath) : 3 * len(breath)] = breath
    notes = heard(written, written)
    for place in (1, 2):
        notes[place] = HeardNote(
            place, "played", 0.4 * place, 0.4 * place + 0.38, probability=0.4
        )
    spectra = Spectra(Recording(samples, RATE_HZ))
    told = with_octaves(notes, spectra, np.array(written, float), 0.0)
    assert [note.outcome for note in told] == ["played", "played", "missing", "played"]


@pytest.mark.parametrize(("level", "die_away_s"), [(1e-3, 0.5), (3e-3, 0.6), (1e-2, 0.8)])
def test_a_slip_up_is_told_while_the_note_before_rings_on_an_octave_below(level, die_away_s):
    # Rooms in which a tone dies away by 60 dB in half a second and more, more or less quiet.
    written = [60, 62, 65, 65, 67, 64]
    sounded = [60, 62, 65, 77, 67, 64]
    recording = noisy(sounded, [FULL] * len(sounded), level)
    samples, length = recording.samples.copy(), int(0.4 * RATE_HZ)
    tail = tones([65], FULL).samples * 10.0 ** (-3.0 * np.arange(length) / (die_away_s * RATE_HZ))
    samples[3 * length : 4 * length] += tail.astype(np.float32)
    told = with_octaves(
        heard(written, sounded), Spectra(Recording(samples, RATE_HZ)), np.array(written, float), 0.0
    )
    assert [note.midi_heard for note in told] == sounded


BASS_DB = (-41, 0, -14, -5, -18, -28, -20, -26, -22, -17, -30, -35, -28, -38, -38, -28)
"""Harmonics of a sampled double bass's lowest string as a phone keeps them (one made take)."""


def low_line(sounded):
    """Half a second of each pitch, bowed apart, with `BASS_DB` for harmonics."""
    time_s, noise = np.arange(int(0.5 * RATE_HZ)) / RATE_HZ, np.random.default_rng(SEED)
    shape = np.clip(time_s / 0.03, 0, 1) * np.clip((0.47 - time_s) / 0.03, 0, 1)
    tones = [
        shape * sum(
            10 ** (level / 20)
            * np.sin(2 * np.pi * (k * hz_of_midi(midi) * time_s + noise.random()))
            for k, level in enumerate(BASS_DB, 1)
        )
        for midi in sounded
    ]  # fmt: skip
    quiet = np.zeros(RATE_HZ // 2)
    wave = np.concatenate([quiet, *(0.1 * tone for tone in tones), quiet])
    return Recording((wave + noise.normal(0, 1e-4, len(wave))).astype(np.float32), RATE_HZ)


LOW = [25, 26, 28, 26, 25, 28, 30, 28, 26, 25, 26, 28, 30, 31, 30, 28]


def low_part():
    """A line on the lowest string, a quarter a note."""
    notes = tuple(Note(Fraction(i), Fraction(1), measure=i // 4, midi=m) for i, m in enumerate(LOW))
    return Passage("", "double_bass", "", (), notes, Fraction(len(LOW)))


def test_a_low_string_without_its_fundamental_sounds_as_written():
    performance = perform(low_line(LOW), low_part(), 120.0)
    assert performance.shift_semitones == 0
    assert [note.outcome for note in performance.notes] == ["played"] * len(LOW)
    assert [note.midi_heard for note in performance.notes] == pytest.approx(LOW, abs=0.1)


def test_on_a_low_string_without_its_fundamental_an_octave_slip_is_told():
    sounded = [*LOW[:6], LOW[6] + 12, *LOW[7:]]
    performance = perform(low_line(sounded), low_part(), 120.0)
    outcomes = ["played"] * 6 + ["other_pitch"] + ["played"] * (len(LOW) - 7)
    assert [note.outcome for note in performance.notes] == outcomes
    assert performance.notes[6].midi_heard == pytest.approx(LOW[6] + 12, abs=0.1)


def test_a_low_line_played_an_octave_up_is_told_so():
    performance = perform(low_line([midi + 12 for midi in LOW]), low_part(), 120.0)
    assert performance.shift_semitones == 12


TWELFTH = 12.0 * np.log2(3.0)


@pytest.mark.parametrize("weights", [FULL, HOLLOW])
@pytest.mark.parametrize("low", [52, 60, 72])
@pytest.mark.parametrize("tracked", [0.0, 12.0])
def test_a_note_overblown_to_the_twelfth_is_told_there(weights, low, tracked):
    written = [low, low + 2, low + 4, low + 5, low + 7]
    sounded = [low, low + 2 + TWELFTH, low + 4, low + 5, low + 7 + TWELFTH]
    told = heard(written, sounded)
    told[1] = replace(told[1], outcome="other_pitch", midi_heard=written[1] + tracked)
    notes = with_octaves(told, Spectra(tones(sounded, weights)), np.array(written, float), 0.0)
    assert [note.midi_heard for note in notes] == pytest.approx(sounded)
    assert [note.outcome for note in notes] == [
        "played", "other_pitch", "played", "played", "other_pitch"
    ]  # fmt: skip
    assert notes[4].deviation_cents is None


@pytest.mark.parametrize("off", [7.02, -4.98, -8.84])
def test_another_pitch_that_shares_harmonics_is_no_twelfth(off):
    written, sounded = [60, 62, 64], [60, 62 + off, 64]
    told = heard(written, sounded)
    told[1] = replace(told[1], outcome="other_pitch", midi_heard=62 + off, deviation_cents=None)
    notes = with_octaves(told, Spectra(tones(sounded, FULL)), np.array(written, float), 0.0)
    assert notes[1].midi_heard == pytest.approx(62 + off)


def test_a_melody_with_a_twelfth_in_it_is_told_so_from_the_sound():
    midis = list(MELODY)
    midis[5] += TWELFTH
    told = perform(played(midis), passage(), TEMPO_QPM)
    assert [note.index for note in told.notes if note.outcome != "played"] == [5]
    assert told.notes[5].midi_heard == pytest.approx(midis[5], abs=0.1)
    assert not told.added
