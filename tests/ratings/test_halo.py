"""What the criteria of a take share: found where planted, not claimed where there is none."""

import dataclasses

import numpy as np
import pytest

from standlight.ratings.given import DIRECTOR, SELF
from standlight.ratings.halo import BECAUSE, ONE_EACH, ONE_RATER, TOO_FEW, shared_impressions
from standlight.ratings.take_effects import hearings_of, log_likelihood
from standlight.ratings.take_stages import DAY, STUDENT
from standlight.ratings.take_students import student_places
from tests.ratings.planted_takes import planted_given

SEEDS = range(40, 46)


def over_all(given):
    return shared_impressions(given)[0]


def finite(rows):
    return all(
        value is None or np.isfinite(value)
        for row in rows
        for value in dataclasses.astuple(row)
        if not isinstance(value, str))


def test_a_shared_day_is_found_where_planted_and_its_spread_lies_in_the_interval():
    found = [over_all(planted_given(seed, day=0.7)[0]) for seed in SEEDS]
    assert sum(each.sure for each in found) == len(SEEDS)
    # A spread of .7 logits is about .43 steps of these levels, by their curve.
    assert sum(each.low < 0.43 < each.high for each in found) >= len(SEEDS) - 1
    assert np.mean([each.day_points for each in found]) > np.mean(
        [each.own_points for each in found])


def test_nothing_is_claimed_where_only_the_musicians_and_their_growth_differ():
    found = [
        shared_impressions(planted_given(seed, growth=0.8, growth_sd=0.6)[0]) for seed in SEEDS]
    assert sum(rows[0].sure for rows in found) <= 1
    assert sum(any(row.own_sure for row in rows) for rows in found) <= 1


def test_one_raters_impression_is_found_beside_everybodys_days_and_not_laid_on_the_others():
    planted = {"n_students": 70, "day": 0.4, "own": (0.9, 0.0, 0.0), "growth_sd": 0.6}
    found = [shared_impressions(planted_given(seed, **planted)[0]) for seed in SEEDS[:4]]
    assert all(rows[1].rater == "r0" for rows in found)
    assert sum(rows[1].own_sure for rows in found) >= 3
    assert sum(row.own_sure for rows in found for row in rows[2:]) <= 1


def test_without_a_take_heard_twice_the_day_and_the_impression_stay_together():
    rows = shared_impressions(planted_given(3, day=0.7, twice=0.0)[0])
    assert rows[0].sure
    assert {row.apart for row in rows if not row.own_sure} == {ONE_EACH}
    assert rows[0].day_points is rows[0].own_points is None


def test_one_rater_alone_is_told_that_day_and_impression_cannot_be_told_apart():
    rows = shared_impressions(planted_given(4, day=0.7, severity=(0.0,), own=(0.0,))[0])
    assert [row.rater for row in rows] == ["", "r0"]
    assert {row.apart for row in rows} == {ONE_RATER}
    assert rows[0].sure and not rows[1].own_sure


def test_the_likelihood_without_days_is_the_plain_many_facet_likelihood_of_a_sum():
    # One take each: the day and the musician are one normal effect, whichever it is called.
    given = planted_given(5, n_tasks=1)[0]
    heard = hearings_of(given)
    one, two = np.zeros((2, 5))
    one[STUDENT], two[STUDENT], two[DAY] = 1.44, 0.94, 0.5
    assert log_likelihood(heard, one) == pytest.approx(log_likelihood(heard, two), abs=0.03)
    assert log_likelihood(heard, one * 3) < log_likelihood(heard, one) - 1


def test_self_ratings_do_not_enter():
    given = planted_given(6, day=0.7)[0]
    extra = [dataclasses.replace(each, rater="me", rater_class=SELF, level=4) for each in given]
    assert {each.rater_class for each in given} == {DIRECTOR}
    assert shared_impressions([*given, *extra]) == shared_impressions(given)


def one_criterion(given):
    return [each for each in given if each.criterion == "c0"]


def all_highest(given):
    return [dataclasses.replace(each, level=4) for each in given]


def one_take_each(given):
    return [each for each in given if each.task == "t00"]


def nothing(given):
    return given[:0]


@pytest.mark.parametrize("spoil", [one_criterion, all_highest, one_take_each, nothing])
def test_what_tells_nothing_is_a_code_and_no_figure(spoil):
    rows = shared_impressions(spoil(planted_given(7)[0]))
    assert [row.rater for row in rows] == [""]
    assert rows[0].because in BECAUSE and rows[0].spread_points is None and not rows[0].sure


def test_a_rater_with_one_take_gets_a_code_and_the_others_their_figures():
    given = planted_given(8, day=0.7)[0]
    rare = [
        dataclasses.replace(each, rater="r9") if each.take == "s000/00" else each
        for each in given if each.take != "s000/00" or each.rater == given[0].rater]
    rows = {row.rater: row for row in shared_impressions(rare)}
    assert rows["r9"].because == TOO_FEW and rows["r9"].spread_points is None
    assert rows["r0"].spread_points > 0.2
    assert finite(rows.values())


def test_musicians_places_are_on_the_scale_of_the_takes_and_their_intervals_hold():
    held, slopes, effects = [], [], []
    for seed in range(60, 66):
        given, _, true = planted_given(seed, day=0.7, n_tasks=10, severity=(0.0,), own=(0.0,))
        found = student_places(hearings_of(given))
        slopes.append(np.polyfit(true, found.logits, 1)[0])
        gap = found.logits - true
        held.append(np.abs(gap - gap.mean()) < 1.96 * found.errors)
        effects.append(found.design_effect)
    assert np.mean(held) == pytest.approx(0.95, abs=0.035)
    assert np.mean(slopes) == pytest.approx(1.0, abs=0.06)
    assert min(effects) > 1.2
