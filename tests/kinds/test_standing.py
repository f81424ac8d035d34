"""What is open and what is wrong in a musician's answers, by the definition's own rules."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standlight.kinds import KINDS, Choice, Due, Field, Option, Step, standing_of

GOAL, FIRST, CHECK_IN, LAST = KINDS["skill_project"].steps
SOUND = "0f8fad5b-d9cb-469f-a165-70867728950e"
RIGHT = {
    "skill": "even sixteenth notes in the trio",
    "spot": {"measure": 12, "words": "the run"},
    "know": "a friend can clap along with it",
    "ways": ["slow", "rhythm"],
}


def keys(standing):
    return [one.key for one in standing.open], [one.key for one in standing.wrong]


def test_an_empty_form_asks_for_everything_required_and_finds_nothing_wrong():
    assert keys(standing_of(GOAL, {})) == (["skill", "spot", "know", "ways"], [])
    assert keys(standing_of(CHECK_IN, {})) == (["closer", "helped"], [])


def test_right_answers_are_complete_and_unknown_ones_change_nothing():
    assert standing_of(GOAL, RIGHT).complete
    assert standing_of(GOAL, {**RIGHT, "secret": "x" * 9_000}).complete


def test_what_is_wrong_is_told_once_and_is_not_also_open():
    standing = standing_of(GOAL, {**RIGHT, "ways": ["slow", "slow"], "spot": {"measure": 0}})
    assert keys(standing) == ([], ["spot", "ways"])
    assert "count from 1" in standing.wrong[0].words


@pytest.mark.parametrize(
    "evidence",
    [
        {"take": {"sound": SOUND}},
        {"look": "my bow hand"},
        {"words": "it is uneven when the hand moves"},
    ],
)
def test_one_kind_of_evidence_is_enough(evidence):
    assert keys(standing_of(FIRST, {})) == (["evidence"], [])
    words = {**evidence, "words": evidence.get("words", "") + " and the left hand waits"}
    assert standing_of(FIRST, evidence if "words" not in evidence else words).complete


def test_a_permission_not_given_is_no_evidence():
    assert not standing_of(FIRST, {"look": False}).complete
    assert not standing_of(FIRST, {"look": " "}).complete


def form(of, least, most=None, inner=()):
    fields = tuple(Field(key, "short", f"Say {key}") for key in "abcd")
    return Step("s", "S", Due("any"), fields, (Choice("pick", "Pick", of, least, most), *inner))


@given(st.sets(st.sampled_from("abcd")), st.integers(0, 4), st.integers(0, 4))
def test_any_n_of_m_counts_what_is_answered(answered, least, extra):
    most = min(least + extra, 4)
    standing = standing_of(form(tuple("abcd"), least, most), dict.fromkeys(answered, "yes"))
    assert standing.complete == (least <= len(answered) <= most)
    assert len(standing.open) == (len(answered) < least)
    assert len(standing.wrong) == (len(answered) > most)


def test_a_choice_inside_a_choice_counts_when_it_is_itself_answered():
    step = form(("a", "pair"), 1, None, (Choice("pair", "Both", ("b", "c"), 2),))
    assert keys(standing_of(step, {"d": "x"})) == (["pick"], [])
    assert keys(standing_of(step, {"d": "x", "b": "y"})) == (["pick"], [])
    assert standing_of(step, {"d": "x", "b": "y", "c": "z"}).complete
    assert standing_of(step, {"d": "x", "a": "y"}).complete


def test_how_many_are_left_to_choose_is_said():
    step = form(tuple("abcd"), 3)
    assert standing_of(step, {}).open[0].words == "Choose 3 of these to answer."
    assert standing_of(step, {"a": "x"}).open[0].words == "Choose 2 more to answer."


def test_nothing_but_blanks_is_nothing():
    rows = Field("r", "rows", "List", columns=(Field("x", "short", "X"),))
    several = Field("m", "several", "Which", options=(Option("p", "P"), Option("q", "Q")))
    step = Step("s", "S", Due("any"), (rows, several))
    assert keys(standing_of(step, {"r": [{"x": "  "}], "m": []})) == (["r", "m"], [])
