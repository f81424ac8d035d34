"""Findings about raters in words: every code of the ratings room has its sentence."""

import re

import pytest

from standlight.programme.queries.level_amounts import AMOUNTS, amount_words, likely_words
from standlight.programme.queries.rater_names import Names, TaskName
from standlight.programme.queries.rater_words import (
    CONTRAST_BECAUSE,
    LAST_MONTH,
    NEED_WORDS,
    REFUSAL_BECAUSE,
    REFUSAL_CLAIMS,
    REFUSAL_FIGURES,
    REMARK_WORDS,
    STATEMENT_FIGURES,
    STATEMENT_WHY,
    STATEMENT_WORDS,
    contrast_words,
    group_growth_words,
)
from standlight.programme.queries.raters_tasks import SAID_ELSEWHERE
from standlight.programme.queries.steady_words import (
    BECAUSE_WORDS,
    beside_the_reader,
    beside_words,
    steady_sentences,
)
from standlight.ratings import severity
from standlight.ratings.figures import FIGURES
from standlight.ratings.growth_values import GROWTH_REMARKS
from standlight.ratings.statements import NEEDS, REFUSALS, STATEMENTS
from standlight.ratings.steadiness import BECAUSE as UNSTEADY_BECAUSE
from standlight.ratings.task_review import TASK_REMARKS

NAMES = Names(
    "a2", {"a1": "Dana Whitlock", "a2": "Ruben Asher", "a3": "Ines Vale"},
    {"s1": "Alto, Mixed Choir"}, {"e1": "Concert Band", "e2": "Mixed Choir"},
    {"c1": TaskName("Ode, 33 to 40", "Concert Band")},
)  # fmt: skip
SUBJECTS = {
    "stricter": ["a1", "a2"], "one_impression": ["a2"], "criteria_together": ["a2"],
    "stopped_growing": ["s1", "e2"], "grew_less": ["s1", "e2"], "no_anchor": ["e1"],
    "raters_not_comparable": ["a1", "a2"], "groups_not_comparable": ["e1", "e2"],
}  # fmt: skip
JARGON = re.compile(r"logit|theta|[α-ω]|p-value|p <|significan|standard error|facet|nan|None", re.I)


def statement(code, **more):
    return {
        "code": code, "subjects": SUBJECTS[code], "criterion": "", "points": 0.5, "low": 0.2,
        "high": 0.8, "n": 12, **more,
    }  # fmt: skip


def contrast(**more):
    return {
        "rater": "a1", "other": "a2", "criterion": "rhythm", "n_common_takes": 9,
        "stricter_by": 0.34, "low": 0.1, "high": 0.6, "comparable": True, "sure": True,
        "because": "", **more,
    }  # fmt: skip


@pytest.mark.parametrize("code", STATEMENTS)
def test_every_statement_has_a_sentence_a_reason_and_figures(code):
    said = STATEMENT_WORDS[code](statement(code), NAMES)
    assert said[0].isupper() and said.endswith(".") and "half a level" in said
    assert "likely between a fifth and three quarters of a level" in said
    assert not JARGON.search(f"{said} {STATEMENT_WHY[code]}")
    assert set(STATEMENT_FIGURES[code]) <= set(FIGURES) and STATEMENT_FIGURES[code]


def test_a_section_that_stopped_is_told_from_when():
    words = STATEMENT_WORDS["stopped_growing"]
    whole = words(statement("stopped_growing"), NAMES)
    late = words(statement("stopped_growing", since="February 3"), NAMES)
    assert whole.endswith(" By itself it may not have grown at all.")
    assert late.endswith(" Since February 3, by itself, it may not have grown at all.")


