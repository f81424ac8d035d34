"""Seeded synthetic takes with exact truth: faults told, verdicts given, properties kept."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from scipy.signal import resample_poly
from tests.sound.scoring import compare, summed
from tests.sound.takes import RATE_HZ, TIMBRES, make_strokes, make_take, tone

from standlight.listening import Terms, hear
from standlight.sound import Recording

INSTRUMENTS = {"violin": "Violin", "cello": "Cello", "voice": "Alto", "snare": "Snare drum"}


def heard(take, recording=None, **more):
    terms = Terms(take.tempo_qpm, INSTRUMENTS.get(take.instrument), **more)
    return hear(recording or take.recording, take.passage, terms)


def codes(report):
    return {verdict.code for verdict in report.verdicts}


@pytest.fixture(scope="module")
def faulty():
    # Seeds from 7000 on were used for nothing else.
    takes = [
        make_take(7000 + i, timbre=timbre, wrong=2, skipped=1, added=1, restart=i % 4 == 0)
        for i, timbre in enumerate(TIMBRES)
    ]
    return summed([compare(take, heard(take)) for take in takes])


def test_onsets_and_cents_are_near_the_truth(faulty):
    # Measured over 48 such takes: median 4 ms, 99.6 percent within 50 ms, 0.03 / 4.5 cents.
    # Synthetic tones are kinder than real ones; the real ones are in the next file.
    assert np.median(np.abs(faulty["onset_ms"])) < 10.0
    assert np.mean(np.abs(faulty["onset_ms"]) < 50.0) > 0.95
    assert np.median(np.abs(faulty["cents"])) < 1.5
    assert np.percentile(np.abs(faulty["cents"]), 95) < 10.0


def test_wrong_missing_and_restarted_notes_are_told(faulty):
    counts = faulty["counts"]
    assert counts["other_pitch_hit"] >= 0.8 * counts["other_pitch_true"] > 0
    assert counts["other_pitch_hit"] >= 0.75 * counts["other_pitch_told"]
    assert counts["wrong_or_missing_hit"] >= 0.75 * counts["wrong_or_missing_true"] > 0
    assert counts["restart_hit"] == counts["restart_true"] == 2
    assert counts["restart_told"] <= 3


def test_nothing_is_made_up_in_clean_takes():
    for seed in range(7100, 7106):
        take = make_take(seed)
        report = heard(take)
        outcomes = [note.outcome for note in report.notes]
        assert outcomes.count("played") >= len(outcomes) - 1
        assert report.restarts == () and len(report.added) <= 1 and codes(report) == set()


def test_20_cents_sharp_moves_only_the_tuning():
    flat = make_take(7200, timbre="clarinet", tuning_cents=-5.0)
    sharp = make_take(7200, timbre="clarinet", tuning_cents=15.0)
    before, after = heard(flat), heard(sharp)
    assert after.tuning_cents - before.tuning_cents == pytest.approx(20.0, abs=0.5)
    for old, new in zip(before.notes, after.notes, strict=True):
        assert new.outcome == old.outcome
        assert new.deviation_cents - old.deviation_cents == pytest.approx(20.0, abs=1.0)
        # the echo falls otherwise on another pitch, and onsets are read where energy rises
        assert new.onset_s == pytest.approx(old.onset_s, abs=0.025)


def test_silence_appended_changes_nothing():
    take = make_take(7210, timbre="trumpet", wrong=1)
    longer = np.concatenate([take.recording.samples, np.zeros(3 * RATE_HZ, np.float32)])
    before, after = heard(take), heard(take, Recording(longer, RATE_HZ))
    assert codes(before) == codes(after) == set()
    for old, new in zip(before.notes, after.notes, strict=True):
        assert new.outcome == old.outcome
        assert new.onset_s == pytest.approx(old.onset_s, abs=0.002)
        assert new.midi_heard == pytest.approx(old.midi_heard, abs=0.005)


def test_transposing_part_and_take_together_changes_nothing():
    take = make_take(7220, timbre="horn", snr_db=40.0, tempo_factor=1.0)
    notes = tuple(replace(note, midi=note.midi + 5) for note in take.passage.notes)
    moved = replace(take.passage, notes=notes)
    higher = make_take(7220, timbre="horn", snr_db=40.0, tempo_factor=1.0, passage=moved)
    # the same line again, so that both takes draw the same numbers
    lower = make_take(7220, timbre="horn", snr_db=40.0, tempo_factor=1.0, passage=take.passage)
    before, after = heard(lower), heard(higher)
    assert [note.outcome for note in after.notes] == [note.outcome for note in before.notes]
    for old, new in zip(before.notes, after.notes, strict=True):
        assert new.deviation_cents == pytest.approx(old.deviation_cents, abs=1.5)
        assert new.onset_s == pytest.approx(old.onset_s, abs=0.025)


@pytest.mark.parametrize("rate_hz", [22_050, 32_000, 48_000])
def test_another_sample_rate_changes_nothing(rate_hz):
    # Beyond the grain of a frame: 8 ms and 2 cents at the 95th percentile, no other outcome.
    take = make_take(7600, timbre="clarinet", wrong=1, skipped=1)
    samples = take.recording.samples
    divisor = int(np.gcd(rate_hz, RATE_HZ))
    other = resample_poly(samples, rate_hz // divisor, RATE_HZ // divisor).astype(np.float32)
    before, after = heard(take), heard(take, Recording(other, rate_hz))
    assert [n.outcome for n in before.notes] == [n.outcome for n in after.notes]
    both = [(a, b) for a, b in zip(before.notes, after.notes, strict=True) if a.onset_s is not None]
    late_ms = [1000.0 * abs(a.onset_s - b.onset_s) for a, b in both]
    cents = [
        abs(a.deviation_cents - b.deviation_cents) for a, b in both if a.deviation_cents is not None
    ]
    assert np.percentile(late_ms, 95) < 8.0 and np.percentile(cents, 95) < 2.0
    assert after.tuning_cents == pytest.approx(before.tuning_cents, abs=0.5)


@pytest.mark.parametrize(
    ("shift", "code"), [(-12, "octave"), (12, "octave"), (-2, "transposed"), (7, "transposed")]
)
def test_a_whole_take_in_another_octave_or_key_is_told(shift, code):
    take = make_take(7230, timbre="trumpet", shift=shift)
    report = heard(take)
    assert codes(report) == {code}
    assert sum(note.outcome == "played" for note in report.notes) >= len(report.notes) - 1


def test_a_singer_may_choose_the_octave():
    take = make_take(7231, timbre="voice", shift=-12)
    report = heard(take, octave_free=True)
    assert codes(report) == set()
    assert sum(note.outcome == "played" for note in report.notes) >= len(report.notes) - 1


def test_a_beginner_at_a_third_of_the_tempo_who_stops_between_notes_is_followed():
    take = make_take(7240, timbre="flute", count=10, tempo_factor=0.4, spread_ms=60, gap_share=0.35)
    report = heard(take)
    errors = compare(take, report)["onset_ms"]
    assert sum(note.outcome == "played" for note in report.notes) >= 9
    assert np.mean(np.abs(errors) < 50) >= 0.9


def test_another_piece_gives_a_verdict_and_no_readings():
    take, other = make_take(7250, timbre="cello"), make_take(7251, timbre="cello")
    report = hear(take.recording, other.passage, Terms(96.0, "Cello"))
    assert codes(report) == {"other_piece"}
    assert report.notes == () and report.spots == () and report.tempo_qpm is None
    assert all(reading.value is None and reading.because for reading in report.readings)


@pytest.mark.parametrize("played_hz", [65.4, 98.0])
def test_tones_far_from_the_part_are_another_part_and_no_noise(played_hz):
    """Nothing sounds near the written notes, but tones do."""
    take = make_take(7252, timbre="flute", count=12)
    time_s = np.arange(len(take.recording.samples)) / RATE_HZ
    steps = 2.0 ** (np.floor(2.0 * time_s) % 5 / 12.0)  # a new tone every half second
    sound = 0.2 * np.sin(2.0 * np.pi * np.cumsum(played_hz * steps) / RATE_HZ)
    noise = np.random.default_rng(9).normal(0, 1e-3, len(sound))
    report = heard(take, Recording((sound + noise).astype(np.float32), RATE_HZ))
    assert codes(report) == {"other_piece"} and report.notes == ()
    assert "another piece, part or place?" in report.verdicts[0].sentence


def test_silence_gives_a_verdict_in_a_musicians_words():
    rng = np.random.default_rng(7)
    hiss = rng.normal(0, 1e-5, 5 * RATE_HZ).astype(np.float32)
    report = heard(make_take(7260), Recording(hiss, RATE_HZ))
    assert codes(report) == {"silence"}
    assert "microphone" in report.verdicts[0].sentence
    assert report.notes == () and report.first_note_s >= 0.0


def test_noise_without_music_gives_no_readings():
    rng = np.random.default_rng(8)
    noise = rng.normal(0, 0.05, 6 * RATE_HZ).astype(np.float32)
    report = heard(make_take(7261), Recording(noise, RATE_HZ))
    assert codes(report) & {"silence", "too_noisy", "other_piece"}
    assert report.notes == ()


def test_an_overloaded_take_keeps_its_notes_and_loses_its_loudness():
    take = make_take(7262, timbre="clarinet")
    loud = np.clip(take.recording.samples * 12.0, -1.0, 1.0).astype(np.float32)
    report = heard(take, Recording(loud, RATE_HZ), criteria=("dynamics", "intonation"))
    assert codes(report) == {"clipped"}
    dynamics = [reading for reading in report.readings if reading.criterion == "dynamics"]
    assert dynamics[0].value is None and "overloaded" in dynamics[0].because
    assert sum(note.outcome == "played" for note in report.notes) >= len(report.notes) - 1


def test_a_loud_clean_take_is_not_called_overloaded():
    take = make_take(7263, timbre="trumpet")
    samples = take.recording.samples
    report = heard(take, Recording((samples / np.abs(samples).max()).astype(np.float32), RATE_HZ))
    assert codes(report) == set()


def test_a_take_cut_off_while_it_sounds_is_told():
    take = make_take(7264, timbre="horn")
    end = int(take.played[-6].offset_s * RATE_HZ) - 4000
    report = heard(take, Recording(take.recording.samples[:end], RATE_HZ))
    assert codes(report) == {"cut_off"}
    assert [note.outcome for note in report.notes[-3:]] == ["missing"] * 3


def test_a_player_who_stops_early_is_told_where():
    take = make_take(7265, timbre="horn")
    end = int(take.played[-8].offset_s * RATE_HZ) + 1000
    cut = np.concatenate([take.recording.samples[:end], np.zeros(RATE_HZ, np.float32)])
    report = heard(take, Recording(cut, RATE_HZ))
    measure = take.passage.notes[len(take.passage.notes) - 8].measure + 1
    assert [v.sentence for v in report.verdicts] == [f"The playing ends in measure {measure}."]


def test_strokes_are_followed_and_a_left_out_one_is_told():
    # Measured over 24 takes: median 2 ms, all within 30 ms.
    takes = [make_strokes(7300 + i, skipped=i % 2) for i in range(6)]
    result = summed([compare(take, heard(take)) for take in takes])
    assert np.median(np.abs(result["onset_ms"])) < 8.0
    assert np.mean(np.abs(result["onset_ms"]) < 30.0) > 0.95
    assert result["counts"]["missing_hit"] == result["counts"]["missing_true"] == 3
    assert result["counts"]["missing_told"] <= 5


def test_uneven_strokes_read_as_uneven():
    even = heard(make_strokes(7310, spread_ms=2.0), criteria=("evenness",))
    uneven = heard(make_strokes(7310, spread_ms=20.0), criteria=("evenness",))
    assert even.readings[0].value < 6.0 < 12.0 < uneven.readings[0].value
    assert even.readings[0].low <= even.readings[0].value <= even.readings[0].high


def test_loud_and_soft_regions_are_compared_inside_the_take():
    take = make_take(7320, timbre="clarinet", count=16, spread_cents=0)
    notes = tuple(
        replace(note, dynamic="f" if index < 8 else "p")
        for index, note in enumerate(take.passage.notes)
    )
    samples = take.recording.samples.copy()
    turn = int((take.played[8].onset_s - 0.02) * RATE_HZ)
    samples[turn:] *= 10.0 ** (-10.0 / 20.0)
    report = hear(
        Recording(samples, RATE_HZ), replace(take.passage, notes=notes),
        Terms(96.0, criteria=("dynamics",)),
    )  # fmt: skip
    contrast = report.readings[0]
    # 10 dB were taken off; each note's own level varies by up to 3.5 dB
    assert contrast.value == pytest.approx(10.0, abs=2.0)
    assert contrast.low < 10.0 < contrast.high


def test_a_passage_of_one_note_is_no_error():
    take = make_take(7330, timbre="flute", count=3)
    one = replace(take.passage, notes=take.passage.notes[:1], length_quarters=Fraction(1))
    wave = tone(one.notes[0].midi, 1.0, "flute", np.random.default_rng(1)).astype(np.float32)
    report = hear(Recording(wave, RATE_HZ), one, Terms(60.0))
    assert [note.outcome for note in report.notes] == ["played"]
    assert report.tempo_qpm is None and report.tuning_cents is None


@pytest.mark.parametrize("cents", [-57.0, -50.0, -44.0, 44.0, 49.6, 50.0, 57.0])
def test_half_a_semitone_out_of_tune_is_out_of_tune_and_no_other_key(cents):
    take = make_take(7232, timbre="cello", tuning_cents=cents, spread_cents=4.0)
    report = hear(take.recording, take.passage, Terms(take.tempo_qpm, "Cello"))
    assert not {verdict.code for verdict in report.verdicts} & {"transposed", "octave"}
    assert report.tuning_cents == pytest.approx(cents, abs=3.0)
    assert {note.outcome for note in report.notes} == {"played"}


@pytest.mark.parametrize("cents,left", [(-80.0, 20.0), (80.0, -20.0)])
def test_nearer_to_another_key_is_another_key(cents, left):
    take = make_take(7232, timbre="cello", tuning_cents=cents, spread_cents=4.0)
    report = hear(take.recording, take.passage, Terms(take.tempo_qpm, "Cello"))
    assert "transposed" in {verdict.code for verdict in report.verdicts}
    assert report.tuning_cents == pytest.approx(left, abs=3.0)
