"""All answers to one question laid together: counts against a plain count, spreads, pins."""

import math
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standlight.kinds import (
    FIELD_TYPES,
    GATHERS,
    Count,
    Field,
    Option,
    Pin,
    Spread,
    cells,
    counted,
    gather_of,
    pinned,
    spread,
)

THREE = tuple(Option(key, key.upper()) for key in "abc")
LEVELS = Field("f", "levels", "?", options=THREE)
SCALE = Field("f", "scale", "?", least=2, most=5, options=(Option("lo", "low"), Option("hi", "hi")))
SEVERAL = Field("f", "several", "?", options=THREE)
MAP = Field("f", "rows", "?", columns=(
    Field("at", "clock", "When?"),
    Field("what", "choice", "What?", options=THREE),
    Field("about", "short", "More", required=False),
))  # fmt: skip
SPOT = Field("f", "spot", "?")


@given(st.lists(st.sampled_from(["a", "b", "c", None, "", "zebra", 7])))
def test_a_level_row_is_counted_as_a_person_counts_it(answers):
    right = [answer for answer in answers if answer in ("a", "b", "c")]
    counts = counted(LEVELS, answers)
    assert [(one.key, one.label) for one in counts] == [("a", "A"), ("b", "B"), ("c", "C")]
    assert [one.n for one in counts] == [sum(a == key for a in right) for key in "abc"]
    if right:
        assert math.isclose(sum(one.share for one in counts), 1.0)
    else:
        assert {one.share for one in counts} == {None}


def test_of_several_each_share_is_of_the_people_who_answered():
    answers = [["a", "b"], ["a"], [], None, ["b", "b"], ["a", "c"]]
    assert [(one.key, one.n) for one in counted(SEVERAL, answers)] == [("a", 3), ("b", 1), ("c", 1)]
    assert counted(SEVERAL, answers)[0].share == 1.0
    assert counted(SEVERAL, answers)[1].share == pytest.approx(1 / 3)


def test_a_scale_is_counted_step_by_step_and_its_ends_have_words():
    assert counted(SCALE, [2, 5, 5, 9, True, None]) == (
        Count("2", "2 low", 1, 1 / 3), Count("3", "3", 0, 0.0),
        Count("4", "4", 0, 0.0), Count("5", "5 hi", 2, 2 / 3),
    )  # fmt: skip


@given(st.lists(st.integers(0, 7) | st.none()))
def test_a_spread_is_the_median_and_the_ends_of_what_is_right(answers):
    right = [answer for answer in answers if answer is not None and 2 <= answer <= 5]
    found = spread(SCALE, answers)
    if not right:
        assert found is None
    else:
        assert found == Spread(statistics.median(right), min(right), max(right), len(right))


@given(st.lists(st.sampled_from("abc"), min_size=1))
def test_a_spread_of_levels_counts_from_one_in_the_order_of_the_row(answers):
    places = ["abc".index(answer) + 1 for answer in answers]
    assert spread(LEVELS, answers) == Spread(
        statistics.median(places), min(places), max(places), len(places)
    )


@pytest.mark.parametrize("kind", ["short", "measure", "rows", "recording", "source", "consent"])
def test_what_cannot_be_counted_gives_no_counts_and_no_spread(kind):
    field = Field("f", kind, "?", columns=MAP.columns if kind == "rows" else ())
    assert counted(field, ["a", {"measure": 3}, 4]) == ()
    assert spread(field, ["a", {"measure": 3}]) is None


def test_answers_without_an_order_have_no_median():
    assert spread(SEVERAL, [["a"], ["b"]]) is None
    assert spread(Field("f", "choice", "?", options=THREE), ["a", "b"]) is None


def test_measures_are_pinned_in_their_order_with_their_owner_and_words():
    answers = [{"measure": 30, "words": " the run "}, None, {"measure": 0}, {"measure": 4}]
    assert pinned(Field("f", "measure", "?"), answers) == (Pin(3, 4, ""), Pin(0, 30, "the run"))


def test_spots_are_pinned_by_piece_with_what_is_said_and_what_is_planned():
    answers = [
        {"piece": "Waltz", "from_measure": 2, "what": "late."},
        {"piece": "March", "from_measure": 9, "to_measure": 12, "what": "loud", "try": "listen"},
        {"piece": "March", "from_measure": 9},
    ]
    assert pinned(SPOT, answers) == (
        Pin(1, 9, "loud. I will try: listen", 12, "March"),
        Pin(0, 2, "late.", None, "Waltz"),
    )


def test_pins_in_a_list_carry_the_rest_of_their_row():
    answers = [
        [{"at": {"at_s": 75.5, "words": "here"}, "what": "b", "about": "horns"}, {"what": "a"}],
        "no list",
        [{"at": {"at_s": 3}, "what": "zebra"}, "no row", {"at": {"at_s": -1}, "what": "a"}],
    ]
    assert pinned(MAP, answers) == (Pin(2, 3, ""), Pin(0, 75.5, "here: B, horns"))


def test_a_column_of_a_list_is_counted_like_a_question_of_its_own():
    answers = [[{"what": "b"}, {"what": "b"}, {"what": ""}], None, [{"what": "a"}, {"what": "?"}]]
    found = cells(MAP, "what", answers)
    assert found == ((0, "b"), (0, "b"), (2, "a"))
    counts = counted(MAP.columns[1], [cell for _, cell in found])
    assert [one.n for one in counts] == [1, 2, 0]


def test_a_question_inside_a_spot_is_counted_too():
    spot = Field("f", "spot", "?", columns=(Field("what", "choice", "What?", options=THREE),))
    answers = [{"from_measure": 3, "what": "c"}, None, {"from_measure": 9, "what": "c"}]
    assert cells(spot, "what", answers) == ((0, "c"), (2, "c"))


def test_every_type_is_laid_together_in_a_known_way_and_a_list_goes_by_its_first_column():
    assert {row.gather for row in FIELD_TYPES.values()} == set(GATHERS)
    assert gather_of(MAP) == "clock"
    assert gather_of(Field("f", "rows", "?", columns=(LEVELS,))) == "counts"
    assert gather_of(SPOT) == "measures"


@pytest.mark.parametrize("field", [LEVELS, SCALE, SEVERAL, MAP, SPOT], ids=lambda one: one.type)
@given(st.lists(st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=4),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(
        st.sampled_from(["at", "what", "at_s", "from_measure", "measure"]), inner, max_size=3),
    max_leaves=5,
), max_size=4))  # fmt: skip
def test_whatever_the_answers_are_they_are_laid_together_or_left_out(field, answers):
    assert all(0 <= pin.owner < len(answers) for pin in pinned(field, answers))
    assert all(0 <= one.n <= len(answers) for one in counted(field, answers))
    found = spread(field, answers)
    assert found is None or found.lowest <= found.median <= found.highest
