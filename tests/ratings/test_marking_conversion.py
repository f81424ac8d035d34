"""From a mean level to the school's words, symbols or percents."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standlight.errors import StandlightError
from standlight.ratings.marking_conversion import (
    LEVELS,
    PERCENTS,
    SYMBOLS,
    Conversion,
    typed_percents,
    typed_steps,
)
from standlight.ratings.marking_policies import PLAIN_POLICY

SCHOOL = Conversion(PERCENTS, percents=(60, 75, 88, 100))


def test_the_word_agrees_with_the_printed_figure_at_every_step():
    for hundredths in range(100, 401):
        mean = hundredths / 100
        nearest = min(4, int(mean + 0.5))
        assert Conversion().word_for(mean) == {1: "Beginning", 2: "Developing", 3: "Secure",
                                               4: "Extending"}[nearest]


def test_level_words_are_the_default_and_no_percent_is_ever_assumed():
    assert PLAIN_POLICY.conversion.kind == LEVELS
    assert PLAIN_POLICY.conversion.percent_for(3.0) is None
    with pytest.raises(ValueError, match="one for each level"):
        Conversion(PERCENTS)


def test_the_plain_share_of_four_is_told_and_another_table_is_not():
    assert "Secure becomes 75" in Conversion(PERCENTS, percents=(25, 50, 75, 100)).caution
    assert SCHOOL.caution == Conversion().caution == ""


def test_percents_meet_the_schools_table_at_the_levels_and_lie_straight_between():
    assert [SCHOOL.percent_for(level) for level in (1, 2, 3, 4)] == [60, 75, 88, 100]
    assert SCHOOL.percent_for(2.5) == pytest.approx(81.5)
    assert SCHOOL.word_for(3.5) == "94 percent"


@given(st.floats(1, 4), st.floats(1, 4))
def test_a_higher_mean_never_has_a_lower_percent(one, other):
    low, high = sorted((one, other))
    assert SCHOOL.percent_for(low) <= SCHOOL.percent_for(high)


def test_symbols_as_typed_in_any_order_become_a_table_and_say_themselves():
    steps = typed_steps([("1", "Not yet"), ("3.4", "A"), ("2,4", "B"), ("", "")])
    table = Conversion(SYMBOLS, steps)
    assert [table.word_for(mean) for mean in (3.4, 3.39, 2.4, 1.0)] == ["A", "B", "B", "Not yet"]
    assert table.sentence == (
        "The school's table: 3.4 and up is A, 2.4 and up is B; below that Not yet."
    )


# OWASP, CSV injection: the signs that make a spreadsheet run a cell, full-width forms too.
@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "＝", "＋", "－", "＠"])
def test_a_symbol_that_a_spreadsheet_would_run_is_refused(sign):
    with pytest.raises(StandlightError, match="formula"):
        typed_steps([("1", f"{sign}A")])
    assert typed_steps([("1", f"A{sign}")])


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([], "no row"), ([("2", "A")], "lowest row begins at 2"),
        ([("x", "A")], "“x” is no number"),
        ([("1", "")], "needs a symbol"), ([("1", "A"), ("1.0", "B")], "begin at the same number"),
        ([("nan", "A")], "no number"),
    ],
)
def test_a_slip_in_the_table_of_symbols_is_said_with_its_row(rows, said):
    with pytest.raises(StandlightError, match=said):
        typed_steps(rows)


@pytest.mark.parametrize(
    ("cells", "said"),
    [(["60", "", "90", "100"], "percent of Developing"),
     (["60", "50", "90", "100"], "from the top"),
     (["60", "75", "90", "101"], "between 0 and 100")],
)
def test_a_slip_in_the_table_of_percents_is_said(cells, said):
    with pytest.raises(StandlightError, match=said):
        typed_percents(cells)


@pytest.mark.parametrize("steps", [(), ((2.0, "high"), (3.0, "low")), ((3.0, "a"), (1.5, "b"))])
def test_a_conversion_table_out_of_order_or_with_a_hole_is_refused(steps):
    with pytest.raises(ValueError):
        Conversion(LEVELS, steps)
