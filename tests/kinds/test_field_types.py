"""Each type of question: right answers read as words, wrong ones are said, odd ones harmless."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standlight.kinds import FIELD_TYPES, Field, Option, problems_with, text_of

TWO = (Option("low", "just begun"), Option("high", "there"))
COLUMNS = (Field("what", "short", "What"), Field("why", "short", "Why", required=False))
SOURCE = {"kind": "primary", "author": "the composer", "title": "Letter", "where": "school library"}
SOUND = "0f8fad5b-d9cb-469f-a165-70867728950e"

RIGHT = [
    (Field("f", "short", "?", most=5), " a soft start ", "a soft start"),
    (Field("f", "choice", "?", options=TWO), "high", "there"),
    (Field("f", "levels", "?", options=TWO), "low", "just begun"),
    (Field("f", "several", "?", options=TWO), ["high", "low"], "just begun; there"),
    (Field("f", "scale", "?", least=1, most=4, options=TWO), 3, "3 of 4 (1 just begun, 4 there)"),
    (Field("f", "rows", "?", columns=COLUMNS), [{"what": "march", "why": "bass"}, {}],
     "march, bass"),
    (Field("f", "measure", "?"), {"measure": 12, "words": "the run"}, "measure 12: the run"),
    (Field("f", "clock", "?"), {"at_s": 75.4, "words": "oboe"}, "1:15: oboe"),
    (Field("f", "spot", "?"), {"piece": "March", "from_measure": 9, "to_measure": 10,
                               "what": "I came in early.", "try": "count out loud"},
     "March, measures 9 to 10: I came in early. I will try: count out loud"),
    (Field("f", "source", "?"), SOURCE,
     "the composer, Letter, school library (primary source)"),
    (Field("f", "recording", "?"), {"sound": SOUND}, "a recording"),
    (Field("f", "consent", "?"), True, "may be shared"),
]  # fmt: skip

WRONG = [
    (Field("f", "short", "?", most=2), "one two three", "Please keep to 2 words at most"),
    (Field("f", "long", "?", least=3), "too short", "Please give at least 3 words"),
    (Field("f", "long", "?"), "x" * 200_000, "too long to keep (200,000 characters"),
    (Field("f", "choice", "?", options=TWO), "middle", "choose one of the answers shown"),
    (Field("f", "several", "?", options=TWO), ["low", "low"], "each once"),
    (Field("f", "scale", "?", least=1, most=4), 5, "choose a step from 1 to 4"),
    (Field("f", "scale", "?", least=1, most=4), True, "choose a step from 1 to 4"),
    (Field("f", "rows", "?", columns=COLUMNS), [{"why": "loud"}], "Row 1: “What” is empty."),
    (Field("f", "measure", "?"), {"measure": 0}, "count from 1"),
    (Field("f", "clock", "?"), {"at_s": -3.0}, "outside the recording"),
    (Field("f", "spot", "?"), {"from_measure": 9, "to_measure": 4, "what": "early"},
     "cannot come before measure 9"),
    (Field("f", "spot", "?"), {"from_measure": 9}, "“What happened there?” is empty"),
    (Field("f", "source", "?"), {**SOURCE, "author": ""}, "Please add who made it."),
    (Field("f", "source", "?"), {**SOURCE, "where": "https://example.org/x"}, "the date when"),
    (Field("f", "recording", "?"), {"sound": "seven"}, "did not arrive"),
    (Field("f", "consent", "?"), "yes", "say yes or no"),
]  # fmt: skip


@pytest.mark.parametrize(("field", "answer", "words"), RIGHT)
def test_a_right_answer_is_told_in_words(field, answer, words):
    assert problems_with(field, answer) == ()
    assert text_of(field, answer) == words


@pytest.mark.parametrize(("field", "answer", "sentence"), WRONG)
def test_a_wrong_answer_is_said(field, answer, sentence):
    problems = problems_with(field, answer)
    assert len(problems) == 1 and sentence in problems[0]


def test_every_type_has_a_right_and_a_wrong_answer_here():
    assert {field.type for field, _, _ in RIGHT} | {"long"} == set(FIELD_TYPES)
    assert {field.type for field, _, _ in WRONG} | {"levels"} == set(FIELD_TYPES)


@pytest.mark.parametrize(
    "text", ["<script>alert(1)</script>", "🎺 שלום مرحبا", "=1+1", "\u202eabc"]
)
def test_a_text_is_kept_as_it_was_written(text):
    assert text_of(Field("f", "short", "?"), text) == text


ANSWERS = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=True) | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(
        st.sampled_from(
            ["measure", "at_s", "kind", "from_measure", "to_measure", "what", "sound", "words"]
        ),
        inner, max_size=4,
    ),
    max_leaves=8,
)  # fmt: skip


@pytest.mark.parametrize("field", [field for field, _, _ in RIGHT], ids=lambda field: field.type)
@given(answer=ANSWERS)
def test_whatever_arrives_is_right_or_said_and_a_right_one_reads_as_words(field, answer):
    problems = problems_with(field, answer)
    assert all(problem.endswith(".") for problem in problems)
    if not problems:
        assert isinstance(text_of(field, answer), str)
