"""Lines of real notes joined: what is said of each note's start and pitch is so in the sound."""

import numpy as np
import pytest
from benchmarks import joined
from benchmarks.hearing.tones import RATE_HZ, pitch_cents

from standlight.music import hz_of_midi

SEED, NUMBERS = 1900, (0, 3, 4)


@pytest.fixture(scope="module", params=NUMBERS)
def made(request):
    return joined.make(SEED, request.param)


def test_a_line_is_made_the_same_again(made):
    again = joined.make(SEED, int(made.name.rsplit("/", 1)[1]))
    assert again.onset_s == made.onset_s and again.passage == made.passage
    assert np.array_equal(again.recording.samples, made.recording.samples)


def test_every_note_sounds_at_its_written_pitch_from_its_start_on(made):
    samples = made.recording.samples.astype(float)
    off = []
    for note, start_s, end_s in zip(
        made.passage.notes, made.onset_s, (*made.onset_s[1:], None), strict=True
    ):
        until_s = start_s + 0.5 if end_s is None else min(end_s, start_s + 0.5)
        hz = float(hz_of_midi(note.midi))
        piece = samples[int(start_s * RATE_HZ) : int(until_s * RATE_HZ)]
        off.append(pitch_cents(piece, hz, 0.08, until_s - start_s - 0.08))
    off = np.abs([cents for cents in off if np.isfinite(cents)])
    assert len(off) >= 0.9 * len(made.passage.notes)
    assert np.median(off) < 15.0 and np.mean(off < 60.0) > 0.9


@pytest.mark.parametrize("snr_db", [3.0, 12.0])
def test_the_noise_lies_as_far_below_as_asked(snr_db):
    noisy, clean = (joined.make(SEED, 0, (db, db)) for db in (snr_db, 90.0))
    assert noisy.onset_s == clean.onset_s
    music, whole = clean.recording.samples, noisy.recording.samples
    scale = np.dot(whole, music) / np.dot(music, music)
    noise = np.mean((whole - scale * music) ** 2)
    size = np.abs(music)
    loud = np.mean((scale * music[size > 0.05 * np.percentile(size, 99)]) ** 2)
    assert 10.0 * np.log10(loud / noise) == pytest.approx(snr_db, abs=0.2)


def test_before_the_first_note_it_is_silent_and_after_it_not(made):
    samples, first = made.recording.samples, int(made.onset_s[0] * RATE_HZ)
    reach = int(0.1 * RATE_HZ)
    before = np.sqrt(np.mean(samples[first - 2 * reach : first - reach] ** 2))
    after = np.sqrt(np.mean(samples[first + reach : first + 2 * reach] ** 2))
    assert after > 5.0 * before


def test_the_last_note_of_a_phrase_is_held_and_nothing_else_is():
    rng = np.random.default_rng(SEED)
    passage, ends = joined.written(rng, joined.real_notes("flute"))
    onset_s, end_s, begun = joined.played(rng, passage, ends, 80.0, 1.0)
    written = np.array([float(note.duration_quarters) for note in passage.notes])[:-1]
    took = np.diff(onset_s) / (0.75 * written)
    held = np.array([at in ends for at in range(len(took))])
    assert took[held].min() > 1.1 and np.median(took[~held]) == pytest.approx(1.05, abs=0.1)
    assert [at for at, word in enumerate(begun) if "after a hold" in word] == [
        end + 1 for end in ends[:-1]
    ]
    slurred = [at for at, word in enumerate(begun) if word == "slurred"]
    assert all(end_s[at - 1] == pytest.approx(onset_s[at]) for at in slurred)


def test_a_real_note_goes_on_without_a_sudden_step():
    real = joined.real_notes("trumpet")[2]
    longer = joined._long_enough(real, 2.0)
    assert len(longer) >= 2.0 * RATE_HZ
    level = np.sqrt(np.convolve(longer**2, np.ones(2400) / 2400, "valid"))[:: RATE_HZ // 100]
    steady = 20.0 * np.log10(level[30:])
    assert np.abs(np.diff(steady)).max() < 3.0


def test_a_slurred_note_begins_where_the_pitch_goes_over(monkeypatch):
    monkeypatch.setattr(joined, "SLUR_SHARES", (1.0,))
    rng, notes = np.random.default_rng(SEED), joined.real_notes("clarinet")
    passage, ends = joined.written(rng, notes)
    onset_s, end_s, begun = joined.played(rng, passage, ends, 70.0, 1.0)
    dry = joined.sounded(rng, notes, passage, onset_s, end_s, begun)

    def level(midi, start_s):
        time_s = np.arange(int(0.06 * RATE_HZ)) / RATE_HZ
        piece = dry[int(start_s * RATE_HZ) :][: len(time_s)] * np.hanning(len(time_s))
        return abs(piece @ np.exp(-2j * np.pi * float(hz_of_midi(midi)) * time_s))

    midis = [note.midi for note in passage.notes]
    slurs = [at for at, word in enumerate(begun) if word == "slurred"]
    assert len(slurs) >= 5
    for at in slurs:
        old, new, start_s = midis[at - 1], midis[at], onset_s[at]
        assert level(old, start_s - 0.085) > level(new, start_s - 0.085)
        assert level(new, start_s + 0.025) > level(old, start_s + 0.025)
