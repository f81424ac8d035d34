"""Definitions are data: what ships is right, what a person gets wrong is said, nothing is lost."""

import copy
import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standlight.kinds import (
    DIRECTOR_SIDES,
    FIELD_TYPES,
    KINDS,
    LAID_BEFORE,
    LEVELS,
    NEEDS,
    OCCASIONS,
    UnreadableKind,
    data_of,
    kind_of,
    problems_of,
)
from standlight.kinds.definitions import LONGEST_PROMPT, MOST_ROWS
from standlight.kinds.finds import DEFINITION as FINDS
from standlight.kinds.skill_project import DEFINITION as SKILL_PROJECT

ROW = {
    "key": "ears",
    "name": "Ears",
    "question": "What was heard?",
    "descriptors": ["Nothing.", "A little.", "A lot.", "All of it."],
}


def changed(definition=FINDS, **values):
    return {**copy.deepcopy(definition), **values}


def with_field(**values):
    data = copy.deepcopy(FINDS)
    data["steps"][0]["fields"][0].update(values)
    return data


def with_step(**values):
    data = copy.deepcopy(FINDS)
    data["steps"][0].update(values)
    return data


def with_choices(*choices):
    data = copy.deepcopy(FINDS)
    data["steps"][0]["choices"] = list(choices)
    return data


def with_row(**values):
    return changed(rubric=[{**ROW, **values}])


@pytest.mark.parametrize("key", KINDS)
def test_a_kind_written_as_data_and_read_again_is_the_same(key):
    assert kind_of(data_of(KINDS[key])) == KINDS[key]


@given(
    director_side=st.sampled_from([*DIRECTOR_SIDES]),
    needs=st.lists(st.sampled_from([*NEEDS]), unique=True),
    marked=st.booleans(),
    moment=st.sampled_from([*OCCASIONS]),
    laid_before=st.lists(st.sampled_from([*LAID_BEFORE]), unique=True),
)
def test_what_a_kind_needs_and_lays_before_comes_back_too(laid_before, **values):
    data = {**with_step(laid_before=laid_before), **values}
    kind = kind_of(data)
    assert kind_of(data_of(kind)) == kind
    told = data_of(kind)
    assert {name: told[name] for name in values} == values
    assert told["steps"][0]["laid_before"] == laid_before


WORDS = st.text(min_size=1, max_size=LONGEST_PROMPT).filter(str.strip)
LEVEL_WORDS = st.lists(
    WORDS, min_size=4, max_size=4, unique_by=lambda text: " ".join(text.lower().split())
)
STEPS = [step["key"] for step in SKILL_PROJECT["steps"]]
ROWS = st.lists(
    st.fixed_dictionaries(
        {
            "key": st.text("abcdef_", min_size=1, max_size=40),
            "name": WORDS,
            "question": WORDS,
            "descriptors": LEVEL_WORDS,
            "steps": st.lists(st.sampled_from(STEPS), unique=True),
        }
    ),
    max_size=MOST_ROWS,
    unique_by=lambda row: row["key"],
)


@given(
    rubric=ROWS,
    director_side=st.sampled_from(["own", "each"]),
    director_steps=st.lists(st.sampled_from(STEPS), unique=True),
)
def test_rows_of_a_rubric_and_the_directors_steps_come_back_word_by_word(**values):
    kind = kind_of({**copy.deepcopy(SKILL_PROJECT), **values})
    assert kind_of(data_of(kind)) == kind
    told = data_of(kind)
    assert {name: told[name] for name in values} == values
    for step in STEPS:
        asked = values["director_steps"] or STEPS
        assert kind.side_at(step) == (values["director_side"] if step in asked else "")
        shown = [row["key"] for row in values["rubric"] if step in (row["steps"] or STEPS)]
        assert [row.key for row in kind.rows_at(step)] == shown


def test_a_director_without_a_side_fills_no_step():
    assert {KINDS["finds"].side_at(step.key) for step in KINDS["finds"].steps} == {""}


def test_what_a_definition_leaves_out_is_asked_of_nobody():
    kind = kind_of({name: value for name, value in FINDS.items() if name != "moment"})
    assert (kind.director_side, kind.needs, kind.marked, kind.moment) == ("", (), True, "")


