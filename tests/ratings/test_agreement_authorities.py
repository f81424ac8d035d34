"""The agreement figures, held to printed tables and to general-purpose programs."""

import json
from pathlib import Path

import numpy as np
import pytest

from standlight.ratings.agreement_many import (
    DISTANCES,
    fleiss_by_category,
    fleiss_kappa,
    fleiss_of_counts,
    krippendorff_alpha,
)
from standlight.ratings.agreement_pairs import WEIGHTS, cohens_kappa, kappa_of_table
from standlight.ratings.agreement_ranks import kendalls_w
from standlight.ratings.intraclass import FORMS, intraclass_correlation, mean_squares

# tests/authorities/ratings/agreement.json; where each figure is from stands in SOURCES.md there.
FIGURES = json.loads(
    (Path(__file__).parents[1] / "authorities/ratings/agreement.json").read_text()
)


def printed(value):
    """Equal to eight printed decimals."""
    return pytest.approx(value, abs=6e-9)


SHROUT_FLEISS = FIGURES["shrout_fleiss"]
IN_PSYCH = dict(zip(FORMS, SHROUT_FLEISS["psych_ICC"], strict=True))
IN_IRR = {
    ("oneway", "single"): "ICC(1,1)", ("twoway", "single", "agreement"): "ICC(2,1)",
    ("twoway", "single", "consistency"): "ICC(3,1)", ("oneway", "average"): "ICC(1,k)",
    ("twoway", "average", "agreement"): "ICC(2,k)",
    ("twoway", "average", "consistency"): "ICC(3,k)",
}


@pytest.mark.parametrize("form", FORMS)
def test_the_six_correlations_of_shrout_and_fleiss_and_their_intervals(form):
    found = intraclass_correlation(SHROUT_FLEISS["data"], form)
    theirs = IN_PSYCH[form]
    assert found.estimate == printed(theirs["ICC"])
    assert found.low == printed(theirs["lower bound"])
    assert found.high == printed(theirs["upper bound"])
    assert found.test.value == printed(theirs["F"])
    assert found.test.df == (theirs["df1"], theirs["df2"])
    assert found.test.p == printed(theirs["p"])
    in_paper = FIGURES["published"]["shrout_fleiss_1979"][form.replace("k", "4")]
    assert round(found.estimate, 2) == in_paper


@pytest.mark.parametrize("row", SHROUT_FLEISS["irr_icc"], ids=lambda row: row["model"])
def test_a_second_program_agrees_but_for_the_interval_that_is_known_to_differ(row):
    key = (row["model"], row["unit"])
    form = IN_IRR.get(key) or IN_IRR[(*key, row["type"])]
    found = intraclass_correlation(SHROUT_FLEISS["data"], form)
    assert found.estimate == printed(row["value"])
    if form == "ICC(2,k)":  # own degrees of freedom there; the paper steps ICC(2,1) up
        assert found.low != pytest.approx(row["lb"], abs=0.01)
    else:
        assert (found.low, found.high) == (printed(row["lb"]), printed(row["ub"]))


def test_the_mean_squares_of_shrout_and_fleiss():
    found = mean_squares(np.array(SHROUT_FLEISS["data"], dtype=float))
    paper = FIGURES["published"]["shrout_fleiss_1979"]
    assert [round(square, 2) for square in
            (found.objects, found.within, found.raters, found.rest)] == [
        paper["BMS"], paper["WMS"], paper["JMS"], paper["EMS"]]
    assert found.within == printed(SHROUT_FLEISS["msw"])
    for square, row in zip((found.objects, found.raters, found.rest), SHROUT_FLEISS["summary"],
                           strict=True):
        assert square == printed(row["Mean Sq"])


def test_fleiss_1971():
    theirs = FIGURES["fleiss1971"]
    found = fleiss_of_counts(theirs["counts"])
    assert found.estimate == printed(theirs["kappa"])
    assert found.test.value == printed(theirs["z"])
    assert round(found.estimate, 2) == FIGURES["published"]["fleiss_1971_kappa"]
    assert [round(kappa, 3) for kappa in fleiss_by_category(theirs["counts"])] == theirs["detail"]
    assert (found.n_objects, found.n_raters) == (30, 6)
    assert found.low < found.estimate < found.high


