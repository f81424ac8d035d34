"""Ratings: levels people give, and what follows from them. Pure.

The door names the levels, the marking policies and a mark with its reasons, the figures of
agreement between raters, and the many-facet model: fair measures and what may be compared.
"""

from standlight.ratings.agreement import Agreement, PairAgreement, agree
from standlight.ratings.agreement_figure import AgreementFigure, ChanceTest
from standlight.ratings.agreement_many import fleiss_kappa, fleiss_of_counts, krippendorff_alpha
from standlight.ratings.agreement_pairs import cohens_kappa, kappa_of_table, percent_agreement
from standlight.ratings.agreement_ranks import kendalls_w
from standlight.ratings.agreement_table import RatedGrid, TypedRatings, read_rating_table
from standlight.ratings.comparable import Comparable, comparable_classes
from standlight.ratings.facet_design import MODELS, PARTIAL_CREDIT, RATING_SCALE
from standlight.ratings.fit_table import FitTable, read_fit_table
from standlight.ratings.given import DIRECTOR, PEER, RATER_CLASSES, SELF, GivenRating, HeardAgain
from standlight.ratings.intraclass import intraclass_correlation, intraclass_correlations
from standlight.ratings.levels import LEVEL_NAMES, NO_LEVEL_NAMES, NOT_HEARD, NOT_SHOWN, level_name
from standlight.ratings.marking import NO_MARK, group_lines, mark
from standlight.ratings.marking_conversion import (
    CONVERSIONS,
    Conversion,
    typed_number,
    typed_percents,
    typed_steps,
)
from standlight.ratings.marking_flags import FLAGS, Flag, flags_of
from standlight.ratings.marking_policies import (
    BY_CRITERION,
    PLAIN_POLICY,
    POLICIES,
    WAYS,
    MarkPolicy,
)
from standlight.ratings.marking_trend import GroupTrend, group_trend, own_trend
from standlight.ratings.marking_values import (
    WORK_STATES,
    Dated,
    Mark,
    MarkLine,
    Work,
)
from standlight.ratings.measures import ElementMeasure, FacetFit, Threshold, measure_facets
from standlight.ratings.ratings_table import FACETS, Ratings, gather_ratings
from standlight.ratings.students import StudentMeasure

__all__ = [
    "BY_CRITERION",
    "CONVERSIONS",
    "DIRECTOR",
    "FACETS",
    "FLAGS",
    "LEVEL_NAMES",
    "MODELS",
    "NOT_HEARD",
    "NOT_SHOWN",
    "NO_LEVEL_NAMES",
    "NO_MARK",
    "PARTIAL_CREDIT",
    "PEER",
    "PLAIN_POLICY",
    "POLICIES",
    "RATER_CLASSES",
    "RATING_SCALE",
    "SELF",
    "WAYS",
    "WORK_STATES",
    "Agreement",
    "AgreementFigure",
    "ChanceTest",
    "Comparable",
    "Conversion",
    "Dated",
    "ElementMeasure",
    "FacetFit",
    "FitTable",
    "Flag",
    "GivenRating",
    "GroupTrend",
    "HeardAgain",
    "Mark",
    "MarkLine",
    "MarkPolicy",
    "PairAgreement",
    "RatedGrid",
    "Ratings",
    "StudentMeasure",
    "Threshold",
    "TypedRatings",
    "Work",
    "agree",
    "cohens_kappa",
    "comparable_classes",
    "flags_of",
    "fleiss_kappa",
    "fleiss_of_counts",
    "gather_ratings",
    "group_lines",
    "group_trend",
    "intraclass_correlation",
    "intraclass_correlations",
    "kappa_of_table",
    "kendalls_w",
    "krippendorff_alpha",
    "level_name",
    "mark",
    "measure_facets",
    "own_trend",
    "percent_agreement",
    "read_fit_table",
    "read_rating_table",
    "typed_number",
    "typed_percents",
    "typed_steps",
]
