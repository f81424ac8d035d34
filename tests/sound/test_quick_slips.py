"""A quick sound of another pitch that the follower gave to a note beside it: tones by formula."""

import numpy as np
import pytest
from tests.sound import hearing
from tests.sound.melody import HARMONICS, RATE_HZ

from standlight.music import hz_of_midi
from standlight.sound.following import ADDED, WRITTEN
from standlight.sound.quick_slips import with_quick_slips
from standlight.sound.settling import Sounding

FIRST_S, SLIP_S, SLIP_END_S, END_S = 0.5, 1.2, 1.32, 1.9
BEFORE, AFTER, EDGE_S = 67.0, 71.0, 0.01


def tone(midi, seconds, glide=0.0, slide_s=None):
    """A tone with soft edges; for ``slide_s`` it comes from ``glide`` semitones off."""
    time_s = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    shape = np.clip(np.minimum(time_s, seconds - time_s) / EDGE_S, 0.0, 1.0)
    off = glide * np.clip(1.0 - time_s / (slide_s or seconds), 0.0, 1.0)
    phase = 2.0 * np.pi * np.cumsum(float(hz_of_midi(midi)) * 2.0 ** (off / 12.0)) / RATE_HZ
    return shape * sum(a * np.sin(k * phase) for k, a in HARMONICS.items())


def frames_of(between):
    """The listener's frames of two notes with ``between`` from `SLIP_S` on, in a little noise.

    What is longer than a slip is the second note too.
    """
    wave = np.random.default_rng(5).normal(0.0, 1e-3, int(2.4 * RATE_HZ))
    sounds = [(FIRST_S, tone(BEFORE, SLIP_S - FIRST_S)), (SLIP_S, between)]
    if len(between) <= (SLIP_END_S - SLIP_S) * RATE_HZ:
        sounds.append((SLIP_END_S, tone(AFTER, END_S - SLIP_END_S)))
    for begin_s, sound in sounds:
        wave[int(begin_s * RATE_HZ) :][: len(sound)] += 0.1 * sound
    return hearing.frames_of(wave, RATE_HZ, (60.0, 79.0), 7.0)


def given_to(note, frames):
    """What becomes of two notes of which ``note`` (0 or 1) was told to hold what is between."""
    bound_s = SLIP_END_S if note == 0 else SLIP_S
    return with_quick_slips(
        (
            Sounding(WRITTEN, 0, FIRST_S, bound_s, BEFORE),
            Sounding(WRITTEN, 1, bound_s, END_S, AFTER),
        ),
        frames,
    )


@pytest.mark.parametrize(
    ("note", "midi"),
    [(0, 62.0), (0, 64.0), (0, 69.0), (0, 70.0), (0, 72.0), (0, 75.0),
     (1, 62.0), (1, 64.0), (1, 69.0), (1, 73.0), (1, 75.0)],
)  # fmt: skip
def test_a_quick_slip_is_told_whichever_note_it_was_given_to(note, midi):
    before, slip, after = given_to(note, frames_of(tone(midi, SLIP_END_S - SLIP_S)))
    assert (before.kind, slip.kind, after.kind) == (WRITTEN, ADDED, WRITTEN)
    assert (before.index, after.index) == (0, 1)
    assert slip.midi == pytest.approx(midi, abs=0.1)
    assert slip.onset_s == pytest.approx(SLIP_S, abs=0.05)
    assert slip.until_s == pytest.approx(SLIP_END_S, abs=0.05)
    assert before.until_s == slip.onset_s and slip.until_s == after.onset_s
    assert (before.onset_s, after.until_s) == (FIRST_S, END_S)


@pytest.mark.parametrize("note", [0, 1])
@pytest.mark.parametrize(
    "between",
    [
        tone(BEFORE, SLIP_END_S - SLIP_S),
        tone(AFTER, SLIP_END_S - SLIP_S),
        tone(BEFORE + 12.0, SLIP_END_S - SLIP_S),
        0.03 * tone(64.0, SLIP_END_S - SLIP_S),
        tone(AFTER, END_S - SLIP_S, glide=-2.0, slide_s=SLIP_END_S - SLIP_S),
        tone(AFTER, END_S - SLIP_S, glide=1.5, slide_s=SLIP_END_S - SLIP_S),
        tone(AFTER, END_S - SLIP_S, glide=-1.0, slide_s=SLIP_END_S - SLIP_S),
        np.random.default_rng(9).normal(0.0, 0.3, int(0.1 * RATE_HZ)),
        np.zeros(10),
    ],
    ids=["before", "after", "octave", "30 dB softer", "scoop", "from above", "short way",
         "noise", "silence"],  # fmt: skip
)
def test_what_is_no_steady_tone_of_its_own_pitch_is_no_slip(between, note):
    assert [one.kind for one in given_to(note, frames_of(between))] == [WRITTEN, WRITTEN]


@pytest.mark.parametrize("apart", [-1.5, -1.0, 1.0, 1.5])
def test_a_first_moment_near_its_note_is_an_attack_and_a_last_one_a_slip(apart):
    # real alto saxophones and tubas begin so
    first = given_to(1, frames_of(tone(AFTER + apart, SLIP_END_S - SLIP_S)))
    last = given_to(0, frames_of(tone(BEFORE + apart, SLIP_END_S - SLIP_S)))
    assert [one.kind for one in first] == [WRITTEN, WRITTEN]
    assert [one.kind for one in last] == [WRITTEN, ADDED, WRITTEN]


@pytest.mark.parametrize("overtone", [12.0, 19.02])
def test_a_slip_tracked_an_octave_or_a_twelfth_low_is_told_at_its_pitch(overtone):
    frames = frames_of(tone(69.0, SLIP_END_S - SLIP_S))
    inside = frames.span(SLIP_S + 0.02, SLIP_END_S - 0.02)
    frames.midi[inside], frames.weight[inside] = 69.0 - overtone, 1.0
    _, slip, _ = given_to(1, frames)
    assert slip.kind == ADDED and slip.midi == pytest.approx(69.0, abs=0.1)


def test_a_quick_wrong_note_is_no_slip_beside_itself():
    frames = frames_of(tone(64.0, SLIP_END_S - SLIP_S))
    settled = (
        Sounding(WRITTEN, 0, FIRST_S, SLIP_S, BEFORE),
        Sounding(WRITTEN, 1, SLIP_S, SLIP_END_S + 0.08, 65.0),
        Sounding(WRITTEN, 2, SLIP_END_S + 0.08, END_S, AFTER),
    )
    assert with_quick_slips(settled, frames) == settled
