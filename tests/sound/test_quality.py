"""Verdicts on recordings: each on what it is for, none on what only looks like it.

The truth is made here (tests/sound/takes.py and numpy), apart from the listener.
"""

import io
from dataclasses import replace

import av
import numpy as np
import pytest
from scipy.signal import decimate, istft, stft
from tests.sound.takes import RATE_HZ, make_take

from standlight.sound import Recording, perform, verdicts_on_performance, verdicts_on_sound
from standlight.sound.background import noise_in_notes_db, noise_share
from standlight.sound.company import COMPANY_FROM, company, foreign_share
from standlight.sound.order import (
    belonging_share,
    is_other_piece,
    longest_run,
    order_share,
)
from standlight.sound.quality import ceiling_share, is_clipped
from standlight.sound.tampering import LESS_ERRORS, holes, is_suppressed
from standlight.sound.values import AddedSound, HeardNote

SECONDS = 6
TIME_S = np.arange(SECONDS * RATE_HZ) / RATE_HZ


def recording(samples, rate_hz=RATE_HZ):
    return Recording(np.asarray(samples, dtype=np.float32), rate_hz)


def codes(verdicts):
    return {verdict.code for verdict in verdicts}


def tones(*pitches_hz, level=0.3):
    """Notes of half a second, eight harmonics falling by 6 dB an octave, with a swell each."""
    swell = np.sin(np.pi * (TIME_S % 0.5) / 0.5) ** 0.3
    step = (TIME_S / 0.5).astype(int) % len(pitches_hz)
    phase = 2 * np.pi * np.cumsum(np.array(pitches_hz)[step]) / RATE_HZ
    return level * swell * sum(np.sin(k * phase) / k for k in range(1, 9)) / 2


def through_codec(samples, kbit=48):
    """``samples`` after an Opus codec, as a browser would send them."""
    target = io.BytesIO()
    whole = np.round(np.clip(samples, -1, 1) * 32767).astype(np.int16)[None]
    with av.open(target, "w", format="ogg") as out:
        stream = out.add_stream("libopus", rate=48_000, layout="mono")
        stream.bit_rate = kbit * 1000
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(whole), "s16", "mono")
        frame.sample_rate, frame.pts = RATE_HZ, 0
        cutter = av.AudioResampler("s16", "mono", 48_000, frame_size=960)
        for part in [*cutter.resample(frame), *cutter.resample(None)]:
            out.mux(stream.encode(part))
        out.mux(stream.encode(None))
    with av.open(io.BytesIO(target.getvalue())) as back:
        plane = np.concatenate(
            [f.to_ndarray().reshape(-1) for f in back.decode(audio=0)]
        )
    return recording(plane, 48_000)


@pytest.mark.parametrize("gain_db", [6, 12, 20])
def test_clipping_is_told_before_and_after_a_codec(gain_db):
    loud = np.clip(tones(220, 330, 262) * 10 ** (gain_db / 20) / 0.3, -1, 1)
    assert is_clipped(recording(loud))
    assert is_clipped(through_codec(loud))
    assert "clipped" in codes(verdicts_on_sound(recording(loud)))


def test_a_loud_take_that_is_not_clipped_is_not_called_so():
    samples = tones(220, 330, 262)
    assert not is_clipped(recording(0.99 * samples / np.abs(samples).max()))
    assert not is_clipped(through_codec(0.99 * samples / np.abs(samples).max()))


def test_notes_of_many_sizes_do_not_all_reach_one_ceiling_until_they_are_clipped():
    # twelve notes whose loudness falls by 1 dB each: only the first is within a tenth of the top
    size = 10 ** (-np.floor(TIME_S / 0.5) / 20)
    steps = size * np.sin(2 * np.pi * 220 * TIME_S)
    assert ceiling_share(recording(steps)) == pytest.approx(1 / 12, abs=0.01)
    # clipped at 6 dB below the top, the first seven (0 to -6 dB, -6.02 and below are free) reach it
    assert ceiling_share(recording(np.clip(steps, -0.5, 0.5))) == pytest.approx(7 / 12, abs=0.01)


