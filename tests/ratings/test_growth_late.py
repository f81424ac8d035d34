"""Own growth of late: weighted least squares within musicians, held to numpy and to drawn truth."""

import numpy as np
import pytest
from scipy import stats

from standlight.ratings.growth import measure_growth
from standlight.ratings.growth_anchors import GroupLine
from standlight.ratings.growth_fit import Points, Spread, fit_lines
from standlight.ratings.growth_late import late_slope
from tests.ratings.growth_tables import FIRST_AND_LAST, planted

SPREAD = Spread(level=1.0, slope=0.4, occasion=0.5, correlation=0.0)


def drawn(rng, n_lines=24, n_sittings=12, late=0.0, spread=0.4):
    """Lines of which the first eight bend by ``late`` (logits a year) at the middle."""
    time = np.linspace(-0.4, 0.4, n_sittings)
    line, sitting = (each.ravel() for each in np.indices((n_lines, n_sittings)))
    error = rng.uniform(0.2, 0.6, line.size)
    slopes = rng.normal(0.0, spread, n_lines)
    bent = np.where(line < 8, late * np.maximum(time[sitting], 0.0), 0.0)
    place = rng.normal(size=n_lines)[line] + slopes[line] * time[sitting] + bent
    place += rng.normal(size=line.size) * np.sqrt(error + SPREAD.occasion**2)
    return Points(line, sitting, time[sitting], place, error, n_lines, n_sittings)


def group(n_sittings=12, slope=0.8, variance=0.01):
    own = np.ones(n_sittings, dtype=bool)
    return GroupLine(np.zeros(n_sittings), slope, variance, ("t",), 2, 0.0, 0.0, own, 24)


def test_slope_and_interval_are_those_of_least_squares_with_a_level_for_each_musician():
    points = drawn(np.random.default_rng(5))
    fit = fit_lines(points, SPREAD)
    lines = np.arange(8)
    found = late_slope(points, fit, group(), lines)
    rows = np.flatnonzero((points.line < 8) & (points.time >= found.since))
    design = np.column_stack([points.time[rows], points.line[rows, None] == lines])
    root = np.sqrt(1 / (points.error[rows] + SPREAD.occasion**2))
    beside = (points.place - fit.sittings[points.sitting])[rows]
    (slope, *levels), *_ = np.linalg.lstsq(design * root[:, None], beside * root, rcond=None)
    assert found.slope == pytest.approx(0.8 + slope)
    # The sandwich (Liang & Zeger 1986) with a musician as the cluster, times n / (n - 1).
    bread = np.linalg.inv((design * root[:, None] ** 2).T @ design)
    left = (beside - design @ [slope, *levels]) * root**2
    scores = np.array([design[points.line[rows] == one].T @ left[points.line[rows] == one]
                       for one in lines])  # fmt: skip
    variance = (bread @ scores.T @ scores @ bread)[0, 0] * 8 / 7
    reach = stats.t.ppf(0.975, 7) * (variance + 0.01) ** 0.5
    assert found.reach == pytest.approx(reach)


def test_the_interval_holds_a_bend_that_was_drawn():
    rng = np.random.default_rng(11)
    held = []
    for _ in range(300):
        points = drawn(rng, n_lines=64, late=-0.8)
        found = late_slope(points, fit_lines(points, SPREAD), group(variance=0.0), np.arange(8))
        # By its mean the bend of eight of 64 lies in the sittings' places.
        truth = 0.8 - 0.8 * 56 / 64
        held.append(abs(found.slope - truth) <= found.reach)
    assert 0.91 <= np.mean(held) <= 0.985


def test_what_a_musician_had_reached_before_is_in_nothing():
    points = drawn(np.random.default_rng(6))
    fit = fit_lines(points, SPREAD)
    one = late_slope(points, fit, group(), np.arange(8))
    moved = points.place + np.where(points.time < 0, 0.0, 3.0 * (points.line + 1))
    other = late_slope(
        Points(points.line, points.sitting, points.time, moved, points.error, 24, 12),
        fit, group(), np.arange(8),
    )  # fmt: skip
    assert (other.slope, other.reach) == (pytest.approx(one.slope), pytest.approx(one.reach))


def test_four_musicians_or_one_late_take_each_say_nothing():
    points = drawn(np.random.default_rng(7))
    fit = fit_lines(points, SPREAD)
    assert late_slope(points, fit, group(), np.arange(4)) is None
    assert late_slope(points, fit, group(), np.arange(5)) is not None
    early = Points(
        points.line, points.sitting, np.where(points.sitting < 11, -0.4, 0.4), points.place,
        points.error, 24, 12,
    )  # fmt: skip
    lone = late_slope(early, fit, group(), np.arange(8))
    assert lone is not None and lone.since == -0.4
    few = drawn(np.random.default_rng(7), n_sittings=2)
    assert late_slope(few, fit_lines(few, SPREAD), group(2), np.arange(8)) is None


def test_a_section_that_stops_in_autumn_is_said_to_have_stopped_since_the_middle():
    given, _ = planted(6, FIRST_AND_LAST, growth=2.4, spread=0.4, stopped=(1, 4), since=-0.17)
    days = [row.day for row in given]
    row = next(each for each in measure_growth(given).sections
               if (each.ensemble, each.section, each.criterion) == ("e1", "s4", ""))  # fmt: skip
    assert row.sure and row.stopped
    assert row.late.low <= 0.1
    assert row.late.points_a_year <= (row.own.points_a_year - row.points_a_year) / 3
    assert min(days) < row.late.since_day < max(days)
    assert all(each.late is None or each.stopped or not each.sure
               for each in measure_growth(given).sections)  # fmt: skip
