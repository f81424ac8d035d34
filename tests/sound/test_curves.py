"""Tempo curve and loudness line against takes whose tempo and level are known by formula."""

from dataclasses import replace

import numpy as np
import pytest
from tests.criteria.test_table import performance
from tests.sound.real_takes import passage

from standlight.sound import HeardNote, Recording, loudness_line, tempo_curve
from standlight.sound.curves import MOST_POINTS, momentary_lkfs, stops_of, stretches_of
from standlight.sound.loudness import k_power
from standlight.sound.values import HOP_S, AddedSound, Resumed

RATE_HZ = 48_000


def played(onsets_s, lengths=None, tempo_qpm=100.0, **more):
    """Notes of one quarter each (or ``lengths``) that began at ``onsets_s``."""
    lengths = lengths or [1] * len(onsets_s)
    notes = tuple(
        HeardNote(index=i, outcome="played", onset_s=float(t), offset_s=float(t) + 0.3,
                  asynchrony_ms=0.0)
        for i, t in enumerate(onsets_s)
    )  # fmt: skip
    return performance(
        notes, passage=passage([60] * len(notes), lengths), tempo_qpm=tempo_qpm, **more
    )


def test_a_steady_beat_is_one_tempo_without_error():
    curve = tempo_curve(played(0.6 * np.arange(17)))
    assert [point.tempo_qpm for point in curve] == pytest.approx([100.0] * 17)
    assert max(point.se_qpm for point in curve) < 1e-6


def test_a_beat_that_gains_speed_is_followed():
    # quarters last 0.6 s shrinking by 0.5 percent a quarter: at quarter q, 100 / 0.995^q a minute
    onsets = np.concatenate([[0.0], np.cumsum(0.6 * 0.995 ** (np.arange(24) + 0.5))])
    curve = tempo_curve(played(onsets))
    for point in curve[4:-4]:  # at the ends a one-sided line lags behind
        assert point.tempo_qpm == pytest.approx(100.0 / 0.995**point.quarters, rel=0.003)


def test_the_error_of_a_point_covers_a_steady_beat_played_unevenly():
    rng, inside, count = np.random.default_rng(8), 0, 0
    for _ in range(120):
        onsets = 0.6 * np.arange(17) + rng.normal(0, 0.02, 17)
        for point in tempo_curve(played(onsets))[4:-4:4]:
            inside += abs(point.tempo_qpm - 100.0) < 1.96 * point.se_qpm
            count += 1
    assert 0.86 < inside / count < 0.98


def test_a_stop_is_a_gap_between_stretches():
    onsets = 0.6 * np.arange(16) + np.where(np.arange(16) >= 8, 3.0, 0.0)
    play = played(onsets)
    assert [len(stretch) for stretch in stretches_of(play)] == [8, 8]
    assert [p.tempo_qpm for p in tempo_curve(play)] == pytest.approx([100.0] * 16)
    again = played(0.6 * np.arange(16), restarts=(Resumed(3.0, 5),))
    assert [len(stretch) for stretch in stretches_of(again)] == [5, 11]


def test_what_a_note_that_went_on_or_an_added_sound_took_is_no_stop():
    late_s = 0.5
    onsets = 0.6 * np.arange(16) + np.where(np.arange(16) >= 8, late_s, 0.0)
    assert stops_of(played(onsets)) == (8,)
    begun_s = 0.6 * 7
    for more in (
        {"prolonged": frozenset({7})},
        {"added": (AddedSound(begun_s + 0.3, begun_s + 0.3 + late_s, 62.0),)},
    ):
        play = played(onsets, **more)
        assert stops_of(play) == ()
        # the time that they took is not the written one: no tempo runs through it
        assert [len(stretch) for stretch in stretches_of(play)] == [8, 8]
    # a short slip explains no long wait, nor does one elsewhere
    for begin_s, seconds in ((begun_s + 0.3, 0.1), (0.9, late_s)):
        slip = AddedSound(begin_s, begin_s + seconds, 62.0)
        assert stops_of(played(onsets, added=(slip,))) == (8,)
    again = played(onsets, prolonged=frozenset({7}), restarts=(Resumed(onsets[8], 8),))
    assert stops_of(again) == (8,)


