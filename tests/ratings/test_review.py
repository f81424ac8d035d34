"""One review of odd tables: never an error, never a claim."""

import math
from dataclasses import fields, is_dataclass, replace

import pytest

from standlight.ratings.given import SELF, GivenRating
from standlight.ratings.review import review_ratings

CRITERIA = ("rhythm", "tone")


def mixed(student, task):
    """Levels of every kind."""
    return 1 + (student + task) % 4


def rows(n_students=6, n_tasks=3, raters=("a",), level=mixed):
    """Every rater on every take of a small band."""
    return [
        GivenRating(
            student=f"s{student}", ensemble="band", section=f"band/{student % 2}",
            instrument="Flute", task=f"t{task}", take=f"s{student}/t{task}", day=40.0 * task,
            given_day=40.0 * task, criterion=criterion, rater=rater,
            level=level(student, task),
        )
        for student in range(n_students)
        for task in range(n_tasks)
        for criterion in CRITERIA
        for rater in raters
    ]  # fmt: skip


def numbers(value):
    """Every float that stands anywhere in a frozen value."""
    if isinstance(value, float):
        yield value
    elif is_dataclass(value):
        for one in fields(value):
            yield from numbers(getattr(value, one.name))
    elif isinstance(value, dict):
        for one in value.values():
            yield from numbers(one)
    elif isinstance(value, (list, tuple)):
        for one in value:
            yield from numbers(one)


ODD = {
    "nothing": [],
    "one level": rows(n_students=1, n_tasks=1)[:1],
    "one rater": rows(),
    "one level only": rows(level=lambda *_: 3),
    "all lowest or highest": rows(level=lambda student, _: 1 if student % 2 else 4),
    "two raters alike": rows(raters=("a", "b")),
    "self only": [replace(row, rater=row.student, rater_class=SELF) for row in rows()],
    "one musician": rows(n_students=1),
    "twice the same row": [*rows(), *rows()],
    "one take, two levels": [*rows(), *(replace(row, level=1 + row.level % 4) for row in rows())],
}


@pytest.mark.parametrize("name", ODD)
def test_an_odd_table_brings_no_error_no_nan_and_no_claim(name):
    review = review_ratings(ODD[name])
    assert review.statements == ()
    assert all(math.isfinite(number) for number in numbers(review))


def test_a_small_group_whose_passages_never_came_back_is_refused_its_growth():
    review = review_ratings(rows())
    assert [(one.code, one.subjects, one.task) for one in review.refusals] == [
        ("no_anchor", ("band",), "t0")
    ]
    again = [replace(row, task="t0") if row.task == "t2" else row for row in rows()]
    assert review_ratings(again).refusals == ()


def test_how_two_moved_and_their_last_month_are_held_where_takes_are_common():
    review = review_ratings(rows(n_students=20, n_tasks=3, raters=("a", "b")))
    assert [(one.rater, one.other, one.over_year.n_takes) for one in review.drifts] == [
        ("a", "b", 60)]
    assert {one.n_common_takes for one in review.contrasts} == {60}
    assert {one.n_common_takes for one in review.month} == {20}
    alone = review_ratings(rows(n_students=20))
    assert alone.drifts == alone.month == alone.contrasts == ()


def test_names_of_keys_do_not_matter():
    given = rows(raters=("a", "b"))
    swapped = [replace(row, rater={"a": "y", "b": "x"}[row.rater]) for row in given]
    one, other = review_ratings(given), review_ratings(swapped)
    assert len(one.contrasts) == len(other.contrasts) > 0
    for mine, theirs in zip(one.contrasts, other.contrasts, strict=True):
        assert mine.stricter_by == pytest.approx(-theirs.stricter_by, abs=1e-6)
