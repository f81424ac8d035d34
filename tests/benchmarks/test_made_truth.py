"""The truth of made takes is true: measured here by other means than the generator's own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from benchmarks.hearing import tones
from benchmarks.hearing.lines import draw_line, made_line
from benchmarks.hearing.phones import decoded, delay_s, encoded, telephone
from benchmarks.hearing.playing import LEAST_APART, Plan, Sound, play
from benchmarks.hearing.rooms import NOISES, ROOMS, in_room, with_noise
from benchmarks.hearing.spoiled import same_music
from benchmarks.hearing.takes import KINDS, make, mixed, truth_of
from benchmarks.hearing.timbres import ALL, BY_KEY
from scipy.signal import hilbert

from standlight.workshop import decode

SEED = 1900
RATE_HZ = tones.RATE_HZ
fonts_here = [font for font in tones.FONTS if font.exists()]
sampled_only = pytest.mark.skipif(not fonts_here, reason="no sampled sounds on this machine")


def rng(number=0):
    return np.random.default_rng([SEED, number])


def plain(midi=69.0, seconds=0.8, **more):
    return Sound(0, "played", 0.0, seconds, midi, 80, **more)


def peak_hz(samples, near_hz):
    """The strongest frequency within a semitone of ``near_hz``, by a long zero-padded spectrum."""
    size = 1 << 21
    power = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), size))
    hz = np.fft.rfftfreq(size, 1.0 / RATE_HZ)
    near = np.abs(1200 * np.log2(np.maximum(hz, 1.0) / near_hz)) < 100
    return hz[near][np.argmax(power[near])]


@pytest.mark.parametrize("key", ["flute", "clarinet", "tuba", "violin", "low_voice"])
def test_an_additive_tone_has_the_pitch_it_says(key):
    clip = tones.additive(BY_KEY[key], plain(57.37), rng())
    middle = clip.samples[int(0.25 * RATE_HZ) : int(0.7 * RATE_HZ)]
    wanted_hz = 440.0 * 2.0 ** ((57.37 - 69.0) / 12.0)  # ISO 16: A4 = 440 Hz
    off = 1200 * np.log2(peak_hz(middle, wanted_hz) / wanted_hz)
    assert abs(off) < 1.0
    assert abs(clip.cents) < 0.01


@pytest.mark.parametrize("off", [-35.0, -3.0, 0.0, 12.5, 48.0])
def test_the_measured_pitch_of_a_dry_tone_is_right_at_any_distance(off):
    time_s = np.arange(RATE_HZ) / RATE_HZ
    f0_hz = 110.0 * 2 ** (off / 1200)
    wave = sum(np.sin(2 * np.pi * k * f0_hz * time_s) / k for k in range(1, 8))
    assert tones.pitch_cents(wave, 110.0, 0.3, 0.8) == pytest.approx(off, abs=0.05)


def test_vibrato_leaves_the_middle_of_the_pitch_where_it_was():
    clip = tones.additive(
        BY_KEY["violin"], plain(72.0, 1.5, vibrato_cents=30, vibrato_hz=5.5), rng()
    )
    found = tones.pitch_cents(clip.samples, 440.0 * 2 ** (3 / 12), 0.45, 1.275)
    assert found == pytest.approx(clip.cents, abs=2.5)
    assert abs(clip.cents) < 4.0


@sampled_only
@pytest.mark.parametrize("font", fonts_here, ids=lambda font: font.stem)
def test_a_sampled_tone_bent_by_cents_moves_by_cents(font):
    """fluidsynth's own pitch bend is the outside measure; it rounds pitch to whole cents."""
    low, high = tones.sampled(font, 71, [plain(64.0), plain(64.3)])
    assert (high.cents + 30.0) - low.cents == pytest.approx(30.0, abs=1.3)
    assert abs(low.cents) < 30.0


@sampled_only
def test_sampled_attacks_lag_and_the_onset_says_so():
    (clip,) = tones.sampled(fonts_here[0], 40, [plain(57.0, 1.0)])
    envelope = np.abs(hilbert(clip.samples))
    before = envelope[: int((clip.onset_s - 0.010) * RATE_HZ)]
    after = envelope[int(clip.onset_s * RATE_HZ) : int((clip.onset_s + 0.2) * RATE_HZ)]
    assert clip.onset_s > 0.010
    assert before.max() < 0.35 * after.max()


