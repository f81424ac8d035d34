"""The twelve kinds that ship: plain words, forms that can be filled, nothing private asked."""

import re

import pytest

from standlight.criteria import CRITERIA
from standlight.kinds import (
    FIELD_TYPES,
    KINDS,
    LAID_BEFORE,
    OCCASIONS,
    columns_of,
    gather_of,
    narrowed,
    problems_with,
    reading_grade,
    rules_of,
    standing_of,
    text_of,
)
from standlight.kinds.field_types import SOURCE_KINDS
from standlight.kinds.reading_grade import syllables_in

STEPS = [(kind.key, step.key) for kind in KINDS.values() for step in kind.steps]
LONG_WORDS = {"adjudication", "developing", "secondary"}
"""Words of four beats or more that a musician has to meet: a kind, a level, a sort of source."""

PRIVATE = (
    "family|families|mother|father|mom|dad|parents?|brothers?|sisters?|grand\\w+|home town|"
    "god|faith|church|pray\\w*|religio\\w+|holiday|"
    "health|sick|ill|doctor|medicine|therapy|sad|afraid|anxious|depress\\w+|diet|sleep|"
    "money|buy|bought|afford|cost|rich|poor|job|"
    "country|born|race|accent|immigra\\w+|language|heritage|"
    "boyfriend|girlfriend|dating|crush|love|loved|lonely|friend|friends|politic\\w*|vote"
)
"""Words that would ask for what is protected or private."""


def step_of(kind, step):
    return next(one for one in KINDS[kind].steps if one.key == step)


def words_of(field):
    yield from filter(None, (field.prompt, field.help))
    yield from (option.label for option in field.options)
    for column in columns_of(field):
        yield from words_of(column)


def words_of_step(step):
    yield step.name
    yield from (choice.prompt for choice in step.choices if choice.prompt)
    for field in step.fields:
        yield from words_of(field)


def words_of_row(row):
    yield from (row.name, row.question, *row.descriptors)


def words_of_kind(kind):
    yield from (kind.name, kind.aim)
    for row in kind.rubric:
        yield from words_of_row(row)
    for step in kind.steps:
        yield from words_of_step(step)


def right_answer(field):
    """The least that answers ``field``, from its own settings."""
    words = " ".join(["note"] * (field.least or 1))
    keys = [option.key for option in field.options]
    makers = {
        "words": lambda: words,
        "measures": lambda: {"measure": 7} if field.type == "measure" else spot(field),
        "clock": lambda: {"at_s": 7.5},
        "rows": lambda: [cells(field)] * (field.least or 1),
        "sources": lambda: {"kind": (keys or list(SOURCE_KINDS))[0], "author": "A singer",
                            "title": "A letter", "where": "the school library"},
        "none": lambda: {"sound": "0f8fad5b-d9cb-469f-a165-70867728950e"}
        if field.type == "recording" else True,
    }  # fmt: skip
    counted = {"several": keys[: field.least or 1], "scale": field.least}
    makers["counts"] = lambda: counted.get(field.type, keys[0] if keys else None)
    return makers[FIELD_TYPES[field.type].gather]()


def cells(field):
    return {column.key: right_answer(column) for column in columns_of(field) if column.required}


def spot(field):
    return {"piece": "March", "from_measure": 7, **cells(field)}


def least_answers(step):
    """Answers to what a step asks at the least: the required, and as many as its choices say."""
    chosen = {key for choice in step.choices for key in choice.of}
    wanted = {field.key for field in step.fields if field.required} - chosen
    wanted |= {key for choice in step.choices for key in choice.of[: choice.least]}
    return {field.key: right_answer(field) for field in step.fields if field.key in wanted}


def test_all_twelve_kinds_of_a_year_are_there_each_in_its_place():
    assert len(KINDS) == 12
    assert {kind.moment for kind in KINDS.values()} == set(OCCASIONS) - {""}
    order = [list(OCCASIONS).index(kind.moment) for kind in KINDS.values()]
    assert len({kind.name for kind in KINDS.values()}) == 12
    assert order == sorted(order)
    processes = {process for kind in KINDS.values() for process in kind.process}
    assert processes == {"perform", "respond", "connect"}


def test_every_type_of_question_is_used_by_some_kind():
    used = {
        one.type
        for kind in KINDS.values()
        for step in kind.steps
        for field in step.fields
        for one in (field, *columns_of(field))
    }
    assert used == set(FIELD_TYPES)


