"""The rank test: seven designs, each classified as reason says it must be."""

import numpy as np
import pytest

from standlight.ratings.comparable import comparable_classes
from tests.ratings.facet_tables import CRITERIA, table_of


def crossed(students, tasks, raters):
    return [(s, t, c, r, 1 + (len(s + t + r) + ord(s[-1])) % 4)
            for s in students for t in tasks for r in raters for c in CRITERIA]


LOW, HIGH = ("a1", "a2", "a3", "a4"), ("b1", "b2", "b3", "b4")

OWN_RATER_SAME_TASKS = crossed(LOW, "xy", "p") + crossed(HIGH, "xy", "q")
OWN_TASKS_CROSSED_RATERS = crossed(LOW, "xy", "pq") + crossed(HIGH, "zw", "pq")
ONE, STUDENTS_APART = 1, (LOW, HIGH)

# name: rows, then the classes of students, tasks and raters. Criteria are always one class.
DESIGNS = {
    "fully crossed": (crossed(LOW + HIGH, "xy", "pq"), ONE, ONE, ONE),
    "two groups with own tasks and raters": (
        crossed(LOW, "xy", "p") + crossed(HIGH, "zw", "q"),
        STUDENTS_APART, (("w", "z"), ("x", "y")), (("p",), ("q",))),
    "own rater, same tasks": (OWN_RATER_SAME_TASKS, STUDENTS_APART, ONE, (("p",), ("q",))),
    "plus one double-rated take": (
        OWN_RATER_SAME_TASKS + crossed(("a1",), "x", "q"), ONE, ONE, ONE),
    "own tasks, crossed raters": (
        OWN_TASKS_CROSSED_RATERS, STUDENTS_APART, (("w", "z"), ("x", "y")), ONE),
    "plus one bridging student": (
        OWN_TASKS_CROSSED_RATERS + crossed(("a1",), "z", "p"), ONE, ONE, ONE),
    # Strict rater or hard tasks: no rating says which, though every student did all four.
    "each rater own tasks": (
        crossed(LOW + HIGH, "xy", "p") + crossed(LOW + HIGH, "zw", "q"),
        ONE, (("w", "z"), ("x", "y")), (("p",), ("q",))),
}


@pytest.mark.parametrize("name", DESIGNS)
def test_each_design_falls_into_the_classes_that_its_ratings_join(name):
    rows, students, tasks, raters = DESIGNS[name]
    found = comparable_classes(table_of(rows))
    assert len(found.facets["criterion"]) == 1
    for got, classes in (
        (found.students, students), (found.facets["task"], tasks), (found.facets["rater"], raters)
    ):
        assert len(got) == 1 if classes == ONE else got == classes


def test_a_sentence_names_the_classes_that_must_not_be_ranked_across():
    found = comparable_classes(table_of(OWN_RATER_SAME_TASKS))
    assert not found.all_joined
    assert found.sentences() == (
        "The students fall into 2 classes that these ratings do not join:"
        " a1, a2, a3, a4; b1, b2, b3, b4.",
        "The raters fall into 2 classes that these ratings do not join: p; q.",
    )
    assert comparable_classes(table_of(DESIGNS["fully crossed"][0])).sentences() == ()


def test_one_link_joins_two_large_groups_and_none_does_not():
    # The weakest link there is, among many ratings, is still told from none.
    students = [f"{n:03}" for n in range(300)]
    rows = crossed(students[:150], "wxyz", "pq") + crossed(students[150:], "wxyz", "rs")
    assert len(comparable_classes(table_of(rows)).facets["rater"]) == 2
    joined = rows + [(students[0], "x", "tone", "r", 2)]
    assert comparable_classes(table_of(joined)).all_joined


def test_students_who_stand_alone_are_each_a_class():
    rows = [(f"s{n}", f"t{n}", "c", "r", 1 + n % 2) for n in range(30)]
    found = comparable_classes(table_of(rows))
    assert len(found.students) == len(found.facets["task"]) == 30


def test_labels_do_not_hang_on_the_order_of_rows():
    rows = OWN_TASKS_CROSSED_RATERS
    shuffled = [rows[n] for n in np.random.default_rng(1).permutation(len(rows))]
    first, second = (comparable_classes(table_of(each)) for each in (rows, shuffled))
    assert (first.students, first.facets) == (second.students, second.facets)
