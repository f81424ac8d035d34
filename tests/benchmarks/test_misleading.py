"""What would mislead is counted by the truth: each claim that is not so, and what goes untold."""

from dataclasses import replace

import pytest
from benchmarks.hearing.takes import TrueAdded
from benchmarks.misleading import Slip, places_of, slips_of

from standlight.listening import Added, Restart
from standlight.sound import Verdict
from tests.benchmarks.test_judging import report, take, told, true

ON_TIME = dict.fromkeys(range(6), 0.0)


def kinds(said, truth=None, off_ms=ON_TIME, **happened):
    truth = truth or [true(i) for i in range(6)]
    return [slip.kind for slip in slips_of(take(truth, **happened), said, off_ms)]


def all_told(**instead):
    """Every note told as it was played, but for those named ``n`` and a number."""
    return [instead.get(f"n{i}", told(i)) for i in range(6)]


def test_a_take_told_as_it_was_misleads_nowhere():
    truth = [true(0), true(1, "other", 1.0), true(2, "missing"), true(3, "octave", 12.0), true(4),
             true(5)]  # fmt: skip
    said = report(
        all_told(
            n1=told(1, "other_pitch", midi=63.1),
            n2=told(2, "missing"),
            n3=told(3, "other_pitch", midi=77.0),
        ),
        added=[Added(0.9, 1.1, 70.0)],
        restarts=[Restart(4.6, 4)],
    )
    extra = TrueAdded(0.88, 1.1, 70.1, "added_time", None)
    assert kinds(said, truth, added=[extra], restarts=[(4.5, 4)]) == []


@pytest.mark.parametrize(
    ("instead", "kind"),
    [
        (told(3, "missing"), "right note"),
        (told(3, "other_pitch", midi=67.0), "right note"),
        (replace(told(3, late_s=0.3), asynchrony_ms=0.0), "start"),
        (replace(told(3), asynchrony_ms=80.0), "call"),
    ],
)
def test_a_right_note_told_otherwise_misleads(instead, kind):
    assert kinds(report(all_told(n3=instead))) == [kind]


def test_a_wrong_note_told_as_right_misleads_and_one_between_two_pitches_does_not():
    wrong, between = ([true(i, *(("other", off) if i == 3 else ())) for i in range(6)]
                      for off in (1.0, 0.5))  # fmt: skip
    assert kinds(report(all_told()), wrong) == ["fault"]
    assert kinds(report(all_told(n3=told(3, midi=65.5))), between) == []
    assert kinds(report(all_told(n3=told(3, "other_pitch", midi=77.0))), wrong) == ["fault"]
    assert kinds(report(all_told(n3=told(3, "other_pitch", midi=67.5))), wrong) == ["pitch"]


def test_what_was_added_and_where_the_player_went_back_must_be_told_and_nothing_else():
    extra = TrueAdded(2.9, 3.1, 70.0, "added_slip", None)
    assert kinds(report(all_told()), added=[extra]) == ["added untold"]
    assert kinds(report(all_told(), added=[Added(2.9, 3.1, 58.0)]), added=[extra]) == ["pitch"]
    assert kinds(report(all_told(), added=[Added(2.9, 3.1, 70.0)])) == ["added told"]
    assert kinds(report(all_told()), restarts=[(3.4, 3)]) == ["restart"]
    assert kinds(report(all_told(), restarts=[Restart(3.4, 3)])) == ["restart"]


def test_a_note_played_twice_may_begin_at_either_start_and_may_be_told_as_going_on():
    twice = TrueAdded(3.0, 3.4, 65.0, "added_twice", 3.5)
    early = replace(told(3, late_s=-0.5), asynchrony_ms=0.0)
    assert kinds(replace(report(all_told(n3=early)), prolonged=(3,)), added=[twice]) == []
    assert kinds(report(all_told(n3=early)), added=[twice]) == ["added untold"]


def test_an_entry_that_was_late_is_rightly_called():
    said = report(all_told(n3=replace(told(3), asynchrony_ms=80.0)))
    assert kinds(said, off_ms=ON_TIME | {3: 60.0}) == []
    assert kinds(said, off_ms=ON_TIME | {3: -60.0}) == ["call"]


def test_a_refusal_misleads_once_and_words_about_the_phone_do_not():
    def with_code(said, code):
        return replace(said, verdicts=(Verdict(code, "Words."),))

    assert kinds(with_code(report([]), "other_piece")) == ["verdict"]
    assert kinds(with_code(report(all_told()), "processed")) == []


def test_what_lies_close_together_is_one_place():
    slips = [Slip(at_s, "start", "") for at_s in (1.0, 1.4, 1.8, 2.6)]
    assert [len(place) for place in places_of(slips)] == [3, 1]
