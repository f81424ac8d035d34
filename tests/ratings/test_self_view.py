"""Own levels beside the director's: what is counted, how sure it is, and when nothing is said."""

import dataclasses

import numpy as np
import pytest
from scipy import stats

from standlight.ratings import self_view as module
from standlight.ratings.given import DIRECTOR, PEER, SELF, GivenRating
from standlight.ratings.self_view import self_views
from tests.ratings.growth_tables import numbers_in


def pair(student, number, own, other, criterion="tone", rater="r1"):
    """Both levels of one take, ten days after the one before."""
    take = (student, "band", "s", "horn", f"t{number}", f"{student}/{number}", 10.0 * number,
            10.0 * number + 1, criterion)
    return [GivenRating(*take, student, own, SELF), GivenRating(*take, rater, other, DIRECTOR)]


def rated(student, owns, others, criterion="tone"):
    rows = []
    for number, (own, other) in enumerate(zip(owns, others, strict=True)):
        rows += pair(student, number, own, other, criterion)
    return rows


def view_of(rows, student="a", criterion="tone"):
    return next(view for view in self_views(rows)
                if (view.student, view.criterion) == (student, criterion))


def test_a_musician_one_level_above_the_director_each_time_is_kinder():
    view = view_of(rated("a", [3, 4, 3, 2, 4, 3, 4, 3], [2, 3, 2, 1, 3, 2, 3, 2]))
    assert (view.mean_difference, view.same_share, view.state) == (1.0, 0.0, "kinder")
    assert 0 < view.low < 1 < view.high
    mirrored = view_of(rated("a", [2, 3, 2, 1, 3, 2, 3, 2], [3, 4, 3, 2, 4, 3, 4, 3]))
    assert (mirrored.low, mirrored.high) == (-view.high, -view.low)
    assert mirrored.state == "harder"


def test_the_same_levels_many_times_are_alike_and_a_few_times_are_not_yet():
    many = view_of(rated("a", [3] * 12, [3] * 12))
    assert (many.state, many.same_share) == ("alike", 1.0)
    few = view_of(rated("a", [3] * 4, [3] * 4))
    assert few.high > 0.3
    assert view_of(rated("a", [3] * 3, [3] * 3)).state == "too_few"


def test_identical_differences_never_make_an_interval_of_nothing():
    view = view_of(rated("a", [4] * 5, [3] * 5))
    assert view.high - view.low > 0.4


def test_with_equal_spreads_the_interval_is_students_with_the_shared_freedom():
    owns, others = [4, 2, 3, 1, 4, 1], [2, 3, 1, 3, 3, 2]
    rows = rated("a", owns, others) + rated("b", owns, others)
    view = view_of(rows)
    difference = np.subtract(owns, others)
    spread = difference.std(ddof=1)
    reach = stats.t.ppf(0.975, 5 + module.PRIOR_TAKES) * spread / 6**0.5
    assert (view.low, view.high) == pytest.approx(
        (difference.mean() - reach, difference.mean() + reach))


def test_intervals_of_few_whole_step_differences_cover_the_true_mean():
    random = np.random.default_rng(12)
    hits = []
    chances = np.array([0.1, 0.45, 0.35, 0.1])
    true = chances @ np.array([-1, 0, 1, 2])
    for _ in range(12):
        rows = []
        for number in range(25):
            away = random.choice([-1, 0, 1, 2], 5, p=chances)
            rows += rated(f"m{number:02}", 2 + away, [2] * 5)
        hits += [view.low < true < view.high for view in self_views(rows) if view.criterion]
    assert len(hits) == 300
    assert 0.92 <= np.mean(hits) <= 0.985


def test_criteria_of_one_take_are_one_witness_not_three():
    rows = [row for criterion in ("tone", "rhythm", "style")
            for row in rated("a", [4, 3, 2, 3, 4], [3, 3, 2, 2, 3], criterion)]
    together, alone = view_of(rows, criterion=""), view_of(rows)
    assert together.n == alone.n == 5
    assert together.high - together.low == pytest.approx(alone.high - alone.low)


def test_several_directors_are_averaged_and_peers_left_aside():
    rows = rated("a", [3, 3, 3, 3], [2, 2, 2, 2])
    second = [dataclasses.replace(row, rater="r2", level=3) for row in rows
              if row.rater_class == DIRECTOR]
    peers = [dataclasses.replace(row, rater="b", level=1, rater_class=PEER) for row in rows
             if row.rater_class == SELF]
    view = view_of(rows + second + peers)
    assert (view.mean_difference, view.same_share) == (0.5, 0.5)
    assert {each.student for each in self_views(rows + peers)} == {"a"}


def test_a_musician_of_two_ensembles_has_a_view_in_each_and_none_of_both():
    band = rated("a", [4, 3, 4, 3, 4], [3, 2, 3, 2, 3])
    choir = [dataclasses.replace(row, ensemble="choir", take=f"choir {row.take}")
             for row in rated("a", [1, 2, 2, 1], [3, 3, 4, 3])]
    views = self_views(band + choir)
    assert [(one.ensemble, one.criterion, one.n, one.mean_difference) for one in views] == [
        ("band", "", 5, 1.0), ("band", "tone", 5, 1.0),
        ("choir", "", 4, -1.75), ("choir", "tone", 4, -1.75),
    ]  # fmt: skip
    assert [set(one.takes) for one in views] == [
        {row.take for row in rows} for rows in (band, band, choir, choir)]


def test_a_distance_that_shrinks_is_nearer_and_one_that_grows_further():
    owns, others = [4, 4, 4, 4, 3, 3, 3, 2, 2, 2], [1, 1, 2, 2, 2, 2, 2, 2, 2, 2]
    nearer = view_of(rated("a", owns, others)).trend
    assert nearer.state == "nearer"
    assert nearer.high < 0
    # Three levels apart, then none, over ninety days.
    distance = np.abs(np.subtract(owns, others))
    slope = np.polyfit(np.arange(10) * 10 / 365, distance, 1)[0]
    assert nearer.points_a_year == pytest.approx(slope)
    assert view_of(rated("a", owns[::-1], others[::-1])).trend.state == "further"
    assert view_of(rated("a", [3, 2] * 5, [2] * 10)).trend.state == "could_be_chance"


def test_no_trend_is_told_of_a_few_takes_or_of_one_day():
    assert view_of(rated("a", [3] * 5, [2] * 5)).trend is None
    one_day = [dataclasses.replace(row, day=1.0) for row in rated("a", [3] * 8, [2] * 8)]
    assert view_of(one_day).trend is None


def test_without_a_directors_level_nothing_is_said():
    only_self = [row for row in rated("a", [3] * 8, [2] * 8) if row.rater_class == SELF]
    assert self_views(only_self) == ()
    assert self_views([]) == ()


@pytest.mark.parametrize("seed", range(6))
def test_random_tables_give_finite_figures_and_known_states(seed):
    random = np.random.default_rng(seed)
    rows = []
    for student in "abcde":
        n = int(random.integers(1, 12))
        rows += rated(student, random.integers(1, 5, n).tolist(), random.integers(1, 5, n).tolist())
    views = self_views(rows)
    assert len(views) == 10
    for view in views:
        assert np.isfinite(list(numbers_in(dataclasses.asdict(view)))).all()
        assert view.state in module.SELF_STATES
        assert 0 <= view.same_share <= 1
        assert view.trend is None or view.trend.state in module.TREND_STATES
