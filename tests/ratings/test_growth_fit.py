"""The fitting under growth, held to a mixed-model library, closed forms and the facet fit."""

import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from standlight.ratings import growth_fit
from standlight.ratings.facets import estimate_facets
from standlight.ratings.growth_fit import (
    Points,
    Spread,
    fit_lines,
    fit_spread,
    likely_slope_spread,
    log_likelihood,
    pooled_slopes,
)
from standlight.ratings.growth_places import Levels, Scale, places_near, warm_places
from standlight.ratings.growth_sections import section_differences, sure_by_holm
from standlight.ratings.students import warm_estimates
from tests.ratings.facet_tables import synthetic_rows, table_of

# Planted lines, fitted by statsmodels 0.15 MixedLM (restricted maximum likelihood, a place for
# each sitting, random level and slope): no known errors there, so none here either.
REFERENCE = json.loads((Path(__file__).parent / "growth_mixed.json").read_text())


def reference_points(error=0.0):
    line, sitting, time, place = np.array(REFERENCE["rows"]).T
    line, sitting = line.astype(int), sitting.astype(int)
    return Points(line, sitting, time, place, np.full(len(line), error),
                  line.max() + 1, sitting.max() + 1)


def test_the_variances_are_the_mixed_model_librarys():
    spread = fit_spread(reference_points(), twist=np.inf)
    assert spread.level == pytest.approx(REFERENCE["level_sd"], abs=1e-3)
    assert spread.slope == pytest.approx(REFERENCE["slope_sd"], abs=1e-3)
    assert spread.occasion == pytest.approx(REFERENCE["occasion_sd"], abs=1e-3)
    assert spread.correlation == pytest.approx(REFERENCE["correlation"], abs=2e-3)


def test_sittings_their_errors_and_pooled_lines_are_the_mixed_model_librarys():
    points = reference_points()
    fit = fit_lines(points, fit_spread(points, twist=np.inf))
    assert fit.sittings == pytest.approx(np.array(REFERENCE["sittings"]), abs=1e-4)
    errors = np.sqrt(np.diag(fit.covariance))
    assert errors == pytest.approx(np.array(REFERENCE["sitting_errors"]), abs=1e-3)
    assert fit.pooled == pytest.approx(np.array(REFERENCE["lines"]), abs=1e-3)


def test_a_known_error_takes_the_place_of_as_much_occasion_noise():
    spread = fit_spread(reference_points(), twist=np.inf)
    known = fit_spread(reference_points(0.1), twist=np.inf)
    assert known.occasion**2 + 0.1 == pytest.approx(spread.occasion**2, abs=1e-3)
    assert known.slope == pytest.approx(spread.slope, abs=1e-3)


def test_with_known_errors_the_likelihood_and_the_errors_are_those_of_the_whole_matrix():
    points = reference_points()
    random = np.random.default_rng(2)
    error = random.uniform(0.1, 0.6, len(points.place))
    points = Points(points.line, points.sitting, points.time, points.place, error, 30, 8)
    spread = Spread(1.0, 0.7, 0.4, 0.3)
    between = np.array([[1.0, 0.21], [0.21, 0.49]])
    sitting = np.eye(8)[points.sitting]
    line = np.zeros((len(error), 60))
    rows = np.arange(len(error))
    line[rows, 2 * points.line], line[rows, 2 * points.line + 1] = 1.0, points.time
    noise = np.diag(error + 0.16)
    whole = line @ np.kron(np.eye(30), between) @ line.T + noise
    inverse = np.linalg.inv(whole)
    covariance = np.linalg.inv(sitting.T @ inverse @ sitting)
    gain = covariance @ sitting.T @ inverse
    rest = points.place - sitting @ (gain @ points.place)
    expected = -0.5 * (np.linalg.slogdet(whole)[1] - np.linalg.slogdet(covariance)[1]
                       + rest @ inverse @ rest)
    assert log_likelihood(points, spread) == pytest.approx(expected)
    fit = fit_lines(points, spread)
    # Errors as linear functions of the true lines and the noise, nothing eliminated.
    for variance, cross, reader in (
        (fit.pooled_variance, fit.pooled_cross, np.kron(np.eye(30), between) @ line.T @ inverse),
        (fit.own_variance, fit.own_cross,
         np.linalg.inv(line.T @ np.linalg.inv(noise) @ line) @ line.T @ np.linalg.inv(noise)),
    ):
        reads = reader @ (np.eye(len(error)) - sitting @ gain)
        of_lines = reads @ line - np.eye(60)
        all_lines = np.kron(np.eye(30), between)
        total = of_lines @ all_lines @ of_lines.T + reads @ noise @ reads.T
        with_sittings = of_lines @ all_lines @ (gain @ line).T + reads @ noise @ gain.T
        for number in (0, 7, 29):
            here = slice(2 * number, 2 * number + 2)
            assert variance[number] == pytest.approx(total[here, here])
            assert cross[number] == pytest.approx(with_sittings[here])


def test_the_correlation_of_few_lines_is_held_near_none():
    points = reference_points()
    few = points.line < 4
    points = Points(points.line[few], points.sitting[few], points.time[few],
                    points.place[few], points.error[few], 4, 8)
    free, held = fit_spread(points, twist=np.inf), fit_spread(points)
    assert abs(held.correlation) < 0.5 * abs(free.correlation)


