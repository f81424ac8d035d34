"""The judge counts as a person would on takes small enough to count by hand."""

from __future__ import annotations

import doctest
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from benchmarks.hearing import intervals, odds, phones, table, tones
from benchmarks.hearing.intervals import middle_and_tail, wilson
from benchmarks.hearing.judging import judge
from benchmarks.hearing.lines import Line
from benchmarks.hearing.takes import MadeTake, TrueAdded, TrueNote, Truth
from benchmarks.hearing.timbres import BY_KEY
from scipy.stats import binomtest

from standlight.listening import METHOD, Added, ListeningReport, NoteReading, Restart
from standlight.music import Note
from standlight.score.values import Passage

MIDIS = (60, 62, 64, 65, 67, 69)


def passage():
    notes = tuple(Note(Fraction(i), Fraction(1), midi, i // 4) for i, midi in enumerate(MIDIS))
    return Passage("", "Flute", "", (), notes, Fraction(6))


def true(index, outcome="played", off=0.0):
    if outcome == "missing":
        return TrueNote(index, outcome)
    return TrueNote(index, outcome, index + 0.5, index + 1.3, MIDIS[index] + off, 100 * off)


def told(index, outcome="played", late_s=0.0, midi=None, cents=None, se=None):
    at = None if outcome == "missing" else index + 0.5 + late_s
    heard = None if outcome == "missing" else midi or MIDIS[index]
    end = None if at is None else at + 0.7
    return NoteReading(index, outcome, at, end, heard, cents, se, None, 0.9)


def take(notes, added=(), restarts=()):
    truth = Truth(tuple(notes), tuple(added), tuple(restarts), (), 5.0, 0.01)
    line = Line(passage(), BY_KEY["flute"], 60.0, "made")
    return MadeTake("t", line, truth, b"", np.zeros(1), "computer", "hall", 30.0, "additive", False)


def report(notes, added=(), restarts=()):
    return ListeningReport(
        METHOD, 8.0, 0.5, tuning_cents=7.0, notes=tuple(notes), added=tuple(added),
        restarts=tuple(restarts),
    )  # fmt: skip


def test_outcomes_are_confused_note_by_note():
    truth = [true(0), true(1, "other", 1.0), true(2, "missing"), true(3, "octave", 12.0), true(4),
             true(5)]  # fmt: skip
    said = [
        told(0, cents=3.0, se=1.0),
        told(1, "other_pitch", midi=63.1),
        told(2, "missing"),
        told(3, "other_pitch", midi=77.2),
        told(4, "missing"),
        told(5, "other_pitch", midi=70.0),
    ]
    counts = judge(take(truth), report(said)).counts
    assert (counts["other_true"], counts["other_told"], counts["other_hit"]) == (1, 2, 1)
    assert (counts["missing_true"], counts["missing_told"], counts["missing_hit"]) == (1, 2, 1)
    assert (counts["octave_true"], counts["octave_told"], counts["octave_hit"]) == (1, 1, 1)
    assert (counts["wrong_true"], counts["wrong_told"], counts["wrong_hit"]) == (3, 5, 3)


def test_a_note_played_twice_is_told_as_added_or_as_going_on_and_a_held_one_is_none():
    # notes 1, 3 and 4 are played twice, the second time half a second later
    twice = [TrueAdded(i + 0.5, i + 0.9, MIDIS[i], "added_twice", i + 1.0) for i in (1, 3, 4)]
    slip = TrueAdded(0.9, 1.0, 61.0, "added_slip", None)
    said = replace(
        report([told(i) for i in range(6)], added=[Added(4.0, 4.4, 65.0)]), prolonged=(1, 5)
    )
    counts = judge(take([true(i) for i in range(6)], added=[*twice, slip]), said).counts
    assert counts["twice_somehow"] == 2  # 1 goes on, 3 is added; 4 is not told
    assert (counts["longer_told"], counts["longer_hit"]) == (2, 1)
    assert (counts["added_twice_true"], counts["added_twice_hit"]) == (3, 1)


def test_a_note_played_twice_may_be_told_where_it_was_played_first():
    # notes 1 and 3 are played half a second earlier too; 1 and 2 are told half a second early
    twice = [TrueAdded(i, i + 0.4, MIDIS[i], "added_twice", i + 0.5) for i in (1, 3)]
    said = [told(i, late_s=-0.5 * (i in (1, 2))) for i in range(6)]
    counts = judge(take([true(i) for i in range(6)], twice), report(said)).counts
    assert (counts["within"], counts["at_first_start"]) == (4, 1)
    # both starts lie near what is told of note 3: it is counted once
    near = [*twice[:1], TrueAdded(3.45, 3.48, MIDIS[3], "added_twice", 3.5)]
    counts = judge(take([true(i) for i in range(6)], near), report(said)).counts
    assert (counts["within"], counts["at_first_start"]) == (4, 1)


def test_a_note_called_missing_is_not_within_50_ms_and_late_is_positive():
    said = [told(0, late_s=0.030), told(1, late_s=-0.049), told(2, late_s=0.060),
            told(3, "missing"), told(4), told(5)]  # fmt: skip
    judged = judge(take([true(i) for i in range(6)]), report(said))
    assert judged.counts["within"] == 4
    assert judged.counts["sounded"] == 6
    assert judged.onset_ms[:3] == pytest.approx([30.0, -49.0, 60.0])


def test_what_was_told_is_kept_with_its_probability_and_whether_it_is_so():
    truth = [true(0), true(1, "missing"), *(true(i) for i in range(2, 6))]
    said = [told(0), told(1), told(2, "missing"), *(told(i) for i in range(3, 6))]
    believed = judge(take(truth), report(said)).believed
    assert believed[:3] == [("played", 0.9, True), ("played", 0.9, False), ("missing", 0.9, False)]
    assert believed[3:] == [("played", 0.9, True)] * 3
    assert judge(take(truth), report([])).believed == []


def test_cents_are_told_less_true_and_tuning_too():
    said = [told(0, cents=3.0, se=1.0), *(told(i, cents=0.0, se=2.0) for i in range(1, 6))]
    judged = judge(take([true(0, off=0.05), *(true(i) for i in range(1, 6))]), report(said))
    assert judged.cents[0] == pytest.approx((-2.0, 0.8, 1.0))
    assert judged.tuning_cents == pytest.approx(2.0)


def test_added_sounds_and_restarts_match_one_to_one():
    extra = [TrueAdded(2.3, 2.5, 66.0, "added_time", None),
             TrueAdded(4.1, 4.5, 67.0, "added_twice", 4.5)]  # fmt: skip
    said = report(
        [told(i) for i in range(6)],
        added=[Added(4.52, 4.8, 67.0), Added(5.9, 6.0, 60.0)],
        restarts=[Restart(3.0, 3), Restart(5.0, 0)],
    )
    counts = judge(take([true(i) for i in range(6)], extra, [(3.2, 2), (5.0, 4)]), said).counts
    assert (counts["added_true"], counts["added_told"], counts["added_hit"]) == (2, 2, 1)
    assert (counts["restart_true"], counts["restart_told"], counts["restart_hit"]) == (2, 2, 1)


def test_a_refused_take_finds_nothing():
    judged = judge(take([true(0), true(1, "missing"), *(true(i) for i in range(2, 6))]), report([]))
    assert judged.refused
    assert judged.counts["within"] == 0
    assert judged.counts["sounded"] == 5
    assert judged.counts["missing_hit"] == 0


@pytest.mark.parametrize(("hits", "of"), [(0, 20), (7, 9), (195, 200), (200, 200)])
def test_wilson_agrees_with_scipy(hits, of):
    theirs = binomtest(hits, of).proportion_ci(0.95, method="wilson")
    assert wilson(hits, of) == pytest.approx((theirs.low, theirs.high), abs=1e-6)


def test_the_interval_of_the_median_covers_it():
    """The order-statistic interval covers the true median about 95 times in 100."""
    rng, covered = np.random.default_rng(5), 0
    for _ in range(300):
        words = middle_and_tail(np.abs(rng.normal(0, 10, 60)), "ms")
        low, high = (float(w) for w in words.split("(")[1].split(")")[0].split(" to "))
        covered += low <= 6.745 <= high  # the quartile of the normal distribution
    assert 0.90 < covered / 300 <= 1.0


@pytest.mark.parametrize(
    "module", [intervals, odds, phones, table, tones], ids=lambda m: m.__name__
)
def test_examples_in_the_benchmark_run(module):
    tried = doctest.testmod(module)
    assert tried.attempted > 0
    assert tried.failed == 0
