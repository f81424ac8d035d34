"""Joint likelihood, held to the published tables it was made for."""

import csv

import numpy as np
import pytest

from standlight.errors import StandlightError
from standlight.ratings.facet_design import PARTIAL_CREDIT, RATING_SCALE
from standlight.ratings.facets import estimate_facets
from standlight.ratings.fit_statistics import (
    infit_outfit,
    real_errors,
    residuals,
    separation_of,
    standardised_fit,
)
from standlight.ratings.joint import estimate_joint
from tests.ratings.facet_tables import AUTHORITIES, matrix_rows, planted_rows, table_of


def test_liking_for_science_is_the_published_table():
    # Wright & Masters 1982, Rating Scale Analysis, p. 18. Printed to .01; our largest
    # differences are .012 (measure, infit), .005 (error) and .024 (outfit).
    ours = estimate_joint(table_of(matrix_rows("liking_science_responses.txt")), RATING_SCALE)
    assert ours.steepest < 1e-8
    assert [s for s, extreme in zip(ours.students, ours.extreme, strict=True) if extreme] == [
        "s001"]
    found = residuals(ours.design, ours.parameters, ours.places[~ours.extreme])
    infit, outfit = infit_outfit(found, ours.design.ratings.elements[:, 0], 25)
    infit_z, outfit_z = standardised_fit(found, ours.design.ratings.elements[:, 0], 25)
    measures = ours.facet("task")
    names = list(measures)
    path = AUTHORITIES / "liking_science_published_items.csv"
    with open(path, newline="") as file:
        published = list(csv.DictReader(file))
    assert len(published) == 25
    for row in published:
        name = f"I{int(row['item']):02}"
        measure, error = measures[name]
        assert measure == pytest.approx(float(row["measure"]), abs=0.0125)
        assert error == pytest.approx(float(row["se"]), abs=0.0055)
        assert infit[names.index(name)] == pytest.approx(float(row["infit"]), abs=0.0125)
        assert outfit[names.index(name)] == pytest.approx(float(row["outfit"]), abs=0.0245)
        # Printed to .1; our largest differences are .054 and .059.
        assert infit_z[names.index(name)] == pytest.approx(float(row["infit_z"]), abs=0.06)
        assert outfit_z[names.index(name)] == pytest.approx(float(row["outfit_z"]), abs=0.06)


def test_knox_cubes_students_are_the_published_ones_to_printed_precision():
    # Wright & Stone 1979, Best Test Design, without the items that all or none passed.
    table = table_of(matrix_rows("knox_cube_responses.txt", (1, 2, 3, 18)))
    ours = estimate_joint(table, RATING_SCALE)
    places, errors = ours.places[~ours.extreme], ours.place_errors[~ours.extreme]
    separation = separation_of(places, errors)
    assert round(places.mean(), 2) == -0.20
    assert round(np.std(places), 2) == 2.07
    assert round(separation.separation, 2) == 1.73
    assert round(separation.reliability, 2) == 0.75
    found = residuals(ours.design, ours.parameters, places)
    infit, _ = infit_outfit(found, ours.design.ratings.student, len(places))
    assert round(separation_of(places, real_errors(errors, infit)).reliability, 2) == 0.65
    (lowest,) = np.flatnonzero(ours.extreme)
    assert round(ours.places[lowest], 2) == -6.79
    assert round(ours.place_errors[lowest], 2) == 1.88


@pytest.mark.parametrize("model", [RATING_SCALE, PARTIAL_CREDIT])
def test_with_few_ratings_a_student_the_joint_scale_is_the_wider_one(model):
    table = table_of(planted_rows(12, 150, 0.3)[0])
    joint, marginal = estimate_joint(table, model), estimate_facets(table, model)
    assert joint.steepest < 1e-6
    wide = [measure for measure, _ in joint.facet("rater").values()]
    plain = list(marginal.facet("rater").values())
    assert 1.01 < np.polyfit(plain, wide, 1)[0] < 1.25


def test_what_joint_likelihood_cannot_do_is_a_sentence():
    rows = [(s, t, "c", "r", level) for s, level in (("a", 1), ("b", 4)) for t in "xy"]
    with pytest.raises(StandlightError, match="every student has the lowest or the highest"):
        estimate_joint(table_of(rows), RATING_SCALE)
    mixed = [("c", "x", "c", "r", 1), ("c", "y", "c", "r", 4), ("a", "z", "c", "r", 4)]
    with pytest.raises(StandlightError, match="belong to extreme students only"):
        estimate_joint(table_of(mixed), RATING_SCALE)