def test_few_notes_have_no_tempo_and_a_long_take_is_thinned():
    assert tempo_curve(played(0.6 * np.arange(4))) == ()
    assert 100 < len(tempo_curve(played(0.6 * np.arange(900)))) <= MOST_POINTS


def test_momentary_loudness_is_the_published_one_of_a_sine():
    # ITU-R BS.1770 (check value loud.997): a full-scale 997 Hz sine reads -3.01 LKFS
    time_s = np.arange(2 * RATE_HZ) / RATE_HZ
    sine = np.sin(2 * np.pi * 997.0 * time_s).astype(np.float32)
    levels = momentary_lkfs(Recording(sine, RATE_HZ))
    assert levels == pytest.approx(np.full(len(levels), -3.01), abs=0.02)


@pytest.mark.parametrize("hz", [100.0, 440.0, 2000.0, 8000.0])
def test_momentary_loudness_agrees_with_the_filter_over_the_whole_signal(hz):
    """The plain form: the K filter over the whole signal, mean square over the same 400 ms."""
    rng = np.random.default_rng(3)
    time_s = np.arange(3 * RATE_HZ) / RATE_HZ
    wave = (0.1 + 0.05 * time_s) * np.sin(2 * np.pi * hz * time_s)
    recording = Recording((wave + rng.normal(0, 0.01, len(wave))).astype(np.float32), RATE_HZ)
    power, width = k_power(recording), round(0.4 / HOP_S)
    levels = momentary_lkfs(recording)
    for place in range(5, 45, 10):
        first = round(place * 0.05 / HOP_S)
        plain = -0.691 + 10 * np.log10(power[first : first + width].mean())
        assert levels[place] == pytest.approx(plain, abs=0.15)


def stepped(step_db):
    """Sixteen quarters of 0.6 s, the second half ``step_db`` louder."""
    time_s = np.arange(int(9.8 * RATE_HZ)) / RATE_HZ
    gain = np.where(time_s < 4.8, 0.05, 0.05 * 10.0 ** (step_db / 20.0))
    return Recording((gain * np.sin(2 * np.pi * 440.0 * time_s)).astype(np.float32), RATE_HZ)


@pytest.mark.parametrize("step_db", [1.0, 6.0, -9.0])
def test_a_step_in_level_is_a_step_in_the_line(step_db):
    line = loudness_line(stepped(step_db), played(0.6 * np.arange(16)))
    early = [p.loudness_lu for p in line if 1.0 < p.quarters < 7.0]
    late = [p.loudness_lu for p in line if 9.0 < p.quarters < 15.0]
    # the same tone at another level differs by that level exactly: LU are decibels
    assert np.median(late) - np.median(early) == pytest.approx(step_db, abs=0.05)
    assert [p.quarters for p in line] == sorted(p.quarters for p in line)


def test_a_take_as_a_whole_louder_or_overloaded():
    play = played(0.6 * np.arange(16))
    soft = stepped(6.0)
    loud = Recording(soft.samples * np.float32(2.0), RATE_HZ)
    one, other = (loudness_line(sound, play) for sound in (soft, loud))
    assert [p.loudness_lu for p in one] == pytest.approx([p.loudness_lu for p in other], abs=0.02)
    assert loudness_line(soft, replace(play, loudness_trusted=False)) == ()


def test_a_written_rest_is_a_gap_in_the_loudness_line():
    written = passage([60] * 12, [1] * 12)
    notes = list(written.notes)
    notes[5] = replace(notes[5], duration_quarters=notes[5].duration_quarters / 4)
    play = replace(played(0.6 * np.arange(12)), passage=replace(written, notes=tuple(notes)))
    line = loudness_line(stepped(0.0), play)
    assert {point.stretch for point in line} == {0, 1}
    assert not [p for p in line if 5.3 < p.quarters < 5.99]


def test_slow_music_is_looked_at_more_widely():
    # dotted halves: five starts are 12 quarters apart
    curve = tempo_curve(played(1.8 * np.arange(8), [3] * 8))
    assert len(curve) > 10
    assert [point.tempo_qpm for point in curve] == pytest.approx([100.0] * len(curve))
