"""Doubling: the errors are those of a full elimination, and the picks lessen them most."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from standlight.ratings.double_choice import PRIOR_LOGITS, DoubleChoice
from standlight.ratings.double_rating import BALANCE, DOUBLES_BECAUSE, worth_hearing_twice
from standlight.ratings.given import GivenRating
from standlight.ratings.rating_information import rating_information
from tests.ratings.given_schools import School


def joined_school(seed, **more):
    school = School(seed, **{"n_ensembles": 3, "severity": (-0.5, 0.0, 0.5), **more})
    links = school.rated(0, 0, 1) + school.rated(len(school.ensemble) // 2, 1, 2)
    return school, school.nested() + links


def whole_covariance(told, more=()):
    """Covariance of the facets by inverting everything at once: facets, students and takes."""
    sizes = [len(names) for names in told.estimate.design.ratings.names]
    offsets = np.concatenate([[0], np.cumsum(sizes)])
    n_students, n_takes = len(told.estimate.design.ratings.students), len(told.takes)
    n = offsets[3] + n_students + n_takes
    rows = [(told.elements[i] + offsets[:3], told.student[i], told.take[i], told.information[i])
            for i in range(len(told.rows))]  # fmt: skip
    total = np.zeros((n, n))
    for elements, student, take, information in [*rows, *more]:
        row = np.zeros(n)
        row[elements] = 1.0
        row[offsets[3] + student] = row[offsets[3] + n_students + take] = 1.0
        total += information * np.outer(row, row)
    facets, takes = np.arange(offsets[3]), np.arange(offsets[3] + n_students, n)
    total[facets, facets] += 1 / PRIOR_LOGITS**2
    total[takes, takes] += 1 / told.day_variance
    return np.linalg.inv(total)[: offsets[3], : offsets[3]]


def mean_pair_variance(covariance, n_raters):
    own = covariance[-n_raters:, -n_raters:]
    return np.mean([own[a, a] + own[b, b] - 2 * own[a, b]
                    for a in range(n_raters) for b in range(a)])  # fmt: skip


@pytest.fixture(scope="module")
def told():
    found = rating_information(joined_school(1, n_students=6, n_tasks=4, criteria=("tone",))[1])
    assert found.day_variance >= 0
    # With one criterion nothing is aggregated, so the two ways must agree to rounding.
    return replace(found, day_variance=0.3)


def test_errors_are_those_of_the_whole_information_matrix_inverted(told):
    choice = DoubleChoice(told)
    whole = whole_covariance(told)
    assert np.allclose(choice.covariance, whole, rtol=1e-8, atol=1e-10)
    assert np.isclose(choice.mean_variance(), mean_pair_variance(whole, 3))


def test_every_gain_is_what_the_errors_become_with_that_take_rated_once_more(told):
    choice = DoubleChoice(told)
    sizes = [len(names) for names in told.estimate.design.ratings.names]
    gains = choice.gains()
    before = choice.mean_variance()
    for candidate in range(0, len(gains), 7):
        take, rater = choice.takes[candidate], choice.raters[candidate]
        like = int(np.flatnonzero(told.take == take)[0])
        elements = told.elements[like] + np.array([0, sizes[0], sizes[0] + sizes[1]])
        elements[2] = sizes[0] + sizes[1] + rater
        more = [(elements, told.student[like], take, told.takes[take].information)]
        after = mean_pair_variance(whole_covariance(told, more), 3)
        assert np.isclose(before - after, gains[candidate], rtol=1e-7)


def test_after_several_choices_the_errors_are_still_those_of_the_whole(told):
    choice = DoubleChoice(told)
    sizes = [len(names) for names in told.estimate.design.ratings.names]
    more = []
    for _ in range(4):
        best = int(np.argmax(choice.gains()))
        take, rater = choice.takes[best], choice.raters[best]
        like = int(np.flatnonzero(told.take == take)[0])
        elements = told.elements[like] + np.array([0, sizes[0], sizes[0] + sizes[1]])
        elements[2] = sizes[0] + sizes[1] + rater
        more.append((elements, told.student[like], take, told.takes[take].information))
        choice.choose(best)
        # A candidate chosen twice would be another row of the same: the plan never does it.
        assert np.allclose(choice.covariance, whole_covariance(told, more), rtol=1e-7, atol=1e-10)


def test_picks_lessen_the_error_and_more_minutes_lessen_it_more():
    _, given = joined_school(2)
    plans = [worth_hearing_twice(given, minutes, 1.5) for minutes in (3, 15, 45)]
    assert [len(plan.picks) for plan in plans] == [2, 10, 30]
    errors = [plan.error_after for plan in plans]
    assert plans[0].error_before > errors[0] > errors[1] > errors[2] > 0
    takes = {row.take: row.rater for row in given}
    for pick in plans[2].picks:
        assert pick.take in takes
        assert pick.first_rater != pick.second_rater
    assert len({pick.take for pick in plans[2].picks}) == 30


def test_picks_beat_takes_drawn_without_looking_in_every_school():
    # Directors of unequal groups, many of them at the highest level.
    for seed in range(4):
        school, _ = joined_school(seed, n_students=16)
        school.place[:16] += 2.0
        given = school.nested() + school.rated(0, 0, 1) + school.rated(24, 1, 2)
        told = rating_information(given)
        random = np.random.default_rng(seed)
        choice = DoubleChoice(told)
        for take in random.choice(len(told.takes), 15, replace=False):
            choice.choose(int(random.choice(np.flatnonzero(choice.takes == take))))
        error = choice.mean_variance() ** 0.5 * told.points_per_logit
        assert worth_hearing_twice(given, 15, 1).error_after < error


def test_the_error_after_is_near_what_the_school_shows_when_the_picks_are_rated():
    # The director's interval must hold: errors of contrasts over schools drawn anew.
    school, given = joined_school(3, day=0.4)
    plan = worth_hearing_twice(given, 30, 1)
    found = []
    for _ in range(40):
        again = school.nested() + school.rated(0, 0, 1) + school.rated(30, 1, 2)
        again += [row for pick in plan.picks
                  for row in school.rated(int(pick.student[1:]), int(pick.task[1:]),
                                          int(pick.second_rater[1:]))]  # fmt: skip
        told = rating_information(again)
        places = told.estimate.facet("rater")
        found.append([places["r1"] - places["r0"], places["r2"] - places["r1"],
                      places["r2"] - places["r0"]])  # fmt: skip
    error = np.sqrt(np.mean(np.var(found, axis=0, ddof=1))) * told.points_per_logit
    assert 0.75 * plan.error_after < error < 1.25 * plan.error_after


def test_no_section_and_no_level_gets_more_than_its_share():
    _, given = joined_school(4, n_students=24, n_tasks=8)
    plan = worth_hearing_twice(given, 48, 1)
    section = {row.take: row.section for row in given}
    level = {take: round(np.mean([row.level for row in given if row.take == take]))
             for take in section}  # fmt: skip
    for of_take in (section, level):
        counts = Counter(of_take[pick.take] for pick in plan.picks)
        assert max(counts.values()) <= np.ceil(BALANCE * 48 / len(set(of_take.values())))


def test_the_order_of_rows_changes_no_pick_and_the_last_level_counts():
    _, given = joined_school(7)
    earlier = [replace(row, level=1 + row.level % 4, given_day=row.given_day - 1) for row in given]
    rows = earlier + given
    shuffled = [rows[n] for n in np.random.default_rng(1).permutation(len(rows))]
    assert worth_hearing_twice(shuffled, 12, 1) == worth_hearing_twice(given, 12, 1)


def test_raters_that_nothing_joins_have_no_error_before_and_one_after():
    plan = worth_hearing_twice(School(5).nested(), 10, 1)
    assert plan.error_before is None
    assert 0 < plan.error_after < 0.5
    assert {pick.first_rater for pick in plan.picks} == {"r0", "r1"}


def row(take, level, rater="r0"):
    return GivenRating(take, "e", "s", "flute", "t", take, 0.0, 1.0, "tone", rater, level)


BOTH = [row(f"a{n}", 1 + (n + each) % 4, f"r{each}") for n in range(8) for each in range(2)]
BARREN = {
    "no_ratings": ([], 60, 1),
    "one_rater": ([row(f"a{n}", 1 + n % 4) for n in range(12)], 60, 1),
    "one_level": ([row(f"a{n}", 4, f"r{n % 2}") for n in range(12)], 60, 1),
    "no_minutes": (School(6).nested(), 0.5, 1),
    "all_twice": (BOTH, 60, 1),
}


@pytest.mark.parametrize("because", BARREN)
def test_where_nothing_is_worth_it_a_code_says_why(because):
    plan = worth_hearing_twice(*BARREN[because])
    assert (plan.picks, plan.because) == ((), because)
    assert DOUBLES_BECAUSE[because]
    for error in (plan.error_before, plan.error_after):
        assert error is None or np.isfinite(error)


@pytest.mark.parametrize("minutes", [0.0, -5.0, float("nan")])
@pytest.mark.parametrize("a_take", [1.0, 0.0, float("nan"), float("inf")])
def test_minutes_that_are_no_minutes_give_no_picks(minutes, a_take):
    assert worth_hearing_twice(BOTH[:-1], minutes, a_take).picks == ()
