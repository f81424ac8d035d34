"""What must hold of every agreement figure, slow oracles, and data that holds no figure."""

import math
from itertools import combinations, permutations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from standlight.ratings import (
    AgreementFigure,
    agree,
    cohens_kappa,
    fleiss_kappa,
    intraclass_correlation,
    intraclass_correlations,
    kappa_of_table,
    kendalls_w,
    krippendorff_alpha,
    percent_agreement,
)
from standlight.ratings.agreement import BY_FORMULA, OF_TWO, RESAMPLED
from standlight.ratings.agreement_figure import (
    bootstrap_interval,
    counts_of,
    distinct_rows,
    levels_of,
    resample_weights,
)
from standlight.ratings.agreement_many import DISTANCES, fleiss_by_category, fleiss_of_counts
from standlight.ratings.agreement_pairs import WEIGHTS
from standlight.ratings.agreement_ranks import concordance
from standlight.ratings.intraclass import FORMS, mean_squares

FEW = 40  # resamples where the interval itself is not the point

level = st.integers(1, 4)


SOME_RATERS, SOME_OBJECTS = st.integers(2, 4), st.integers(2, 9)


def grids(cells, raters=SOME_RATERS, objects=SOME_OBJECTS):
    return st.tuples(objects, raters).flatmap(
        lambda size: st.lists(
            st.lists(cells, min_size=size[1], max_size=size[1]), min_size=size[0], max_size=size[0]
        )
    )


whole, gaps = grids(level), grids(st.none() | level)
any_grid = grids(st.none() | st.integers(0, 4), st.integers(0, 4), st.integers(0, 8))
two = grids(level, st.just(2))


def same(one, other):
    """Two figures with the same estimate, or both without."""
    if one.estimate is None or other.estimate is None:
        return one.estimate is other.estimate
    return one.estimate == pytest.approx(other.estimate, abs=1e-9)


# --- slow oracles: the definitions, cell by cell ---------------------------------------------


def slow_alpha(grid, distance):
    """One minus the mean distance within objects over that of any two pairable levels."""
    rows = [[level for level in row if level is not None] for row in grid]
    rows = [row for row in rows if len(row) >= 2]
    pool = [level for row in rows for level in row]
    within = sum(
        sum(distance(a, b, pool) for a, b in permutations(row, 2)) / (len(row) - 1) for row in rows
    ) / len(pool)
    among = sum(distance(a, b, pool) for a, b in permutations(pool, 2))
    among /= len(pool) * (len(pool) - 1)
    return 1 - within / among


def ordinal_distance(a, b, pool):
    low, high = min(a, b), max(a, b)
    between = sum(pool.count(level) for level in range(low, high + 1))
    return 0 if a == b else (between - (pool.count(a) + pool.count(b)) / 2) ** 2


SLOW_DISTANCES = {
    "nominal": lambda a, b, pool: a != b,
    "ordinal": ordinal_distance,
    "interval": lambda a, b, pool: (a - b) ** 2,
    "ratio": lambda a, b, pool: ((a - b) / (a + b)) ** 2,
}


@pytest.mark.parametrize("scale", DISTANCES)
@given(grid=gaps)
@settings(max_examples=25, deadline=None)
def test_alpha_is_its_definition_pair_by_pair(scale, grid):
    found = krippendorff_alpha(grid, scale=scale, resamples=FEW)
    assume(found.estimate is not None)
    assert found.estimate == pytest.approx(slow_alpha(grid, SLOW_DISTANCES[scale]), abs=1e-9)


@given(gaps, st.sampled_from([0, 1, 2]))
@settings(max_examples=40, deadline=None)
def test_percent_agreement_counts_pairs(grid, within):
    found = percent_agreement(grid, within=within, resamples=FEW)
    near = [
        abs(a - b) <= within
        for row in grid
        for a, b in combinations([level for level in row if level is not None], 2)
    ]
    assert found.estimate == (pytest.approx(sum(near) / len(near)) if near else None)