@pytest.mark.parametrize("key", KINDS)
def test_the_standards_of_a_kind_are_codes_of_the_ensemble_strand(key):
    table = Path(__file__).parents[1] / "authorities/trade/standards_us_core_ensemble.tsv"
    with table.open(encoding="utf-8", newline="") as rows:
        known = {row["code"]: row["process"] for row in csv.DictReader(rows, delimiter="\t")}
    processes = {"Performing": "perform", "Responding": "respond", "Connecting": "connect"}
    served = {processes[known[code]] for code in KINDS[key].standards}
    assert served and served <= set(KINDS[key].process)


@pytest.mark.parametrize("key", KINDS)
def test_a_second_adult_can_read_every_kind(key):
    assert {"owner", "director", "second_adult"} <= set(KINDS[key].seen_by)


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (with_field(type="mood"), "is of type “mood”: known are short, long, choice"),
        (with_field(prompt=" "), "asks nothing"),
        (with_field(least=9, most=3), "asks for at least 9 and at most 3"),
        (with_field(type="choice", least=None, most=None), "has 0 answers to choose from"),
        (with_field(type="consent", most=None), "has least, which a permission to share"),
        (with_field(type="rows", columns=[{"key": "a", "type": "rows", "prompt": "A?"}]),
         "has a list of rows inside a list of rows, which no page can show"),
        (with_field(key="who"), "Two questions of step 1 have the key “who”"),
        (changed(aim=""), "The kind has no aim."),
        (changed(process=["dance"]), "names the process “dance”"),
        (changed(seen_by=["owner"]), "“your director” must be able to read every kind of work."),
        (changed(director_side="both"), "the director’s side “both”: known are own, each."),
        (changed(director_side=["own"]), "known are own, each."),
        (changed(moment="noon"), "moment of the year “noon”: known are before, in_rehearsal"),
        (changed(needs=["piece", "cake"]), "names the need “cake”: known are piece, sound."),
        (changed(needs="piece"), "The kind has needs that are no list of words."),
        (changed(standards=[4]), "The kind has standards that are no list of words."),
        (changed(marked="no"), "is yes or no (true or false)"),
        (changed(rubrik=[]), "The kind has “rubrik”, which has no meaning there (a typing slip?)"),
        (with_step(laid_before=["goals", "marks"]), "the thing to lay before “marks”: known are"),
        (with_step(laid_before="goals"), "The step 1 has laid_before that are no list of words."),
        (with_step(fildes=[]), "The step 1 has “fildes”, which has no meaning there"),
        (with_field(hint="?"), "question “what” of step 1 has “hint”, which has no meaning"),
        (with_field(type="spot", least=None, most=None, columns=[
            {"key": "at", "type": "clock", "prompt": "When?"}]),
         "has a moment of a recording inside a spot"),
        (with_field(type="spot", least=None, most=None, columns=[
            {"key": "piece", "type": "short", "prompt": "Piece?"}]),
         "cannot have the key “piece”: it is taken."),
        (with_field(type="source", least=None, most=None, options=[
            {"key": "third", "label": "By hearsay"}]),
         "offers “third”: known are primary, secondary."),
        (with_field(type="rows", least=None, most=None, columns=[
            {"key": "a", "type": "spot", "prompt": "A?",
             "columns": [{"key": "b", "type": "short", "prompt": "B?"}]}]),
         "has a spot, what happened, what I will try inside a list of rows"),
        (changed(rubric=["tone"]), "The kind has a rubric that is no list of rows (key, name,"),
        (changed(rubric="tone"), "The kind has a rubric that is no list of rows"),
        (changed(rubric=[ROW], marked=False), "What never counts in a mark is given no levels"),
        (changed(rubric=[ROW, ROW]), "Two rows of the rubric have the key “ears”."),
        (changed(rubric=[{**ROW, "key": str(n)} for n in range(9)]), "The rubric has 9 rows"),
        (with_row(key=" "), "A row of the rubric has no key"),
        (with_row(key="k" * 41), "or one of more than 40 characters."),
        (with_row(name=""), "The row “ears” of the rubric has no name"),
        (with_row(question=None), "The row “ears” of the rubric has no question"),
        (with_row(question="?" * 401), "or one of more than 400 characters."),
        (with_row(descriptors=ROW["descriptors"][:3]), "needs 4 sentences: Beginning, Developing"),
        (with_row(descriptors=["Some."] * 5), "needs 4 sentences: Beginning, Developing"),
        (with_row(descriptors="abcd"), "needs 4 sentences: Beginning, Developing"),
        (with_row(descriptors=["None.", "Some.", " ", "All."]), "has no sentence for Secure"),
        (with_row(descriptors=["None.", "Some.", 3, "All."]), "has no sentence for Secure"),
        (with_row(descriptors=["None.", "Some.", "some. ", "All."]), "the same of two levels"),
        (with_row(steps=["nowhere"]), "is for the step “nowhere”, which is not there."),
        (with_row(weight=2), "The row “ears” of the rubric has “weight”, which has no meaning"),
        (changed(director_steps=["find"]), "names steps for the director, who fills none"),
        (changed(director_steps=["gone"], director_side="own"),
         "names the director’s step “gone”, which is not there."),
        (changed(director_steps="find"), "The kind has director_steps that are no list of words."),
        (changed(steps=[]), "A kind has 1 to 12 steps (here 0)."),
        (changed(steps="none"), "A kind has 1 to 12 steps (here 0)."),
    ],
)  # fmt: skip
def test_a_fault_is_said_in_a_sentence(data, sentence):
    before = copy.deepcopy(data)
    with pytest.raises(UnreadableKind) as caught:
        kind_of(data)
    assert any(sentence in problem for problem in caught.value.problems)
    assert data == before, "what was written stays as it was written"


