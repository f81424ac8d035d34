"""What stretches of sound are worth, and that the decoder loses nothing by looking at few of them.

The slow plain form of both stands here: a sum over frames, and a decoder that leaves none out.
"""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from standlight.music import Note
from standlight.score.values import Passage
from standlight.sound import following, gains
from standlight.sound.evidence import SILENT_FRAME, Evidence, boundaries, match_score
from standlight.sound.following import (
    WINDOW_NOTES,
    WRITTEN,
    _Decoder,
    follow,
    follow_again,
)
from standlight.sound.gains import BLOCK, Gains
from standlight.sound.pacing import marked_pace
from standlight.sound.written import written_line

QPM = 100.0


def line(rng, count):
    lengths = [Fraction(int(one), 2) for one in rng.choice([1, 1, 2, 3, 4], count)]
    onsets = [sum(lengths[:i], Fraction(0)) for i in range(count)]
    pitches = np.clip(60 + np.cumsum(rng.integers(-2, 3, count)), 52, 76)
    notes = tuple(
        Note(onset, length, measure=int(onset // 4), midi=int(midi))
        for onset, length, midi in zip(onsets, lengths, pitches, strict=True)
    )
    return written_line(Passage("", "Flute", "", (), notes, sum(lengths)))


def evidence(rng, written, faults=True):
    """Frames of a player who goes back once, and leaves notes out, plays others and waits."""
    order = [*range(len(written) // 2), *range(len(written) // 3, len(written))]
    midi, weight, onset = [np.zeros(40)], [np.zeros(40)], [np.zeros(40)]
    for index in order:
        fate = rng.random() if faults else 0.5
        if fate < 0.08:
            continue
        frames = max(int(written.step_quarters[index] * 6000 / QPM * rng.uniform(0.7, 1.3)), 4)
        pitch = written.midi[index] + (rng.choice([-12, -2, 2, 12]) if fate < 0.2 else 0)
        midi.append(pitch + rng.normal(0, 0.15, frames))
        weight.append(np.where(rng.random(frames) < 0.9, 1.0, 0.0))
        onset.append(np.append(rng.uniform(0.1, 1.0), rng.uniform(0, 0.1, frames - 1)))
        if fate > 0.9:
            rest = int(rng.integers(10, 90))
            for signal in (midi, weight, onset):
                signal.append(np.zeros(rest))
    starts = np.concatenate(onset)
    again = 10.0 * starts - 8.0
    return Evidence(np.concatenate(midi), np.concatenate(weight), starts, again)


def sources(written, heard):
    """Where every arrival of a decoding came from."""
    decoder = _Decoder(written, heard, 0.0, marked_pace(QPM))
    decoder.run()
    return decoder.source


@pytest.mark.parametrize("seed", range(3000, 3006))
def test_looking_at_every_boundary_finds_the_same_everywhere(seed, monkeypatch):
    rng = np.random.default_rng(seed)
    written = line(rng, int(rng.integers(8, 40)))
    heard = evidence(rng, written)
    seen = []
    everything = Gains.up_to
    monkeypatch.setattr(
        Gains,
        "up_to",
        lambda self, k, a, b, w: (seen.append(b - a), everything(self, k, a, b, w))[1],
    )
    quick, few = sources(written, heard), sum(seen)
    path = follow(written, heard, 0.0, QPM)
    again = follow_again(written, heard, 0.0, path)
    monkeypatch.setattr(following, "COUNTS_WITHIN", 1e9)
    seen.clear()
    assert np.array_equal(sources(written, heard), quick)
    assert few < 0.8 * sum(seen)
    assert follow(written, heard, 0.0, QPM) == path
    assert follow_again(written, heard, 0.0, path) == again


@pytest.mark.parametrize("seed", [3165, 3166])
def test_a_long_line_is_followed_within_its_window_and_back(seed):
    rng = np.random.default_rng(seed)
    written = line(rng, 400)
    decoder = _Decoder(written, evidence(rng, written, faults=False), 0.0, marked_pace(QPM))
    decoder.run()
    assert decoder.source.shape[2] == 2 * WINDOW_NOTES + 1 < len(written) / 2
    path = decoder.path()
    told = {segment.index for segment in path.segments if segment.kind == WRITTEN}
    assert len(told) >= 0.98 * len(written)
    ((_, back_to),) = path.jumps
    assert abs(back_to - len(written) // 3) <= 1


def test_stretches_are_worth_what_their_frames_add_up_to():
    rng = np.random.default_rng(3100)
    written = line(rng, 9)
    heard = evidence(rng, written)
    places, _, _ = boundaries(heard)
    share = rng.uniform(0.5, 1.0, len(written)).astype(np.float32)
    unmarked = rng.uniform(0.0, 6.0, len(places)).astype(np.float32)
    asked = Gains(written, heard, 0.25, places, share, unmarked)
    pitches = np.arange(30, 100) + 0.25
    match = 0.5 * match_score(heard.midi, heard.weight, pitches)
    for k in range(2, len(places), 7):
        first = max(0, k - 2 * BLOCK)
        one_pitch, gain, as_other, most = asked.up_to(k, first, k, (0, len(written)))
        assert most == pytest.approx(gain.max(axis=1))
        assert asked.earlier(k, first, k) == pytest.approx(most)
        for row in (0, len(gain) // 2, len(gain) - 1):
            frames = match[places[first + row] : places[k]]
            agree, against = np.maximum(frames, 0).sum(0), 0.6 * np.minimum(frames, 0).sum(0)
            any_pitch = (np.minimum(agree, 8.0) + against).max()
            assert one_pitch[row] == pytest.approx(any_pitch, abs=1e-3)
            for note in range(len(written)):
                at = int(written.midi[note]) - 30

                def worth(column, share=share[note], agree=agree, against=against):
                    gained = agree[column] * share
                    return min(gained, 8.0 + 0.1 * (gained - 8.0)) + against[column]

                plain = worth(at) - 2.0 * max(0.0, 1.0 - agree[at])
                sounded = [at - 12, at + 12]
                other = max(0.6 * any_pitch - 5.0, *(worth(one) - 3.5 for one in sounded))
                group = asked.group[note]
                if abs(other - unmarked[first + row] - plain) > 1e-3:
                    assert as_other[row, group] == (other - unmarked[first + row] > plain)
                assert gain[row, group] == pytest.approx(
                    max(plain, other - unmarked[first + row]), abs=2e-3
                )


def test_a_window_that_moves_on_is_worth_what_the_whole_line_is():
    rng = np.random.default_rng(3150)
    written = line(rng, 120)
    written = replace(written, midi=written.midi + np.arange(120) // 20)
    heard = evidence(rng, written)
    places, _, _ = boundaries(heard)
    share, unmarked = rng.uniform(0.5, 1.0, 120).astype(np.float32), np.zeros(len(places))
    whole, moving = (Gains(written, heard, 0.0, places, share, unmarked) for _ in range(2))
    fewer = set()
    for k in range(2, len(places), 5):
        low = int(rng.integers(0, 110))
        for window in ((low, low + 10), (low + 1, low + 11)):
            here, first = slice(*window), max(0, k - 2 * BLOCK)
            tables = []
            for asked, notes in ((whole, (0, 120)), (moving, window)):
                _, gain, as_other, most = asked.up_to(k, first, k, notes)
                group = asked.group[here]
                tables.append((gain[:, group], as_other[:, group]))
                assert (most >= gain[:, group].max(axis=1)).all()
                fewer.add(gain.shape[1])
            assert np.array_equal(tables[0][0], tables[1][0])
            assert np.array_equal(tables[0][1], tables[1][1])
    assert min(fewer) < max(fewer)


def test_silence_speaks_a_little_against_every_note():
    written = line(np.random.default_rng(3200), 5)
    silent = Evidence(np.zeros(100), np.zeros(100), np.zeros(100), np.full(100, -9.0))
    places = np.array([0, 50, 100])
    share, unmarked = np.ones(5, dtype=np.float32), np.zeros(3, dtype=np.float32)
    asked = Gains(written, silent, 0.0, places, share, unmarked)
    one_pitch, gain, _, _ = asked.up_to(2, 0, 2, (0, len(written)))
    assert one_pitch == pytest.approx(
        gains.AGAINST_SHARE * gains.FRAME * SILENT_FRAME * np.array([100, 50])
    )
    assert gain[1] == pytest.approx(one_pitch[1] - gains.UNHEARD_COST)
