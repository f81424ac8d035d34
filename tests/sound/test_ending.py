"""Where a take ends, against notes and levels whose truth is written down here."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from tests.sound.takes import RATE_HZ, make_take

from standlight.sound import Recording, perform, verdicts_on_performance
from standlight.sound.ending import (
    ending_of,
    is_cut_off,
    is_stopped_early,
    level_under_loud_db,
    seconds_since,
    starts_in_sound,
)
from standlight.sound.values import HeardNote

TAKE = make_take(41, timbre="clarinet", count=12)
HEARD = perform(TAKE.recording, TAKE.passage, TAKE.tempo_qpm)


def performance(outcomes, pitches=None, midi=None):
    """Twelve written notes a second apart: p as written, o another pitch, - not heard.

    ``pitches`` are those heard (joined to the note before), ``midi`` those written.
    """
    written = midi or [60 + i for i in range(len(outcomes))]
    heard = pitches or written
    names = {"p": "played", "o": "other_pitch"}
    notes = tuple(
        HeardNote(i, "missing")
        if outcome == "-"
        else HeardNote(i, names[outcome], float(i), i + 0.98, float(heard[i]))
        for i, outcome in enumerate(outcomes)
    )
    lines = tuple(
        replace(TAKE.passage.notes[0], onset_quarters=Fraction(i), duration_quarters=Fraction(1),
                midi=pitch)
        for i, pitch in enumerate(written)
    )  # fmt: skip
    return replace(
        HEARD, passage=replace(TAKE.passage, notes=lines), notes=notes, seconds=20.0,
        tempo_qpm=60.0,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("outcomes", "first", "weight", "early"),
    [
        ("pppppppppppp", 12, 0, False),
        ("pppppppppp-p", 12, 0, False),  # a note left out is no end
        ("ppppppppppp-", 11, 1, False),  # nor is one note
        ("pppppppp----", 8, 4, True),
        ("pppp-------p", 4, 4, True),  # seven missing and one matched by chance: 7 - 3
        ("pppppp--p---", 9, 3, True),  # but two before a played one do not outweigh it
        ("pppppppppooo", 12, 0, False),  # wrong notes were played
    ],
)
def test_notes_are_weighed_from_the_end(outcomes, first, weight, early):
    ending = ending_of(performance(outcomes))
    assert (ending.first_missing, ending.weight, ending.is_early) == (first, weight, early)
    assert ending.missing == 12 - first


def test_one_held_sound_told_for_several_written_notes_is_no_note_that_was_reached():
    pitches = [60, 61, 62, 63, 64, 65, 66, 69, 69, 69, 69, 69]
    held = performance("pppppppooooo", pitches)
    # the seventh is another pitch of its own, the four behind it the same sound: 4
    assert ending_of(held).first_missing == 8 and ending_of(held).weight == 4
    again = performance("pppppppooooo", pitches, midi=[60, 61, 62, 63, 64, 65, 66] + [70] * 5)
    assert ending_of(again).weight == 0  # one written pitch, repeated, and played a step too low


def test_a_short_passage_ends_early_from_a_quarter_on():
    assert not ending_of(performance("ppppppp--")).is_early  # 2 of 9: less than a quarter
    assert ending_of(performance("pppppp--")).is_early  # 2 of 8: a quarter
    assert ending_of(performance("pppp--")).is_early  # 2 of 6
    assert not ending_of(performance("pp-")).is_early  # one note says nothing


def steps(*seconds_and_db):
    """Levels by frame of 10 ms, in the order given."""
    return np.concatenate([np.full(round(s * 100), float(db)) for s, db in seconds_and_db])


def test_time_since_a_level():
    assert seconds_since(steps((2, 0), (0.3, -30)), -8.0) == pytest.approx(0.3)
    assert seconds_since(steps((2, -30)), -8.0) == pytest.approx(2.0)


def test_the_end_of_the_level_tells_a_cut():
    loud, soft = performance("pppppppp----"), performance("pppppppppppp")
    quiet = (1.0, -35)
    assert is_cut_off(steps(quiet, (8, 0)), loud, 4) and is_cut_off(steps(quiet, (8, 0)), soft, 0)
    # a soft tone at the end, where notes are missing; with all notes it may be the last one's rest
    assert is_cut_off(steps(quiet, (8, 0), (0.2, -13)), loud, 4)
    assert not is_cut_off(steps(quiet, (8, 0), (0.2, -13)), soft, 0)
    assert not is_cut_off(steps(quiet, (8, 0), (1.0, -35)), loud, 4)
    # a noise as loud as that all the time is no tone
    assert not is_cut_off(steps((1.0, -7), (8, 0), (0.2, -7)), soft, 0)
    assert starts_in_sound(steps((8, 0), (1.0, -35)))
    assert not starts_in_sound(steps((1.0, -7), (8, 0)))


def test_a_room_that_a_gain_control_raises_after_the_last_note_is_no_cut():
    whole = performance("pppppppppppp")
    end_s = whole.notes[-1].offset_s
    raised = steps((1.0, -35), (end_s - 1.0, 0), (0.4, -20), (0.3, -3))
    assert not is_cut_off(raised, whole, 0)
    assert is_cut_off(raised, performance("pppppppp----"), 4)  # it may be what is missing
    assert is_cut_off(steps((1.0, -35), (end_s - 1.0, 0), (0.3, -3)), whole, 0)


def test_what_is_missing_may_be_there_under_the_noise():
    ended = performance("pppppppp----")  # four seconds are missing, twelve are left
    end_s = ended.notes[7].offset_s
    for rest_db, seconds, softly in ((-22, 12, True), (-35, 12, False), (-22, 3, False)):
        level = steps((end_s, 0), (seconds, rest_db))
        rest = replace(ended, seconds=end_s + seconds)
        assert is_stopped_early(level, rest, ending_of(rest)) is not softly


def test_two_notes_are_an_early_end_where_silence_follows_for_as_long_as_they_need():
    ended = performance("pppppppppp--")  # two seconds are missing
    end_s = ended.notes[9].offset_s
    assert not ending_of(ended).is_early
    for rest_db, seconds, early in ((-35, 2.5, True), (-35, 1.5, False), (-20, 2.5, False)):
        level = steps((end_s, 0), (seconds, rest_db))
        rest = replace(ended, seconds=end_s + seconds)
        assert is_stopped_early(level, rest, ending_of(rest)) is early
    one = performance("ppppppppppp-")
    level = steps((one.notes[10].offset_s, 0), (5, -35))
    assert not is_stopped_early(level, replace(one, seconds=16.0), ending_of(one))


def test_a_player_who_stops_and_one_who_is_cut_off_are_told_apart():
    note = TAKE.last_played()[7]
    end = int(note.offset_s * RATE_HZ)
    samples = TAKE.recording.samples[:end].copy()
    fade = int(0.05 * RATE_HZ)
    samples[-fade:] *= np.linspace(1, 0, fade, dtype=np.float32)
    hiss = 1e-3 * np.random.default_rng(3).normal(size=end + 2 * RATE_HZ)
    stopped = hiss.astype(np.float32)
    stopped[:end] += samples
    middle = int((note.onset_s + 0.6 * (note.offset_s - note.onset_s)) * RATE_HZ)
    for sound, code in ((stopped, "stopped_early"), (stopped[:middle], "cut_off")):
        take = Recording(sound, RATE_HZ)
        told = perform(take, TAKE.passage, TAKE.tempo_qpm)
        verdicts = verdicts_on_performance(take, told, octave_free=False)
        assert [verdict.code for verdict in verdicts] == [code]
    assert level_under_loud_db(Recording(stopped, RATE_HZ))[-100:].max() < -20
