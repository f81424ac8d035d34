"""A long recording in its child: listened through, and cut where the silences are."""

import numpy as np
import pytest
from tests.workshop.test_decoding import RATE_HZ, made, tone

from standlight.errors import UnreadableTake
from standlight.workshop.decoding import decode
from standlight.workshop.long_takes import cut_spans, read_long_take


def silence(seconds, channels=1):
    return np.zeros((channels, int(seconds * RATE_HZ)), dtype=np.float32)


def row(channels=1):
    """Three tones of 10 s, 4 s apart, the middle one soft."""
    parts = [silence(2, channels)]
    for level in (0.5, 0.02, 0.5):
        parts += [tone(10.0, channels, level), silence(4, channels)]
    whole = np.concatenate(parts, axis=1)
    noise = np.random.default_rng(3).normal(0, 3e-4, whole.shape).astype(np.float32)
    return whole + noise


@pytest.mark.parametrize(("container", "codec"), [("wav", "pcm_s16le"), ("mp4", "aac")])
def test_three_takes_in_a_row_are_found_and_cut_where_they_were_planted(container, codec):
    long = read_long_take(made(container, codec, row()))
    assert long.seconds == pytest.approx(44.0, abs=0.1)
    starts = [span.start_s + 0.4 for span in long.spans]
    assert starts == pytest.approx([2.0, 16.0, 30.0], abs=0.1)
    assert not any(span.short for span in long.spans)
    pieces = cut_spans(long.copy, [(span.start_s, span.end_s) for span in long.spans])
    lengths = [decode(piece).seconds for piece in pieces]
    assert lengths == pytest.approx([11.0, 11.0, 11.0], abs=0.2)
    middles = [decode(piece).samples[3 * RATE_HZ : 6 * RATE_HZ] for piece in pieces]
    peaks = [np.sqrt(2 * np.mean(middle**2)) for middle in middles]
    assert peaks == pytest.approx([0.5, 0.02, 0.5], rel=0.1)


def test_spans_are_cut_in_the_order_asked_and_may_overlap():
    long = read_long_take(made("wav", "pcm_s16le", row()))
    late, early = cut_spans(long.copy, [(30.5, 31.5), (1.0, 32.0)])
    assert decode(late).seconds == pytest.approx(1.0, abs=1e-3)
    assert decode(early).seconds == pytest.approx(31.0, abs=1e-3)
    inside = decode(early).samples[round(29.5 * RATE_HZ) : round(30.5 * RATE_HZ)]
    assert np.array_equal(inside, decode(late).samples)


def test_the_copy_holds_the_same_sound_as_the_decoder_gives():
    planes = row(channels=2)
    planes[1] = 0.0
    given = made("wav", "pcm_s16le", planes)
    copied, straight = decode(read_long_take(given).copy).samples, decode(given).samples
    assert len(copied) == len(straight)
    assert np.abs(copied - straight).max() < 1e-4


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (b"", "empty"),
        (b"%PDF" + bytes(2000), "PDF"),
        (b"this is only text, nothing else" * 9, "text file"),
        (bytes(range(256)) * 40, "not a recording"),
    ],
)
def test_what_is_no_recording_is_refused_in_words(given, words):
    with pytest.raises(UnreadableTake, match=words):
        read_long_take(given)