def test_an_own_line_is_the_plain_straight_line_through_what_the_sittings_leave():
    points = reference_points()
    fit = fit_lines(points, fit_spread(points, twist=np.inf))
    for number in (0, 11, 29):
        own = points.line == number
        rest = points.place[own] - fit.sittings[points.sitting[own]]
        slope, level = np.polyfit(points.time[own], rest, 1)
        assert fit.own[number] == pytest.approx([level, slope])


def test_a_spread_of_slopes_that_looks_like_none_still_leaves_honest_room():
    points = reference_points()
    flat = Points(points.line, points.sitting, points.time,
                  points.place - 0.8 * points.time, points.error, 30, 8)
    spread = Spread(1.0, 0.02, 0.5, 0.0)
    fit = fit_lines(flat, spread)
    _, variance = pooled_slopes(flat, fit, np.zeros((30, 8)))
    assert likely_slope_spread(flat, spread) > 0.1
    assert (variance > 4 * fit.pooled_variance[:, 1, 1]).all()


def one_item():
    return Scale(np.array([0.0, 1.0]), np.zeros(2), {"c": 0.0}, {"r": 0.0}, ())


def test_warms_estimate_of_a_single_right_answer_is_the_logarithm_of_three():
    # Warm 1989: 1 - p + (1 - 2 p) / 2 = 0, so p = 3/4.
    levels = Levels(np.array([0, 1]), np.array([1, 0]), np.zeros(2), 2)
    place, error = warm_places(one_item(), levels)
    assert place == pytest.approx([np.log(3), -np.log(3)])
    assert error == pytest.approx(1 / (0.75 * 0.25))


def test_warms_places_are_the_facet_fits():
    table = table_of(synthetic_rows())
    found = estimate_facets(table, "rating-scale")
    offset = (found.design.dummies @ found.parameters[: found.design.n_elements])
    scale = Scale(np.array(table.levels), found.design.thresholds(found.parameters)[0], {}, {}, ())
    levels = Levels(table.student, table.category, offset[found.design.cell], len(table.students))
    reference, errors = warm_estimates(found.design, found.parameters, np.zeros(levels.n_units))
    place, error = warm_places(scale, levels)
    assert place == pytest.approx(reference, abs=1e-6)
    assert np.sqrt(error) == pytest.approx(errors, abs=1e-6)


def test_a_step_of_scoring_is_right_on_average_where_warms_estimate_of_one_level_is_not():
    cumulated = np.array([0.0, -1.5, -1.5, 0.0])
    scale = Scale(np.arange(1.0, 5.0), cumulated, {"c": 0.0}, {"r": 0.0}, ())
    true = np.full(4, 1.8)
    levels = Levels(np.arange(4), np.arange(4), np.zeros(4), 4)
    chances = scale.chances(np.array([1.8]))[0]
    warm, _ = warm_places(scale, levels)
    step, _ = places_near(scale, levels, true)
    assert chances @ step == pytest.approx(1.8)
    assert chances @ warm < 1.7


def test_a_section_against_the_rest_is_students_t_test_when_all_slopes_are_known_alike():
    random = np.random.default_rng(8)
    slopes = random.normal(0, 1, 40)
    sections = np.array(["low"] * 9 + ["high"] * 31)
    slopes[:9] -= 0.7
    found = section_differences(np.array(["band"] * 40), sections, slopes, np.full(40, 0.3))
    low = next(each for each in found if each.section == "low")
    reference = stats.ttest_ind(slopes[:9], slopes[9:], alternative="less")
    assert low.chance == pytest.approx(reference.pvalue)
    both = stats.ttest_ind(slopes[:9], slopes[9:]).confidence_interval(0.95)
    assert (low.low, low.high) == pytest.approx((both.low, both.high))
    assert (low.n, low.n_rest) == (9, 31)


def test_a_section_of_four_is_not_tested():
    sections = np.array(["few"] * 4 + ["many"] * 20)
    found = section_differences(np.array(["band"] * 24), sections, np.arange(24.0), np.ones(24))
    assert found == ()


def test_holms_correction_is_stepwise():
    # Compared with the definition, over every pair of three levels.
    random = np.random.default_rng(4)
    for _ in range(50):
        chances = random.uniform(0, 0.05, 3).tolist()
        ordered = sorted(chances)
        stands = [all(ordered[k] <= 0.05 / (3 - k) for k in range(place + 1))
                  for place in range(3)]
        assert sure_by_holm(chances) == [stands[ordered.index(chance)] for chance in chances]


@pytest.mark.parametrize("spread", [
    Spread(1.0, 0.7, 0.4, 0.3), Spread(0.3, 0.05, 0.9, -0.7), Spread(2.0, 1.5, 0.2, 0.0),
])
def test_the_slopes_that_the_climb_follows_are_those_of_the_likelihood(spread):
    random = np.random.default_rng(3)
    points = reference_points()
    points = dataclasses.replace(points, error=random.uniform(0.1, 0.6, len(points.place)))
    at = np.array([np.log(spread.level), np.log(spread.slope), np.log(spread.occasion),
                   np.arctanh(spread.correlation)])  # fmt: skip

    def value(parameters):
        return log_likelihood(points, growth_fit._spread(parameters))

    numeric = [(value(at + step) - value(at - step)) / 2e-5 for step in 1e-5 * np.eye(4)]
    exact = growth_fit._log_likelihood_slopes(points, spread, growth_fit._solve(points, spread))
    assert exact == pytest.approx(np.array(numeric), rel=1e-5, abs=1e-4)