@pytest.mark.parametrize(("kind", "step"), STEPS)
def test_what_a_musician_reads_is_for_grade_6_at_most(kind, step):
    texts = list(words_of_step(step_of(kind, step)))
    assert reading_grade("\n".join(texts)).grade <= 6.0
    # The formula means little for a handful of words: from five on, each must hold by itself.
    hard = [text for text in texts if len(text.split()) >= 5 and reading_grade(text).grade > 6.0]
    assert not hard


@pytest.mark.parametrize("key", KINDS)
def test_the_name_and_the_aim_of_a_kind_are_plain_too(key):
    assert reading_grade(KINDS[key].aim).grade <= 6.0
    assert len(KINDS[key].name.split()) <= 4


RUBRICS = {
    "background_note": ["sources", "facts", "heard"],
    "concert_reflection": ["places", "reasons", "next"],
    "skill_project": ["goal", "evidence", "learned"],
    "adjudication": ["reasons"],
}
PERSON = (
    "you|your|he|she|his|her|effort|tried|tries|hard|lazy|careful|careless|attitude|talent\\w*|"
    "gifted|smart|polite|neat|nice|musician|student|writer"
)
"""Words that would look at a person or at how hard they tried, not at what is written."""


def test_levels_are_given_where_an_answer_can_show_them_and_nowhere_else():
    found = {key: [row.key for row in kind.rubric] for key, kind in KINDS.items() if kind.rubric}
    assert found == RUBRICS


@pytest.mark.parametrize("key", RUBRICS)
def test_a_rubric_is_plain_and_looks_at_the_answer_alone(key):
    for row in KINDS[key].rubric:
        texts = list(words_of_row(row))
        assert reading_grade("\n".join(texts)).grade <= 6.0
        long = [text for text in texts if len(text.split()) >= 5]
        assert not [text for text in long if reading_grade(text).grade > 6.0]
        assert not re.findall(rf"\b(?:{PERSON})\b", " ".join(texts).lower())
        assert all(one.endswith((".", "?")) for one in (row.question, *row.descriptors))


@pytest.mark.parametrize("key", RUBRICS)
def test_every_row_of_a_rubric_meets_a_step(key):
    kind = KINDS[key]
    met = {row.key for step in kind.steps for row in kind.rows_at(step.key)}
    assert met == {row.key for row in kind.rubric}


def test_a_director_fills_the_steps_that_can_be_laid_over_the_groups():
    filled = {
        key: [step.key for step in kind.steps if kind.side_at(step.key)]
        for key, kind in KINDS.items()
        if kind.director_side
    }
    assert filled == {
        "score_study": ["find"],
        "ensemble_acts": ["acts"],
        "listening_map": ["first", "second", "third"],
        "adjudication": ["practice", "judge"],
    }


def test_no_long_word_hides_in_the_mean():
    text = "\n".join(words for kind in KINDS.values() for words in words_of_kind(kind))
    words = {word.lower() for word in re.findall(r"[A-Za-z]+", text)}
    assert {word for word in words if syllables_in(word) > 3} == LONG_WORDS


@pytest.mark.parametrize("key", KINDS)
def test_no_long_sentence_hides_in_the_mean(key):
    sentences = re.split(r"[.!?:]\s|\n", "\n".join(words_of_kind(KINDS[key])))
    assert max(len(sentence.split()) for sentence in sentences) <= 18


def test_what_is_laid_before_is_told_in_plain_words():
    assert reading_grade("\n".join(LAID_BEFORE.values())).grade <= 6.0
    laid = {one for kind in KINDS.values() for step in kind.steps for one in step.laid_before}
    assert laid == set(LAID_BEFORE)


@pytest.mark.parametrize(("kind", "step"), STEPS)
def test_a_form_can_be_filled_as_it_asks(kind, step):
    step = step_of(kind, step)
    answers = least_answers(step)
    assert standing_of(step, answers).complete
    assert not standing_of(step, {}).complete
    for field in step.fields:
        assert problems_with(field, right_answer(field)) == ()
        assert text_of(field, right_answer(field))
    for key in answers:
        assert not standing_of(step, {**answers, key: None}).complete, f"{key} is not asked for"


@pytest.mark.parametrize("key", KINDS)
def test_nothing_private_is_asked(key):
    text = "\n".join(words_of_kind(KINDS[key]))
    found = set(re.findall(rf"\b(?:{PRIVATE})\b", text.lower()))
    allowed = {
        "score_study": {"job"},  # a part's job in the music
        "finds": {"friend"},  # whom to tell what to listen for
        "skill_project": {"friend"},
    }
    assert found <= allowed.get(key, set())


