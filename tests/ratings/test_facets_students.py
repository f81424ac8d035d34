"""Places of students, fit, level use and separation, held to outside figures."""

import dataclasses

import numpy as np
import pytest

from standlight.errors import StandlightError
from standlight.ratings.facet_design import PARTIAL_CREDIT, RATING_SCALE, facet_design
from standlight.ratings.facets import estimate_facets
from standlight.ratings.fit_statistics import residuals, shrunken_reliability
from standlight.ratings.measures import measure_facets
from standlight.ratings.ratings_table import gather_ratings
from standlight.ratings.students import student_measures
from tests.ratings.facet_tables import (
    RASCH,
    TAM,
    matrix_rows,
    planted_rows,
    synthetic_rows,
    table_of,
)
from tests.ratings.test_facets import MODELS, ODD


@pytest.mark.parametrize("model", MODELS)
def test_every_student_stands_where_the_reference_program_puts_them(model):
    ours = measure_facets(table_of(synthetic_rows()), model)
    found = {student.student: student for student in ours.students}
    reference = TAM[MODELS[model]]
    for person in reference["person"]:
        student = found[str(person["pid"])]
        assert student.eap - ours.means[0] == pytest.approx(person["EAP"], abs=1e-3)
        assert student.se == pytest.approx(person["SD"], abs=1e-3)
        assert student.wle - ours.means[0] == pytest.approx(person["WLE"], abs=1e-3)
        assert student.wle_se == pytest.approx(person["WLE.se"], abs=1e-3)
    assert ours.reliability == pytest.approx(reference["EAP.rel"], abs=1e-4)
    # The reference divides by n - 1 here; published separations divide by n, as we do.
    wle = np.array([student.wle for student in ours.students])
    errors = np.array([student.wle_se for student in ours.students])
    assert 1 - np.mean(errors**2) / np.var(wle, ddof=1) == pytest.approx(
        reference["wle_rel"], abs=1e-4)
    assert ours.separations["student"].reliability == pytest.approx(
        1 - np.mean(errors**2) / np.var(wle))


def test_warms_estimates_of_published_responses_are_the_references_extreme_student_too():
    # Wright & Masters 1982, without item 12; Warm's estimates computed with TAM 4.4.
    table = table_of(matrix_rows("liking_science_responses.txt", (12,)))
    estimate = estimate_facets(table, RATING_SCALE)
    found = student_measures(estimate)
    reference = RASCH["lfs_rsm_tam_wle"]
    # TAM holds the students' mean at zero, we the items'.
    places = np.array([student.wle for student in found]) - estimate.means[0]
    assert places == pytest.approx(np.array(reference["theta"]), abs=1e-3)
    assert [student.wle_se for student in found] == pytest.approx(reference["error"], abs=1e-3)
    extreme = [student for student in found if student.extreme]
    assert [student.student for student in extreme] == ["s001"]


def test_fair_levels_follow_the_student_and_not_the_rater():
    rows, places = planted_rows(31, 120)
    # One rater each: without fairness, the strict rater's students look weak.
    alone = [row for row in rows if row[3] == f"r{int(row[0][1:]) % 3}"]
    shared = [row for row in rows if row[0] < "s0030"]
    ours = measure_facets(table_of(sorted(set(alone + shared))))
    fair = np.array([student.fair for student in ours.students])
    raw = np.array([
        np.mean([row[4] for row in set(alone + shared) if row[0] == student.student])
        for student in ours.students])
    true = np.array([places[int(student.student[1:])] for student in ours.students])
    assert ((fair >= 1) & (fair <= 4)).all()
    assert np.corrcoef(fair, true)[0, 1] > np.corrcoef(raw, true)[0, 1] + 0.005