def test_the_nominal_alpha_of_fleiss_1971():
    rows = [
        [category for category, count in enumerate(counts) for _ in range(count)]
        for counts in FIGURES["fleiss1971"]["counts"]
    ]
    found = krippendorff_alpha(rows, scale="nominal").estimate
    assert found == pytest.approx(FIGURES["fleiss1971"]["kripp_nominal"], abs=1e-14)


@pytest.mark.parametrize("scale", DISTANCES)
def test_krippendorff_2011(scale):
    objects = list(zip(*FIGURES["krippendorff"]["data"], strict=True))
    found = krippendorff_alpha(objects, scale=scale)
    assert found.estimate == printed(FIGURES["krippendorff"]["alpha"][scale])
    assert round(found.estimate, 3) == FIGURES["published"]["krippendorff_2011"][scale]
    # the twelfth unit has one value and no pair
    assert (found.n_objects, found.n_raters, found.n_left_out) == (11, 4, 1)


def test_cohen_1968():
    theirs = FIGURES["cohen1968"]
    table = np.array(theirs["props"]) * theirs["n"]
    apart = np.array(theirs["disagreement_weights"])
    plain, weighted = kappa_of_table(table), kappa_of_table(table, 1 - apart / apart.max())
    assert plain.estimate == printed(theirs["kappa"])
    assert (plain.low, plain.high) == (
        printed(theirs["confid"][0][0]), printed(theirs["confid"][0][2]))
    assert weighted.estimate == printed(theirs["wkappa"])
    assert round(plain.estimate, 3) == FIGURES["published"]["cohen_1968"]["kappa"]
    assert round(weighted.estimate, 3) == FIGURES["published"]["cohen_1968"]["weighted"]
    # `wvar` of the file (.1238) is not this variance: 20,000 redrawn tables spread by .0058.
    # statsmodels 0.15.0 on the same weights (variance .0057):
    assert (weighted.low, weighted.high) == (printed(0.19984093636), printed(0.49581123754))


def test_a_kappa_under_zero_as_cohen_1960():
    theirs = FIGURES["published"]["cohen_1960_from_memory"]
    found = kappa_of_table(np.array(theirs["props"]) * 200)
    assert round(found.estimate, 4) == theirs["kappa"] < 0


# Intervals of the three weightings, computed with statsmodels 0.15.0 (cohens_kappa) on the
# tables of the file. The file's own `psych_confid` for quadratic weights differs by up to .025
# a side, also from the simulated spread below, so it is held to for the unweighted kappa only.
STATSMODELS = {
    "winnipeg": {"none": (0.10905177, 0.30683316), "linear": (0.27846543, 0.48099567),
                 "quadratic": (0.40687063, 0.64228230)},
    "new_orleans": {"none": (0.14265181, 0.45038133), "linear": (0.33413462, 0.62041083),
                    "quadratic": (0.47126976, 0.77989303)},
    "stuart_vision": {"none": (0.58110686, 0.60967079), "linear": (0.63851317, 0.66624769),
                      "quadratic": (0.68590596, 0.71876255)},
}
TABLES = {**FIGURES["landis_koch"], "stuart_vision": FIGURES["stuart_vision"]}
IN_FILE = {"none": ("kappa", "z"), "linear": ("linear", "linear_z"),
           "quadratic": ("quadratic", "quadratic_z")}


@pytest.mark.parametrize("weights", WEIGHTS)
@pytest.mark.parametrize("table", TABLES)
def test_landis_and_koch_1977_and_stuart_1953(table, weights):
    theirs = TABLES[table]
    counts = np.array(theirs["table"])
    found = kappa_of_table(counts, WEIGHTS[weights](np.arange(1.0, 5.0)))
    estimate, z = IN_FILE[weights]
    assert found.estimate == printed(theirs[estimate])
    assert found.test.value == pytest.approx(theirs[z], abs=6e-8)
    low, high = STATSMODELS[table][weights]
    assert (found.low, found.high) == (printed(low), printed(high))
    if weights == "none":
        assert found.low == printed(theirs["psych_confid"][0][0])
        assert found.high == printed(theirs["psych_confid"][0][2])
    # the same from single ratings as from the table
    rows = [[one + 1, other + 1] for one in range(4) for other in range(4)
            for _ in range(counts[one, other])]
    assert cohens_kappa(rows, weights=weights).estimate == pytest.approx(found.estimate)