@pytest.mark.parametrize("key", KINDS)
def test_what_a_group_may_read_is_asked_of_its_owner(key):
    types = {field.type for step in KINDS[key].steps for field in step.fields}
    assert ("group" in KINDS[key].seen_by) == ("consent" in types)


@pytest.mark.parametrize("key", KINDS)
def test_answers_to_choose_from_are_told_apart(key):
    for step in KINDS[key].steps:
        for field in step.fields:
            for one in (field, *columns_of(field)):
                labels = [option.label.lower() for option in one.options]
                assert len(set(labels)) == len(labels)
                assert all(len(label) <= 64 for label in labels), "a label fits a phone"


def test_a_remark_is_six_taps_and_one_sentence():
    (step,) = KINDS["rehearsal_remark"].steps
    (spot_field,) = step.fields
    asked = [column for column in columns_of(spot_field) if column.required]
    typed = [column for column in columns_of(spot_field) if column.type in ("short", "long")]
    # The piece is given; into the measure, two digits, a tap for each choice, and send.
    assert {column.type for column in asked} == {"choice"}
    assert 1 + 2 + len(asked) + 1 <= 6
    assert len(typed) == 1 and typed[0].most <= 30
    assert gather_of(spot_field) == "measures"


def test_ensemble_acts_are_seen_by_both_and_never_marked():
    kind = KINDS["ensemble_acts"]
    assert kind.director_side == "each" and not kind.marked
    assert [one.key for one in KINDS.values() if not one.marked] == ["ensemble_acts"]
    levels = [field for field in kind.steps[0].fields if field.type == "levels"]
    examples = kind.steps[0].choices[0].of
    assert len(levels) == 8 and [f"{field.key}_example" for field in levels] == [*examples]


def test_a_check_is_heard_by_the_criteria_that_the_director_has():
    step = KINDS["playing_check"].steps[0]
    rows = {field.key: field for field in step.fields if field.type == "levels"}
    assert set(rows) == set(CRITERIA)
    for key, field in rows.items():
        assert [option.key for option in field.options] == [
            str(level) for level in CRITERIA[key].descriptors
        ]
    three = ["tone", "intonation", "diction"]
    rules = rules_of({"required": three, "choices": {"heard": [3, 3]}}, step)
    left = [field.key for field in narrowed(step, rules).fields]
    assert left == ["tone", "intonation", "diction", "best", "spot"]


def test_banks_are_large_and_an_assignment_can_ask_for_some():
    before, after = KINDS["concert_reflection"].steps
    assert len(before.fields) >= 12 and len(after.choices[0].of) >= 6
    (bank,) = KINDS["music_and_me"].steps
    assert len(bank.fields) >= 20
    step = narrowed(bank, rules_of({"required": ["live"], "choices": {"bank": [2, 2]}}, bank))
    answers = {key: right_answer(bank.fields[0]) for key in ("live", "made")}
    assert standing_of(step, answers).complete
    assert [one.key for one in standing_of(step, {"made": answers["made"]}).open] == ["live"]


def test_a_note_stands_on_a_primary_and_a_secondary_source():
    sources = KINDS["background_note"].steps[0]
    fields = {field.key: field for field in sources.fields}
    secondary = right_answer(fields["secondary"])
    assert secondary["kind"] == "secondary"
    assert problems_with(fields["primary"], secondary) == (
        "Here a primary source is asked for.",
    )
    (note,) = (field for field in KINDS["background_note"].steps[1].fields if field.key == "note")
    assert (note.least, note.most) == (80, 150)


def test_a_judge_agrees_practises_judges_and_thinks_again_about_the_same_captions():
    agree, practice, judge, after = KINDS["adjudication"].steps
    captions = [field.key for field in judge.fields if field.type == "levels"]
    assert [field.key for field in practice.fields if field.type == "levels"] == captions
    assert [field.key for field in agree.fields] == [f"{key}_words" for key in captions]
    assert {f"{key}_reason" for key in captions} <= {field.key for field in judge.fields}
    assert practice.most_times is None and practice.fields[0].type == "choice"
    assert not next(field for field in judge.fields if field.key == "division").required
    assert "group" in after.laid_before


def test_a_year_lays_the_whole_year_in_front_first():
    assert KINDS["year_reflection"].steps[0].laid_before == ("takes", "goals", "remarks", "finds")


def test_three_hearings_have_one_question_each_and_then_the_maps_meet():
    first, second, third, together = KINDS["listening_map"].steps
    assert len(first.fields) == len(second.fields) == 1
    assert {gather_of(field) for field in (*first.fields, *second.fields)} == {"clock"}
    assert third.fields[0].type == "clock" and "group" in together.laid_before