@pytest.mark.parametrize("weights", WEIGHTS)
@given(grid=two)
@settings(max_examples=40, deadline=None)
def test_kappa_is_observed_over_shuffled_disagreement(weights, grid):
    found = cohens_kappa(grid, weights=weights)
    power = {"none": lambda gap: gap != 0, "linear": abs, "quadratic": lambda gap: gap**2}[weights]
    one, other = [row[0] for row in grid], [row[1] for row in grid]
    shuffled = np.mean([power(a - b) for a in one for b in other])
    if shuffled == 0:
        assert found.estimate is None and found.because
    else:
        observed = np.mean([power(a - b) for a, b in grid])
        assert found.estimate == pytest.approx(1 - observed / shuffled, abs=1e-9)


@given(whole)
@settings(max_examples=40, deadline=None)
def test_fleiss_is_its_definition_pair_by_pair(grid):
    found = fleiss_kappa(grid, resamples=FEW)
    pool = [level for row in grid for level in row]
    expected = sum((pool.count(level) / len(pool)) ** 2 for level in set(pool))
    if len(set(pool)) == 1:
        assert found.estimate is None
    else:
        observed = np.mean([np.mean([a == b for a, b in combinations(row, 2)]) for row in grid])
        assert found.estimate == pytest.approx((observed - expected) / (1 - expected), abs=1e-9)


@given(whole)
@settings(max_examples=40, deadline=None)
def test_the_mean_squares_split_the_whole_spread(grid):
    levels = np.array(grid, dtype=float)
    m = mean_squares(levels)
    total = ((levels - levels.mean()) ** 2).sum()
    n, k = levels.shape
    assert m.objects * (n - 1) + m.within * n * (k - 1) == pytest.approx(total, abs=1e-9)
    assert m.raters * (k - 1) + m.rest * (n - 1) * (k - 1) == pytest.approx(
        m.within * n * (k - 1), abs=1e-9)


@given(whole)
@settings(max_examples=40, deadline=None)
def test_the_mean_of_k_raters_is_one_rater_stepped_up(grid):
    k = len(grid[0])
    found = dict(zip(FORMS, intraclass_correlations(grid), strict=True))
    for number in "123":
        one, mean = found[f"ICC({number},1)"].estimate, found[f"ICC({number},k)"].estimate
        if one is not None and mean is not None:
            assert mean * (1 + (k - 1) * one) == pytest.approx(k * one, abs=1e-6 * (1 + abs(mean)))


# --- what must not change a figure -------------------------------------------------------------


@pytest.mark.parametrize("weights", WEIGHTS)
@given(grid=two)
@settings(max_examples=25, deadline=None)
def test_two_raters_may_change_places(weights, grid):
    one = cohens_kappa(grid, weights=weights)
    other = cohens_kappa([row[::-1] for row in grid], weights=weights)
    assert same(one, other)
    if one.low is not None:
        assert (one.low, one.high) == (pytest.approx(other.low), pytest.approx(other.high))


@pytest.mark.parametrize("key", [*RESAMPLED, *BY_FORMULA])
@given(grid=gaps, data=st.data())
@settings(max_examples=15, deadline=None)
def test_the_order_of_raters_and_objects_does_not_matter(key, grid, data):
    columns = data.draw(st.permutations(range(len(grid[0]))))
    shuffled = [[row[column] for column in columns] for row in data.draw(st.permutations(grid))]
    more = {"resamples": FEW} if key in RESAMPLED else {}
    make = {**RESAMPLED, **BY_FORMULA}[key]
    assert same(make(grid, **more), make(shuffled, **more))


