"""The marking policy, held to vectors from outside and to its own stated rules."""

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standlight.ratings.marking import (
    EXCUSED,
    MISSING,
    NOT_ASKED,
    PLAIN_POLICY,
    RATED,
    WAITING,
    MarkPolicy,
    Work,
    mark,
)

# tests/authorities/ratings/grade_policies.json: closed form, computed by hand; the policy
# "mean" and, for work that is not there, "exclude" and "min_evidence4".
VECTORS = json.loads(
    (Path(__file__).parents[1] / "authorities/ratings/grade_policies.json").read_text()
)
STATES = {"scored": RATED, "missing": MISSING, "exempt": EXCUSED, "pending": WAITING}


def works_of(items):
    return [
        Work(f"Check {n}", STATES[item["status"]],
             {"rhythm": str(item["points"])} if item["points"] is not None else {})
        for n, item in enumerate(items)
    ]


def test_the_mark_is_the_mean_of_the_vectors_file():
    works = [Work(f"Check {n}", RATED, {"rhythm": str(points)})
             for n, points in enumerate(VECTORS["points"])]
    assert mark(works).value == pytest.approx(VECTORS["mean"])


def test_missing_exempt_and_pending_work_is_left_out_as_in_the_vectors_file_and_never_zero():
    found = mark(works_of(VECTORS["missing"]["items"]))
    assert found.value == pytest.approx(VECTORS["missing"]["exclude"])
    assert found.value != VECTORS["missing"]["zero"]
    assert found.value != VECTORS["missing"]["floor1"]


def test_below_the_fewest_levels_there_is_no_mark_but_a_reason_as_in_the_vectors_file():
    policy = MarkPolicy(fewest_levels=4, steps=PLAIN_POLICY.steps)
    found = mark(works_of(VECTORS["missing"]["items"]), policy)
    assert found.value is VECTORS["missing"]["min_evidence4"] is None
    assert found.because[0] == "No mark: 3 levels, and a mark needs at least 4."


def test_each_state_of_work_that_is_left_out_is_named_in_words():
    works = [
        Work("March", RATED, {"notes": "2", "rhythm": "3", "tone": "not_heard", "pulse": "2"}),
        Work("Waltz", MISSING), Work("Tune", EXCUSED), Work("Song", WAITING),
        Work("Hymn", NOT_ASKED),
    ]
    assert mark(works).because == (
        "The mean of 3 criteria, from 3 levels in 1 check, is 2.33: Developing.",
        "Left out, missing: Waltz.", "Left out, excused: Tune.", "Left out, not rated yet: Song.",
        "Left out, not asked: Hymn.", "Left out, could not be heard: 1.",
    )


def test_a_criterion_asked_often_does_not_outweigh_one_asked_once():
    works = [Work("A", RATED, {"rhythm": "1", "tone": "4"}), Work("B", RATED, {"rhythm": "1"}),
             Work("C", RATED, {"rhythm": "1"})]
    assert mark(works).value == pytest.approx(2.5)


levels = st.dictionaries(
    st.sampled_from(["tone", "rhythm", "notes"]),
    st.sampled_from(["1", "2", "3", "4", "not_shown", "not_heard"]),
)
rated = st.lists(levels.map(lambda given: Work("w", RATED, given)), max_size=8)


@given(rated, st.lists(st.sampled_from([MISSING, EXCUSED, WAITING, NOT_ASKED]), max_size=4))
def test_work_that_is_not_there_changes_no_mark(works, absent):
    assert mark(works).value == mark(works + [Work("x", state) for state in absent]).value


@given(rated)
def test_a_mark_lies_between_the_lowest_and_the_highest_level_given(works):
    value = mark(works).value
    numbers = [int(v) for w in works for v in w.levels.values() if v.isdigit()]
    if value is None:
        assert len(numbers) < PLAIN_POLICY.fewest_levels
    else:
        assert min(numbers) - 1e-9 <= value <= max(numbers) + 1e-9


@given(rated)
def test_the_order_of_the_checks_does_not_matter(works):
    one, other = mark(works).value, mark(works[::-1]).value
    assert one == other if one is None else one == pytest.approx(other)


@pytest.mark.parametrize("steps", [(), ((2.0, "high"), (3.0, "low")), ((3.0, "a"), (1.5, "b"))])
def test_a_conversion_table_out_of_order_or_with_a_hole_is_refused(steps):
    with pytest.raises(ValueError):
        MarkPolicy(3, steps)


def test_the_word_agrees_with_the_printed_figure_at_every_step():
    for hundredths in range(100, 401):
        mean = hundredths / 100
        nearest = min(4, int(mean + 0.5))
        assert PLAIN_POLICY.word_for(mean) == {1: "Beginning", 2: "Developing", 3: "Secure",
                                               4: "Extending"}[nearest]


def test_a_level_counted_from_zero_is_refused():
    with pytest.raises(ValueError, match="counted from 0"):
        Work("March", RATED, {"tone": "0"})
