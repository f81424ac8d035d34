"""The player's truth is real: what it says it played is what is in the samples."""

import io
from fractions import Fraction

import av
import numpy as np
import pytest

from standlight.demo.faults import Faults, Restart, Trouble
from standlight.demo.player import encode, play
from standlight.demo.timbre import RATE_HZ
from standlight.music import Note

PITCHED = {
    "Flute": 74,
    "Oboe": 70,
    "Bassoon": 48,
    "Clarinet in Bb": 62,
    "Alto saxophone in Eb": 65,
    "Trumpet / cornet / flugelhorn in Bb": 60,
    "Horn in F": 55,
    "Trombone": 50,
    "Tuba (bass clef, as written)": 41,
    "Violin": 69,
    "Cello": 45,
    "Double bass": 38,
    "Glockenspiel / bells": 84,
}


def line(*midis, quarters=Fraction(2), measure_quarters=4, **more):
    return [
        Note(i * quarters, quarters, midi, int(i * quarters // measure_quarters), **more)
        for i, midi in enumerate(midis)
    ]


def strokes(count):
    return [Note(Fraction(i), Fraction(1), None, i // 4, drum="snare") for i in range(count)]


def fundamental_hz(samples, near_hz):
    """Peak of a long padded spectrum near a frequency, refined by a parabola on the log."""
    window = np.blackman(samples.size)
    size = 1 << 20
    spectrum = np.abs(np.fft.rfft(samples * window, size))
    low, high = (int(near_hz * ratio * size / RATE_HZ) for ratio in (0.94, 1.06))
    peak = low + int(np.argmax(spectrum[low:high]))
    a, b, c = np.log(spectrum[peak - 1 : peak + 2])
    return (peak + 0.5 * (a - c) / (a - 2 * b + c)) * RATE_HZ / size


@pytest.mark.parametrize(("instrument", "midi"), PITCHED.items())
def test_a_rendered_note_is_within_two_cents_of_equal_temperament(instrument, midi):
    # Outside check: equal temperament on A4 = 440 Hz (ISO 16:1975), spelled out here.
    take = play(line(midi, midi + 4, midi + 7), tempo_qpm=60, instrument=instrument, seed=3)
    for sound, written in zip(take.played, (midi, midi + 4, midi + 7), strict=True):
        expected_hz = 440.0 * 2 ** ((written - 69) / 12)
        first = int((sound.onset_s + 0.1) * RATE_HZ)
        part = take.samples[first : first + int(0.9 * RATE_HZ)]
        cents = 1200 * np.log2(fundamental_hz(part, expected_hz) / expected_hz)
        assert abs(cents) < 2.0, f"{instrument} midi {written}: {cents:.2f} cents"
        assert sound.midi == written


def test_a_voice_scoops_and_then_stands_on_the_pitch():
    take = play(line(62, 64), tempo_qpm=60, instrument="Soprano", seed=1)
    sound = take.played[0]
    expected_hz = 440.0 * 2 ** ((62 - 69) / 12)
    first = int((sound.onset_s + 0.4) * RATE_HZ)
    heard_hz = fundamental_hz(take.samples[first : first + RATE_HZ], expected_hz)
    assert abs(1200 * np.log2(heard_hz / expected_hz)) < 2.0


def test_detuning_by_31_cents_is_in_the_samples_and_in_the_truth():
    faults = Faults(tuning_cents=-31.0)
    take = play(line(69, 71), tempo_qpm=60, instrument="Cello", faults=faults, seed=5)
    sound = take.played[0]
    first = int((sound.onset_s + 0.1) * RATE_HZ)
    heard_hz = fundamental_hz(take.samples[first : first + RATE_HZ], 440.0)
    assert 1200 * np.log2(heard_hz / 440.0) == pytest.approx(-31.0, abs=2.0)
    assert sound.midi == pytest.approx(68.69)


@pytest.mark.parametrize(
    ("instrument", "late_ms"), [("Snare drum", 3), ("Trumpet", 30), ("Violin", 45), ("Alto", 55)]
)
def test_sound_begins_at_the_true_onset_and_not_before(instrument, late_ms):
    notes = strokes(8) if "drum" in instrument else line(60, 62, 64, 65, 67)
    faults = Faults(timing_ms=40, noise_dbfs=-90)
    take = play(notes, tempo_qpm=100, instrument=instrument, faults=faults, seed=8)
    quiet = int(0.03 * RATE_HZ)
    for sound in take.played[:1] if "drum" not in instrument else take.played:
        at = round(sound.onset_s * RATE_HZ)
        before = np.abs(take.samples[at - quiet : at]).max()
        window = np.abs(take.samples[at : at + int(0.2 * RATE_HZ)])
        reached = np.argmax(window > 0.3 * window.max()) / RATE_HZ * 1000
        assert before < 0.05 * window.max()
        assert reached <= late_ms


def test_without_faults_onsets_stand_exactly_where_the_tempo_puts_them():
    notes = line(60, 62, 64, 65, quarters=Fraction(3, 2))
    take = play(notes, tempo_qpm=90, instrument="Flute", lead_s=0.5)
    expected = [0.5 + 1.5 * i * 60 / 90 for i in range(4)]
    assert [sound.onset_s for sound in take.played] == pytest.approx(expected)


def test_timing_and_pitch_spread_have_the_size_that_was_asked():
    notes = line(*([60, 64] * 150), quarters=Fraction(1))
    faults = Faults(timing_ms=25, spread_cents=15)
    take = play(notes, tempo_qpm=120, instrument="Flute", faults=faults, seed=4, lead_s=1.0)
    late_ms = [1000 * (s.onset_s - 1.0 - s.index * 0.5) for s in take.played]
    cents = [100 * (s.midi - notes[s.index].midi) for s in take.played]
    # 300 draws: the sample deviation is within a tenth of the true one (standard error 4 %).
    assert np.std(late_ms) == pytest.approx(25, rel=0.1)
    assert np.std(cents) == pytest.approx(15, rel=0.1)


def test_wrong_skipped_added_and_an_octave_are_told_by_the_truth():
    notes = line(60, 62, 64, 65, 67, quarters=Fraction(1))
    faults = Faults(wrong=((1, 2),), skipped=(3,), added=((4, -1),), octave=-1)
    take = play(notes, tempo_qpm=80, instrument="Baritone / euphonium (bass clef)", faults=faults)
    told = [(s.index, s.midi) for s in take.played]
    assert told == [(0, 48), (1, 52), (2, 52), (4, 55), (None, 54)]


def test_a_restart_plays_the_notes_again_after_its_pause():
    notes = line(60, 62, 64, 65, quarters=Fraction(1))
    faults = Faults(restarts=(Restart(stop_after=2, back_to=0, pause_s=1.5),))
    take = play(notes, tempo_qpm=60, instrument="Clarinet in Bb", faults=faults, lead_s=0.5)
    assert [s.index for s in take.played] == [0, 1, 2, 0, 1, 2, 3]
    # The third note would end at 3.5 s; the pause of 1.5 s follows.
    assert take.played[3].onset_s == pytest.approx(5.0)


def test_a_hesitation_moves_everything_after_it():
    notes = line(60, 62, 64, quarters=Fraction(1))
    faults = Faults(hesitations=((1, 0.7),))
    take = play(notes, tempo_qpm=60, instrument="Flute", faults=faults, lead_s=0.5)
    assert [s.onset_s for s in take.played] == pytest.approx([0.5, 2.2, 3.2])


def test_a_held_note_sounds_on_and_moves_what_comes_after_it():
    notes = line(60, 62, 64, 60, quarters=Fraction(1))
    faults = Faults(held=((1, 0.6),), restarts=(Restart(2, 2, 1.5),))
    take = play(notes, tempo_qpm=60, instrument="Flute", faults=faults, lead_s=0.5)
    assert [s.index for s in take.played] == [0, 1, 2, 2, 3]
    assert [s.onset_s for s in take.played[:3]] == pytest.approx([0.5, 1.5, 3.1])
    assert take.played[1].offset_s - take.played[1].onset_s == pytest.approx(1.6, abs=0.03)
    # The third note would end at 4.1 s; the pause of 1.5 s follows.
    assert take.played[3].onset_s == pytest.approx(5.6)


def test_a_trouble_touches_its_measures_only():
    notes = line(*([60, 64] * 6), quarters=Fraction(1))
    trouble = Trouble(1, 1, off_cents=30, late_ms=80)
    take = play(notes, tempo_qpm=60, instrument="Flute", faults=Faults(troubles=(trouble,)))
    off = {s.index: round(100 * (s.midi - notes[s.index].midi)) for s in take.played}
    assert off == {i: 30 if 4 <= i < 8 else 0 for i in range(12)}


def test_practiced_measures_spread_less_but_never_not_at_all():
    notes = line(*([60, 64] * 150), quarters=Fraction(1))
    practiced = Trouble(0, 36, spread_cents=-50)
    faults = Faults(spread_cents=20, troubles=(practiced,))
    take = play(notes, tempo_qpm=120, instrument="Flute", faults=faults, seed=4)
    cents = np.array([100 * (s.midi - notes[s.index].midi) for s in take.played])
    assert np.std(cents[:148]) == pytest.approx(0.35 * 20, rel=0.15)
    assert np.std(cents[148:]) == pytest.approx(20, rel=0.15)


def test_rushing_makes_the_last_beats_shorter_by_the_asked_share():
    notes = line(*([60, 64] * 40), quarters=Fraction(1))
    take = play(notes, tempo_qpm=100, instrument="Flute", faults=Faults(rush_percent=12))
    steps = np.diff([s.onset_s for s in take.played])
    assert steps[0] / steps[-1] == pytest.approx(1.12, rel=0.01)


def test_a_silent_take_has_room_noise_and_no_sound():
    take = play(line(60), tempo_qpm=60, instrument="Violin", faults=Faults(silent=True))
    assert take.played == ()
    assert np.sqrt(np.mean(take.samples**2)) < 10 ** (-60 / 20)


def test_a_clipped_take_piles_up_at_full_scale_and_a_plain_one_does_not():
    notes = line(60, 64, 67)
    plain = play(notes, tempo_qpm=80, instrument="Trumpet", seed=2)
    clipped = play(notes, tempo_qpm=80, instrument="Trumpet", seed=2, faults=Faults(clipped=True))
    assert np.mean(np.abs(clipped.samples) >= 0.999) > 0.1
    assert np.mean(np.abs(plain.samples) >= 0.999) == 0.0


def test_phone_gain_takes_most_of_a_contrast_away():
    soft = [Note(Fraction(i), Fraction(1), 60, i // 4, dynamic="p") for i in range(8)]
    loud = [Note(Fraction(i), Fraction(1), 60, i // 4, dynamic="f") for i in range(8, 16)]

    def contrast_db(faults):
        take = play(soft + loud, tempo_qpm=60, instrument="Flute", faults=faults, lead_s=1.0)
        halves = take.samples[4 * RATE_HZ : 8 * RATE_HZ], take.samples[12 * RATE_HZ : 16 * RATE_HZ]
        low, high = (np.sqrt(np.mean(half**2)) for half in halves)
        return 20 * np.log10(high / low)

    assert contrast_db(Faults()) == pytest.approx(11, abs=1)
    assert contrast_db(Faults(phone_gain=True)) < 6


def test_the_same_seed_gives_the_same_bytes_and_another_seed_other_ones():
    notes, faults = line(60, 64, 67), Faults(timing_ms=20, spread_cents=10)
    first, again, other = (
        play(notes, tempo_qpm=80, instrument="Violin", faults=faults, seed=seed)
        for seed in (7, 7, 8)
    )
    assert np.array_equal(first.samples, again.samples)
    assert encode(first) == encode(again)
    assert first.played != other.played


@pytest.mark.parametrize(
    ("container", "rate_hz", "shift_ms"), [("webm", 48000, 2), ("flac", 48000, 0.1)]
)
def test_the_file_holds_the_take_in_its_place(container, rate_hz, shift_ms):
    take = play(strokes(8), tempo_qpm=120, instrument="Snare drum", seed=3)
    with av.open(io.BytesIO(encode(take, container))) as file:
        frames = [f.to_ndarray().reshape(-1) for f in file.decode(audio=0)]
        assert file.streams.audio[0].rate == rate_hz
    heard = np.concatenate(frames).astype(float)
    assert heard.size == pytest.approx(take.samples.size, abs=0.03 * RATE_HZ)
    n = min(heard.size, take.samples.size)
    a, b = np.fft.rfft(heard[:n], 2 * n), np.fft.rfft(take.samples[:n], 2 * n)
    lag = int(np.argmax(np.fft.irfft(a * np.conj(b))))
    lag = lag if lag < n else lag - 2 * n
    assert abs(lag) / RATE_HZ * 1000 <= shift_ms


def test_an_instrument_outside_the_table_is_refused_by_name():
    with pytest.raises(ValueError, match="kazoo"):
        play(line(60), tempo_qpm=60, instrument="kazoo")
