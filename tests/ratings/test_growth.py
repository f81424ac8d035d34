"""Growth, held to planted truth, and to what must never be said."""

import dataclasses

import numpy as np
import pytest
from benchmarks.growth_recovery import covered, planted
from scipy import stats

from standlight.ratings import growth_gather, growth_values
from standlight.ratings.given import PEER, SELF
from standlight.ratings.growth import (
    _drawn,
    _lines,
    growth_together,
    measure_growth,
    points_a_year,
)
from standlight.ratings.growth_gather import gather_given
from standlight.ratings.growth_places import Scale
from tests.ratings.growth_tables import (
    FIRST_AND_LAST,
    NO_ANCHORS,
    THREE_TIMES,
    changed,
    numbers,
    small_growth,
    small_year,
    together,
)


@pytest.fixture(scope="module")
def year():
    given, slopes = planted(21, FIRST_AND_LAST)
    return _drawn(*together(given)), slopes


def test_intervals_of_planted_slopes_cover_them(year):
    own, pooled, own_error, pooled_error, lean, _ = covered(*year)
    # 150 lines: two standard errors of a coverage of .95 and .92.
    assert own == pytest.approx(0.95, abs=0.04)
    assert pooled >= 0.92 - 0.045
    assert pooled_error < own_error
    assert lean == pytest.approx(0.95, abs=0.2)


def test_a_passage_asked_again_tells_what_the_group_grew(year):
    drawn, slopes = year
    for ensemble, group in drawn.groups.items():
        true = np.mean([each for name, each in slopes.items() if name.startswith(ensemble)])
        assert group.anchors == (f"{ensemble}t0",)
        assert abs(group.slope - true) < 3 * group.variance**0.5
        assert group.variance**0.5 < 0.3


def test_groups_and_sections_alone_are_those_of_the_whole_growth():
    given = small_year()
    whole, alone = measure_growth(given), growth_together(given)
    assert alone.lines == () and alone.groups and alone.remarks == whole.remarks
    assert alone.groups == tuple(each for each in whole.groups if not each.criterion)
    assert alone.sections == tuple(each for each in whole.sections if not each.criterion)
    assert growth_together([]).remarks == ("no_ratings",)


def test_without_a_passage_asked_again_no_growth_of_the_group_is_told():
    given, _ = planted(22, NO_ANCHORS, sizes=(6, 8), n_ensembles=1)
    found = measure_growth(given)
    assert {(group.points_a_year, group.because) for group in found.groups} == {
        (None, growth_values.NO_ANCHOR)}
    assert not any(line.anchored for line in found.lines)
    assert {line.state for line in found.lines} <= {"ahead", "behind", "could_be_chance"}
    assert all(section.own is None for section in found.sections)


def test_tasks_that_get_harder_as_fast_as_all_learn_hide_growth_from_the_averages_alone():
    given, slopes = planted(23, THREE_TIMES, sizes=(10, 15), n_ensembles=1, growth=1.2,
                            harder=1.6)
    # The asked-again passages keep the difficulty of their first time.
    plain = np.polyfit([row.day / 365 for row in given], [row.level for row in given], 1)[0]
    assert plain < 0.25
    group = next(group for group in measure_growth(given).groups if not group.criterion)
    assert group.low > 0
    assert group.anchors == ("e0t0", "e0t1")
    assert group.n_sittings == 6


def test_a_passage_asked_again_within_a_month_is_no_anchor():
    given, _ = planted(24, {3: 2}, sizes=(6, 8), n_ensembles=1)
    group = measure_growth(given).groups[0]
    assert (group.points_a_year, group.because) == (None, growth_values.NO_ANCHOR)


def test_a_passage_that_only_a_few_played_again_is_no_anchor():
    again = {row.student for row in small_year()}
    few = set(sorted(again)[:4])
    given = [row for row in small_year()
             if not (row.task == "e0t0" and row.day > 100 and row.student not in few)]
    assert measure_growth(given).groups[0].because == growth_values.NO_ANCHOR


def test_differences_between_musicians_do_not_hang_on_the_anchor():
    """The same year with every task's key its own: only the common slope is gone."""
    apart = changed(small_year(), task=lambda row: f"{row.task}@{row.day:.0f}")
    one, other = _drawn(*together(small_year())), _drawn(*together(apart))
    moved = one.own - other.own
    assert np.ptp(moved) < 1e-5
    assert moved[0] == pytest.approx(one.groups["e0"].slope, abs=1e-5)


def test_a_stopped_section_of_fifteen_is_found_and_no_other():
    given, _ = planted(4, FIRST_AND_LAST, growth=1.25, spread=0.4, stopped=(1, 4))
    found = measure_growth(given).sections
    assert {(each.ensemble, each.section) for each in found if each.stopped} == {("e1", "s4")}
    row = next(each for each in found if each.sure and not each.criterion)
    assert row.high < 0
    assert row.own.low <= 0.1 < 0.5 < -row.points_a_year
    assert (row.n_students, row.n_rest) == (15, 35)


