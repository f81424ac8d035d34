"""What is hidden in a year: is it found, is it claimed where it is not, beside plain averages.

Each of YEARS invented years has three things planted or not, so that each is there in half of
them: a strict director, a halo, a section that stopped growing. In half of them musicians' days
differ too, which looks like a halo and is none. They come from a seed of the
machine's own (`os.urandom`), printed so that a run can be repeated; nothing that reads the
levels knows it. Asked of 20 years with and 20 without: found in 17 or more, claimed in 2 or
fewer where it is not. Every fourth year is read a second time without second raters and
without passages that came back: then two claims must be refused.

The peer is what the same levels say as plain averages: mean levels by rater, correlations of
criteria with the cut that hindsight finds best, sections from the first half of the year to
the second.

Usage: python benchmarks/planted_years.py [YEARS] [SEED] [FIRST:LAST]
"""

from __future__ import annotations

import os
import sys
import time
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import combinations
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import numpy as np

from benchmarks.machine import machine
from standlight.demo.cast import people
from standlight.demo.last_year import LastYear, last_year
from standlight.demo.last_year_given import again_of, given_of
from standlight.demo.planted import Plants
from standlight.ratings.given import DIRECTOR, GivenRating
from standlight.ratings.growth import measure_growth
from standlight.ratings.growth_values import NO_ANCHOR
from standlight.ratings.joining import joins
from standlight.ratings.review import RatingsReview, review_ratings
from standlight.ratings.severity import rater_contrasts
from standlight.ratings.statements import (
    NOT_COMPARABLE_RATERS,
    ONE_IMPRESSION,
    STOPPED,
    STRICTER,
    TOGETHER,
    Statement,
    refusals_of,
    statements_of,
)

TODAY = date(2026, 11, 25)
STRICT, HALO, STILL = "a strict director", "a halo", "a section that stopped"
KINDS = (STRICT, HALO, STILL)
CODES = {STRICT: (STRICTER,), HALO: (ONE_IMPRESSION, TOGETHER), STILL: (STOPPED,)}
PLAIN_STRICT_POINTS = 0.2
"""A difference of mean levels that a director would speak of: a fifth of a level."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One kind in one year: was it there, was the right thing said, was anything wrong said."""

    kind: str
    there: bool
    found: bool
    wrong: bool


def planted_flags(years: int, rng: np.random.Generator) -> np.ndarray:
    """(years, 3) of which plants are there: each in half of the years, in an order of its own."""
    half = np.arange(years) < years / 2
    return np.column_stack([rng.permutation(half) for _ in KINDS])


def year_of(seed: int, planted: Sequence[bool]) -> LastYear:
    """One invented year with its own musicians."""
    rng = np.random.default_rng(seed)
    musicians = people(TODAY, rng)
    ability = {one.roster_id: float(rng.normal()) for one in musicians}
    return last_year(TODAY, musicians, ability, seed, tuple(bool(one) for one in planted))


def bare(given: Iterable[GivenRating], year: LastYear) -> list[GivenRating]:
    """The same year without second raters and without passages that came back."""
    own = {"choir": "band_choir", "strings": "strings"}
    first = {check.task: check.key for check in reversed(year.checks)}
    return [
        row
        for row in given
        if row.take.split("/")[0] == first[row.task]
        and (row.rater_class != DIRECTOR or row.rater == own[row.ensemble])
    ]


def said(review: RatingsReview, plants: Plants) -> list[Outcome]:
    """What the review's statements come to, against what was planted."""
    there = _there(plants)
    outcomes = []
    for kind in KINDS:
        claims = [one for one in review.statements if one.code in CODES[kind]]
        hits = [there[kind] and RIGHT[kind](one, plants) for one in claims]
        false = [one for one in claims if not TRUE[kind](one, plants)]
        outcomes.append(Outcome(kind, there[kind], any(hits), bool(false)))
    return outcomes


def _right_strict(one: Statement, plants: Plants) -> bool:
    """The strict director, and just what they are strict on."""
    return _true_strict(one, plants) and one.criterion == plants.strict_criterion


def _true_strict(one: Statement, plants: Plants) -> bool:
    """The strict director, on something they are strict on (of all, when on one)."""
    return (
        one.subjects[0] == plants.strict_director
        and (one.criterion == "" or plants.severity(one.subjects[0], one.criterion) > 0)
    )


