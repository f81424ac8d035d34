"""What may be said of a table of ratings, and what must be refused though averages invite it. Pure.

A statement has passed its family's test: sections by Holm's correction over all of them, raters
over all pairs and criteria, impressions over all raters; each family claims something false in
about 5 of 100 tables. A refusal names a claim that plain averages make and these levels cannot
bear, and what would answer it. Texts are the pages'; here are codes and keys.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

from standlight.ratings.comparable import comparable_classes
from standlight.ratings.given import DIRECTOR, GivenRating
from standlight.ratings.growth_values import NO_ANCHOR, GroupGrowth, LateGrowth, SectionGrowth
from standlight.ratings.halo import SharedImpression
from standlight.ratings.joining import Join
from standlight.ratings.ratings_table import gather_ratings
from standlight.ratings.severity import FEW_COMMON, NOT_COMPARABLE, RaterContrast

STRICTER, ONE_IMPRESSION, TOGETHER = "stricter", "one_impression", "criteria_together"
STOPPED, GREW_LESS = "stopped_growing", "grew_less"
STATEMENTS = {
    STRICTER: "the first rater is stricter than the second, on a criterion or on all",
    ONE_IMPRESSION: "one impression of a take colours a rater's levels of all its criteria",
    TOGETHER: "criteria of a take move together: the day or the impression, nobody can say which",
    STOPPED: "a section surely grew less than the rest, and of late perhaps not at all",
    GREW_LESS: "a section surely grew less than the rest",
}
"""Codes of statements, with what each means; subjects are keys in the order of the sentence."""

LITTLE_TOGETHER_POINTS = 0.15
"""Rating points that criteria surely move together by before it is said where nobody knows why:
our choice. Musicians do not grow along straight lines, and a bend looks like a few good days."""

NOT_COMPARABLE_RATERS, NOT_COMPARABLE_GROUPS = "raters_not_comparable", "groups_not_comparable"
REFUSALS = {
    NO_ANCHOR: "that the group grew, or did not: no passage came back far enough apart",
    NOT_COMPARABLE_RATERS: "that one rater is stricter: nothing joins what the two rated",
    NOT_COMPARABLE_GROUPS: "that one group is better: nothing joins what the two played",
}

ASK_AGAIN, RATE_COMMON, SAME_PASSAGE = "ask_again", "rate_common_takes", "same_passage"
NEEDS = {
    ASK_AGAIN: "ask the group the passage `task` again, weeks after it was asked first",
    RATE_COMMON: "both rate the same `takes`, not knowing the other's levels",
    SAME_PASSAGE: "both groups play one same passage, heard by somebody who hears both",
}
"""What would answer a refused claim."""


@dataclass(frozen=True, slots=True)
class Statement:
    """One true thing, in rating points with a 95 percent interval, from ``n`` takes or musicians.

    ``subjects`` are keys: rater and other rater; rater(s); section and ensemble. ``criterion`` is
    empty for all together. ``first_day`` to ``last_day`` are the days of the takes of a section's
    school year; ``None`` where all days count. ``late`` is a section's own growth of late.
    """

    code: str
    subjects: tuple[str, ...]
    criterion: str
    points: float
    low: float
    high: float
    n: int
    first_day: float | None = None
    last_day: float | None = None
    late: LateGrowth | None = None


@dataclass(frozen=True, slots=True)
class Refusal:
    """A claim that plain averages invite: ``averages_say`` is their difference in rating points.

    Of two subjects it is the first's mean minus the second's, of a group its last passage's mean
    minus its first's. ``need`` is a key of ``NEEDS``; ``task`` and ``takes`` are what it is
    about, empty where it has none.
    """

    code: str
    subjects: tuple[str, ...]
    averages_say: float
    need: str
    task: str = ""
    takes: tuple[str, ...] = ()


def statements_of(
    contrasts: Sequence[RaterContrast],
    impressions: Sequence[SharedImpression],
    sections: Sequence[SectionGrowth],
    days: tuple[float | None, float | None] = (None, None),
) -> tuple[Statement, ...]:
    """Everything that may be said, raters first; ``sections`` and ``days`` of one school year."""
    return (*_stricter(contrasts), *_one_impression(impressions), *_sections(sections, days))


def refusals_of(
    given: Sequence[GivenRating],
    contrasts: Sequence[RaterContrast],
    years: Sequence[tuple[Sequence[GivenRating], Sequence[GroupGrowth]]],
    joins: Sequence[Join],
) -> tuple[Refusal, ...]:
    """Every claim that the averages of ``given`` invite and that cannot be known.

    ``years`` are rows and groups of a school year; a group is asked of its latest.
    """
    directors = [row for row in given if row.rater_class == DIRECTOR]
    return (
        *_no_anchor(years),
        *_raters_apart(directors, contrasts, joins),
        *_groups_apart(directors),
    )


def _stricter(contrasts: Iterable[RaterContrast]) -> list[Statement]:
    """One statement for two raters: on all criteria or on one, whichever tells the rows better."""
    pairs: dict[tuple[str, str], list[RaterContrast]] = defaultdict(list)
    for row in contrasts:
        if row.stricter_by is not None:
            pairs[row.rater, row.other].append(row)
    return [
        _said(min(sure, key=lambda row: _misfit(row, rows)))
        for rows in pairs.values()
        for sure in [[row for row in rows if row.sure]]
        if sure
    ]


def _misfit(told: RaterContrast, rows: Sequence[RaterContrast]) -> float:
    """Sum of squares left in the criteria's ``rows``, in widths of their intervals, by ``told``.

    Told of all criteria it stands for each of them; told of one, the others stand at nothing.
    """
    left = 0.0
    for row in rows:
        if row.criterion:
            expected = told.stricter_by if told.criterion in ("", row.criterion) else 0.0
            left += ((row.stricter_by - expected) / max(row.high - row.low, 1e-9)) ** 2
    return left


def _said(row: RaterContrast) -> Statement:
    """The statement of a sure contrast, the stricter rater first."""
    sides = (row.rater, row.other, row.stricter_by, row.low, row.high)
    if row.stricter_by < 0:
        sides = (row.other, row.rater, -row.stricter_by, -row.high, -row.low)
    rater, other, points, low, high = sides
    return Statement(STRICTER, (rater, other), row.criterion, points, low, high, row.n_common_takes)


def _one_impression(impressions: Sequence[SharedImpression]) -> list[Statement]:
    """Each rater whose impression is sure, else all together, else that it may be the day."""
    every = tuple(row.rater for row in impressions if row.rater)
    found = [
        _impression(row, ONE_IMPRESSION, (row.rater,))
        for row in impressions
        if row.own_sure and row.rater
    ]
    for row in impressions:
        if found or row.rater or not row.sure:
            continue
        if row.own_sure:
            found.append(_impression(row, ONE_IMPRESSION, every))
        elif row.low > LITTLE_TOGETHER_POINTS:
            found.append(_impression(row, TOGETHER, every))
    return found


def _impression(row: SharedImpression, code: str, raters: tuple[str, ...]) -> Statement:
    return Statement(code, raters, "", row.spread_points, row.low, row.high, row.n_takes)


def _sections(
    sections: Iterable[SectionGrowth], days: tuple[float | None, float | None]
) -> list[Statement]:
    """Sections that surely grew less than the rest, over all criteria."""
    return [
        Statement(
            STOPPED if row.stopped and row.own is not None else GREW_LESS,
            (row.section, row.ensemble),
            row.criterion,
            row.points_a_year,
            row.low,
            row.high,
            row.n_students,
            *days,
            row.late,
        )
        for row in sections
        if row.sure and not row.criterion
    ]


def _no_anchor(
    years: Sequence[tuple[Sequence[GivenRating], Sequence[GroupGrowth]]],
) -> list[Refusal]:
    """Groups with several passages in their latest school year and none that came back."""
    latest = {
        group.key: (rows, group)
        for rows, groups in years
        for group in groups
        if not group.criterion
    }
    return [
        refusal
        for key, (rows, group) in latest.items()
        if group.because == NO_ANCHOR
        for refusal in _not_grown(key, rows)
    ]


def _not_grown(ensemble: str, rows: Iterable[GivenRating]) -> list[Refusal]:
    """The refusal of one group's growth; none with one passage, which invites no claim."""
    own = sorted(
        (row for row in rows if row.ensemble == ensemble and row.rater_class == DIRECTOR),
        key=lambda row: row.day,
    )
    tasks = list(dict.fromkeys(row.task for row in own))
    if len(tasks) < 2:
        return []
    means = _means((row.task, row.level) for row in own)
    change = means[tasks[-1]] - means[tasks[0]]
    return [Refusal(NO_ANCHOR, (ensemble,), change, ASK_AGAIN, task=tasks[0])]