def test_a_section_that_grows_less_and_yet_surely_grows_has_not_stopped():
    # A year of fast learners, one section of which are the slower ones of another year.
    fast, _ = planted(4, FIRST_AND_LAST, sizes=(12, 15), n_ensembles=1, growth=3.5, spread=0.3)
    slow, _ = planted(4, FIRST_AND_LAST, sizes=(12, 15), n_ensembles=1, growth=1.7, spread=0.3)
    mixed = [row for row in fast if row.section == "s0"]
    mixed += [row for row in slow if row.section == "s1"]
    found = next(each for each in measure_growth(mixed).sections
                 if (each.section, each.criterion) == ("s1", ""))
    assert found.sure
    assert found.own.low > 0.1
    assert not found.stopped


def test_a_change_of_instrument_starts_a_line_of_its_own():
    given = changed(
        small_year(),
        instrument=lambda row: "horn" if row.student != "e0s2m03" or row.day < 150 else "tuba")
    found = measure_growth(given)
    own = {line.instrument: line for line in found.lines
           if line.student == "e0s2m03" and not line.criterion}
    assert sorted(own) == ["horn", "tuba"]
    assert max(point.day for point in own["horn"].points) < 150
    assert min(point.day for point in own["tuba"].points) >= 150
    assert "instrument_changed" in found.remarks


def test_fewer_than_four_occasions_make_no_line():
    given = [row for row in small_year() if row.student != "e0s0m00" or row.day < 80]
    lines = {line.student: line for line in measure_growth(given).lines if not line.criterion}
    few = lines["e0s0m00"]
    assert len(few.points) == 3
    assert (few.state, few.because) == ("too_few", "few_occasions")
    assert few.pooled is few.unpooled is few.change is None
    assert lines["e0s0m01"].pooled is not None


def test_the_order_of_rows_changes_nothing():
    shuffled = list(small_year())
    np.random.default_rng(1).shuffle(shuffled)
    assert measure_growth(shuffled) == small_growth()


def test_self_and_peer_levels_do_not_enter():
    extra = changed(small_year(), level=lambda row: 4, rater=lambda row: row.student,
                    rater_class=lambda row: SELF if row.level > 2 else PEER)
    assert measure_growth([*small_year(), *extra]) == small_growth()


def test_points_are_rating_points_and_lines_keep_to_them():
    for line in small_growth().lines:
        days = [point.day for point in line.points]
        assert days == sorted(days)
        for point in line.points:
            assert 1 <= point.low <= point.fair <= point.high <= 4
        for slope in (line.pooled, line.unpooled):
            assert slope.low <= slope.points_a_year <= slope.high
            assert min(slope.start_points, slope.end_points) >= 1
            years = (days[-1] - days[0]) / 365
            assert slope.end_points - slope.start_points == pytest.approx(
                slope.points_a_year * years)


def test_pooled_lines_have_shorter_intervals_and_own_lines_make_the_state():
    widths = [[slope.high - slope.low for slope in (line.pooled, line.unpooled)]
              for line in small_growth().lines]
    pooled, own = np.mean(widths, axis=0)
    assert pooled < 0.9 * own
    for line in small_growth().lines:
        rising = line.unpooled.low > 0
        assert (line.state == "rising") == rising
        assert line.state in growth_values.GROWTH_STATES
        assert line.because in growth_values.GROWTH_REASONS
        if line.because == growth_values.POOLED_ONLY:
            assert line.pooled.low > 0 or line.pooled.high < 0


def test_where_nobody_grows_a_change_is_rarely_called_reliable():
    given, _ = planted(26, FIRST_AND_LAST, growth=0.0, spread=0.0)
    lines = _lines(_drawn(*together(given)))
    false = sum(line.change.sure for line in lines)
    assert stats.binomtest(false, len(lines), 0.05, "greater").pvalue > 0.01
    rising = sum(line.state != "could_be_chance" for line in lines)
    assert stats.binomtest(rising, len(lines), 0.05, "greater").pvalue > 0.01
    for line in lines:
        assert line.change.low < line.change.change_points < line.change.high
        assert line.change.sure == (line.change.low > 0 or line.change.high < 0)


def test_a_slope_in_points_is_the_rise_between_the_ends_of_the_line():
    scale = Scale(np.array([1.0, 2.0]), np.zeros(2), {"c": 0.0}, {"r": 0.0}, ())
    # One step: the expected level is 1 + the logistic curve.
    found = points_a_year(scale, "c", np.array([0.0]), np.array([0.5]), np.array([2.0]))
    assert found == pytest.approx([np.tanh(0.5)])
    assert points_a_year(scale, "c", np.array([9.0]), np.array([0.5]), np.array([0.0])) == [0.0]


