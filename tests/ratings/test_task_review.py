"""Task review against correlations by scipy, a fit without the task, and planted tasks."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from standlight.ratings.facet_design import RATING_SCALE
from standlight.ratings.facets import estimate_facets
from standlight.ratings.given import PEER, GivenRating
from standlight.ratings.rating_information import rating_information, table_of_given
from standlight.ratings.students import student_measures
from standlight.ratings.task_review import TASK_REMARKS, task_review
from tests.ratings.given_schools import School, levels_at

MINUTES = {f"t{n:02}": 30.0 for n in range(6)}


def by_task(given, minutes=MINUTES):
    return {each.task: each for each in task_review(given, minutes)}


@pytest.fixture(scope="module")
def flat():
    school = School(1, n_students=40)
    school.flat = {2}
    return by_task(school.nested())


def test_the_correlation_is_scipys_of_task_and_rest_where_all_played_everything():
    given = School(2, n_ensembles=1, n_students=40, severity=(0.0,)).nested()
    found = by_task(given)
    for task in found:
        own, rest = (
            [np.mean([row.level for row in given
                      if row.student == f"s{s:03}" and (row.task == task) is here])
             for s in range(40)] for here in (True, False)
        )  # fmt: skip
        outside = stats.pearsonr(own, rest)
        interval = outside.confidence_interval()
        each = found[task]
        assert np.isclose(each.correlation, outside.statistic)
        assert np.isclose(each.correlation_low, interval.low, atol=1e-4)
        assert np.isclose(each.correlation_high, interval.high, atol=1e-4)


def test_ensembles_and_strict_raters_are_no_sign_that_a_task_tells_apart():
    # Levels drawn at random beside ensembles that lie two levels apart.
    school = School(3, n_students=40, severity=(-2.0, 2.0))
    school.place[:] = 0.0
    school.day[:] = 0.0
    assert all(abs(each.correlation) < 0.4 for each in by_task(school.nested()).values())


def test_a_task_drawn_without_looking_at_anybody_told_nothing_and_added_nothing(flat):
    assert "told_nothing" in flat["t02"].remarks
    assert flat["t02"].added < 0.03
    assert all("told_nothing" not in flat[task].remarks for task in flat if task != "t02")
    assert all(0.1 < flat[task].added < 0.35 for task in flat if task != "t02")
    assert np.isclose(sum(each.added for each in flat.values()), 1.0)


def test_what_tasks_add_by_their_takes_is_what_leaving_them_out_takes_away():
    # Same slopes: then a task's share is what the errors of the places lose without it.
    school = School(4, n_ensembles=1, n_students=150, severity=(0.0,), n_tasks=4, day=0.0)
    given = [row for row in school.nested() if row.task != "t03" or int(row.student[1:]) < 75]
    found = by_task(given)

    def told(rows):
        fitted = estimate_facets(table_of_given(rows), RATING_SCALE)
        return sum(each.wle_se**-2 for each in student_measures(fitted))

    whole = told(given)
    lost = {task: 1 - told([row for row in given if row.task != task]) / whole for task in found}
    for task in found:
        assert abs(found[task].added - lost[task]) < 0.07
    assert found["t03"].added < 0.7 * min(found[f"t0{n}"].added for n in range(3))


def test_hardness_is_the_planted_one_and_its_interval_holds_it():
    inside, found, planted = 0, [], []
    for seed in range(12):
        school = School(seed, n_students=25, n_tasks=4, day=0.5)
        true = expected_levels(school)
        for task, each in by_task(school.nested()).items():
            truth = np.delete(true, int(task[1:])).mean() - true[int(task[1:])]
            inside += each.low < truth < each.high
            found.append(each.hardness_points)
            planted.append(truth)
    assert stats.pearsonr(found, planted).statistic > 0.9
    assert 0.85 < np.polyfit(planted, found, 1)[0] < 1.15
    # 48 intervals of 95 percent: fewer than 41 inside happens once in 200.
    assert inside >= 41


def expected_levels(school):
    """Mean level of each task, over many draws, criteria spread and raters in the middle."""
    random = np.random.default_rng(0)
    means = []
    for hard in school.hard:
        place = np.repeat(school.place, 200)
        day = random.normal(0, 0.5, len(place))
        steep = random.choice(np.linspace(-0.4, 0.4, 3), len(place))
        means.append(levels_at(random, place + day - hard - steep).mean())
    return np.array(means)


def test_an_ensemble_that_nothing_joins_to_the_other_blurs_no_hardness():
    given = School(9, own_tasks=True, n_students=30).nested()
    both = by_task(given)
    for ensemble in ("e0", "e1"):
        alone = by_task([row for row in given if row.ensemble == ensemble])
        for task, each in alone.items():
            # The steps are shared by both in the one fit, so the two are near and not equal.
            assert abs(both[task].hardness_points - each.hardness_points) < 0.06
            ratio = (both[task].high - both[task].low) / (each.high - each.low)
            assert 0.8 < ratio < 1.25


def test_a_shared_day_widens_the_interval_of_hardness():
    wide = np.mean([e.high - e.low for e in by_task(School(5, n_students=60, day=1.2).nested())
                    .values()])  # fmt: skip
    slim = np.mean([e.high - e.low for e in by_task(School(5, n_students=60, day=0.0).nested())
                    .values()])  # fmt: skip
    assert wide > 1.15 * slim


def test_the_variance_that_a_take_shares_is_found():
    none = [rating_information(School(s, n_students=40, day=0.0).nested()).day_variance
            for s in range(4)]  # fmt: skip
    much = [rating_information(School(s, n_students=40, day=1.0).nested()).day_variance
            for s in range(4)]  # fmt: skip
    assert max(none) < 0.1
    assert min(much) > 0.3


def test_tasks_that_nothing_joins_have_no_hardness_and_say_so():
    found = by_task(School(6, own_tasks=True, n_tasks=1).nested(), {})
    assert set(found) == {"e0t00", "e1t00"}
    for each in found.values():
        assert each.hardness_points is each.low is each.high is None
        assert each.n_compared == 0
        assert "not_comparable" in each.remarks
    joined = by_task(School(6, own_tasks=True, n_tasks=2).nested(), {})
    assert {each.n_compared for each in joined.values()} == {1}


def test_levels_are_counted_and_the_ends_and_the_unused_are_told():
    given = [row for row in School(7).nested() if row.task != "t01"]
    hard = [replace(row, task="t01", take=f"{row.student}/01", level=1 + (n % 10 > 7))
            for n, row in enumerate(row for row in given if row.task == "t00")]  # fmt: skip
    found = by_task(given + hard)["t01"]
    assert found.level_counts == ((1, 96), (2, 24), (3, 0), (4, 0))
    assert found.unused == (3, 4)
    assert "too_hard" in found.remarks
    assert "too_easy" not in found.remarks


def test_minutes_make_a_share_a_minute_and_none_say_so():
    given = School(8, n_students=40).nested()
    even, long = by_task(given), by_task(given, {**MINUTES, "t00": 90.0})
    assert np.isclose(np.mean([e.added_a_minute for e in even.values()]), 1.0)
    assert np.isclose(even["t00"].added_a_minute / long["t00"].added_a_minute, 3 * 180 / 240)
    some = by_task(given, {"t00": 30.0, "t01": 0.0, "t02": float("nan")})
    assert some["t00"].added_a_minute == 1.0
    for task in ("t01", "t02", "t03"):
        assert some[task].minutes is some[task].added_a_minute is None
        assert "no_minutes" in some[task].remarks


def row(n, level, task="t", rater="r", rater_class="director"):
    return GivenRating(f"s{n}", "e", "s", "flute", task, f"s{n}/{task}", 0.0, 1.0, "tone", rater,
                       level, rater_class)  # fmt: skip


@pytest.mark.parametrize(("given", "codes"), [
    ([row(n, 1 + n % 4) for n in range(12)], {"one_task"}),
    ([row(n, 4) for n in range(12)], {"one_task", "one_level", "too_easy"}),
    ([row(n, 1, task) for n in range(12) for task in "tu"], {"one_level", "too_hard"}),
    ([row(n, 1 + n % 4, task) for n in range(3) for task in "tu"], {"few_takes"}),
])  # fmt: skip
def test_odd_tables_give_codes_and_never_a_nan(given, codes):
    for each in task_review(given, {"t": 10.0, "u": 10.0}):
        assert set(each.remarks) == codes
        assert set(each.remarks) <= set(TASK_REMARKS)
        for value in (each.hardness_points, each.low, each.high, each.correlation, each.added,
                      each.correlation_low, each.correlation_high, each.added_a_minute):
            assert value is None or np.isfinite(value)


def test_without_a_directors_level_there_is_nothing_to_review():
    assert task_review([], {}) == ()
    assert task_review([row(n, 1 + n % 4, rater_class=PEER) for n in range(12)], {}) == ()