@given(gaps, st.permutations([1, 2, 3, 4]))
@settings(max_examples=30, deadline=None)
def test_the_names_of_categories_do_not_matter_where_no_order_is_meant(grid, names):
    renamed = [[level and names[level - 1] * 10 for level in row] for row in grid]
    for figure in (
        lambda rows: krippendorff_alpha(rows, scale="nominal", resamples=FEW),
        lambda rows: fleiss_kappa(rows, resamples=FEW),
        lambda rows: percent_agreement(rows, resamples=FEW),
        lambda rows: cohens_kappa([row[:2] for row in rows]),
    ):
        assert same(figure(grid), figure(renamed))


@given(gaps, st.integers(-5, 5))
@settings(max_examples=30, deadline=None)
def test_a_constant_changes_no_interval_alpha_and_no_correlation(grid, constant):
    moved = [[None if level is None else level + constant for level in row] for row in grid]
    assert same(krippendorff_alpha(grid, scale="interval", resamples=FEW),
                krippendorff_alpha(moved, scale="interval", resamples=FEW))
    for form in FORMS:
        assert same(intraclass_correlation(grid, form), intraclass_correlation(moved, form))


@given(gaps)
@settings(max_examples=30, deadline=None)
def test_only_the_order_of_levels_counts_for_ordinal_alpha_and_for_w(grid):
    stretched = [[None if level is None else 3**level for level in row] for row in grid]
    assert same(krippendorff_alpha(grid, scale="ordinal", resamples=FEW),
                krippendorff_alpha(stretched, scale="ordinal", resamples=FEW))
    assert same(kendalls_w(grid, resamples=FEW), kendalls_w(stretched, resamples=FEW))


@given(whole, st.data())
@settings(max_examples=30, deadline=None)
def test_a_strict_rater_changes_consistency_and_order_not_at_all(grid, data):
    strict = data.draw(st.lists(st.integers(-3, 3), min_size=len(grid[0]), max_size=len(grid[0])))
    moved = [[level + less for level, less in zip(row, strict, strict=True)] for row in grid]
    # all levels the same is "no figure" of its own kind, and a shift of raters ends that
    assume(len({level for row in grid for level in row}) > 1)
    assume(len({level for row in moved for level in row}) > 1)
    for form in ("ICC(3,1)", "ICC(3,k)"):
        assert same(intraclass_correlation(grid, form), intraclass_correlation(moved, form))
    assert same(kendalls_w(grid, resamples=FEW), kendalls_w(moved, resamples=FEW))


def test_an_unused_level_in_the_middle_keeps_its_room():
    used = [[1, 1], [2, 4], [4, 4], [2, 2], [1, 2]]
    table = [[1, 1, 0, 0], [0, 1, 0, 1], [0, 0, 0, 0], [0, 0, 0, 1]]
    weights = WEIGHTS["linear"](np.arange(1.0, 5.0))
    assert cohens_kappa(used, weights="linear").estimate == pytest.approx(
        kappa_of_table(table, weights).estimate)


# --- the ends of the scale ----------------------------------------------------------------------


def test_perfect_agreement_is_one():
    rows = [[level] * 3 for level in (1, 2, 3, 4, 2, 3, 1)]
    for key, figure in agree(rows).figures:
        assert figure.estimate == pytest.approx(1.0), key
    for key, figure in agree([row[:2] for row in rows]).pairs[0].figures:
        assert figure.estimate == pytest.approx(1.0), key


def test_perfect_agreement_has_an_interval_only_where_a_formula_makes_one():
    rows = [[level] * 2 for level in (1, 2, 3, 4, 2, 3, 1)]
    percent = percent_agreement(rows)
    # Wilson's lower end at 7 of 7 is n / (n + z squared)
    assert (percent.low, percent.high) == (pytest.approx(7 / (7 + 1.959964**2)), 1.0)
    for figure in (cohens_kappa(rows), fleiss_kappa(rows), krippendorff_alpha(rows),
                   intraclass_correlation(rows, "ICC(3,1)")):
        assert figure.low is None and figure.because.startswith("No interval")


