"""Far entries are told where their start can be seen: made takes of uneven players, and by hand."""

from dataclasses import replace
from fractions import Fraction
from types import SimpleNamespace

import numpy as np
import pytest
from tests.sound.takes import TIMBRES, make_take

from standlight.music import Note
from standlight.score.values import Passage
from standlight.sound import entries, perform, performing
from standlight.sound.values import HOP_S, HeardNote

WRONG_S = 0.035


def note(apart_ms, onset_s=0.5):
    return HeardNote(0, "played", onset_s, 1.0, asynchrony_ms=apart_ms, probability=0.99)


def frames(onset, again):
    """A second of frames, nothing to be seen but at half a second."""
    seen = SimpleNamespace(onset=np.zeros(100), again=np.full(100, -9.0))
    seen.onset[50], seen.again[50] = onset, again
    return seen


@pytest.mark.parametrize(
    ("apart_ms", "onset", "again", "is_told"),
    [
        (90.0, 0.9, 4.0, True),
        (-90.0, 0.9, 4.0, True),
        (90.0, 0.0, -9.0, False),
        (-90.0, 0.0, -9.0, False),
        (49.0, 0.0, -9.0, True),  # near the beat nobody is accused of anything
    ],
)
def test_what_is_far_off_is_told_where_its_start_can_be_seen(apart_ms, onset, again, is_told):
    told = entries.without_guessed_entries([note(apart_ms)], frames(onset, again))[0]
    assert told == note(apart_ms if is_told else None)


def test_a_start_is_looked_for_within_three_frames_also_at_the_edges():
    seen = frames(0.9, 4.0)
    assert entries.entry_signs(note(90.0, 0.5 + 3 * HOP_S), seen)[1:3] == (4.0, 0.9)
    assert entries.entry_signs(note(90.0, 0.5 + 4 * HOP_S), seen)[1:3] == (-9.0, 0.0)
    for onset_s in (0.0, 1.0):
        assert entries.entry_signs(note(90.0, onset_s), seen)[1:3] == (-9.0, 0.0)
    assert entries.entry_signs(note(90.0, 5.0), seen)[1:3] == (-entries.MOST_AGAIN, 0.0)


def test_who_has_no_asynchrony_and_who_was_not_heard_stay_as_they_are():
    unread = [note(None), HeardNote(1, "missing", probability=0.9)]
    assert entries.without_guessed_entries(unread, frames(0.0, -9.0)) == unread


