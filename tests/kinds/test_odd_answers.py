"""Answers as they really come: pasted books, emoji, other scripts, scripts in tags, broken text."""

import copy

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standlight.kinds import (
    Field,
    Option,
    is_blank,
    problems_with,
    standing_of,
    text_of,
    words_in,
)
from standlight.kinds.values import Due, Step

SOUND = "0f8fad5b-d9cb-469f-a165-70867728950e"
LONG = Field("f", "long", "?", least=3, most=150)
PINNED = (Field("f", "measure", "?"), Field("f", "clock", "?"), Field("f", "spot", "?"))
PLACES = ({"measure": 3}, {"at_s": 2.5}, {"from_measure": 3, "what": "x"})


@pytest.mark.parametrize(
    "text",
    [
        "<script>alert('x')</script> <b>very</b> loud",
        "🎺🎻🥁 we were together 👩🏽‍🎤 at last",
        "كانت البداية هادئة ثم صارت أعلى",
        "הפתיחה שקטה ואחר כך חזקה",
        "\u202eright to left mark left in\u202c the text",
        "'; DROP TABLE answers; --  \\n {{ 7*7 }} %s",
        "=HYPERLINK(1) +1 -1 @cmd",
        "a\tb\nc\r\nd  e",
    ],
)
def test_a_text_is_right_and_is_kept_letter_by_letter(text):
    assert problems_with(LONG, text) == ()
    assert text_of(LONG, text) == text


@pytest.mark.parametrize("text", ["word " * 40_000, "x" * 200_000, "🎺" * 200_000])
@pytest.mark.parametrize("field", [LONG, Field("f", "short", "?")])
def test_a_pasted_book_is_said_with_its_length_and_left_as_it_is(field, text):
    answers = {"f": text}
    before = copy.copy(text)
    standing = standing_of(Step("s", "S", Due("any"), (field,)), answers)
    assert len(standing.wrong) == 1 and not standing.open
    assert standing.wrong[0].words.startswith(f"This text is too long to keep ({len(text):,} char")
    assert answers == {"f": before}


@pytest.mark.parametrize(
    ("field", "answer", "part"), [*zip(PINNED, PLACES, ("words", "words", "what"), strict=True)]
)
def test_a_book_pasted_beside_a_pin_is_said_too(field, answer, part):
    assert problems_with(field, {**answer, part: "fine <i>words</i>"}) == ()
    assert "too long to keep" in problems_with(field, {**answer, part: "x" * 200_000})[0]
    assert problems_with(field, {**answer, part: ["no", "text"]})
    assert problems_with(field, {**answer, "zebra": "x"})


def test_a_source_pasted_whole_is_said():
    source = {"kind": "primary", "author": "a", "title": "t", "where": "w"}
    field = Field("f", "source", "?")
    assert problems_with(field, source) == ()
    assert "too long" in problems_with(field, {**source, "title": "x" * 30_000})[0]


@pytest.mark.parametrize("broken", ["three words \x00 here", "three words \ud83c here"])
def test_a_character_that_no_store_can_hold_is_told_with_its_place(broken):
    assert problems_with(LONG, broken) == (
        "Character 13 of this text is broken (a slip in copying?): delete it.",
    )
    assert problems_with(PINNED[0], {"measure": 3, "words": broken})


@given(st.text())
def test_every_text_that_is_right_can_be_stored(text):
    field = Field("f", "long", "?")
    if not problems_with(field, text):
        assert text.encode("utf-8").decode("utf-8") == text


def test_a_list_without_end_is_said():
    field = Field("f", "rows", "?", columns=(Field("a", "short", "A"),))
    assert "This list is too long to keep (500 rows; 200 fit)." in problems_with(
        field, [{"a": "x"}] * 500
    )


@pytest.mark.parametrize("kind", ["short", "long"])
def test_a_spoken_answer_stands_for_a_written_one(kind):
    field = Field("f", kind, "?", least=10)
    assert problems_with(field, {"sound": SOUND}) == ()
    assert text_of(field, {"sound": SOUND}) == "a spoken answer"
    assert standing_of(Step("s", "S", Due("any"), (field,)), {"f": {"sound": SOUND}}).complete
    assert is_blank({"sound": ""})


@pytest.mark.parametrize(
    "answer",
    [
        {"sound": 4},
        {"sound": "seven"},
        {"sound": SOUND.upper()},
        {"sound": SOUND.replace("-", "")},
        {"sound": "{" + SOUND + "}"},
        {"sound": SOUND, "more": "x"},
        {"take": 4},
    ],
)
@pytest.mark.parametrize("kind", ["recording", "short"])
def test_a_sound_that_has_no_key_did_not_arrive(kind, answer):
    assert problems_with(Field("f", kind, "?"), answer) == (
        "This recording did not arrive: please send it again.",
    )


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("soft, then   loud", 3),
        ("", 0),
        ("음악이 점점 커진다", 3),
        ("音乐越来越响", 3),
        ("だんだん大きくなる", 5),
        ("ดนตรีค่อยๆดังขึ้น", 5),
        ("f 音乐 mf", 3),
    ],
)
def test_words_are_counted_in_scripts_that_write_no_spaces(text, count):
    assert words_in(text) == count


@given(st.text(alphabet=st.characters(max_codepoint=0x2FF)))
def test_in_scripts_with_spaces_words_are_what_stands_between_them(text):
    assert words_in(text) == len(text.split())


def test_a_spot_asks_the_questions_of_its_own_columns():
    spot = Field("f", "spot", "?", columns=(
        Field("what", "choice", "What?", options=(Option("late", "I was late"),)),
        Field("own", "short", "Say more", required=False),
        Field("try", "choice", "Try?", options=(Option("count", "count aloud"),)),
    ))  # fmt: skip
    right = {"piece": "March", "from_measure": 3, "what": "late", "own": "again", "try": "count"}
    assert problems_with(spot, right) == ()
    assert text_of(spot, right) == (
        "March, measure 3: I was late. again. I will try: count aloud"
    )
    assert problems_with(spot, {**right, "try": "sing", "what": ""}) == (
        "“What?” is empty.",
        "Please choose one of the answers shown.",
    )