@given(any_grid)
@settings(max_examples=60, deadline=None)
def test_no_grid_breaks_a_figure_or_gives_half_of_one(grid):
    found = agree(grid, resamples=FEW)
    assert found == agree(grid, resamples=FEW)
    figures = [figure for _, figure in found.figures]
    figures += [figure for pair in found.pairs for _, figure in pair.figures]
    for figure in figures:
        assert figure.because or figure.low is not None
        assert figure.n_objects + figure.n_left_out <= found.n_objects
        if figure.estimate is not None:
            assert math.isfinite(figure.estimate) and figure.estimate <= 1 + 1e-9
        if figure.low is not None:
            assert math.isfinite(figure.low) and figure.low <= figure.high <= 1 + 1e-9
            assert figure.interval


@given(whole)
@settings(max_examples=80, deadline=None)
def test_an_interval_by_formula_holds_its_own_estimate(grid):
    figures = [*intraclass_correlations(grid), percent_agreement(grid, resamples=FEW)]
    figures += [cohens_kappa([row[:2] for row in grid], weights=weights) for weights in WEIGHTS]
    for figure in figures:
        if figure.low is not None and "bootstrap" not in figure.interval:
            assert figure.low - 1e-9 <= figure.estimate <= figure.high + 1e-9, figure


@pytest.mark.parametrize(
    ("grid", "reason"),
    [
        ([], "Nobody gave a level."),
        ([[None, None], [None, None]], "Nobody gave a level."),
        ([[1], [2], [3]], "There is one rater only; agreement needs two."),
        ([[1, None], [3, None]], "There is one rater only; agreement needs two."),
        ([[1, None], [None, 2]], "No object was rated twice."),
    ],
)
def test_where_nothing_can_be_compared_every_figure_says_why(grid, reason):
    figures = [figure for _, figure in agree(grid).figures]
    assert len(figures) == len(RESAMPLED) + len(BY_FORMULA) == 14
    assert {(figure.estimate, figure.because) for figure in figures} == {(None, reason)}
    assert agree(grid).pairs == ()


def test_one_level_only_is_agreement_in_percent_and_nothing_else():
    for key, figure in agree([[3, 3]] * 6).figures:
        if key.startswith("percent"):
            assert figure.estimate == 1.0
        else:
            assert figure.estimate is None and figure.because, key
    for key, figure in agree([[3, 3]] * 6).pairs[0].figures:
        assert (figure.estimate is None) == key.startswith("kappa"), key


def test_other_reasons_are_told_in_words():
    lonely = intraclass_correlation([[1, 2]], "ICC(1,1)")
    assert lonely.because == "There is one object only; this figure needs two."
    nested = [[1, 2, None], [None, 2, 3], [2, None, 3]]
    for figure in intraclass_correlation(nested, "ICC(2,1)"), kendalls_w(nested):
        assert figure.because == "No object was rated by all raters."
    assert intraclass_correlation(nested, "ICC(1,1)").estimate is not None
    crossed = intraclass_correlation([[1, 2], [2, 1]], "ICC(3,k)")
    assert crossed.because == "The objects' means do not differ, so this figure has no bottom."
    flat = kendalls_w([[1, 2], [1, 2]])
    assert flat.because == "No rater told any two objects apart, so there is no order."
    below = krippendorff_alpha([[-1, 2], [3, 1]], scale="ratio")
    assert below.because == "A ratio scale has no level under 0."
    few = fleiss_kappa([[1, 1], [2, 2], [1, 2]])
    assert few.estimate is not None and few.because == "No interval: it needs 5 objects."