def repeated(timbre):
    """Forty-eight eighths, four on each pitch: most starts repeat a pitch."""
    low = TIMBRES[timbre][2][0]
    pitches = [low + step for step in (5, 7, 9, 4)]
    half = Fraction(1, 2)
    notes = [
        Note(half * i, half, measure=i // 8, midi=pitches[i // 4 % 4]) for i in range(48)
    ]
    return Passage("", timbre, "", (), tuple(notes), half * 48)


def far_entries(passage_of):
    """Was each far entry of one uneven take of every timbre where it was heard, and is it told?

    The takes are slurred, noisy and in a long room, so that starts are hard to see.
    """
    found, kept = [], performing.without_guessed_entries
    for seed, timbre in enumerate(TIMBRES):
        take = make_take(
            900 + seed, timbre=timbre, count=48, spread_ms=60.0, gap_share=0.0, echo=0.9,
            snr_db=15.0, passage=passage_of(timbre),
        )  # fmt: skip
        true = {index: one.onset_s for index, one in take.last_played().items()}

        def look(notes, seen, true=true):
            told = kept(notes, seen)
            for before, after in zip(notes, told, strict=True):
                far = before.asynchrony_ms is not None and abs(before.asynchrony_ms) > 50.0
                if far:
                    right = abs(before.onset_s - true[before.index]) < WRONG_S
                    found.append((right, after.asynchrony_ms is not None))
            return told

        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(performing, "without_guessed_entries", look)
            perform(take.recording, take.passage, take.tempo_qpm)
    return np.array(found).T


def test_of_repeated_notes_what_is_told_is_so():
    right, told = far_entries(repeated)
    assert len(right) > 80 and right.mean() < 0.9  # without it more than one in ten is not so
    assert right[told].mean() > 0.93
    assert told[right].mean() > 0.55


def test_of_a_tune_nearly_all_that_is_so_is_told():
    right, told = far_entries(lambda timbre: None)
    assert len(right) > 60
    assert right[told].mean() > 0.93
    assert told[right].mean() > 0.85


def clear_frames(onsets_s):
    """Frames in which a start can be seen at every one of ``onsets_s`` and nowhere else."""
    count = round(onsets_s[-1] / HOP_S) + 20
    seen = SimpleNamespace(onset=np.zeros(count), again=np.full(count, -9.0))
    places = np.round(onsets_s / HOP_S).astype(int)
    seen.onset[places], seen.again[places] = 0.9, 4.0
    return seen


def line_of(quarters, late_place, late_ms, told_ms):
    """Notes at 100 quarters a minute, one of them late, told so far off; and its frames."""
    onsets_s = 1.0 + 0.6 * quarters
    onsets_s[late_place] += late_ms / 1000.0
    notes = [
        HeardNote(i, "played", at_s, at_s + 0.2, asynchrony_ms=0.0, probability=0.99)
        for i, at_s in enumerate(onsets_s)
    ]
    notes[late_place] = replace(notes[late_place], asynchrony_ms=told_ms)
    return notes, clear_frames(onsets_s)


QUICK, SLOW = np.arange(16.0), 4.0 * np.arange(4.0)


@pytest.mark.parametrize(
    ("quarters", "place", "late_ms", "told_ms", "is_told"),
    [
        (QUICK, 8, 120.0, 120.0, True),
        (QUICK, 8, -120.0, -120.0, True),
        (SLOW, 3, 120.0, 120.0, False),  # a bent beat looks alike
        (QUICK, 8, 0.0, 120.0, False),  # by the smooth curve alone
        (QUICK, 8, 120.0, -120.0, False),  # to the other side
        (SLOW, 3, 60.0, 60.0, True),  # not worth words to a family of 70 ms
    ],
)
def test_what_is_worth_words_is_told_where_the_notes_around_surely_say_so(
    quarters, place, late_ms, told_ms, is_told
):
    notes, seen = line_of(quarters, place, late_ms, told_ms)
    breaks = [True] + [False] * (len(notes) - 1)
    told = entries.without_unsure_entries(notes, seen, quarters, breaks, 70.0)
    assert told[place] == (notes[place] if is_told else replace(notes[place], asynchrony_ms=None))
    assert [one for one in told if one.index != place] == [
        one for one in notes if one.index != place
    ]


def test_a_note_that_was_not_heard_leaves_the_others_in_their_places():
    notes, seen = line_of(QUICK, 8, 120.0, 120.0)
    with_gap = [*notes[:4], HeardNote(4, "missing", probability=0.9), *notes[5:]]
    quarters = np.delete(QUICK, 4)
    breaks = [place in (0, 4) for place in range(len(quarters))]
    told = entries.without_unsure_entries(with_gap, seen, quarters, breaks, 50.0)
    assert told == with_gap


@pytest.mark.parametrize(("sure", "tolerance_ms", "some"), [(1.1, 50.0, 0), (0.0, 1000.0, 1)])
def test_a_take_is_asked_whether_its_entries_are_surely_off(monkeypatch, sure, tolerance_ms, some):
    monkeypatch.setattr(entries, "SURE_PROBABILITY", sure)
    take = make_take(905, timbre="clarinet", count=32, spread_ms=60.0)
    performance = perform(
        take.recording, take.passage, take.tempo_qpm, onset_tolerance_ms=tolerance_ms
    )
    assert performance.onset_tolerance_ms == tolerance_ms
    far = [
        note
        for note in performance.notes
        if note.asynchrony_ms is not None and abs(note.asynchrony_ms) >= 50.0
    ]
    assert bool(far) == bool(some)
