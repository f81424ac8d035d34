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
from standlight.ratings.double_rating import DOUBLES_BECAUSE, DoublePlan, Pick, worth_hearing_twice
from standlight.ratings.facet_design import MODELS, PARTIAL_CREDIT, RATING_SCALE
from standlight.ratings.figures import FIGURES, Figure
from standlight.ratings.fit_table import FitTable, read_fit_table
from standlight.ratings.given import (
    DIRECTOR,
    GUEST,
    PEER,
    RATER_CLASSES,
    SELF,
    GivenRating,
    HeardAgain,
)
from standlight.ratings.growth import measure_growth
from standlight.ratings.growth_values import (
    GROWTH_REASONS,
    GROWTH_REMARKS,
    GROWTH_STATES,
    GroupGrowth,
    Growth,
    GrowthLine,
    GrowthPoint,
    ReliableChange,
    SectionGrowth,
    Slope,
)
from standlight.ratings.halo import SharedImpression, shared_impressions
from standlight.ratings.intraclass import intraclass_correlation, intraclass_correlations
from standlight.ratings.joining import JOINS_BECAUSE, Join, JoinPlan, join_plan, joins
from standlight.ratings.levels import LEVEL_NAMES, NO_LEVEL_NAMES, NOT_HEARD, NOT_SHOWN, level_name
from standlight.ratings.marking import NO_MARK, group_lines, mark
from standlight.ratings.marking_conversion import (
    CONVERSIONS,
    Conversion,
    typed_number,
    typed_percents,
    typed_steps,
)
from standlight.ratings.marking_distances import Far, far_in
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
from standlight.ratings.nearness import Nearness, nearness
from standlight.ratings.ratings_table import FACETS, Ratings, gather_ratings
from standlight.ratings.self_view import SELF_STATES, TREND_STATES, SelfTrend, SelfView, self_views
from standlight.ratings.severity import RaterContrast, rater_contrasts
from standlight.ratings.steadiness import (
    CommonDrift,
    Drift,
    Steadiness,
    drift_against_others,
    steadiness_of,
)
from standlight.ratings.students import StudentMeasure
from standlight.ratings.task_review import TASK_REMARKS, TaskReview, task_review

__all__ = [
    "BY_CRITERION",
    "CONVERSIONS",
    "DIRECTOR",
    "DOUBLES_BECAUSE",
    "FACETS",
    "FIGURES",
    "FLAGS",
    "GROWTH_REASONS",
    "GROWTH_REMARKS",
    "GROWTH_STATES",
    "GUEST",
    "JOINS_BECAUSE",
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
    "SELF_STATES",
    "TASK_REMARKS",
    "TREND_STATES",
    "WAYS",
    "WORK_STATES",
    "Agreement",
    "AgreementFigure",
    "ChanceTest",
    "CommonDrift",
    "Comparable",
    "Conversion",
    "Dated",
    "DoublePlan",
    "Drift",
    "ElementMeasure",
    "FacetFit",
    "Far",
    "Figure",
    "FitTable",
    "Flag",
    "GivenRating",
    "GroupGrowth",
    "GroupTrend",
    "Growth",
    "GrowthLine",
    "GrowthPoint",
    "HeardAgain",
    "Join",
    "JoinPlan",
    "Mark",
    "MarkLine",
    "MarkPolicy",
    "Nearness",
    "PairAgreement",
    "Pick",
    "RatedGrid",
    "RaterContrast",
    "Ratings",
    "ReliableChange",
    "SectionGrowth",
    "SelfTrend",
    "SelfView",
    "SharedImpression",
    "Slope",
    "Steadiness",
    "StudentMeasure",
    "TaskReview",
    "Threshold",
    "TypedRatings",
    "Work",
    "agree",
    "cohens_kappa",
    "comparable_classes",
    "drift_against_others",
    "far_in",
    "flags_of",
    "fleiss_kappa",
    "fleiss_of_counts",
    "gather_ratings",
    "group_lines",
    "group_trend",
    "intraclass_correlation",
    "intraclass_correlations",
    "join_plan",
    "joins",
    "kappa_of_table",
    "kendalls_w",
    "krippendorff_alpha",
    "level_name",
    "mark",
    "measure_facets",
    "measure_growth",
    "nearness",
    "own_trend",
    "percent_agreement",
    "rater_contrasts",
    "read_fit_table",
    "read_rating_table",
    "self_views",
    "shared_impressions",
    "steadiness_of",
    "task_review",
    "typed_number",
    "typed_percents",
    "typed_steps",
    "worth_hearing_twice",
]