def test_no_table_knows_a_code_that_the_room_does_not():
    tables = (STATEMENT_WORDS, STATEMENT_WHY, STATEMENT_FIGURES)
    assert all(set(table) == set(STATEMENTS) for table in tables)
    tables = (REFUSAL_CLAIMS, REFUSAL_BECAUSE, REFUSAL_FIGURES)
    assert all(set(table) == set(REFUSALS) for table in tables)
    assert set(NEED_WORDS) == set(NEEDS)
    assert set(CONTRAST_BECAUSE) == {"", *severity.BECAUSE}
    assert set(BECAUSE_WORDS) == {"", *UNSTEADY_BECAUSE}
    assert set(REMARK_WORDS) == set(GROWTH_REMARKS)
    assert set(TASK_REMARKS) >= SAID_ELSEWHERE


@pytest.mark.parametrize("code", REFUSALS)
@pytest.mark.parametrize("averages_say", [0.4, -0.4])
def test_every_refusal_says_the_false_claim_why_not_and_what_would_answer_it(code, averages_say):
    row = {
        "code": code, "subjects": SUBJECTS[code], "averages_say": averages_say, "task": "c1",
        "takes": [],
    }  # fmt: skip
    said = [REFUSAL_CLAIMS[code](row, NAMES), REFUSAL_BECAUSE[code]]
    said += [words(row, NAMES) for words in NEED_WORDS.values()]
    assert "a third of a level" in said[0]
    assert all(one.endswith(".") and not JARGON.search(one) for one in said)
    assert set(REFUSAL_FIGURES[code]) <= set(FIGURES)


def test_who_gives_less_is_the_one_whom_the_averages_call_stricter():
    row = {"subjects": ["a1", "a2"], "averages_say": 0.4}
    claim = REFUSAL_CLAIMS["raters_not_comparable"]
    assert claim(row, NAMES).startswith("You are about a third of a level stricter than Dana")
    turned = claim({**row, "averages_say": -0.4}, NAMES)
    assert turned.startswith("Dana Whitlock is") and turned.endswith("stricter than you.")


def test_a_comparison_is_told_from_the_readers_side():
    said = contrast_words(contrast(), NAMES)
    assert said == (
        "On rhythm you are about a third of a level milder than Dana Whitlock (9 takes heard by "
        "both; likely between a tenth and two thirds of a level)."
    )
    other = contrast_words(contrast(other="a3"), NAMES)
    assert other.startswith("On rhythm Dana Whitlock is about a third of a level stricter than")


def test_what_is_not_sure_is_said_to_be_chance_or_why():
    assert "could be chance" in contrast_words(contrast(low=-0.2, sure=False), NAMES)
    few = contrast_words(contrast(sure=False, because=severity.FEW_COMMON), NAMES)
    assert "too few takes" in few and "likely" not in few
    none = {"stricter_by": None, "low": None, "high": None, "sure": False}
    for because in set(severity.BECAUSE) - {severity.FEW_COMMON}:
        said = contrast_words(contrast(**none, because=because), NAMES)
        assert "cannot be compared" in said and not JARGON.search(said)


def test_steadiness_is_counted_before_it_is_judged():
    drift = {"n_takes": 9, "stricter_by": None, "low": None, "high": None, "sure": False}
    row = {
        "rater": "a2", "n_levels": 27, "n_takes": 9, "n_same": 20, "n_within_one": 26,
        "stricter_by": -0.3, "low": -0.5, "high": -0.1, "sure": True, "because": "",
        "in_session": {**drift, "because": "too_few"},
        "over_year": {**drift, "stricter_by": 0.1, "low": 0.05, "high": 0.2, "sure": True,
                      "because": ""},
    }  # fmt: skip
    said = list(steady_sentences(row, "you"))
    assert said[0].startswith("You heard 9 takes again without knowing: 20 of 27 levels")
    assert said[1].startswith("The second time you were about a third of a level milder")
    assert "too few takes" in said[2] and "a month" in said[3]
    few = list(steady_sentences({**row, "because": "too_few", "n_takes": 3}, "Ruben Asher"))
    assert len(few) == 2 and "cannot be said" in few[1]
    assert not any(JARGON.search(one) for one in said + few)


