"""The marking policies, held to vectors from outside and to their own stated rules."""

import json
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from standlight.ratings.marking import gathered_levels, group_lines, left_out_of, mark
from standlight.ratings.marking_policies import (
    BY_WORK,
    PLAIN_POLICY,
    POLICIES,
    WAYS,
    MarkPolicy,
    figure_of,
)
from standlight.ratings.marking_trend import GroupTrend
from standlight.ratings.marking_values import (
    ABSENT,
    EXCUSED,
    MISSING,
    NOT_ASKED,
    NOT_ASSESSED,
    RATED,
    TO_COME,
    WAITING,
    WORK_STATES,
    Dated,
    Work,
)

# tests/authorities/ratings/grade_policies.json (its SOURCES.md): closed form, computed by hand.
VECTORS = json.loads(
    (Path(__file__).parents[1] / "authorities/ratings/grade_policies.json").read_text()
)
STATES = {"scored": RATED, "missing": MISSING, "exempt": EXCUSED, "pending": WAITING}
GROUP = {key: GroupTrend(3.0, 0.4, 0.3, 0.02, 0.1, 0.3, 60.0, 30) for key in "abc"}


def series(policy):
    weights = VECTORS["weighted_mean"]["weights"] if policy.key == "weighted" else [1] * 6
    levels = [
        Dated(points, day, weight)
        for day, (points, weight) in enumerate(zip(VECTORS["points"], weights, strict=True))
    ]
    return figure_of(levels, policy).value


@pytest.mark.parametrize(
    ("policy", "wanted"),
    [
        (MarkPolicy("mean"), VECTORS["mean"]),
        (MarkPolicy("weighted"), VECTORS["weighted_mean"]["value"]),
        (MarkPolicy("recent"), VECTORS["recent1"]),
        (MarkPolicy("last_n", n=3), VECTORS["recent3"]),
        (MarkPolicy("best_n", n=3), VECTORS["best3"]),
        (MarkPolicy("best_n", n=2, of_last=4), VECTORS["best2_of_last4"]),
        *(
            (MarkPolicy("decaying", new_share=float(share)), value)
            for share, value in VECTORS["decaying"].items()
        ),
    ],
)
def test_each_policy_gives_the_figure_of_the_vectors_file(policy, wanted):
    assert series(policy) == pytest.approx(wanted, abs=1e-9)


def works_of(items):
    return [
        Work(f"Check {n}", STATES[item["status"]],
             {"a": str(item["points"])} if item["points"] is not None else {}, day=n)
        for n, item in enumerate(items)
    ]


@pytest.mark.parametrize(
    ("policy", "key"),
    [(MarkPolicy("mean"), "exclude"), (MarkPolicy("decaying", new_share=0.65), "exclude_decay65")],
)
def test_missing_exempt_and_pending_are_left_out_as_in_the_vectors_file_and_never_zero(policy, key):
    found = mark(works_of(VECTORS["missing"]["items"]), policy)
    assert found.value == pytest.approx(VECTORS["missing"][key])
    assert found.value > VECTORS["missing"][key.replace("exclude", "zero")]
    assert found.value != VECTORS["missing"]["floor1"]


def test_below_the_fewest_levels_there_is_no_mark_but_a_reason_as_in_the_vectors_file():
    found = mark(works_of(VECTORS["missing"]["items"]), MarkPolicy(fewest_levels=4))
    assert found.value is VECTORS["missing"]["min_evidence4"] is None
    assert found.because == (
        "No mark: not enough evidence. There are 3 levels in 3 checks, and a mark needs 4 levels.",
    )


def test_levels_of_one_check_alone_are_too_little_where_two_checks_are_asked_for():
    found = mark([Work("A", RATED, {"a": "3", "b": "3", "c": "4"})], MarkPolicy(fewest_works=2))
    assert found.because[0].endswith("a mark needs 3 levels in 2 checks.")