def _true_halo(one: Statement, plants: Plants) -> bool:
    """An impression where there is one; that criteria move together where anything does it."""
    return bool(plants.impression_sd or (plants.day_sd and one.code == TOGETHER))


def _true_still(one: Statement, plants: Plants) -> bool:
    """The section that stopped."""
    return one.subjects[0] == f"{plants.still_group}/{plants.still_section}"


RIGHT = {STRICT: _right_strict, HALO: _true_halo, STILL: _true_still}
TRUE = {STRICT: _true_strict, HALO: _true_halo, STILL: _true_still}


def _there(plants: Plants) -> dict[str, bool]:
    return {
        STRICT: bool(plants.strict_director),
        HALO: bool(plants.impression_sd),
        STILL: bool(plants.still_section),
    }


def averages_say(given: Sequence[GivenRating], plants: Plants) -> list[Outcome]:
    """What plain averages come to: who is strict, which section stopped."""
    rows = [row for row in given if row.rater_class == DIRECTOR]
    there = _there(plants)
    strict = [
        (lower, criterion)
        for criterion in ("", "intonation", "rhythm")
        for means in [_means((r.rater, r.level) for r in rows if criterion in ("", r.criterion))]
        for lower in [min(means, key=means.get)]
        if max(means.values()) - means[lower] >= PLAIN_STRICT_POINTS
    ]
    hits = [one == (plants.strict_director, plants.strict_criterion) for one in strict]
    still = [section for section, change in section_changes(rows).items() if change <= 0]
    stops = [one == f"{plants.still_group}/{plants.still_section}" for one in still]
    return [
        Outcome(STRICT, there[STRICT], any(hits), not all(hits)),
        Outcome(STILL, there[STILL], any(stops), not all(stops)),
    ]


def section_changes(rows: Sequence[GivenRating]) -> dict[str, float]:
    """Mean level of each section in the second half of the year minus the first."""
    middle = (min(row.day for row in rows) + max(row.day for row in rows)) / 2
    means = _means(((row.section, row.day > middle), row.level) for row in rows)
    sections = sorted({row.section for row in rows})
    return {one: means[one, True] - means[one, False] for one in sections}


def correlation(given: Sequence[GivenRating]) -> float:
    """Mean correlation of two criteria over takes, as one director rated them."""
    takes: dict[tuple[str, str], dict[str, int]] = defaultdict(dict)
    for row in given:
        if row.rater_class == DIRECTOR:
            takes[row.take, row.rater][row.criterion] = row.level
    pairs = defaultdict(list)
    for levels in takes.values():
        for one, other in combinations(sorted(levels), 2):
            pairs[one, other].append((levels[one], levels[other]))
    return float(np.mean([np.corrcoef(np.array(each).T)[0, 1] for each in pairs.values()]))


def hindsight(figures: Sequence[tuple[bool, float]]) -> list[Outcome]:
    """A halo by the cut of the correlations that tells these years apart best."""
    cuts = [figure for _, figure in figures]
    best = max(cuts, key=lambda cut: sum((figure >= cut) == there for there, figure in figures))
    return [
        Outcome(HALO, there, there and figure >= best, not there and figure >= best)
        for there, figure in figures
    ]


def refused(rows: Sequence[GivenRating]) -> tuple[bool, bool]:
    """Whether growth of every group, and who is stricter, are refused of a bare year."""
    growth, contrasts = measure_growth(rows), rater_contrasts(rows)
    codes = [one.code for one in refusals_of(
        rows, contrasts, [(rows, growth.groups)], joins(rows)
    )]
    told = [group for group in growth.groups if group.points_a_year is not None]
    return (
        codes.count(NO_ANCHOR) == 2 and not told,
        NOT_COMPARABLE_RATERS in codes and not statements_of(contrasts, (), ()),
    )


