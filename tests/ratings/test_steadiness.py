"""Hidden repeats: what is counted, what is shifted, and drift only where there is one."""

import dataclasses

import numpy as np
import pytest
from scipy import stats

from standlight.ratings.steadiness import (
    BECAUSE,
    NO_SPREAD,
    TOO_FEW,
    drift_against_others,
    steadiness_of,
)
from tests.ratings.planted_takes import planted_again, planted_given


def of(rows):
    (found,) = steadiness_of(rows)
    return found


def test_levels_the_same_and_within_one_are_counted():
    rows = planted_again(1, 3)
    steps = (0, 1, -1, 2, 0, 0, -3, 1, 0)
    rows = [dataclasses.replace(row, first_level=5, again_level=5 - step)
            for row, step in zip(rows, steps, strict=True)]
    found = of(rows)
    assert (found.n_levels, found.n_takes, found.n_same, found.n_within_one) == (9, 3, 4, 7)
    assert found.because == found.in_session.because == TOO_FEW
    assert found.stricter_by is found.low is found.over_year.stricter_by is None


@pytest.mark.parametrize("n_takes, impression", [(8, 0.8), (12, 0.0), (30, 0.5)])
def test_the_interval_of_a_shift_holds_and_no_drift_is_seen_where_none_is(n_takes, impression):
    found = [of(planted_again(seed, n_takes, impression=impression)) for seed in range(300)]
    shifts = np.mean([row.sure for row in found])
    drifts = np.mean([row.in_session.sure or row.over_year.sure for row in found])
    # 300 fair draws of 5 percent are below 8.8 percent 998 times of 1000.
    assert shifts <= 0.088 and drifts <= 0.088
    assert (drifts > 0 or n_takes == 8) and shifts > 0


def test_a_rater_who_grows_stricter_is_found_by_the_evening_and_by_the_month():
    plain = [of(planted_again(seed, 60, shift=0.8)) for seed in range(20)]
    assert all(row.sure and row.stricter_by > 0 for row in plain)
    late = [of(planted_again(seed, 60, session=1.2)) for seed in range(20)]
    assert sum(row.in_session.sure and row.in_session.low > 0 for row in late) >= 17
    assert sum(row.over_year.sure for row in late) <= 2
    year = [of(planted_again(seed, 60, month=0.7)) for seed in range(20)]
    assert sum(row.over_year.sure and row.over_year.low > 0 for row in year) >= 17
    assert sum(row.in_session.sure for row in year) <= 2


def test_without_the_added_step_the_shift_is_students_interval_of_the_takes():
    rows = [row for row in planted_again(5, 40) if row.criterion == "c0"]
    steps = np.array([row.first_level - row.again_level for row in rows])
    found = of(rows)
    plain = stats.ttest_1samp(steps, 0).confidence_interval(0.95)
    widened = ((steps.var() * 40 + 1) / (steps.var() * 40)) ** 0.5
    assert found.stricter_by == pytest.approx(steps.mean())
    assert found.high - found.low == pytest.approx((plain.high - plain.low) * widened)


def test_a_rater_who_never_changes_a_level_has_an_interval_all_the_same():
    rows = [dataclasses.replace(row, again_level=row.first_level) for row in planted_again(6, 20)]
    found = of(rows)
    assert found.n_same == found.n_levels == 60
    assert found.stricter_by == 0 and found.low < -0.03 and found.high > 0.03
    assert not (found.sure or found.in_session.sure or found.over_year.sure)


def test_hearings_at_the_same_times_show_a_shift_but_no_drift():
    rows = [dataclasses.replace(row, first_minute=5.0, again_minute=20.0, again_day=row.first_day)
            for row in planted_again(7, 20)]
    found = of(rows)
    assert found.because == "" and found.stricter_by is not None
    assert found.in_session.because == found.over_year.because == NO_SPREAD


def test_raters_are_kept_apart_and_a_single_take_is_a_code():
    rows = [*planted_again(8, 20),
            *(dataclasses.replace(row, rater="r1") for row in planted_again(9, 1))]
    found = {row.rater: row for row in steadiness_of(rows)}
    assert found["r0"].because == "" and found["r1"].because == TOO_FEW
    assert steadiness_of([]) == ()
    assert found["r1"].over_year.because in BECAUSE


def test_common_takes_show_who_moves_and_ordinary_levels_do_not():
    calm = [drift_against_others(planted_given(seed, severity=(0.5, 0.0), twice=0.3)[0])[0]
            for seed in range(20)]
    assert sum(row.over_year.sure for row in calm) <= 2
    given = planted_given(3, n_students=60, severity=(0.0, 0.0), twice=0.4)[0]
    # r0 takes a level off in the second half of the year.
    moved = [dataclasses.replace(each, level=max(each.level - 1, 1))
             if each.rater == "r0" and each.given_day > 80 else each for each in given]
    (row,) = drift_against_others(moved)
    assert (row.rater, row.other) == ("r0", "r1")
    assert row.over_year.sure and row.over_year.low > 0
    alone = planted_given(4, severity=(0.0, 0.0), twice=0.0)[0]
    assert drift_against_others(alone) == ()


def test_who_grows_stricter_does_so_whichever_of_the_two_comes_first():
    given = planted_given(3, n_students=60, severity=(0.0, 0.0), twice=0.4)[0]
    moved = [dataclasses.replace(each, level=max(each.level - 1, 1))
             if each.rater == "r1" and each.given_day > 80 else each for each in given]
    (row,) = drift_against_others(moved)
    assert row.over_year.sure and row.over_year.high < 0


def test_few_common_takes_are_a_code():
    given = planted_given(5, n_students=3, n_tasks=3, severity=(0.0, 0.0), twice=0.9)[0]
    (row,) = drift_against_others(given)
    assert row.over_year.because == TOO_FEW and row.over_year.n_takes < 12
