"""Rater against rater: the planted difference lies in the interval, and nothing else is told."""

import dataclasses

import numpy as np
import pytest

from standlight.ratings.facet_design import RATING_SCALE
from standlight.ratings.facets import estimate_facets
from standlight.ratings.marginal import marginal_point
from standlight.ratings.ratings_table import gather_ratings
from standlight.ratings.robust_errors import clustered_covariance, object_scores
from standlight.ratings.severity import (
    ALL_EXTREME,
    BECAUSE,
    FEW_COMMON,
    NOT_COMPARABLE,
    RECENT_DAYS,
    rater_contrasts,
    recent_contrasts,
)
from tests.ratings.facet_tables import planted_rows, table_of
from tests.ratings.planted_takes import CUMULATED, planted_given


def points(logits):
    """The difference in steps about the middle of the planted curve, where the mean is 2.5."""
    chances = np.exp(np.arange(4) * np.array([[logits / 2], [-logits / 2]]) - CUMULATED)
    low, high = (chances / chances.sum(axis=1, keepdims=True)) @ np.arange(4)
    return low - high


@pytest.mark.parametrize("nested, twice", [(False, 0.3), (True, 0.15)])
def test_the_planted_difference_lies_in_the_interval_whatever_a_take_shares(nested, twice):
    held, found, true = [], [], []
    for seed in range(200, 205):
        given, severity, _ = planted_given(
            seed, day=0.6, own=(0.4, 0.4, 0.4), nested=nested, twice=twice, interaction=0.2)
        for row in rater_contrasts(given):
            one, two = severity[int(row.rater[1])], severity[int(row.other[1])]
            wanted = (one - two).mean() if not row.criterion else (one - two)[
                int(row.criterion[1])]
            held.append(row.low <= points(wanted) <= row.high)
            found.append(row.stricter_by)
            true.append(points(wanted))
    assert len(held) == 5 * 3 * 4
    assert np.mean(held) >= 0.95
    assert np.polyfit(true, found, 1)[0] == pytest.approx(1.0, abs=0.3)


def test_a_strict_rater_is_surely_stricter_and_two_alike_are_not_told_apart():
    strict, alike = [], []
    for seed in range(210, 215):
        rows = rater_contrasts(planted_given(seed, severity=(1.2, 0.0, 0.0), day=0.5)[0])
        overall = {(row.rater, row.other): row for row in rows if not row.criterion}
        strict.append(overall["r0", "r1"].sure and overall["r0", "r1"].stricter_by > 0)
        alike.append(overall["r1", "r2"].sure)
    assert all(strict)
    assert not any(alike)


def test_one_criterion_alone_is_found_where_only_it_is_heard_strictly():
    given = planted_given(220, n_students=80, severity=(0.0, 0.0), twice=0.6)[0]
    harsh = [
        dataclasses.replace(each, level=max(each.level - 1, 1))
        if (each.rater, each.criterion) == ("r0", "c2") else each for each in given]
    rows = {row.criterion: row for row in rater_contrasts(harsh)}
    assert rows["c2"].sure and rows["c2"].stricter_by > 0.6
    assert not rows["c0"].sure and not rows["c1"].sure
    assert rows[""].n_common_takes == rows["c2"].n_common_takes == len(
        {each.take for each in given if each.rater == "r0"}
        & {each.take for each in given if each.rater == "r1"})


def test_raters_of_their_own_ensembles_are_not_ranked():
    rows = rater_contrasts(planted_given(230, n_students=30, nested=True, twice=0.0)[0])
    assert len(rows) == 12
    assert {(row.because, row.comparable, row.stricter_by, row.sure) for row in rows} == {
        (NOT_COMPARABLE, False, None, False)}


def test_raters_who_share_musicians_but_no_take_are_never_sure():
    given = planted_given(231, n_students=40, severity=(1.5, 0.0), twice=0.0)[0]
    for row in rater_contrasts(given):
        assert row.because == FEW_COMMON and row.comparable and not row.sure
        assert row.low < row.stricter_by < row.high


def test_only_levels_given_since_a_day_count():
    given, _, _ = planted_given(232, n_students=40, severity=(0.8, -0.8))
    turned = [
        dataclasses.replace(each, rater={"r0": "r1", "r1": "r0"}[each.rater])
        if each.given_day > 80 else each for each in given]
    late = rater_contrasts(turned, since_day=81.0)
    assert late[0].stricter_by < 0 and late[0].sure
    assert late == rater_contrasts([each for each in turned if each.given_day >= 81])
    assert rater_contrasts(turned, since_day=1e6) == ()