def test_mean_squares_are_about_one_where_the_model_made_the_ratings():
    ours = measure_facets(table_of(planted_rows(33, 150)[0]))
    for element in ours.elements:
        assert element.infit == pytest.approx(1, abs=0.15), element
        assert element.outfit == pytest.approx(1, abs=0.2), element
    assert sum(use.n_ratings for use in ours.level_use) == sum(
        element.n_ratings for element in ours.elements if element.facet == "rater")
    means = [use.student_mean for use in ours.level_use]
    assert means == sorted(means)


def test_a_rater_who_throws_dice_stands_out_in_the_mean_squares():
    random = np.random.default_rng(9)
    rows = [
        (*row[:4], int(random.integers(1, 5)) if row[3] == "r2" else row[4])
        for row in planted_rows(34, 120)[0]]
    found = {e.element: e for e in measure_facets(table_of(rows)).elements if e.facet == "rater"}
    assert found["r2"].infit > 1.4
    assert max(found["r0"].infit, found["r1"].infit) < 1.1


def test_residuals_belong_to_their_own_ratings():
    table = table_of(synthetic_rows())
    estimate = estimate_facets(table, RATING_SCALE)
    places = np.array([student.wle for student in student_measures(estimate)])
    found = residuals(estimate.design, estimate.parameters, places)
    number = 700
    facets = [estimate.facet(name) for name in ("task", "criterion", "rater")]
    place = places[table.student[number]] - sum(
        measures[table.names[facet][table.elements[number, facet]]]
        for facet, measures in enumerate(facets))
    weights = np.exp(np.arange(4) * place - estimate.design.thresholds(estimate.parameters)[0])
    expected = weights / weights.sum() @ np.arange(4)
    assert found.square[number] == pytest.approx((table.category[number] - expected) ** 2)
    assert (facet_design(table, RATING_SCALE).cell < 54).all()


def numbers_in(value):
    if isinstance(value, float):
        yield value
    elif isinstance(value, dict):
        yield from numbers_in(list(value.values()))
    elif isinstance(value, list | tuple):
        for each in value:
            yield from numbers_in(each)


@pytest.mark.parametrize("model", MODELS)
@pytest.mark.parametrize("spoil", ODD, ids=lambda spoil: spoil.__name__)
def test_odd_tables_give_no_figure_that_is_none_anywhere(spoil, model):
    ours = measure_facets(table_of(spoil(planted_rows(7)[0])), model)
    numbers = list(numbers_in(dataclasses.asdict(ours)))
    assert len(numbers) > 10
    assert np.isfinite(numbers).all()


def test_a_threshold_of_a_level_that_a_criterion_never_got_is_not_invented():
    rows = [(*row[:4], 4 if row[2] == "c1" and row[4] == 3 else row[4])
            for row in planted_rows(7)[0]]
    ours = measure_facets(table_of(rows), PARTIAL_CREDIT)
    unknown = {(t.criterion, t.level) for t in ours.thresholds if t.logits is None}
    assert unknown == {("c1", 3), ("c1", 4)}


def test_the_reliability_of_places_all_alike_is_nothing():
    assert shrunken_reliability(np.ones(4), np.ones(4)) == 0


@pytest.mark.parametrize("seed", [0, 1, 2, 3, 6, 7])
def test_a_handful_of_ratings_at_random_gives_finite_figures_or_a_sentence(seed):
    random = np.random.default_rng(seed)
    n = int(random.integers(2, 25))
    sizes = [int(random.integers(1, 5)) for _ in range(4)]
    n_levels = int(random.integers(2, 6))
    columns = [[f"{kind}{each}" for each in random.integers(0, size, n)]
               for kind, size in zip("stcr", sizes, strict=True)]
    levels = [int(level) for level in random.integers(0, n_levels, n)]
    try:
        ours = measure_facets(gather_ratings(*columns, levels))
    except StandlightError as problem:
        assert "no rating is left" in str(problem) or "nothing can be told apart" in str(problem)
        assert seed in (2, 3)
        return
    assert np.isfinite(list(numbers_in(dataclasses.asdict(ours)))).all()
    if max(abs(element.logits) for element in ours.elements) > 10:
        assert any("ran off" in remark for remark in ours.remarks)
