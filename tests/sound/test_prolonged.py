"""A note that goes on beyond its written time is told as that, and no stop or rubato is."""

from fractions import Fraction

import numpy as np
import pytest
from tests.sound.takes import RATE_HZ, room, tone
from tests.sound.test_added import frames_of

from standlight.criteria import CRITERIA
from standlight.music import Note
from standlight.score.values import Passage
from standlight.sound import Recording, perform
from standlight.sound.curves import stops_of
from standlight.sound.prolonged import asked_of, prolonged_of
from standlight.sound.settling import Sounding
from standlight.sound.written import written_line

QUARTER_S, LONG = 0.5, 9
PITCHES = [60, 62, 64, 65, 67, 69, 67, 65, 64, 62, 64, 65, 67, 65, 64, 62, 60, 62, 64, 60]


def part(pitches=PITCHES, marks=()):
    """Quarters of these pitches; note ``LONG`` has the marks."""
    notes = tuple(
        Note(Fraction(i), Fraction(1), midi, i // 4, marks=frozenset(marks if i == LONG else ()))
        for i, midi in enumerate(pitches)
    )
    return Passage("", "horn", "", (), notes, Fraction(len(pitches)))


def played(lengths_s, sounding_s=None, *, pitches=PITCHES, timbre="horn", echo=0.0, again_s=None):
    """A take whose notes take ``lengths_s``, and sound for nearly all of it or ``sounding_s``.

    Note ``LONG`` is played again after ``again_s``.
    """
    rng = np.random.default_rng(17)
    wave = 1e-4 * rng.normal(size=int((sum(lengths_s) + 1.5) * RATE_HZ))
    at_s = 0.4
    for index, (midi, length_s) in enumerate(zip(pitches, lengths_s, strict=True)):
        sounds_s = (sounding_s or {}).get(index, 0.96 * length_s)
        pieces = [(0.0, sounds_s)]
        if again_s is not None and index == LONG:
            first_s = 0.92 * again_s if sounding_s is None else sounds_s
            pieces = [(0.0, first_s), (again_s, length_s - again_s)]
        for later_s, seconds in pieces:
            sound = tone(midi, seconds, timbre, rng)
            wave[int((at_s + later_s) * RATE_HZ) :][: len(sound)] += sound
        at_s += length_s
    if echo:
        wave = room(wave, rng, 1.2, echo)
    return Recording(wave.astype(np.float32), RATE_HZ)


def steady(extra_s=0.0):
    """How long the notes take: a quarter each, note ``LONG`` so much longer."""
    return [QUARTER_S + extra_s * (index == LONG) for index in range(len(PITCHES))]


def told(recording, passage=None):
    return perform(recording, passage or part(), 60.0 / QUARTER_S)


@pytest.mark.parametrize("timbre", ["flute", "clarinet", "horn", "violin"])
@pytest.mark.parametrize("extra_s", [0.25, 0.4, 0.6])
def test_a_note_held_too_long_is_told_and_is_no_stop(timbre, extra_s):
    performance = told(played(steady(extra_s), timbre=timbre))
    assert performance.prolonged == {LONG}
    assert stops_of(performance) == ()
    late_ms = [note.asynchrony_ms for note in performance.notes]
    assert max(abs(ms) for ms in late_ms if ms is not None) < 50.0
    said = {one.name: one for one in CRITERIA["notes"].read(performance)}
    longer = said["held on or played twice"]
    assert longer.value == 1.0
    assert longer.sentence == (
        "One note in measure 3 went on longer than written: held, or played twice."
    )
    assert [one.index for one in CRITERIA["notes"].find(performance)] == [LONG]


@pytest.mark.parametrize("again_s", [0.25, 0.5])
def test_a_note_played_twice_is_told_as_such_or_as_going_on(again_s):
    performance = told(played(steady(again_s), again_s=again_s, echo=0.25))
    added = [sound.onset_s for sound in performance.added]
    starts_s = [0.4 + LONG * QUARTER_S, 0.4 + LONG * QUARTER_S + again_s]
    is_added = any(abs(one - start_s) < 0.1 for one in added for start_s in starts_s)
    assert is_added or performance.prolonged == {LONG}
    assert stops_of(performance) == ()


@pytest.mark.parametrize("gap_s", [0.02, 0.2, 0.4])
def test_two_tones_with_silence_between_them_are_no_held_note(gap_s):
    # as where a wrong note, a wait and the right note have nearly one pitch, told as one note
    lengths_s = steady(QUARTER_S + gap_s)
    recording = played(lengths_s, {LONG: QUARTER_S}, again_s=QUARTER_S + gap_s, echo=0.15)
    found = prolonged_of(soundings(lengths_s), written_line(part()), frames_of(recording.samples))
    assert found == ({LONG} if gap_s < 0.1 else frozenset())


@pytest.mark.parametrize("echo", [0.0, 0.4])
@pytest.mark.parametrize("extra_s", [0.4, 0.8])
def test_a_stop_is_a_stop_also_in_a_room_that_rings_on(extra_s, echo):
    recording = played(steady(extra_s), {LONG: 0.9 * QUARTER_S}, echo=echo)
    performance = told(recording)
    assert performance.prolonged == frozenset()
    assert stops_of(performance) == (LONG + 1,)


def test_steady_playing_slowing_down_and_quickening_hold_no_note():
    slower = [QUARTER_S * 1.12 ** max(index - 13, 0) for index in range(len(PITCHES))]
    quicker = [QUARTER_S * 0.985**index for index in range(len(PITCHES))]
    scattered = QUARTER_S * (1.0 + 0.08 * np.random.default_rng(3).normal(size=len(PITCHES)))
    for lengths_s in (steady(), slower, quicker, list(scattered)):
        assert told(played(lengths_s)).prolonged == frozenset()


@pytest.mark.parametrize("marks", [("fermata",), ("breath_after",)])
def test_under_a_fermata_or_before_a_breath_a_note_may_go_on(marks):
    assert told(played(steady(0.5)), part(marks=marks)).prolonged == frozenset()


def soundings(lengths_s):
    starts_s = np.concatenate([[0.4], 0.4 + np.cumsum(lengths_s)])
    return [
        Sounding(0, index, float(start_s), float(end_s), float(midi))
        for index, (midi, start_s, end_s) in enumerate(
            zip(PITCHES, starts_s[:-1], starts_s[1:], strict=True)
        )
    ]


def test_what_is_asked_about_is_what_takes_longer_than_the_notes_around_it():
    line = written_line(part())
    (one,) = asked_of(soundings(steady(0.3)), line)
    assert (one.place, one.expected_s) == (LONG, pytest.approx(QUARTER_S))
    assert one.excess_s == pytest.approx(0.3)
    # the fewest seconds and the least share of our choice
    assert asked_of(soundings(steady(0.11)), line) == []
    # a neighbour of the same pitch: its start may be the one that was not heard
    equal = [*PITCHES[:LONG], PITCHES[LONG - 1], *PITCHES[LONG + 1 :]]
    assert asked_of(soundings(steady(0.3)), written_line(part(equal))) == []
    # a neighbour that is as slow: the music slows down there
    both = [QUARTER_S + 0.3 * (index in (LONG, LONG + 1)) for index in range(len(PITCHES))]
    assert asked_of(soundings(both), line) == []


@pytest.mark.parametrize(("waits_s", "found"), [(0.0, {LONG}), (0.6, set())])
def test_a_note_whose_start_was_told_in_the_silence_before_it_does_not_go_on(waits_s, found):
    extra_s = 0.6
    lengths_s = steady(extra_s)
    lengths_s[LONG - 1] += waits_s
    lengths_s[LONG] -= waits_s
    wave = played(lengths_s, {LONG - 1: 0.45}).samples
    line = written_line(part())
    assert prolonged_of(soundings(steady(extra_s)), line, frames_of(wave)) == found