def test_objects_that_cannot_enter_are_left_out_and_counted():
    grid = [[1, 1, 2], [2, 2, 2], [3, 3, 4], [4, 4, None], [1, None, None], [None, None, None]]
    assert (fleiss_kappa(grid).n_objects, fleiss_kappa(grid).n_left_out) == (3, 2)
    alpha = krippendorff_alpha(grid)
    assert (alpha.n_objects, alpha.n_left_out) == (4, 1)
    assert fleiss_kappa(grid).estimate == fleiss_kappa(grid[:3]).estimate
    w = kendalls_w(grid)
    assert (w.n_objects, w.n_raters, w.n_left_out) == (3, 3, 2)


# --- the intervals -----------------------------------------------------------------------------


def rated(rng, n, k=2):
    """Levels 1 to 4 of ``n`` objects by ``k`` raters who share what they hear."""
    heard = rng.normal(size=(n, 1)) + rng.normal(scale=0.7, size=(n, k))
    return np.clip(np.round(2.5 + heard), 1, 4)


def test_the_order_of_the_objects_moves_no_interval():
    grid = rated(np.random.default_rng(9), 30, 3).tolist()
    for (key, one), (_, other) in zip(agree(grid).figures, agree(grid[::-1]).figures, strict=True):
        assert (one.low, one.high) == (pytest.approx(other.low), pytest.approx(other.high)), key


def test_objects_drawn_by_their_rows_spread_as_objects_drawn_one_by_one():
    levels = rated(np.random.default_rng(10), 25, 3)
    rng = np.random.default_rng(11)
    by_hand = [
        fleiss_kappa(levels[rng.integers(0, 25, 25)], resamples=2).estimate for _ in range(1500)
    ]
    _, counts = counts_of(levels)
    rows, how_often = distinct_rows(counts)
    assert len(rows) < 25
    by_rows = [
        fleiss_of_counts(np.repeat(rows, weights, axis=0), resamples=2).estimate
        for weights in resample_weights(how_often, 1500, 12)
    ]
    assert np.std(by_rows) == pytest.approx(np.std(by_hand), rel=0.1)
    assert np.mean(by_rows) == pytest.approx(np.mean(by_hand), abs=0.02)


def test_the_seed_is_the_only_chance_there_is():
    grid = rated(np.random.default_rng(1), 20).tolist()
    assert agree(grid, seed=5) == agree(grid, seed=5)
    one, other = fleiss_kappa(grid, seed=5), fleiss_kappa(grid, seed=6)
    assert one.estimate == other.estimate and one.low != other.low
    assert one.interval.endswith("seed 5")


def test_more_objects_make_narrower_intervals():
    rng = np.random.default_rng(2)
    small, large = agree(rated(rng, 20, 3).tolist()), agree(rated(rng, 320, 3).tolist())
    for (key, one), (_, other) in zip(small.figures, large.figures, strict=True):
        if key != "ICC(2,k)" and one.low is not None:
            # sixteen times the objects: about a quarter of the width
            assert other.high - other.low < 0.5 * (one.high - one.low), key


@pytest.mark.parametrize(
    "make",
    [
        lambda grid: cohens_kappa(grid, weights="quadratic"),
        lambda grid: krippendorff_alpha(grid, scale="interval", resamples=200),
        lambda grid: fleiss_kappa(grid, resamples=200),
    ],
    ids=["kappa", "alpha", "fleiss"],
)
def test_intervals_of_60_objects_hold_the_true_figure_about_as_often_as_they_say(make):
    rng = np.random.default_rng(3)
    truth = make(rated(rng, 60_000)).estimate
    found = [make(rated(rng, 60)) for _ in range(150)]
    held = sum(figure.low <= truth <= figure.high for figure in found)
    # 150 draws: 95 in 100 has a standard error of 1.8
    assert 0.88 <= held / 150 <= 0.99


def test_a_correlation_interval_by_formula_holds_the_truth_for_normal_ratings():
    rng = np.random.default_rng(4)
    held = 0
    for _ in range(300):
        grid = rng.normal(size=(25, 1)) + rng.normal(size=(1, 4)) + rng.normal(size=(25, 4))
        figure = intraclass_correlation(grid.tolist(), "ICC(2,1)")
        held += figure.low <= 1 / 3 <= figure.high
    assert 0.91 <= held / 300 <= 0.99


