"""Whoever holds a note over a breath and goes on at its pitch has not started again."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from standlight.music import Note, hz_of_midi
from standlight.score.values import Passage
from standlight.sound import perform
from standlight.sound.evidence import Evidence
from standlight.sound.following import OTHER, WRITTEN, Path, Segment
from standlight.sound.plainer import without_held_attempts, without_tails
from standlight.sound.values import HOP_S, Recording

RATE_HZ, QUARTER_S, MARKED_QPM = 24_000, 0.79, 116.0
BREATH_S = 0.85
PITCHES = (59, 59, 59, 58, 58, 56, 56, 54, 54, 52, 52, 51, 51, 49, 47, 46)
QUARTERS = (10, 1.5, 0.5, 1, 1, 1, 1.5, 0.5, 1, 1, 1, 1, 1, 1, 1, 2)


def part(fermata):
    """A line that begins with a note tied over two measures, and goes on at its pitch."""
    notes, at = [], Fraction(0)
    for midi, quarters in zip(PITCHES, QUARTERS, strict=True):
        marks = frozenset({"fermata"} if fermata and not notes else ())
        notes.append(Note(at, Fraction(quarters), measure=int(at) // 4, midi=midi, marks=marks))
        at += Fraction(quarters)
    return Passage("", "low_voice", "", (), tuple(notes), at)


def sung(order, breath_after, first_s):
    """The notes of ``order`` sung slowly with some vibrato, the first one for ``first_s``."""
    rng = np.random.default_rng(2)
    quiet = np.zeros(RATE_HZ // 2)
    wave, starts = [quiet], []
    for place, index in enumerate(order):
        seconds = first_s if place == 0 else QUARTERS[index] * QUARTER_S
        starts.append(sum(map(len, wave)) / RATE_HZ)
        time_s = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
        swing = 0.25 * np.sin(2 * np.pi * 5.5 * time_s) * np.clip((time_s - 0.2) / 0.3, 0, 1)
        hz = hz_of_midi(PITCHES[index]) * 2.0 ** (swing / 12.0)
        phase = 2 * np.pi * np.cumsum(hz) / RATE_HZ
        shape = np.clip(time_s / 0.06, 0, 1) * np.clip((seconds - 0.04 - time_s) / 0.06, 0, 1)
        weights = (1.0, 0.6, 0.5, 0.3, 0.2, 0.1)
        tone = sum(w * np.sin(k * phase + rng.random()) for k, w in enumerate(weights, 1))
        wave.append(0.08 * tone * shape * (1.0 + 0.15 * np.sin(2 * np.pi * 0.18 * time_s)))
        if place == breath_after:
            wave.append(np.zeros(int(BREATH_S * RATE_HZ)))
    whole = np.concatenate([*wave, quiet])
    whole = whole + 3e-4 * rng.normal(size=len(whole))
    return Recording(whole.astype(np.float32), RATE_HZ), starts


@pytest.mark.parametrize("fermata", [True, False])
@pytest.mark.parametrize("first_s", [9.0, 10.9, 12.0])
def test_a_long_first_note_before_a_breath_is_held_and_nothing_else(first_s, fermata):
    recording, starts = sung(range(len(PITCHES)), 0, first_s)
    performance = perform(recording, part(fermata), MARKED_QPM, sung=True)
    assert performance.restarts == ()
    assert [note.outcome for note in performance.notes] == ["played"] * len(PITCHES)
    # a note begins when it is halfway up its rise of 60 ms
    begun = [note.onset_s for note in performance.notes]
    assert np.abs(np.subtract(begun, starts)).max() < 0.06


def test_who_sings_the_next_notes_and_goes_back_to_them_has_started_again():
    recording, starts = sung([0, 1, 2, 1, *range(2, len(PITCHES))], 2, 7.9)
    performance = perform(recording, part(True), MARKED_QPM, sung=True)
    (restart,) = performance.restarts
    assert restart.to_index == 1
    assert restart.onset_s == pytest.approx(starts[3], abs=0.06)


def course(*segments, jumps=((9.0, 1),)):
    return Path(tuple(Segment(*one) for one in segments), jumps, 1.0, 0.5)


def evidence(*starts_s):
    """Pitches that begin again at these times, and nowhere else."""
    again = np.full(1200, -8.0)
    again[[round(at_s / HOP_S) for at_s in starts_s]] = 1.0
    quiet = np.zeros(1200)
    return Evidence(quiet, quiet, quiet, again)


AFTER = ((WRITTEN, 1, 9.0, 10.0), (WRITTEN, 2, 10.0, 10.4))


class Written:
    """As much of a line as is asked for."""

    midi = np.array([59.0, 59.0, 59.0, 58.0])

    def __len__(self):
        return len(self.midi)


@pytest.mark.parametrize(
    ("before", "starts_s", "left"),
    [
        # the attempt never begins: the first note is held until the jump
        (((WRITTEN, 0, 0.5, 4.0), (WRITTEN, 1, 4.0, 5.0), (WRITTEN, 2, 5.0, 9.0)), (0.5, 9.0),
         (WRITTEN, 0, 0.5, 9.0)),
        # the first note was left out: the attempt is that note
        (((WRITTEN, 1, 0.5, 2.0), (WRITTEN, 2, 2.0, 9.0)), (0.5, 9.0), (WRITTEN, 0, 0.5, 9.0)),
        # one of its notes begins: an attempt
        (((WRITTEN, 0, 0.5, 4.0), (WRITTEN, 1, 4.0, 5.0), (WRITTEN, 2, 5.0, 9.0)), (0.5, 5.0),
         None),
        # another pitch was played in it
        (((WRITTEN, 0, 0.5, 4.0), (WRITTEN, 1, 4.0, 5.0), (OTHER, 2, 5.0, 9.0)), (0.5,), None),
        (((WRITTEN, 0, 0.5, 4.0), (WRITTEN, 2, 4.0, 5.0), (WRITTEN, 3, 5.0, 9.0)), (0.5,), None),
        # silence lies before it
        (((WRITTEN, 0, 0.5, 3.0), (WRITTEN, 1, 4.0, 5.0), (WRITTEN, 2, 5.0, 9.0)), (0.5,), None),
    ],
)  # fmt: skip
def test_an_attempt_that_never_begins_is_the_note_before_it(before, starts_s, left):
    path = course(*before, *AFTER)
    told = without_held_attempts(path, Written(), evidence(*starts_s))
    if left is None:
        assert told == path
    else:
        assert told == course(left, *AFTER, jumps=())


def test_a_return_to_the_very_beginning_stays():
    path = course((WRITTEN, 0, 0.5, 9.0), (WRITTEN, 0, 9.0, 10.0), jumps=((9.0, 0),))
    assert without_held_attempts(path, Written(), evidence(0.5)) == path


BEFORE_JUMP = ((WRITTEN, 1, 3.0, 5.0), (WRITTEN, 2, 5.0, 9.0))
"""The last one is a 59, as notes 0 and 1 are."""


@pytest.mark.parametrize(
    ("after", "starts_s", "is_tail"),
    [
        (((WRITTEN, 2, 9.0, 9.4), (WRITTEN, 3, 9.4, 10.0)), (5.0, 9.4), True),
        # it begins: that note it was
        (((WRITTEN, 2, 9.0, 9.4), (WRITTEN, 3, 9.4, 10.0)), (5.0, 9.0, 9.4), False),
        # a silence lies between
        (((WRITTEN, 2, 9.2, 9.4), (WRITTEN, 3, 9.4, 10.0)), (5.0, 9.4), False),
        # another pitch was played
        (((OTHER, 2, 9.0, 9.4), (WRITTEN, 3, 9.4, 10.0)), (5.0, 9.4), False),
        # the next note has that pitch too: which of them it was, nobody can tell
        (((WRITTEN, 1, 9.0, 9.4), (WRITTEN, 2, 9.4, 10.0)), (5.0, 9.4), False),
        # what comes next is not the next note
        (((WRITTEN, 1, 9.0, 9.4), (WRITTEN, 3, 9.4, 10.0)), (5.0, 9.4), False),
    ],
)
def test_the_tail_of_the_last_note_is_none_to_go_on_from(after, starts_s, is_tail):
    path = course(*BEFORE_JUMP, *after, jumps=((after[0][2], after[0][1]),))
    told = without_tails(path, Written(), evidence(*starts_s))
    sounds_on = replace(evidence(*starts_s), weight=np.ones(1200))
    assert without_tails(path, Written(), sounds_on) == path  # no tail: it began unheard
    if is_tail:
        held = (WRITTEN, 2, 5.0, 9.4)
        assert told == course(BEFORE_JUMP[0], held, after[1], jumps=((9.4, 3),))
    else:
        assert told == path