def averages_false(rows: Sequence[GivenRating], plants: Plants) -> tuple[bool, bool]:
    """Whether plain averages of a bare year say what is false.

    Of growth (all groups grew): that a group did not, from its first passage to its last. Of
    raters: any difference, or none, against what was planted.
    """
    own = [row for row in rows if row.rater_class == DIRECTOR]
    flat = []
    for group in ("choir", "strings"):
        here = [row for row in own if row.ensemble == group]
        first, last = min(r.day for r in here), max(r.day for r in here)
        means = _means((r.day > (first + last) / 2, r.level) for r in here
                       if r.day < first + 3 or r.day > last - 3)  # fmt: skip
        flat.append(means[True] - means[False] <= 0)
    strict = averages_say(rows, plants)[0]
    return any(flat), strict.wrong or (strict.there and not strict.found)


def _means(rows: Iterable[tuple[object, int]]) -> dict:
    gathered: dict[object, list[int]] = defaultdict(list)
    for key, level in rows:
        gathered[key].append(level)
    return {key: sum(each) / len(each) for key, each in gathered.items()}


def table(title: str, outcomes: Sequence[Outcome]) -> None:
    """Print found and falsely claimed, kind by kind."""
    for kind in KINDS:
        there = [one for one in outcomes if one.kind == kind and one.there]
        absent = [one for one in outcomes if one.kind == kind and not one.there]
        if not there and not absent:
            continue
        print(
            f"{title:16}{kind:26}found {sum(o.found for o in there):2} of {len(there):2},"
            f" with something false beside it {sum(o.wrong for o in there):2};"
            f" claimed where absent {sum(o.wrong for o in absent):2} of {len(absent):2}"
        )


def main() -> int:
    """Plant, review, count, print."""
    years = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else int.from_bytes(os.urandom(4))
    part = [int(one) for one in sys.argv[3].split(":")] if len(sys.argv) > 3 else [0, years]
    rng = np.random.default_rng(seed)
    flags, seeds = planted_flags(years, rng), rng.integers(2**31, size=years)
    print(f"machine: {machine()}")
    print(f"seed {seed}, years {part[0]} to {part[1] - 1} of {years}", flush=True)
    ours: list[Outcome] = []
    plain: list[Outcome] = []
    correlations: list[tuple[bool, float]] = []
    answers: list[tuple[bool, ...]] = []
    impressions: list[tuple[bool, bool]] = []
    needless = 0
    start = time.process_time()
    for number in range(*part):
        year = year_of(int(seeds[number]), flags[number])
        given = given_of(year)
        review = review_ratings(given, again_of(year))
        new = said(review, year.plants)
        ours += new
        plain += averages_say(given, year.plants)
        correlations.append((bool(year.plants.impression_sd), correlation(given)))
        impressions.append((
            bool(year.plants.impression_sd),
            any(one.code == ONE_IMPRESSION for one in review.statements),
        ))
        needless += any(one.code in (NO_ANCHOR, NOT_COMPARABLE_RATERS) for one in review.refusals)
        if number % 4 == 0:
            rows = bare(given, year)
            answers.append((*refused(rows), *averages_false(rows, year.plants)))
        for one in new:
            if one.wrong or one.there != one.found:
                print(f"  year {number}: {one.kind}, there {one.there}, found {one.found},"
                      f" false {one.wrong}; {year.plants}", flush=True)  # fmt: skip
                print(f"    {[s for s in review.statements if s.code in CODES[one.kind]]}")
    seconds = (time.process_time() - start) / (part[1] - part[0])
    table("statements", ours)
    table("plain averages", [*plain, *hindsight(correlations)])
    for there in (True, False):
        figures = [figure for one, figure in correlations if one == there] or [float("nan")]
        print(f"correlation of criteria {'with' if there else 'without'} a halo:"
              f" {min(figures):.2f} to {max(figures):.2f}")  # fmt: skip
    for place, words in enumerate(
        ("that a group grew or not", "who is stricter"),
    ):
        print(f"bare years: refused {words}: {sum(one[place] for one in answers)} of"
              f" {len(answers)}; plain averages false in"
              f" {sum(one[place + 2] for one in answers)}")  # fmt: skip
    whose = [one for one in impressions if one[0]]
    print(f"whose the impression is was said in {sum(one[1] for one in whose)} of {len(whose)}"
          f" years with one, and falsely in"
          f" {sum(one[1] for one in impressions if not one[0])} of"
          f" {len(impressions) - len(whose)} without")  # fmt: skip
    print(f"refused without need in {needless} of {len(correlations)} whole years")
    print(f"{seconds:.1f} seconds of one processor a year")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