def one_occasion(given):
    return [row for row in given if row.day == 0]


def one_musician(given):
    return [row for row in given if row.student == "e0s0m00"]


def two_musicians_unanchored(given):
    return changed([row for row in given if row.student in ("e0s0m00", "e0s0m01")],
                   task=lambda row: f"{row.task}@{row.day:.0f}")


def one_criterion(given):
    return [row for row in given if row.criterion == "c1"]


def all_at_once(given):
    return changed(given, day=lambda row: 5.0)


def an_always_highest_musician(given):
    return changed(given, level=lambda row: 4 if row.student == "e0s0m00" else row.level)


def an_always_lowest_section(given):
    return changed(given, level=lambda row: 1 if row.section == "s0" else row.level)


def two_levels_only(given):
    return changed(given, level=lambda row: 2 if row.level < 3 else 3)


def one_criterion_always_the_same(given):
    return changed(given, level=lambda row: 3 if row.criterion == "c0" else row.level)


def one_level_but_once(given):
    return changed(given, level=lambda row: 4 if (row.student, row.day) == ("e0s1m02", 0) else 3)


def each_section_its_own_task(given):
    return changed(given, task=lambda row: f"{row.task}{row.section}")


def a_rater_a_section_who_change_places_at_the_middle(given):
    return changed(given, rater=lambda row: f"r{(int(row.section[1]) + (row.day > 180)) % 2}")


def a_handful(given):
    return list(given)[::67]


def days_that_are_none(given):
    return changed(given, day=lambda row: float("nan") if row.level == 2 else row.day)


ODD = (one_occasion, one_musician, two_musicians_unanchored, one_criterion, all_at_once,
       an_always_highest_musician, an_always_lowest_section, two_levels_only,
       one_criterion_always_the_same, one_level_but_once, each_section_its_own_task,
       a_rater_a_section_who_change_places_at_the_middle, a_handful, days_that_are_none)


@pytest.mark.parametrize("spoil", ODD, ids=lambda spoil: spoil.__name__)
def test_odd_tables_give_finite_figures_and_known_codes(spoil):
    found = measure_growth(spoil(small_year()))
    told = numbers(found)
    assert len(told) > 3
    assert np.isfinite(told).all()
    assert set(found.remarks) <= set(growth_values.GROWTH_REMARKS)
    for line in found.lines:
        assert line.state in growth_values.GROWTH_STATES
        assert line.because in growth_values.GROWTH_REASONS


def test_one_level_or_no_directors_level_is_a_code_and_nothing_else():
    same = changed(small_year(), level=lambda row: 3)
    assert measure_growth(same).remarks == ("one_level",)
    assert measure_growth([]).remarks == ("no_ratings",)
    only_self = changed(small_year(), rater_class=lambda row: SELF)
    assert dataclasses.astuple(measure_growth(only_self)) == ((), (), (), ("no_ratings",))


def test_one_occasion_or_all_at_one_time_draws_no_line():
    for spoil in (one_occasion, all_at_once):
        assert {line.state for line in measure_growth(spoil(small_year())).lines} == {"too_few"}


def test_a_musician_with_only_the_highest_level_is_not_said_to_stand_still():
    found = measure_growth(an_always_highest_musician(small_year()))
    line = next(line for line in found.lines if line.student == "e0s0m00" and not line.criterion)
    assert (line.state, line.because) == ("could_be_chance", "all_highest")


def test_two_levels_of_one_rater_for_one_take_are_left_out_and_said():
    row = small_year()[0]
    twice = dataclasses.replace(row, level=5 - row.level)
    table, remarks = gather_given([*small_year(), twice])
    assert "torn" in remarks
    assert len(table.line) == len(small_year()) - 1


def test_who_comes_two_weeks_late_sat_with_the_others():
    late = changed(small_year(), day=lambda row: row.day + 14.0 * (row.student == "e0s0m00"))
    table, _ = gather_given(late)
    assert len(table.sittings) == 12
    assert len(gather_given(small_year())[0].sittings) == 12


def test_of_very_many_takes_some_place_the_scale_and_no_rater_is_lost(monkeypatch):
    given = changed(small_year(), rater=lambda row: f"r{row.section}")
    # One take in twelve of the first section is heard by a second rater.
    twice = [dataclasses.replace(row, rater="rs2") for row in given
             if row.section == "s0" and row.task == "e0t1"]
    full, _ = gather_given([*given, *twice])
    monkeypatch.setattr(growth_gather, "MOST_SCALED_TAKES", 120)
    some, _ = gather_given([*given, *twice])
    assert some.scale.raters.keys() == full.scale.raters.keys()
    assert some.scale.cumulated != pytest.approx(full.scale.cumulated)
    assert some.scale.cumulated == pytest.approx(full.scale.cumulated, abs=0.6)
    assert len(some.line) == len(full.line)