def test_every_note_begins_in_the_sound_where_the_truth_says():
    """Harmonic energy at the true pitch rises at the true onset (a plain Fourier sum)."""
    line = made_line(rng(3), BY_KEY["clarinet"], 1.0, 12.0)
    playing = play(rng(4), line, Plan(other=2, missing=1, octave=1), 1.0)
    clips = [
        tones.additive(line.timbre, sound, rng(5), 0.12 * sound.joined)
        for sound in playing.sounds
    ]
    dry = mixed(rng(6), playing.sounds, clips, 0.15)
    truth, rises = truth_of(line, playing, clips), []
    for before, note in zip(truth.notes, truth.notes[1:], strict=False):
        if note.onset_s is None or before.midi is None or abs(note.midi - before.midi) < 0.5:
            continue
        hz = 440.0 * 2.0 ** ((note.midi - 69) / 12)

        def level(at_s, hz=hz):
            piece = dry[int((at_s - 0.02) * RATE_HZ) : int((at_s + 0.02) * RATE_HZ)]
            turn = np.exp(-2j * np.pi * hz * np.arange(len(piece)) / RATE_HZ)
            return 20 * np.log10(abs(np.sum(piece * np.hanning(len(piece)) * turn)) + 1e-9)

        rises.append(level(note.onset_s + 0.035) - level(note.onset_s - 0.03))
    assert len(rises) > 8
    assert np.median(rises) > 12.0
    assert np.mean(np.array(rises) > 3.0) > 0.9


def test_planned_faults_are_there_and_apart_and_nothing_else_is():
    line = made_line(rng(7), BY_KEY["flute"], 1.0, 24.0)
    playing = play(rng(8), line, Plan(other=2, missing=2, added=1, octave=1), 1.0)
    faults = {s.index for s in playing.sounds if s.kind in ("other", "octave")}
    faults |= playing.missing
    assert {s.kind for s in playing.sounds} >= {"played", "other", "octave"}
    assert playing.missing
    places = sorted(faults)
    assert all(b - a > LEAST_APART for a, b in zip(places, places[1:], strict=False))
    for sound in playing.sounds:
        if sound.kind == "played":
            assert abs(sound.midi - line.passage.notes[sound.index].midi) < 1.0
        if sound.kind == "octave":
            off = sound.midi - line.passage.notes[sound.index].midi
            assert abs(abs(off) - 12.0) < 1.0
    onsets = [sound.onset_s for sound in playing.sounds]
    assert onsets == sorted(onsets)


def test_after_a_restart_the_last_attempt_is_the_truth():
    line = made_line(rng(9), BY_KEY["oboe"], 1.0, 20.0)
    playing = play(rng(10), line, Plan(restarts=2), 1.0)
    assert len(playing.restarts) == 2
    for at_s, index in playing.restarts:
        (first,) = (sound for sound in playing.sounds if sound.onset_s == at_s)
        assert first.index == index
        assert not first.joined
    kept = [sound.index for sound in playing.sounds if sound.kept]
    assert kept == sorted(kept) == list(range(len(line.passage.notes)))
    assert any(not sound.kept for sound in playing.sounds)


def test_a_seed_makes_the_same_take_and_another_seed_another():
    first, again = make(SEED, "clean", 1), make(SEED, "clean", 1)
    other = make(SEED, "clean", 9)
    assert np.array_equal(first.recording().samples, again.recording().samples)
    assert first.truth == again.truth
    assert other.truth != first.truth
    assert set(KINDS) == {"main", "restart", "clean"}


