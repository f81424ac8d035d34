"""A note begins with its sound: a boundary that the follower set in a silence is moved to it.

Two tones a fifth apart by formula, a second of silence between them.
"""

from fractions import Fraction

import numpy as np
import pytest

from standlight.music import Note, hz_of_midi
from standlight.score.values import Passage
from standlight.sound import Recording
from standlight.sound.following import ADDED, WRITTEN, Path, Segment
from standlight.sound.pitch import pitch_candidates, pitch_path
from standlight.sound.settling import settle
from standlight.sound.written import written_line

RATE_HZ = 44_100
FIRST, SECOND = 62, 69


def line():
    notes = tuple(
        Note(Fraction(place), Fraction(1), measure=0, midi=midi)
        for place, midi in enumerate((FIRST, SECOND))
    )
    return written_line(Passage("", "Flute", "", (), notes, Fraction(2)))


def settled(sounds, boundary_s, added_until_s=None):
    """Onsets of two notes whose boundary the follower set at ``boundary_s``, of what ``sounds``.

    With ``added_until_s`` a sound that nobody wrote lies from the boundary until there.
    """
    rng = np.random.default_rng(3)
    samples = 1e-4 * rng.normal(size=int(3.2 * RATE_HZ))
    for midi, start_s, end_s in sounds:
        span = slice(int(start_s * RATE_HZ), int(end_s * RATE_HZ))
        seconds = np.arange(span.stop - span.start) / RATE_HZ
        edges = np.minimum(1.0, np.minimum(seconds, seconds[::-1]) / 0.02)
        turn = 2.0 * np.pi * float(hz_of_midi(midi)) * seconds
        samples[span] += 0.2 * edges * (np.sin(turn) + 0.5 * np.sin(2 * turn))
    recording = Recording(samples.astype(np.float32), RATE_HZ)
    track = pitch_path(pitch_candidates(recording, 50, 81), FIRST, SECOND)
    segments = [Segment(WRITTEN, 0, 0.3, boundary_s)]
    if added_until_s is not None:
        segments.append(Segment(ADDED, 1, boundary_s, added_until_s))
    segments.append(Segment(WRITTEN, 1, segments[-1].end_s, 2.9))
    path = Path(tuple(segments), (), 1.0, 1.0)
    found = settle(path, line(), recording, track, np.zeros(len(track.midi)), 0.0)
    return [one.onset_s for one in found]


@pytest.mark.parametrize("boundary_s", [0.95, 1.05, 1.3, 1.7, 2.0])
def test_a_note_begins_with_its_sound_wherever_in_the_silence_the_boundary_lies(boundary_s):
    onsets = settled([(FIRST, 0.3, 1.0), (SECOND, 2.0, 2.8)], boundary_s)
    assert onsets == pytest.approx([0.3, 2.0], abs=0.02)


def test_a_note_that_falls_silent_and_comes_back_began_before():
    onsets = settled([(FIRST, 0.3, 1.0), (SECOND, 1.0, 1.12), (SECOND, 2.0, 2.8)], 1.0)
    assert onsets == pytest.approx([0.3, 1.0], abs=0.02)


def test_where_something_else_comes_after_the_silence_the_boundary_stays():
    onsets = settled([(FIRST, 0.3, 1.0), (FIRST, 2.0, 2.8)], 1.3)
    assert onsets[1] < 1.3 + 0.17  # as far as the second pass looks


@pytest.mark.parametrize("added", [61, 66])
@pytest.mark.parametrize("boundary_s", [1.0, 1.2, 1.5])
def test_an_added_sound_begins_with_its_sound_too(boundary_s, added):
    """Also a semitone beside the note that dies away at the boundary."""
    sounds = [(FIRST, 0.3, 1.03), (added, 1.8, 2.15), (SECOND, 2.2, 2.8)]
    onsets = settled(sounds, boundary_s, added_until_s=2.2)
    assert onsets == pytest.approx([0.3, 1.8, 2.2], abs=0.02)
