"""Joins: the fewest double ratings after which the rank test puts all raters in one class."""

from dataclasses import replace

import numpy as np
import pytest

from standlight.ratings.comparable import comparable_classes
from standlight.ratings.given import SELF, GivenRating
from standlight.ratings.joining import (
    ASKED_HALF_WIDTH_POINTS,
    JOINS_BECAUSE,
    NORMAL_95,
    join_plan,
    joins,
    with_joins,
)
from standlight.ratings.rating_information import table_of_given
from tests.ratings.given_schools import School


def classes_of(given):
    return comparable_classes(table_of_given(given)).facets["rater"]


def designs():
    three = School(3, n_ensembles=3, severity=(-0.5, 0.0, 0.5))
    bridged = three.nested() + three.rated(0, 0, 1)
    return {
        "own rater, same tasks": (School(1).nested(), 1),
        "own rater, own tasks": (School(2, own_tasks=True).nested(), 1),
        "three raters": (three.nested(), 2),
        "three raters, two joined already": (bridged, 1),
    }


@pytest.mark.parametrize("name", designs())
def test_the_classes_join_and_no_pair_of_raters_is_asked_for_nothing(name):
    given, n_pairs = designs()[name]
    found = joins(given)
    pairs = {frozenset((join.rater, join.other)) for join in found}
    assert len(classes_of(given)) == n_pairs + 1
    assert len(pairs) == n_pairs
    assert len(classes_of(with_joins(given, found))) == 1
    # Fewest: without any one pair something stays apart.
    for left_out in pairs:
        rest = [join for join in found if {join.rater, join.other} != left_out]
        assert len(classes_of(with_joins(given, rest))) > 1


def test_each_rates_takes_of_one_section_that_only_the_other_has_rated():
    given = School(4, n_students=40).nested()
    one, other = joins(given)
    assert (one.rater, one.other) == (other.other, other.rater)
    assert one.instrument == other.instrument != ""
    for join in (one, other):
        rows = [row for row in given if row.take in join.takes]
        assert len(set(join.takes)) == join.n_takes == len(join.takes)
        assert {row.rater for row in rows} == {join.other}
        assert {row.section for row in rows} == {join.section}
        assert {row.task for row in rows} == {join.task}
        assert len({row.student for row in rows}) == join.n_takes


def test_the_number_gives_the_asked_error_in_ratings_drawn_from_the_model():
    # One rater's mean level minus the other's on the takes that both rated, many times over.
    school = School(5, n_students=40, severity=(-0.3, 0.3), day=0.0)
    found = joins(school.nested())
    pairs = [(int(take[1:4]), int(take[5:])) for join in found for take in join.takes]
    means = []
    for _ in range(150):
        each = [np.mean([row.level for s, t in pairs for row in school.rated(s, t, rater)])
                for rater in (0, 1)]  # fmt: skip
        means.append(each[1] - each[0])
    error = np.std(means, ddof=1)
    asked = ASKED_HALF_WIDTH_POINTS / NORMAL_95
    # 150 draws know a standard deviation to 6 percent; a number too small by half gives 1.41.
    assert 0.75 * asked < error < 1.2 * asked


def test_fewer_criteria_ask_for_more_takes():
    few = joins(School(6, n_students=40, criteria=("tone",)).nested())
    many = joins(School(6, n_students=40, criteria=("a", "b", "c", "d")).nested())
    assert sum(join.n_takes for join in few) > 2 * sum(join.n_takes for join in many)


def test_a_guest_whose_takes_are_few_rates_more_of_the_others():
    school = School(7)
    given = school.nested() + [replace(row, rater="guest", take="guest/1", student="visitor")
                               for row in school.rated(0, 0, 0)]  # fmt: skip
    plan = join_plan(given)
    ways = {(join.rater, join.other): join.n_takes for join in plan.joins
            if "guest" in (join.rater, join.other)}  # fmt: skip
    assert sorted(ways.values())[0] == 1
    assert max(ways, key=ways.get)[0] == "guest"
    assert plan.half_width <= 1.1 * ASKED_HALF_WIDTH_POINTS


def row(take, level, rater="r0", rater_class="director"):
    return GivenRating(take, "e", "s", "flute", "t", take, 0.0, 1.0, "tone", rater, level,
                       rater_class)  # fmt: skip


BARREN = {
    "no_ratings": [],
    "one_rater": [row(f"a{n}", 1 + n % 4) for n in range(12)],
    "one_level": [row(f"a{n}", 4, f"r{n % 2}") for n in range(12)],
    "joined": School(8).nested() + School(8).rated(0, 0, 1),
}


@pytest.mark.parametrize("because", BARREN)
def test_where_nothing_is_to_be_joined_a_code_says_why(because):
    plan = join_plan(BARREN[because])
    assert (plan.joins, plan.half_width, plan.because) == ((), None, because)
    assert JOINS_BECAUSE[because]


def test_levels_by_musicians_join_nobody():
    given = School(9).nested()
    heard = {each.take: replace(each, rater="r1", rater_class=SELF) for each in given}
    assert joins([*given, *heard.values()]) == joins(given) != ()


def test_the_order_of_rows_changes_nothing():
    given = School(10, n_ensembles=3, severity=(0.0, 0.3, 0.6)).nested()
    shuffled = [given[n] for n in np.random.default_rng(1).permutation(len(given))]
    assert joins(shuffled) == joins(given)
