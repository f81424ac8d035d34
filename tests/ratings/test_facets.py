"""The many-facet Rasch estimator, held to a reference program and to itself."""

import numpy as np
import pytest

from standlight.errors import StandlightError
from standlight.ratings.facet_design import PARTIAL_CREDIT, RATING_SCALE, facet_design
from standlight.ratings.facets import estimate_facets
from standlight.ratings.marginal import laplace_information, marginal_point
from standlight.ratings.ratings_table import gather_ratings
from tests.ratings.facet_tables import (
    CRITERIA,
    CRITERIA_PLANTED,
    RASCH,
    RATERS,
    TAM,
    TASKS,
    matrix_rows,
    planted_rows,
    synthetic_rows,
    table_of,
)

MODELS = {RATING_SCALE: "rsm", PARTIAL_CREDIT: "pcm"}


# Data printed in Wright & Stone 1979 and Wright & Masters 1982. The reference program
# (TAM 4.4) was given them without the items that all or no students passed, and without
# the item in which nobody chose the lowest category.
@pytest.fixture(params=[
    ("knox_cube_responses.txt", (1, 2, 3, 18), "knox_tam"),
    ("liking_science_responses.txt", (12,), "lfs_rsm_tam"),
], ids=("knox", "liking"))
def published(request):
    return request.param


def parts_of(reference):
    return {row["par"]: row["xsi"] for row in reference["xsi"]}


def centred(values):
    return np.array(values) - np.mean(values)


@pytest.fixture(scope="module", params=MODELS)
def synthetic(request):
    """Our estimate of the synthetic set and the reference program's (TAM 4.4)."""
    return estimate_facets(table_of(synthetic_rows()), request.param), TAM[MODELS[request.param]]


def test_deviance_and_variance_are_those_of_the_reference_program(synthetic):
    ours, reference = synthetic
    assert ours.deviance == pytest.approx(reference["deviance"], abs=1e-3)
    assert ours.variance == pytest.approx(reference["variance"], abs=1e-3)
    assert ours.steepest < 1e-5
    assert ours.remarks == ()


def test_every_facet_is_that_of_the_reference_program_after_centring(synthetic):
    ours, reference = synthetic
    parts = parts_of(reference)
    for facet, before in (("task", "task"), ("criterion", ""), ("rater", "rater")):
        measures = ours.facet(facet)
        theirs = centred([parts[before + name] for name in measures])
        assert list(measures.values()) == pytest.approx(list(theirs), abs=1e-3)
        assert sum(measures.values()) == pytest.approx(0, abs=1e-9)
    shift = np.mean([parts[name] for name in CRITERIA])
    assert ours.means[0] == pytest.approx(-shift, abs=1e-3)


def test_thresholds_are_those_of_the_reference_program(synthetic):
    ours, reference = synthetic
    parts = parts_of(reference)
    found = np.diff(ours.design.thresholds(ours.parameters), axis=1)
    groups = [""] if ours.model == RATING_SCALE else [f"{name}:" for name in sorted(CRITERIA)]
    theirs = [[parts[f"{group}step{k}"] for k in (1, 2, 3)] for group in groups]
    assert found == pytest.approx(np.array(theirs), abs=1e-3)


def test_published_responses_have_the_reference_programs_deviance_and_places(published):
    file, left_out, reference = published
    ours = estimate_facets(table_of(matrix_rows(file, left_out)), RATING_SCALE)
    parts = RASCH[reference]["xsi"]
    theirs = [part["xsi"] if isinstance(part, dict) else part for part in parts]
    measures = list(ours.facet("task").values())
    assert ours.deviance == pytest.approx(RASCH[reference]["deviance"], abs=0.005)
    assert ours.variance == pytest.approx(RASCH[reference]["variance"], rel=0.002)
    assert measures == pytest.approx(list(centred(theirs[: len(measures)])), abs=1e-3)


@pytest.mark.parametrize("model", MODELS)
def test_the_gradient_is_the_slope_of_the_likelihood(model):
    ensembles = None
    rows, _ = planted_rows(3, n_students=12)
    ensembles = ["low" if row[0] < "s0006" else "top" for row in rows]
    design = facet_design(table_of(rows, ensembles=ensembles), model)
    random = np.random.default_rng(4)
    parameters = random.normal(0, 0.3, design.basis.shape[0])
    nodes = np.linspace(-6, 6, 61)
    point = marginal_point(design, parameters, nodes)
    step = 1e-5
    for number in range(len(parameters)):
        moved = np.zeros(len(parameters))
        moved[number] = step
        ahead = marginal_point(design, parameters + moved, nodes).log_likelihood
        behind = marginal_point(design, parameters - moved, nodes).log_likelihood
        assert point.gradient[number] == pytest.approx((ahead - behind) / (2 * step), abs=1e-4)


def test_the_quick_information_is_close_to_the_differenced_one():
    ours = estimate_facets(table_of(synthetic_rows()), RATING_SCALE)
    design = ours.design
    point = marginal_point(design, ours.parameters, ours.nodes)
    quick = laplace_information(design, ours.parameters, ours.nodes, point)
    basis = design.basis
    spread = basis @ np.linalg.inv(basis.T @ quick @ basis) @ basis.T
    ratio = np.sqrt(np.diag(spread) / np.diag(ours.covariance))
    assert ratio.min() > 0.9
    assert ratio.max() < 1.02