@pytest.mark.parametrize("weights", WEIGHTS)
def test_the_standard_error_of_kappa_is_the_spread_of_redrawn_tables(weights):
    counts = np.array(FIGURES["landis_koch"]["winnipeg"]["table"])
    levels = WEIGHTS[weights](np.arange(4.0))
    found = kappa_of_table(counts, levels)
    drawn = np.random.default_rng(7).multinomial(counts.sum(), counts.ravel() / counts.sum(), 3000)
    spread = np.std([kappa_of_table(table.reshape(4, 4), levels).estimate for table in drawn])
    assert (found.high - found.low) / 2 / 1.959964 == pytest.approx(spread, rel=0.05)


# 12 recordings x 3 raters, drawn by us with a seed; the figures computed with statsmodels
# 0.15.0 (Fleiss), krippendorff 0.9.0 (alphas; with gaps) and pingouin 0.7.0 (the six).
WHOLE = [[3, 4, 4], [4, 4, 4], [1, 1, 1], [1, 2, 3], [2, 2, 4], [3, 4, 4], [3, 3, 4], [4, 4, 4],
         [2, 2, 4], [3, 2, 4], [2, 3, 3], [2, 1, 2]]
GAPS = [[None, 4, 4], [4, None, 4], [1, None, 1], [1, 2, 3], [2, 2, 4], [3, 4, 4], [3, 3, 4],
        [4, 4, 4], [2, 2, None], [3, 2, 4], [2, 3, 3], [None, 1, 2]]


def test_fleiss_as_another_program():
    assert fleiss_kappa(WHOLE).estimate == pytest.approx(0.22580645161290308, abs=1e-14)


@pytest.mark.parametrize(
    ("scale", "alpha"),
    [("nominal", 0.30232558139534893), ("ordinal", 0.6077907076238556),
     ("interval", 0.6181818181818182), ("ratio", 0.5835594328356295)],
)
def test_alpha_with_gaps_as_another_program(scale, alpha):
    assert krippendorff_alpha(GAPS, scale=scale).estimate == pytest.approx(alpha, abs=1e-13)


@pytest.mark.parametrize(
    ("form", "estimate", "low", "high"),
    [("ICC(1,1)", 0.5777777778, 0.25, 0.84), ("ICC(2,1)", 0.6003824092, 0.22, 0.85),
     ("ICC(3,1)", 0.7152619590, 0.43, 0.90), ("ICC(1,k)", 0.8041237113, 0.49, 0.94),
     ("ICC(2,k)", 0.8184187663, 0.45, 0.95), ("ICC(3,k)", 0.8828491097, 0.69, 0.96)],
)
def test_the_six_as_another_program(form, estimate, low, high):
    found = intraclass_correlation(WHOLE, form)
    assert found.estimate == pytest.approx(estimate, abs=6e-11)
    assert (round(found.low, 2), round(found.high, 2)) == (low, high)


def test_w_is_the_mean_rank_correlation_when_there_are_no_ties():
    from scipy.stats import friedmanchisquare, spearmanr

    ranks = np.random.default_rng(3).permuted(np.tile(np.arange(9.0), (4, 1)), axis=1).T
    found = kendalls_w(ranks.tolist())
    pairs = [spearmanr(ranks[:, a], ranks[:, b])[0] for a in range(4) for b in range(a)]
    assert found.estimate == pytest.approx((3 * np.mean(pairs) + 1) / 4)
    friedman = friedmanchisquare(*ranks)
    assert found.test.value == pytest.approx(friedman.statistic)
    assert found.test.p == pytest.approx(friedman.pvalue)


def test_the_chi_square_of_w_with_ties_is_friedmans():
    from scipy.stats import friedmanchisquare

    found = kendalls_w(WHOLE)
    friedman = friedmanchisquare(*np.array(WHOLE, dtype=float))
    assert found.test.value == pytest.approx(friedman.statistic)
    assert found.test.p == pytest.approx(friedman.pvalue)
    assert found.test.df == (11,)