def _raters_apart(
    given: Sequence[GivenRating], contrasts: Iterable[RaterContrast], joins: Sequence[Join]
) -> list[Refusal]:
    """Pairs of raters whom nothing joins."""
    means = _means((row.rater, row.level) for row in given)
    planned: dict[frozenset[str], tuple[str, ...]] = defaultdict(tuple)
    for join in joins:
        # Each hears some of the other's: two joins a pair, one each way.
        planned[frozenset((join.rater, join.other))] += join.takes
    pairs = dict.fromkeys(
        tuple(sorted((row.rater, row.other)))
        for row in contrasts
        if not row.criterion and row.because in (NOT_COMPARABLE, FEW_COMMON)
    )
    return [
        Refusal(NOT_COMPARABLE_RATERS, pair, means[pair[0]] - means[pair[1]], RATE_COMMON,
                takes=planned[frozenset(pair)])
        for pair in pairs
    ]  # fmt: skip


def _groups_apart(given: Sequence[GivenRating]) -> list[Refusal]:
    """Pairs of ensembles whose musicians the levels do not join.

    A musician who plays another instrument elsewhere is another musician there: how good
    somebody is on one says nothing of the other.
    """
    ensembles = sorted({row.ensemble for row in given})
    if len(ensembles) < 2:
        return []
    if len({row.level for row in given}) < 2:
        return []
    students = [f"{row.student}/{row.instrument}" for row in given]
    table = gather_ratings(
        students,
        [row.task for row in given],
        [row.criterion for row in given],
        [row.rater for row in given],
        [row.level for row in given],
    )
    number = {
        name: place
        for place, names in enumerate(comparable_classes(table).students)
        for name in names
    }
    classes: dict[str, set[int]] = defaultdict(set)
    for row, student in zip(given, students, strict=True):
        classes[row.ensemble].add(number[student])
    means = _means((row.ensemble, row.level) for row in given)
    return [
        Refusal(NOT_COMPARABLE_GROUPS, (one, other), means[one] - means[other], SAME_PASSAGE)
        for one, other in combinations(ensembles, 2)
        if not classes[one] & classes[other]
    ]


def _means(rows: Iterable[tuple[Hashable, int]]) -> dict[Hashable, float]:
    """Plain mean level by key."""
    gathered: dict[Hashable, list[int]] = defaultdict(list)
    for key, level in rows:
        gathered[key].append(level)
    return {key: sum(levels) / len(levels) for key, levels in gathered.items()}