def test_the_last_month_is_told_beside_all_only_where_enough_takes_are_common():
    given, _, _ = planted_given(232, n_students=40, severity=(0.8, -0.8))
    newest = max(each.given_day for each in given)
    month = recent_contrasts(given)
    assert month and month == rater_contrasts(given, newest - RECENT_DAYS)
    assert month[0].n_common_takes < rater_contrasts(given)[0].n_common_takes
    takes = sorted({each.take for each in given if each.given_day >= newest - RECENT_DAYS
                    and len({other.rater for other in given if other.take == each.take}) > 1})
    few = [each for each in given if each.take not in takes[2:]]
    assert rater_contrasts(few, newest - RECENT_DAYS)[0].n_common_takes == 2
    assert recent_contrasts(few) == ()


def test_while_all_levels_are_of_one_month_there_is_no_last_month():
    given, _, _ = planted_given(232, n_students=40, severity=(0.8, -0.8))
    young = [each for each in given if each.given_day <= RECENT_DAYS]
    assert rater_contrasts(young)[0].n_common_takes > 3
    assert recent_contrasts(young) == recent_contrasts([]) == ()


def test_one_rater_has_nobody_to_be_set_against():
    assert rater_contrasts(planted_given(233, severity=(0.0,), own=(0.0,))[0]) == ()


def test_a_rater_of_highest_levels_only_gets_a_code():
    given = planted_given(234, n_students=30)[0]
    soft = [dataclasses.replace(each, level=4) if each.rater == "r2" else each for each in given]
    rows = {(row.rater, row.other, row.criterion): row for row in rater_contrasts(soft)}
    assert rows["r0", "r2", ""].because == rows["r1", "r2", "c1"].because == ALL_EXTREME
    assert rows["r0", "r1", ""].stricter_by is not None


@pytest.mark.parametrize("level", [1, 4])
def test_levels_all_alike_are_a_code_and_no_figure(level):
    given = [dataclasses.replace(each, level=level)
             for each in planted_given(235, n_students=6, n_tasks=2, twice=0.9)[0]]
    rows = rater_contrasts(given)
    assert rows and all(row.because in BECAUSE and row.stricter_by is None for row in rows)


def test_a_handful_of_levels_brings_codes_or_finite_figures():
    for seed in range(5):
        given = planted_given(seed, n_students=2, n_tasks=2, twice=0.9)[0]
        for row in rater_contrasts(given):
            figures = (row.stricter_by, row.low, row.high)
            assert row.because or np.isfinite(figures).all()
            assert None not in figures or row.because in BECAUSE


def test_scores_of_objects_sum_to_the_slope_of_the_likelihood():
    estimate = estimate_facets(table_of(planted_rows(3)[0]), RATING_SCALE)
    moved = estimate.parameters + 0.05
    slope = marginal_point(estimate.design, moved, estimate.nodes)
    away = dataclasses.replace(estimate, parameters=moved, posterior=slope.posterior)
    # The last differs by what the grid cuts off the ends of the population.
    assert object_scores(away).sum(axis=0) == pytest.approx(slope.gradient, abs=1e-4)


def test_where_the_model_holds_summed_errors_are_about_the_models_and_wider_when_doubled():
    rows = planted_rows(4, 150)[0]
    table = table_of(rows)
    estimate = estimate_facets(table, RATING_SCALE)
    model = np.sqrt(np.diag(estimate.covariance))
    summed = np.sqrt(np.diag(clustered_covariance(estimate, np.arange(len(table.students)))))
    assert np.median(summed / model) == pytest.approx(1.0, abs=0.12)
    # Every musician copied: the model thinks it knows more, the errors by musician do not.
    copies = [(f"{row[0]}'{n}", *row[1:]) for row in rows for n in range(2)]
    table = gather_ratings(*(list(column) for column in zip(*copies, strict=True)))
    twice = estimate_facets(table, RATING_SCALE)
    who = np.unique([name[:5] for name in table.students], return_inverse=True)[1]
    honest = np.sqrt(np.diag(clustered_covariance(twice, who)))
    assert np.median(honest / summed) == pytest.approx(1.0, abs=0.02)
    assert np.median(np.sqrt(np.diag(twice.covariance)) / model) == pytest.approx(0.71, abs=0.02)