def test_every_state_that_is_left_out_has_a_sentence_of_its_own():
    works = [
        Work("March", RATED, {"notes": "2", "rhythm": "3", "tone": "not_heard", "x": "not_shown"}),
        *(Work(f"Work {state}", state) for state in WORK_STATES if state != RATED),
    ]
    said = left_out_of(works)
    assert said == (
        "Left out (sent, not rated yet): Work waiting.", "Left out (not sent yet): Work to_come.",
        "Left out (to be heard live): Work to_hear.",
        "Left out (missing): Work missing.", "Left out (excused): Work excused.",
        "Left out (absent): Work absent.", "Left out (not assessed): Work not_assessed.",
        "Left out (not asked): Work not_asked.", "Left out (not shown in this passage): 1.",
        "Left out (could not be heard): 1.",
    )


def test_the_reason_can_be_followed_line_by_line():
    works = [Work("March", RATED, {"a": "2", "b": "3"}, day=3),
             Work("Waltz", RATED, {"a": "3", "b": "4"}, day=20)]
    found = mark(works, MarkPolicy("recent"), names={"a": "Tone", "b": "Rhythm"})
    assert found.because == (
        "It rests on 4 levels in 2 checks.",
        "In each criterion only the newest level counts; the mark is the mean of the criteria.",
        "The mean of the 2 criteria is 3.50, on levels 1 to 4.",
        "That prints as Extending. 3.5 and up is Extending, 2.5 and up is Secure, "
        "1.5 and up is Developing; below that Beginning.",
    )
    assert [(line.key, line.levels, line.counted) for line in found.lines] == [
        ("a", (2, 3), (1,)), ("b", (3, 4), (1,)),
    ]


def test_by_criterion_one_asked_often_does_not_outweigh_and_by_check_it_does():
    works = [Work("A", RATED, {"rhythm": "1", "tone": "4"}), Work("B", RATED, {"rhythm": "1"}),
             Work("C", RATED, {"rhythm": "1"})]
    assert mark(works).value == pytest.approx(2.5)
    assert mark(works, MarkPolicy(by=BY_WORK)).value == pytest.approx((2.5 + 1 + 1) / 3)


def test_weights_of_zero_only_count_all_the_same_and_say_so():
    found = mark([Work("A", RATED, {"a": "1", "b": "3", "c": "3"}, weight=0)],
                 MarkPolicy("weighted"), names={"a": "Tone"})
    assert found.value == pytest.approx(7 / 3)
    assert found.because[2] == "Tone: every check here has weight 0, so all count the same."


def test_a_line_without_a_group_says_that_it_is_a_mean():
    works = [Work("A", RATED, {"a": "1"}), Work("B", RATED, {"a": "2"}, day=9),
             Work("C", RATED, {"a": "4"}, day=20)]
    found = mark(works, MarkPolicy("trend"), names={"a": "Tone"})
    assert found.value == pytest.approx(7 / 3)
    assert found.because[2].startswith("Tone: too few musicians")
    assert found.low is None


def test_group_lines_are_asked_for_by_the_trend_alone():
    musicians = [[Work("A", RATED, {"a": "2"}), Work("B", RATED, {"a": "3"}, day=30)]] * 9
    assert group_lines(musicians, MarkPolicy("mean"), 60) == {}
    found = group_lines(musicians, MarkPolicy("trend"), 60)
    assert found["a"].change == pytest.approx(2.0, abs=0.01)
    assert group_lines(musicians[:7], MarkPolicy("trend"), 60) == {}


POLICY = st.builds(
    MarkPolicy,
    key=st.sampled_from(list(POLICIES)),
    by=st.sampled_from(list(WAYS)),
    n=st.integers(1, 4),
    of_last=st.one_of(st.none(), st.integers(4, 6)),
    new_share=st.floats(0.05, 0.95),
    fewest_levels=st.integers(1, 3),
)
LEVELS = st.dictionaries(
    st.sampled_from("abc"), st.sampled_from(["1", "2", "3", "4", "not_shown", "not_heard"])
)
WORKS = st.lists(
    st.builds(
        lambda levels, day, weight: Work("w", RATED, levels, day=day, weight=weight),
        LEVELS, st.integers(0, 60), st.floats(0, 3),
    ),
    max_size=8,
)
ABSENCES = st.lists(
    st.sampled_from([MISSING, EXCUSED, WAITING, TO_COME, ABSENT, NOT_ASSESSED, NOT_ASKED]),
    min_size=1, max_size=4,
)