def test_a_telephones_rate_is_a_caution_and_says_its_band():
    rng = np.random.default_rng(4)
    line = decimate(tones(220), 5) + 1e-3 * rng.normal(size=len(TIME_S[::5]))
    (verdict,) = verdicts_on_sound(recording(line, RATE_HZ // 5))
    assert verdict.code == "narrow_band" and "4 kHz" in verdict.sentence


def test_untouched_noise_has_the_holes_that_theory_gives():
    # |difference| of the logarithms of two exponential powers is logistic:
    # P(ratio of 200 or 100 or more, either way) = 2 / 200.5 and 2 / 101
    noise = np.random.default_rng(5).normal(size=20 * RATE_HZ) * 1e-3
    low, high = holes(recording(noise))
    # the law holds for cells picked at random; frames are picked by their own level only
    assert low == pytest.approx(2 / 200.5, abs=0.0015)
    assert high == pytest.approx(2 / 101, abs=0.003)
    assert not is_suppressed((low, high))


def test_a_background_that_opens_and_closes_by_bands_is_called_processed():
    # every band of 94 Hz is shut by 40 dB now and then, for 12 ms at least
    rng = np.random.default_rng(6)
    _, _, cells = stft(1e-3 * rng.normal(size=20 * RATE_HZ), nperseg=512)
    shut = rng.random(cells.shape) < 0.15
    shut[:, 1:] |= shut[:, :-1]
    samples = istft(np.where(shut, 0.01, 1.0) * cells, nperseg=512)[1]
    assert is_suppressed(holes(recording(samples)))
    samples[: SECONDS * RATE_HZ] += tones(220, 330)
    (verdict,) = verdicts_on_sound(recording(samples))
    assert verdict.code == "processed"
    assert "times as many as usual" in verdict.sentence


def test_holes_of_one_moment_are_not_called_processed():
    # the same holes, in 0.4 of 20 seconds: the share of all is high, and its error as well
    rng = np.random.default_rng(6)
    _, _, cells = stft(1e-3 * rng.normal(size=20 * RATE_HZ), nperseg=512)
    shut = rng.random(cells.shape) < 0.3
    shut[:, 1:] |= shut[:, :-1]
    shut[:, cells.shape[1] // 50 :] = False
    samples = istft(np.where(shut, 0.01, 1.0) * cells, nperseg=512)[1]
    assert is_suppressed(holes(recording(samples)))
    assert not is_suppressed(holes(recording(samples), less_errors=LESS_ERRORS))
    samples[-SECONDS * RATE_HZ :] += tones(220, 330)
    assert verdicts_on_sound(recording(samples)) == ()


def test_a_file_that_was_cut_together_is_not_called_processed():
    gated = tones(220, 330) * (TIME_S % 0.5 < 0.4)
    assert holes(recording(gated)) is None


@pytest.mark.parametrize(("beside_hz", "least", "most"), [(None, 0.0, 0.01), (247.0, 0.1, 0.8)])
def test_tones_of_somebody_else_are_foreign_and_ones_own_are_not(beside_hz, least, most):
    samples = tones(220.0) + (tones(beside_hz) if beside_hz else 0.0)
    samples = samples + 1e-4 * np.random.default_rng(7).normal(size=len(samples))
    note = HeardNote(0, "played", 1.0, 1.5, 57.0)
    share = foreign_share(recording(samples), note, 440.0)
    assert least <= share <= most
    # heard and measured against another A4, it is the same note
    baroque = HeardNote(0, "played", 1.0, 1.5, 57.0 + 12 * np.log2(440 / 415))
    assert foreign_share(recording(samples), baroque, 415.0) == pytest.approx(share, abs=1e-6)


@pytest.mark.parametrize("noise_db", [-15.0, -6.0, 0.0])
@pytest.mark.parametrize(("pitch_hz", "to_hz"), [(55.0, 800.0), (220.0, 3_200.0), (880.0, 5_000.0)])
def test_noise_inside_a_note_is_told_by_its_power_between_the_harmonics(pitch_hz, to_hz, noise_db):
    # white noise, as strong against the tone as said between 100 Hz and the last octave in
    # which the harmonics (50 cents wide) leave anything free
    tone = sum(np.sin(2 * np.pi * k * pitch_hz * TIME_S) / k for k in range(2, 6))
    density = np.mean(tone**2) * 10 ** (noise_db / 10) / (to_hz - 100.0)
    hiss = np.sqrt(density * RATE_HZ / 2) * np.random.default_rng(9).normal(size=len(TIME_S))
    midi = 69 + 12 * np.log2(pitch_hz / 440)
    both = recording(0.1 * (tone + hiss))
    shares = [
        noise_share(both, HeardNote(0, "played", start_s, start_s + 0.5, midi), 440.0)
        for start_s in np.arange(0.5, 5.0, 0.25)
    ]
    true = 1.0 / (1.0 + 10 ** (-noise_db / 10))
    assert 10 * np.log10(np.median(shares) / true) == pytest.approx(0.0, abs=1.2)


def test_noise_is_told_where_it_fills_the_notes_and_not_where_only_the_gaps_are_raised():
    take, _ = heard(41, timbre="clarinet", count=24)
    size = float(np.sqrt(np.mean(take.recording.samples**2)))
    hiss = np.random.default_rng(10).normal(size=len(take.recording.samples))
    level = np.interp(np.arange(len(hiss)), np.arange(0, len(hiss), 480),
                      np.abs(take.recording.samples[::480]))  # fmt: skip
    gaps = np.convolve(level, np.ones(4800) / 4800, "same") < 0.2 * size
    for noisy, sound in ((True, 1.2 * size * hiss), (False, 0.1 * size * hiss * gaps)):
        both = recording(0.5 * (take.recording.samples + sound))
        played = perform(both, take.passage, take.tempo_qpm)
        told = codes(verdicts_on_performance(both, played, octave_free=False))
        assert ("noisy" in told or "too_noisy" in told) is noisy
        assert not told & {"cut_off", "cut_off_start"}
        assert (noise_in_notes_db(both, played, 440.0) > -10.5) is noisy


def test_the_note_before_may_ring_on_and_is_nobody_else():
    # the last note, 330 Hz, rings on 12 dB softer under a note of 220 Hz
    samples = tones(220.0) + 0.25 * tones(330.3)
    note, before = HeardNote(1, "played", 1.0, 1.5, 57.0), HeardNote(0, "played", 0.5, 1.0, 64.02)
    assert foreign_share(recording(samples), note, 440.0) > 0.01
    assert foreign_share(recording(samples), note, 440.0, [before]) < 0.003
    # a second and a half later it does not ring any more
    late = HeardNote(0, "played", -1.0, -0.5, 64.02)
    assert foreign_share(recording(samples), note, 440.0, [late]) > 0.01


def heard(seed, **faults):
    take = make_take(seed, **faults)
    return take, perform(take.recording, take.passage, take.tempo_qpm)


def test_a_second_player_is_told_and_one_alone_is_not():
    take, alone = heard(41, timbre="clarinet", count=24)
    other = make_take(77, timbre="clarinet", count=24).recording.samples
    mixed = take.recording.samples.copy()
    count = min(len(mixed), len(other))
    mixed[:count] += 0.8 * other[:count]
    both = recording(mixed / 2)
    together = perform(both, take.passage, take.tempo_qpm)
    assert company(take.recording, alone, 440.0) < COMPANY_FROM
    assert company(both, together, 440.0) >= COMPANY_FROM
    told = codes(verdicts_on_performance(both, together, octave_free=False))
    assert told & {"other_sounds", "other_piece"}
    assert not codes(verdicts_on_performance(take.recording, alone, octave_free=False))


def test_order_counts_steps_of_the_written_line():
    take, _ = heard(41, timbre="clarinet", count=24)
    right = perform(take.recording, take.passage, take.tempo_qpm)
    assert order_share(right) > 0.9 and not is_other_piece(right)
    other = make_take(99, timbre="clarinet", count=24)
    wrong = perform(take.recording, other.passage, take.tempo_qpm)
    assert order_share(wrong) < 0.5 and is_other_piece(wrong)


def test_order_by_hand():
    _, performance = heard(41, timbre="clarinet", count=8)
    notes = tuple(
        HeardNote(i, outcome, float(i) if outcome != "missing" else None, probability=0.9)
        for i, outcome in enumerate(
            ("played", "played", "other_pitch", "played", "played", "missing", "played", "played")
        )
    )
    bare = replace(performance, notes=notes, attempts=(), added=(), restarts=())
    # steps 01 .. 13x 34 46 67: 0-1, 3-4 and 6-7 of six, and one for nothing: (3 + 1) / (6 + 1)
    assert order_share(bare) == pytest.approx(4 / 7)
    between = replace(bare, added=(AddedSound(0.5, 0.7, 60.0),))
    # the added sound breaks the step from 0 to 1 and makes one more
    assert order_share(between) == pytest.approx(3 / 8)
    assert longest_run(bare) == 2 and longest_run(replace(bare, notes=())) == 0
    # six of eight notes have their name, and six of the eight sounds (seven notes, one added)
    assert belonging_share(between) == pytest.approx(6 / 8 * 6 / 8)
    octave = performance.passage.notes[2].midi + 12.1 + performance.shift_semitones
    slipped = replace(between, notes=(*notes[:2], replace(notes[2], midi_heard=octave), *notes[3:]))
    assert belonging_share(slipped) == pytest.approx(7 / 8 * 7 / 8)


def test_a_part_most_of_which_lies_under_the_noise_is_no_other_piece():
    take = make_take(41, timbre="clarinet", count=24)
    notes = [take.last_played()[index] for index in (8, 9, 10)]
    first, last = (round(s * RATE_HZ) for s in (notes[0].onset_s, notes[-1].offset_s))
    samples = take.recording.samples * 10 ** (-50 / 20)
    samples[first:last] = take.recording.samples[first:last]
    hiss = np.std(take.recording.samples) * np.random.default_rng(5).normal(size=len(samples))
    buried, quiet = recording(samples + 0.1 * hiss), recording(samples + 0.003 * hiss)
    performance = perform(buried, take.passage, take.tempo_qpm)
    assert is_other_piece(performance)
    (verdict,) = verdicts_on_performance(buried, performance, octave_free=False)
    assert verdict.code == "too_noisy" and "of the 24 written notes stand out" in verdict.sentence
    # in so quiet a room nothing lies under the noise, whatever else is wrong with the same notes
    assert "other_piece" in codes(verdicts_on_performance(quiet, performance, octave_free=False))
    other = make_take(99, timbre="clarinet", count=24)
    wrong = perform(take.recording, other.passage, take.tempo_qpm)
    assert "other_piece" in codes(
        verdicts_on_performance(take.recording, wrong, octave_free=False)
    )


def test_one_note_in_three_wrong_is_still_this_piece():
    _, performance = heard(41, timbre="clarinet", count=24)
    outcomes = ("played", "other_pitch", "played") * 8
    notes = tuple(
        HeardNote(i, outcome, float(i), probability=0.9) for i, outcome in enumerate(outcomes)
    )
    faulty = replace(performance, notes=notes, attempts=(), added=(), restarts=())
    assert order_share(faulty) < 0.5 and not is_other_piece(faulty)


def test_who_plays_on_past_the_end_has_played_the_part():
    _, performance = heard(41, timbre="clarinet", count=8)
    notes = tuple(HeardNote(i, "played", float(i), probability=0.9) for i in range(6)) + tuple(
        HeardNote(i, "played", 20.0 + i, probability=0.9) for i in (6, 7)
    )
    more = tuple(AddedSound(8.0 + i, 8.5 + i, 61.0) for i in range(10))
    on = replace(performance, notes=notes, added=more, attempts=(), shift_semitones=0)
    assert order_share(on) < 0.5 and longest_run(on) == 6
    assert not is_other_piece(on)


def test_a_take_that_ends_in_full_sound_was_cut_off_and_says_what_is_missing():
    take = make_take(41, timbre="clarinet", count=24)
    note = take.last_played()[15]
    end = int((note.onset_s + 0.6 * (note.offset_s - note.onset_s)) * RATE_HZ)
    short = recording(take.recording.samples[:end])
    performance = perform(short, take.passage, take.tempo_qpm)
    told = verdicts_on_performance(short, performance, octave_free=False)
    assert [verdict.code for verdict in told] == ["cut_off"]
    assert "8 notes of the part are missing" in told[0].sentence


def test_a_room_in_which_nothing_plays_is_silence_also_with_its_level_raised():
    take = make_take(41, timbre="clarinet", count=12)
    rng = np.random.default_rng(8)
    for level in (1e-4, 3e-3):
        room = recording(level * rng.normal(size=10 * RATE_HZ))
        told = codes(verdicts_on_sound(room))
        if not told:
            performance = perform(room, take.passage, take.tempo_qpm)
            told = codes(verdicts_on_performance(room, performance, octave_free=False))
        assert told & {"silence", "too_noisy"}, level


def only(performance, found, shift):
    """``performance`` with the notes ``found`` alone heard, in another key by ``shift``."""
    notes = tuple(
        note if note.index in found else HeardNote(note.index, "missing", probability=0.9)
        for note in performance.notes
    )
    return replace(performance, notes=notes, shift_semitones=shift)


@pytest.mark.parametrize("shift", [-10, -5, 1, 7])
def test_in_another_key_more_must_fit_than_in_the_written_one(shift):
    take = make_take(7400, timbre="flute", count=24)
    right = perform(take.recording, take.passage, take.tempo_qpm)
    third, half = range(8), range(12)
    assert not is_other_piece(only(right, third, 0)) and is_other_piece(only(right, third, shift))
    assert not is_other_piece(only(right, third, 12))  # an octave is no other key
    assert not is_other_piece(only(right, half, shift))  # who stopped half-way
    scattered = [index for index in range(24) if index % 6]
    assert not is_other_piece(only(right, scattered, shift))