def test_what_is_the_same_of_both_drifts_is_said_once():
    drift = {"n_takes": 9, "stricter_by": None, "low": None, "high": None, "sure": False}
    row = {
        "rater": "a2", "n_levels": 27, "n_takes": 9, "n_same": 20, "n_within_one": 26,
        "stricter_by": 0.1, "low": -0.1, "high": 0.3, "sure": False, "because": "",
        "in_session": {**drift, "because": "too_few"}, "over_year": {**drift, "because": "too_few"},
    }  # fmt: skip
    said = list(steady_sentences(row, "you"))
    assert [one for one in said if "cannot be said yet" in one] == [
        "Within an evening and over the year: cannot be said yet, too few takes were heard again; "
        "it takes 12."
    ]
    other = {**row, "over_year": {**drift, "because": "no_spread"}}
    assert sum("cannot be said yet" in one for one in steady_sentences(other, "you")) == 2
    calm = {**drift, "stricter_by": 0.0, "low": -0.1, "high": 0.1, "because": ""}
    still = list(steady_sentences({**row, "in_session": calm, "over_year": calm}, "you"))
    assert still[-1] == "Within an evening and over the year: no moving beyond chance."
    sure = {**calm, "stricter_by": 0.2, "low": 0.1, "high": 0.3, "sure": True}
    both = list(steady_sentences({**row, "in_session": sure, "over_year": sure}, "you"))
    assert "in half an hour" in both[-2] and "a month" in both[-1]


def beside(**more):
    drift = {"n_takes": 14, "stricter_by": 0.1, "low": 0.02, "high": 0.2, "sure": True,
             "because": "", **more}  # fmt: skip
    return {"rater": "a1", "other": "a2", "over_year": drift}


def test_how_two_moved_is_told_from_the_readers_side_and_not_when_too_few():
    row = beside_the_reader(beside(), "a2")
    assert (row["rater"], row["other"], row["over_year"]["high"]) == ("a2", "a1", -0.02)
    said = beside_words(row, NAMES.rater(row["rater"]), NAMES.rater(row["other"]))
    assert said.startswith("Beside Dana Whitlock, on 14 takes you both heard: about a tenth")
    assert " milder a month (likely between" in said
    assert beside_the_reader(beside(), "a1") == beside_the_reader(beside(), "a3") == beside()
    third = beside_words(beside(), "Dana Whitlock", "Ruben Asher")
    assert third.startswith("Dana Whitlock beside Ruben Asher, on 14 takes both heard:")
    assert "stricter a month" in third and not JARGON.search(said + third)
    none = {"stricter_by": None, "low": None, "high": None, "sure": False}
    for because in UNSTEADY_BECAUSE:
        few = beside(**none, because=because)
        assert beside_the_reader(few, "a2") == few
        assert beside_words(few, "you", "Dana Whitlock") == ""


def test_a_months_comparison_says_when():
    said = contrast_words(contrast(criterion=""), NAMES, LAST_MONTH)
    assert said.startswith("In the last month of levels you are about a third of a level milder")


def test_a_groups_growth_tells_on_which_passages_it_rests():
    row = {"key": "e1", "points_a_year": 0.5, "low": 0.2, "high": 0.8, "anchors": ["c1", "c2"]}
    said = group_growth_words(row, NAMES)
    assert "the group grew by about half a level a year (likely" in said
    assert said.endswith("Seen on what came back: Ode, 33 to 40; A check that is gone.")
    many = group_growth_words({**row, "anchors": ["c1"] * 5}, NAMES)
    assert many.count("Ode, 33 to 40") == 3 and many.endswith("; 2 more.")
    unclear = group_growth_words({**row, "low": -0.2}, NAMES)
    assert "could be chance" in unclear and "grew" not in unclear


def test_amounts_grow_with_their_words_and_an_interval_tells_the_smaller_first():
    ends = [most for most, _ in AMOUNTS]
    assert ends == sorted(ends) and len({words for _, words in AMOUNTS}) == len(AMOUNTS)
    assert amount_words(-0.5) == amount_words(0.5)
    assert likely_words(-0.6, -0.1) == likely_words(0.1, 0.6)
    assert likely_words(0.1, 0.6).index("tenth") < likely_words(0.1, 0.6).index("two thirds")