def test_planted_places_are_found_within_their_errors():
    rows, _ = planted_rows(11, n_students=150)
    ours = estimate_facets(table_of(rows), RATING_SCALE)
    truth = np.concatenate([centred(TASKS), centred(CRITERIA_PLANTED), centred(RATERS)])
    found = ours.parameters[: len(truth)]
    errors = np.sqrt(np.diag(ours.covariance))[: len(truth)]
    assert np.abs((found - truth) / errors).max() < 3.5
    assert np.sqrt(ours.variance) == pytest.approx(1.2, abs=0.25)


def test_over_many_plantings_the_scale_is_true_and_intervals_cover_as_often_as_they_say():
    truth = np.concatenate([centred(TASKS), centred(CRITERIA_PLANTED), centred(RATERS)])
    inside, slopes = [], []
    for seed in range(40):
        ours = estimate_facets(table_of(planted_rows(seed, 40, 0.4)[0]), RATING_SCALE)
        errors = np.sqrt(np.diag(ours.covariance))[: len(truth)]
        slopes.append(np.polyfit(truth, ours.parameters[: len(truth)], 1)[0])
        inside += list(np.abs(ours.parameters[: len(truth)] - truth) < 1.96 * errors)
    assert 0.91 <= np.mean(inside) <= 0.98  # 400 intervals, not independent
    error = np.std(slopes) / np.sqrt(len(slopes))
    assert np.mean(slopes) == pytest.approx(1, abs=3 * error)
    assert error < 0.03


def test_the_order_of_the_rows_changes_nothing():
    rows = synthetic_rows()
    shuffled = [rows[number] for number in np.random.default_rng(5).permutation(len(rows))]
    first, second = (estimate_facets(table_of(each), RATING_SCALE) for each in (rows, shuffled))
    assert np.array_equal(first.parameters, second.parameters)
    assert first.deviance == second.deviance


def test_two_ensembles_have_means_of_their_own_when_each_has_its_rater():
    low, _ = planted_rows(21, 60, mean=-0.5)
    top, _ = planted_rows(22, 60, mean=1.5)
    rows = [("low" + r[0], *r[1:]) for r in low] + [("top" + r[0], *r[1:]) for r in top]
    ours = estimate_facets(table_of(rows, ensembles=[r[0][:3] for r in rows]), RATING_SCALE)
    assert ours.design.ratings.ensembles == ("low", "top")
    assert ours.means[1] - ours.means[0] == pytest.approx(2.0, abs=0.5)


def all_finite(ours):
    return all(
        np.isfinite(values).all()
        for values in (ours.parameters, ours.covariance, ours.posterior, [ours.deviance])
    )


def one_rater(rows):
    return [row for row in rows if row[3] == "r0"]


def one_task_all_top(rows):
    return [(*row[:4], 4 if row[1] == "t0" else row[4]) for row in rows]


def students_all_extreme(rows):
    return [(*row[:4], 4 if row[0] < "s0030" else 1) for row in rows]


def two_students_alike(rows):
    return [(student, task, "c0", "r0", 1 + number % 2)
            for student in ("a", "b") for number, task in enumerate("wxyz")]


def doubled(rows):
    return rows + rows[:5]


def torn(rows):
    student, task, criterion, rater, level = rows[0]
    return [*rows, (student, task, criterion, rater, 1 + level % 4)]


def criterion_not_rated(rows):
    return rows + [(*row[:2], "pulse", row[3], None) for row in rows[:9]]


def level_left_out(rows):
    return [(*row[:4], 4 if row[4] == 3 else row[4]) for row in rows]


ODD = {
    one_rater: "There is one rater",
    one_task_all_top: "task t0. The measure is a guess.",
    students_all_extreme: "further apart than this scale",
    two_students_alike: "could not be told apart",
    doubled: "5 ratings stood there twice",
    torn: "the same work two levels",
    criterion_not_rated: "Nobody rated pulse",
    level_left_out: "Nobody gave level 3",
}


@pytest.mark.parametrize("model", MODELS)
@pytest.mark.parametrize("spoil", ODD, ids=lambda spoil: spoil.__name__)
def test_odd_tables_bring_a_remark_and_never_a_figure_that_is_none(spoil, model):
    ours = estimate_facets(table_of(spoil(planted_rows(7)[0])), model)
    assert all_finite(ours)
    assert any(ODD[spoil] in remark for remark in ours.remarks), ours.remarks


def test_a_criterion_of_one_level_is_left_out_of_partial_credit_with_a_remark():
    rows = [(*row[:4], 2 if row[2] == "c1" else row[4]) for row in planted_rows(7)[0]]
    ours = estimate_facets(table_of(rows), PARTIAL_CREDIT)
    assert ours.design.ratings.names[1] == ("c0", "c2")
    assert any("c1 is the same level" in remark for remark in ours.remarks)
    assert all_finite(ours)


def test_what_cannot_be_measured_at_all_is_a_sentence():
    with pytest.raises(StandlightError, match="every rating is level 2"):
        table_of([("a", "x", "c", "r", 2), ("b", "x", "c", "r", 2)])
    with pytest.raises(StandlightError, match="no rating is left"):
        table_of([("a", "x", "c", "r", None)])
    with pytest.raises(StandlightError, match="differ in length"):
        gather_ratings("ab", "x", "c", "r", [1])
    with pytest.raises(StandlightError, match="is no model"):
        estimate_facets(table_of(synthetic_rows()), "graded")