def test_the_delay_of_a_codec_is_taken_out_of_the_truth():
    """A click at a known place is found again where the correlation says, in every container."""
    sound = np.zeros(2 * RATE_HZ)
    noise = rng(11).normal(size=len(sound)) * 1e-3
    time_s = np.arange(2400) / RATE_HZ
    for at in (0.4, 0.9, 1.5):
        first = int(at * RATE_HZ)
        sound[first : first + 2400] += np.sin(2 * np.pi * 880 * time_s) * np.exp(-time_s / 0.01)
    for container, codec, kbit in (("webm", "libopus", 64), ("ipod", "aac", 96),
                                   ("ogg", "libopus", 32), ("mp3", "libmp3lame", 128),
                                   ("wav", "pcm_s16le", 0)):  # fmt: skip
        got, rate_hz = decoded(encoded(0.5 * sound + noise, container, codec, kbit))
        late = delay_s(0.5 * sound, got, rate_hz)
        envelope = np.abs(got)
        for at in (0.4, 0.9, 1.5):
            near = slice(int((at - 0.05) * rate_hz), int((at + 0.1) * rate_hz))
            peak_s = (np.argmax(envelope[near]) + near.start) / rate_hz
            assert peak_s - late == pytest.approx(at, abs=0.004), container


def test_the_listeners_decoder_gives_the_samples_that_truth_was_counted_on():
    made = make(SEED, "clean", 2)
    ours = made.recording()
    theirs = decode(made.file)
    assert ours.rate_hz == theirs.rate_hz
    assert len(ours.samples) == len(theirs.samples)
    assert np.abs(ours.samples - theirs.samples).max() < 1e-4


@pytest.mark.parametrize("room", ROOMS, ids=lambda room: room.name)
def test_a_room_does_not_move_an_onset_and_dies_away_as_it_says(room):
    click = np.zeros(3 * RATE_HZ)
    click[RATE_HZ] = 1.0
    wet = in_room(click, room, rng(12))
    assert np.argmax(np.abs(wet) > 1e-9) == RATE_HZ
    # Schroeder's backward integration, J. Acoust. Soc. Am. 1965, as every acoustics text gives it
    decay = np.cumsum(wet[::-1] ** 2)[::-1]
    late = RATE_HZ + int(0.06 * RATE_HZ)
    level = 10 * np.log10(decay[late:] / decay[late] + 1e-12)
    fall_s = (np.argmax(level < -25) - np.argmax(level < -5)) / RATE_HZ * 3
    assert 0.5 * room.high_s < fall_s < 1.3 * room.low_s


@pytest.mark.parametrize("kind", NOISES)
def test_noise_is_as_far_below_the_music_as_asked(kind):
    music = np.sin(2 * np.pi * 440 * np.arange(2 * RATE_HZ) / RATE_HZ)
    added = with_noise(music, kind, 20.0, rng(13)) - music
    ratio = 10 * np.log10(np.mean(music**2) / np.mean(added**2))
    assert ratio == pytest.approx(20.0, abs=0.7)


def test_the_telephone_keeps_its_band():
    time_s = np.arange(RATE_HZ) / RATE_HZ
    inside, outside = (np.std(telephone(np.sin(2 * np.pi * hz * time_s))) for hz in (1000, 100))
    assert inside > 0.6
    assert outside < 0.02 * inside


def test_lines_come_from_real_parts_of_every_family_and_can_be_played():
    sources = set()
    for family in {timbre.family for timbre in ALL}:
        for number in range(4):
            line = draw_line(rng(20 + number), family, 1.0)
            assert line.timbre.family == family
            assert len(line.passage.notes) >= 8
            assert all(note.midi is not None for note in line.passage.notes)
            sources.add(line.source == "made")
    assert sources == {True, False}


def cut(passage, first, last):
    """The notes ``first`` up to ``last`` of a passage, read against each other only."""
    return replace(passage, notes=passage.notes[first:last])


def test_two_windows_of_one_part_are_the_same_music_and_two_lines_are_not():
    lines = (made_line(rng(number), BY_KEY["flute"], 1.0, 40.0) for number in (1, 2))
    long, another = (line.passage for line in lines)
    whole = len(long.notes)
    assert same_music(cut(long, 0, whole // 2), cut(long, whole // 4, whole))
    assert not same_music(cut(long, 0, whole // 2), cut(long, whole // 2 - 2, whole))
    assert not same_music(long, another)
