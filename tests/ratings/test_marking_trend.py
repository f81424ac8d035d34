"""The pooled line, held to a reference program and to simulations with planted truth."""

import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from standlight.ratings.marking_policies import MarkPolicy, figure_of
from standlight.ratings.marking_trend import GroupTrend, group_trend, own_trend
from standlight.ratings.marking_values import Dated

SPAN = 60.0


def planted(seed, n_musicians=60, n_levels=10, *, whole=False, scatter=0.6):
    """Series of levels around straight lines, and each line's true height on the last day."""
    chance = np.random.default_rng(seed)
    ends = 2.9 + 0.55 * chance.standard_normal(n_musicians)
    rises = 0.5 + 0.4 * chance.standard_normal(n_musicians)
    series = []
    for end, rise in zip(ends, rises, strict=True):
        days = np.sort(chance.uniform(0, SPAN, n_levels))
        values = end + rise * (days - SPAN) / SPAN + scatter * chance.standard_normal(n_levels)
        if whole:
            values = np.clip(np.rint(values), 1, 4)
        series.append([Dated(float(v), float(d)) for v, d in zip(values, days, strict=True)])
    return series, ends


# tests/authorities/ratings/pooled_trend.json (its SOURCES.md): another program's estimates.
REFERENCE = json.loads(
    (Path(__file__).parents[1] / "authorities/ratings/pooled_trend.json").read_text()
)
SERIES = [[Dated(*level) for level in one] for one in REFERENCE["series"]]


def likelihood(group):
    """The restricted log likelihood in its slow plain form: dense matrices, one a musician."""
    line = np.array([group.end_level, group.change])
    total, seen = 0.0, np.zeros((2, 2))
    for one in SERIES:
        rows = np.array([[1.0, (level.day - SPAN) / SPAN] for level in one])
        around = rows @ group.spread @ rows.T + group.var_level * np.eye(len(one))
        values = [level.level for level in one]
        total += multivariate_normal(rows @ line, around).logpdf(values)
        seen += rows.T @ np.linalg.inv(around) @ rows
    return total - 0.5 * np.linalg.slogdet(seen)[1]


def test_the_groups_line_and_spread_are_those_of_the_reference_program():
    found = group_trend(SERIES, SPAN)
    assert [found.end_level, found.change] == pytest.approx(REFERENCE["line"], abs=2e-3)
    assert found.spread == pytest.approx(np.array(REFERENCE["spread"]), abs=4e-3)
    assert found.var_level == pytest.approx(REFERENCE["var_level"], abs=2e-3)


def test_no_neighbouring_line_or_spread_is_more_likely_by_the_slow_plain_form():
    found = group_trend(SERIES, SPAN)
    for name in ("end_level", "change", "var_end", "covariance", "var_change", "var_level"):
        for step in (-0.02, 0.02):
            moved = dataclasses.replace(found, **{name: getattr(found, name) + step})
            assert likelihood(moved) < likelihood(found), name


def test_each_musicians_line_is_that_of_the_reference_program():
    found = group_trend(SERIES, SPAN)
    for one, (end, change) in zip(SERIES, REFERENCE["lines"], strict=True):
        own = own_trend(one, found)
        assert own.end_level == pytest.approx(end, abs=5e-3)
        assert own.change == pytest.approx(change, abs=2e-2)


def test_the_pooled_line_is_nearer_the_planted_truth_than_the_mean_and_the_newest_alone():
    errors = {"mean": [], "recent": [], "trend": []}
    covered = []
    for seed in range(12):
        series, ends = planted(seed, whole=True)
        group = group_trend(series, SPAN)
        for one, end in zip(series, np.clip(ends, 1, 4), strict=True):
            for key, found in errors.items():
                found.append(figure_of(one, MarkPolicy(key), group).value - end)
            own = own_trend(one, group)
            covered.append(own.low <= end <= own.high)
    off = {key: float(np.sqrt(np.mean(np.square(found)))) for key, found in errors.items()}
    assert off["trend"] < off["mean"] < off["recent"]
    # Levels are rounded to whole steps and held inside 1 to 4 (benchmarks/marks.py).
    assert 0.9 <= np.mean(covered) <= 0.97


def test_the_interval_holds_the_planted_end_of_a_small_group_whose_scatter_is_unsure():
    """At the likeliest scatter alone 82 in 100 were held."""
    covered = []
    for seed in range(40):
        series, ends = planted(100 + seed, n_musicians=12, n_levels=4)
        group = group_trend(series, SPAN)
        assert len(group.likely) > 1
        assert sum(one.share for one in group.likely) == pytest.approx(1)
        for one, end in zip(series, ends, strict=True):
            own = own_trend(one, group)
            covered.append(own.low <= end <= own.high)
    assert 0.87 <= np.mean(covered) <= 0.97


def test_one_scatter_alone_gives_the_interval_of_the_plain_formula():
    group = dataclasses.replace(group_trend(SERIES, SPAN), likely=())
    levels = SERIES[0]
    own = own_trend(levels, group)
    rows = np.array([[1.0, (level.day - SPAN) / SPAN] for level in levels])
    inverse = np.linalg.inv(rows @ group.spread @ rows.T + group.var_level * np.eye(len(levels)))
    gain = group.spread @ rows.T @ inverse
    end, both, change = group.line_errors
    kept = np.eye(2) - gain @ rows
    variance = kept @ group.spread + kept @ np.array([[end, both], [both, change]]) @ kept.T
    assert own.high - own.end_level == pytest.approx(1.959964 * variance[0, 0] ** 0.5)


def test_few_levels_lean_on_the_group_and_many_stand_for_themselves():
    group = GroupTrend(3.0, 0.0, 0.25, 0.0, 0.1, 0.35, SPAN, 40)
    reach = []
    for count in (1, 3, 12, 60):
        own = own_trend([Dated(2, day) for day in np.linspace(0, SPAN, count)], group)
        reach.append((own.end_level, own.high - own.low))
    ends, widths = zip(*reach, strict=True)
    assert list(ends) == sorted(ends, reverse=True) and ends[0] > 2.5 and ends[-1] < 2.1
    assert list(widths) == sorted(widths, reverse=True)


def test_a_musician_without_a_level_gets_the_groups_line_and_its_whole_spread():
    group = GroupTrend(2.8, 0.3, 0.25, 0.02, 0.1, 0.35, SPAN, 40)
    own = own_trend([], group)
    assert own.end_level == pytest.approx(2.8)
    assert own.high - own.end_level == pytest.approx(1.959964 * 0.5)


def test_equal_levels_of_everyone_are_a_flat_line_and_no_fault():
    found = group_trend([[Dated(3, 5), Dated(3, 50)]] * 10, SPAN)
    assert found.end_level == pytest.approx(3.0)
    assert found.change == pytest.approx(0.0, abs=1e-6)


def test_too_few_musicians_or_one_day_for_all_make_no_line():
    pairs = [[Dated(2, 1), Dated(3, 40)]]
    assert group_trend(pairs * 7, SPAN) is None
    assert group_trend([[Dated(2, 9), Dated(3, 9)]] * 20, SPAN) is None
    assert group_trend(pairs * 8, SPAN) is not None