def test_a_row_that_stands_is_refused_for_nothing():
    assert list(problems_of(changed(rubric=[ROW]))) == []
    (row,) = kind_of(changed(rubric=[ROW])).rubric
    assert dict(zip(LEVELS, row.descriptors, strict=True))["Secure"] == "A lot."


@pytest.mark.parametrize("odd", [None, [], {}, ["short"], 7, True, "x" * 500])
@pytest.mark.parametrize("name", [*ROW, "steps"])
def test_an_odd_value_in_a_row_never_breaks_the_reader(name, odd):
    problems = list(problems_of(with_row(**{name: odd})))
    assert all(problem.endswith(".") for problem in problems)
    if not problems:
        assert kind_of(with_row(**{name: odd})).rubric


def test_a_choice_that_asks_for_itself_is_told_with_its_way():
    data = with_choices(
        {"key": "a", "of": ["b", "what"], "least": 1},
        {"key": "b", "of": ["c"], "least": 1},
        {"key": "c", "of": ["a"], "least": 1},
    )
    told = list(problems_of(data))
    assert "The choice “a” of step 1 asks for itself (a → b → c → a)." in told
    assert len([one for one in told if "asks for itself" in one]) == 3


def test_a_choice_names_what_is_there_and_no_more_than_that():
    told = list(problems_of(with_choices({"key": "a", "of": ["what", "mood"], "least": 3})))
    assert "names “mood”, which is not there" in told[0]
    assert "asks for 3 to None of 2, which cannot be." in told[1]


def test_a_step_that_comes_again_says_when():
    data = copy.deepcopy(SKILL_PROJECT)
    data["steps"][2]["due"] = {"moment": "again"}
    assert any("after how many weeks" in problem for problem in problems_of(data))


def test_every_type_is_known_by_a_name_for_people():
    assert all(row.name and row.name == row.name.strip() for row in FIELD_TYPES.values())
    assert len({row.name for row in FIELD_TYPES.values()}) == len(FIELD_TYPES)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-3, 50) | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(
        st.sampled_from(
            ["key", "type", "steps", "fields", "choices", "of", "due", "options", "descriptors"]
        ),
        inner, max_size=4,
    ),
    max_leaves=12,
)  # fmt: skip


@pytest.mark.parametrize("odd", [None, [], {}, ["short"], 7, True, "x" * 500])
@pytest.mark.parametrize("name", ["type", "prompt", "key", "least", "options", "columns"])
def test_an_odd_value_in_a_question_never_breaks_the_reader(name, odd):
    problems = list(problems_of(with_field(**{name: odd})))
    if not problems:
        kind_of(with_field(**{name: odd}))


@pytest.mark.parametrize("odd", [None, [], {"moment": []}, ["start"], 7, "start"])
def test_an_odd_due_is_said(odd):
    data = copy.deepcopy(FINDS)
    data["steps"][0]["due"] = odd
    assert any("is due" in problem for problem in problems_of(data))


@given(st.dictionaries(st.sampled_from([*FINDS, "rubric", "director_steps"]), JSON))
def test_whatever_a_file_holds_is_refused_in_sentences_or_read(data):
    problems = list(problems_of({**FINDS, **data}))
    assert all(isinstance(problem, str) and problem.endswith(".") for problem in problems)
    if not problems:
        kind_of({**FINDS, **data})