def marked(works, policy):
    group = {**GROUP, "": GROUP["a"]}
    return mark(works, policy, group=group)


@given(WORKS, ABSENCES, POLICY, st.integers(0, 60))
def test_work_that_is_not_there_changes_no_mark_so_missing_never_lowers(
    works, absent, policy, day
):
    more = [Work("x", state, day=day) for state in absent]
    assert marked(works, policy).value == marked(more + works, policy).value


@given(WORKS, POLICY)
def test_a_mark_lies_between_the_lowest_and_the_highest_level_given(works, policy):
    found = marked(works, policy)
    numbers = [level for work in works for level in work.numbers.values()]
    if found.value is None:
        assert len(numbers) < policy.fewest_levels
    else:
        assert min(numbers) - 1e-9 <= found.value <= max(numbers) + 1e-9
        if found.low is not None:
            assert 1 - 1e-9 <= found.low <= found.value + 1e-9
            assert found.value - 1e-9 <= found.high <= 4 + 1e-9


@given(WORKS, POLICY, st.randoms())
def test_where_the_policy_says_order_does_not_matter_days_can_be_dealt_anew(works, policy, dealt):
    assume(not policy.policy.order_matters(policy))
    days = [work.day for work in works]
    dealt.shuffle(days)
    again = [
        Work("w", RATED, work.levels, day=day, weight=work.weight)
        for work, day in zip(works, days, strict=True)
    ]
    dealt.shuffle(again)
    one, other = marked(works, policy).value, marked(again, policy).value
    assert one == other if one is None else one == pytest.approx(other)


@pytest.mark.parametrize(
    "policy",
    [MarkPolicy("recent"), MarkPolicy("last_n", n=2), MarkPolicy("decaying"),
     MarkPolicy("best_n", n=1, of_last=2), MarkPolicy("trend")],
)
def test_where_the_policy_says_order_matters_it_does(policy):
    assert policy.policy.order_matters(policy)
    rising = [Work("w", RATED, {"a": str(level)}, day=20 * n) for n, level in enumerate((1, 2, 4))]
    falling = [Work("w", RATED, {"a": str(level)}, day=20 * n) for n, level in enumerate((4, 2, 1))]
    policy = MarkPolicy(policy.key, n=policy.n, of_last=policy.of_last)
    assert marked(rising, policy).value > marked(falling, policy).value + 0.05
    assert marked(rising[::-1], policy).value == pytest.approx(marked(rising, policy).value)


def test_every_policy_says_its_rule_in_words_and_names_the_settings_it_reads():
    fields = {"weights", *MarkPolicy.__dataclass_fields__}
    for key, policy in POLICIES.items():
        assert set(policy.settings) <= fields
        for way in WAYS:
            sentence = MarkPolicy(key, by=way, of_last=4).sentence
            assert sentence.endswith(".") and len(sentence.split()) < 50
    assert "the best 1 level counts;" in MarkPolicy("best_n", n=1).sentence


@pytest.mark.parametrize(
    "wrong",
    [{"key": "median"}, {"by": "month"}, {"n": 0}, {"n": 4, "of_last": 3}, {"new_share": 1.0},
     {"fewest_levels": 0}],
)
def test_a_policy_that_cannot_be_followed_is_refused(wrong):
    with pytest.raises(ValueError):
        MarkPolicy(**wrong)


def test_gathered_levels_leave_out_what_is_no_level():
    works = [Work("A", RATED, {"a": "3", "b": "not_heard"}), Work("B", MISSING)]
    assert list(gathered_levels(works, PLAIN_POLICY.by)) == ["a"]
    assert gathered_levels(works, BY_WORK)[""] == [Dated(3.0, 0.0, 1.0)]


def test_a_level_counted_from_zero_and_a_weight_under_zero_are_refused():
    with pytest.raises(ValueError, match="counted from 0"):
        Work("March", RATED, {"tone": "0"})
    with pytest.raises(ValueError, match="under zero"):
        Work("March", RATED, weight=-1)
