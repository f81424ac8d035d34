"""Ratings: levels people give, and what follows from them. Pure.

The door names the levels, the marking policy and a mark with its reasons, and the figures of
agreement between raters.
"""

from standlight.ratings.agreement import Agreement, PairAgreement, agree
from standlight.ratings.agreement_figure import AgreementFigure, ChanceTest
from standlight.ratings.agreement_many import fleiss_kappa, fleiss_of_counts, krippendorff_alpha
from standlight.ratings.agreement_pairs import cohens_kappa, kappa_of_table, percent_agreement
from standlight.ratings.agreement_ranks import kendalls_w
from standlight.ratings.agreement_table import RatedGrid, TypedRatings, read_rating_table
from standlight.ratings.intraclass import intraclass_correlation, intraclass_correlations
from standlight.ratings.levels import LEVEL_NAMES, NO_LEVEL_NAMES, NOT_HEARD, NOT_SHOWN, level_name
from standlight.ratings.marking import (
    PLAIN_POLICY,
    WORK_STATES,
    CriterionMean,
    Mark,
    MarkPolicy,
    Work,
    mark,
)

__all__ = [
    "LEVEL_NAMES",
    "NOT_HEARD",
    "NOT_SHOWN",
    "NO_LEVEL_NAMES",
    "PLAIN_POLICY",
    "WORK_STATES",
    "Agreement",
    "AgreementFigure",
    "ChanceTest",
    "CriterionMean",
    "Mark",
    "MarkPolicy",
    "PairAgreement",
    "RatedGrid",
    "TypedRatings",
    "Work",
    "agree",
    "cohens_kappa",
    "fleiss_kappa",
    "fleiss_of_counts",
    "intraclass_correlation",
    "intraclass_correlations",
    "kappa_of_table",
    "kendalls_w",
    "krippendorff_alpha",
    "level_name",
    "mark",
    "percent_agreement",
    "read_rating_table",
]
