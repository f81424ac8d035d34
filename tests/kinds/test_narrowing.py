"""An assignment's rules over a step: what fits it, what is said of what does not, what is asked."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standlight.kinds import (
    Choice,
    Due,
    Field,
    Rules,
    Step,
    UnreadableRules,
    narrowed,
    rule_problems,
    rules_of,
    standing_of,
)

KEYS = "abcdef"
FIELDS = tuple(Field(key, "short", f"Say {key}") for key in KEYS)
BANK = Step("bank", "Bank", Due("any"), FIELDS, (Choice("few", "A few", tuple(KEYS), 1),))


def asked(**data):
    return narrowed(BANK, rules_of(data, BANK))


def test_no_rules_leave_the_step_as_it_is():
    assert asked() == BANK
    assert rules_of({"required": None, "choices": {}}, BANK) == Rules()


def test_an_assignment_says_how_many_and_which():
    step = asked(required=["a"], choices={"few": [3, 4]})
    assert [one.words for one in standing_of(step, {}).open] == [
        "“Say a” is still empty.",
        "Choose 2 of these to answer.",
    ]
    assert standing_of(step, {"a": "x", "e": "x", "f": "x"}).complete
    assert not standing_of(step, {"d": "x", "e": "x", "f": "x"}).complete
    assert standing_of(step, dict.fromkeys("abcde", "x")).wrong[0].words == (
        "Please answer 3 of these, not 4."
    )


def test_questions_that_nobody_may_answer_then_are_gone():
    step = asked(required=["b", "d"], choices={"few": [2, 2]})
    assert [field.key for field in step.fields] == ["b", "d"]
    assert step.choices == ()


def test_an_optional_question_can_be_required():
    step = Step("s", "S", Due("any"), (Field("a", "short", "Say a", required=False),))
    assert standing_of(step, {}).complete
    assert not standing_of(narrowed(step, Rules(("a",))), {}).complete


@given(
    st.sets(st.sampled_from(KEYS)),
    st.sets(st.sampled_from(KEYS), max_size=3),
    st.integers(0, 6),
    st.integers(0, 6) | st.none(),
)
def test_what_is_complete_has_the_required_and_as_many_as_asked(answered, required, least, more):
    most = None if more is None else min(least + more, len(KEYS))
    data = {"required": sorted(required), "choices": {"few": [least, most]}}
    problems = list(rule_problems(data, BANK))
    if most is not None and (most < 1 or len(required) > most):
        assert len(problems) == 1
        return
    assert not problems
    step = narrowed(BANK, rules_of(data, BANK))
    there = {field.key for field in step.fields}
    standing = standing_of(step, dict.fromkeys(answered & there, "yes"))
    counts = len(answered & there)
    enough = least <= counts and (most is None or counts <= most)
    assert standing.complete == (required <= answered and enough)
    if there < set(KEYS):
        assert len(required) == most, "a question is gone only when no more may be answered"


def test_an_inner_choice_that_nobody_may_answer_then_goes_with_its_questions():
    inner = Choice("pair", "Both", ("b", "c"), 2)
    step = Step("s", "S", Due("any"), FIELDS[:4], (
        inner, Choice("out", "Out", ("a", "pair"), 1, 1)))  # fmt: skip
    left = narrowed(step, Rules(("a",)))
    assert [field.key for field in left.fields] == ["a", "d"] and left.choices == ()


@given(st.sets(st.sampled_from("abcd")), st.sampled_from("abcd"))
def test_a_required_question_of_an_inner_choice_counts_there(answered, required):
    step = Step("s", "S", Due("any"), FIELDS[:4], (
        Choice("out", "Out", ("a", "pair"), 1),
        Choice("pair", "Both", ("b", "c"), 2),
    ))  # fmt: skip
    answers = dict.fromkeys(answered, "yes")
    under = narrowed(step, rules_of({"required": [required]}, step))
    expected = required in answered and standing_of(step, {**answers, "d": "yes"}).complete
    assert standing_of(under, {"d": "yes", **answers}).complete == (
        expected if required != "d" else standing_of(step, {**answers, "d": "yes"}).complete
    )


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        ({"required": ["zebra"]}, "“Bank” has no question “zebra” that could be required."),
        ({"choices": {"zebra": [1, 2]}}, "“Bank” has no choice “zebra”."),
        ({"choices": {"few": [7, None]}}, "asks for more than the 6 that there are."),
        ({"choices": {"few": [2, 9]}}, "asks for more than the 6 that there are."),
        ({"choices": {"few": [3, 2]}}, "asks for at least 3 and at most 2."),
        ({"choices": {"few": 3}}, "needs two numbers, least and most"),
        ({"choices": {"few": ["1", True]}}, "needs two numbers, least and most"),
        ({"required": ["a", "b", "c"], "choices": {"few": [1, 2]}}, "allows 2, but 3 of it are"),
        ({"required": "a"}, "need a list of required questions"),
        ({"many": 3}, "say what is “required”"),
        ([1, 2], "say what is “required”"),
    ],
)
def test_what_does_not_fit_is_said(data, sentence):
    with pytest.raises(UnreadableRules) as caught:
        rules_of(data, BANK)
    assert sentence in caught.value.problems[0]
    assert len(caught.value.problems) == 1


@given(st.recursive(
    st.none() | st.booleans() | st.integers(-2, 9) | st.sampled_from([*KEYS, "few", "x"]),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.sampled_from(["required", "choices", "few", "a"]), inner, max_size=3),
    max_leaves=8,
))  # fmt: skip
def test_whatever_the_rules_hold_they_are_read_or_said(data):
    problems = list(rule_problems(data, BANK))
    assert all(problem.endswith((".", ").")) for problem in problems)
    if not problems:
        narrowed(BANK, rules_of(data, BANK))