def test_too_many_resamples_without_a_figure_give_no_interval():
    values = np.array([0.5, np.nan] * 50)
    because = "No interval: too many resamples have no figure."
    assert bootstrap_interval(10, 0.5, values) == (None, None, because)


def test_a_bootstrap_without_bias_and_with_many_objects_is_the_plain_percentiles():
    low, high, because = bootstrap_interval(100_000, 0.5, np.linspace(0, 1, 1001))
    assert (low, high, because) == (pytest.approx(0.025, abs=1e-4), pytest.approx(0.975, abs=1e-4),
                                    "")


def test_a_bootstrap_that_lies_low_is_moved_up_and_few_objects_reach_further():
    again = np.linspace(0, 1, 1001)
    low, high, _ = bootstrap_interval(100_000, 0.6, again)
    # 60 of 100 resamples are under the estimate: z = .2533, so ends at .5067 -+ 1.96
    assert (low, high) == (pytest.approx(0.0731, abs=2e-3), pytest.approx(0.9932, abs=2e-3))
    few = bootstrap_interval(10, 0.5, again)
    # t(9) = 2.262 times the root of 10/9: 2.384, a tail of .0086
    assert few[:2] == (pytest.approx(0.0086, abs=2e-4), pytest.approx(0.9914, abs=2e-4))


@given(whole, st.integers(0, 50))
@settings(max_examples=40, deadline=None)
def test_w_of_a_resample_is_w_of_its_objects_written_out(grid, seed):
    levels = np.array(grid, dtype=float)
    weights = resample_weights(np.ones(len(levels)), 1, seed)[0]
    short, long = concordance(levels, weights), concordance(np.repeat(levels, weights, axis=0))
    assert short == pytest.approx(long, nan_ok=True)


# --- called wrongly ----------------------------------------------------------------------------


def test_a_caller_who_brings_no_grid_is_told():
    with pytest.raises(ValueError, match="different lengths"):
        levels_of([[1, 2], [1]])
    with pytest.raises(ValueError, match="endless"):
        levels_of([[1, math.inf]])
    with pytest.raises(ValueError, match="two raters, not 3"):
        cohens_kappa([[1, 2, 3]])
    with pytest.raises(ValueError, match="square"):
        kappa_of_table([[1, 2, 3], [1, 2, 3]])
    with pytest.raises(ValueError, match="diagonal"):
        kappa_of_table([[1, 2], [3, 4]], np.array([[0, 1], [1, 0]]))
    with pytest.raises(ValueError, match="as many levels"):
        fleiss_of_counts([[2, 1], [1, 1]])
    with pytest.raises(ValueError, match="two levels or more"):
        fleiss_of_counts([[1, 0], [0, 1]])
    with pytest.raises(KeyError):
        krippendorff_alpha([[1, 2], [2, 2]], scale="cubic")


def test_a_figure_without_a_number_or_a_reason_cannot_be_made():
    with pytest.raises(ValueError, match="not all numbers"):
        AgreementFigure("x", math.nan, 0.0, 1.0, 2, 2)
    with pytest.raises(ValueError, match="half an interval"):
        AgreementFigure("x", 0.5, 0.1, None, 2, 2)
    with pytest.raises(ValueError, match="no reason"):
        AgreementFigure("x", 0.5, None, None, 2, 2)


def test_a_table_without_counts_has_no_kappa_and_an_unused_category_none():
    assert kappa_of_table([[0, 0], [0, 0]]).because == "No object was rated by both."
    assert fleiss_by_category([[2, 0], [2, 0]]) == (None, None)
    assert set(OF_TWO) == {"percent_exact", "percent_adjacent", "kappa", "kappa_linear",
                           "kappa_quadratic"}
