"""How surely raters differ after some takes were rated twice: picked takes against random ones.

Seeded schools: four directors with an ensemble each (60, 40, 25 and 15 musicians, of different
ability), 8 tasks, 3 criteria, a day effect on each take; few doubled takes join them before.
In the same minutes takes are rated again: as `worth_hearing_twice` picks, or random takes by a
random other director (the peer). Then the whole school is fitted, and the error is that of
every two directors' difference, in rating points; beside it what the model foretells, which
needs no luck of the draw and so fewer schools. Also the time of the choice for about 6,500
ratings (processor seconds; nobody else's load counts).

Usage: python benchmarks/double_rating.py [SCHOOLS]
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from itertools import combinations
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import numpy as np

from benchmarks.machine import machine
from standlight.ratings.double_choice import DoubleChoice
from standlight.ratings.double_rating import worth_hearing_twice
from standlight.ratings.given import GivenRating
from standlight.ratings.rating_information import rating_information

SIZES, TASKS, CRITERIA = (60, 40, 25, 15), 8, ("tone", "rhythm", "dynamics")
STEEP, THRESHOLDS = np.array([-0.4, 0.0, 0.4]), np.array([-1.5, 0.0, 1.5])
DAY_SD, MEANS, SECTIONS = 0.5, (1.8, 0.8, 0.0, -0.5), 5
MINUTES, MINUTES_A_TAKE, JOINED_BEFORE = (12, 24, 60), 1.0, 6
MEAN_OF_NORMAL = 0.798
"""Mean absolute value of a normal error, in its standard deviations: root of 2 over pi."""


class School:
    """One seeded school; the same take and rater always get the same levels."""

    def __init__(self, seed: int) -> None:
        """Draw musicians, tasks, days and severities."""
        random = np.random.default_rng(seed)
        self.seed = seed
        self.ensemble = np.repeat(np.arange(len(SIZES)), SIZES)
        self.place = random.normal(np.array(MEANS)[self.ensemble], 1.0)
        self.hard = random.normal(0, 0.6, TASKS)
        self.day = random.normal(0, DAY_SD, (len(self.ensemble), TASKS))
        self.severity = random.normal(0, 0.5, len(SIZES))

    def rated(self, student: int, task: int, rater: int) -> list[GivenRating]:
        """What the rater gives the take."""
        random = np.random.default_rng((self.seed, student, task, rater))
        logit = (self.place[student] + self.day[student, task] - self.hard[task] - STEEP
                 - self.severity[rater])  # fmt: skip
        weights = np.exp(np.arange(4) * logit[:, None] - np.cumsum([0.0, *THRESHOLDS]))
        shares = (weights / weights.sum(axis=1, keepdims=True)).cumsum(axis=1)
        levels = 1 + (shares[:, :-1] < random.random(len(shares))[:, None]).sum(axis=1)
        group, section = self.ensemble[student], student % SECTIONS
        return [
            GivenRating(f"s{student:03}", f"e{group}", f"e{group}s{section}", f"i{section}",
                        f"t{task}", f"{student:03}/{task}", 7.0 * task, 7.0 * task + 1, name,
                        f"r{rater}", int(level))
            for name, level in zip(CRITERIA, levels, strict=True)
        ]  # fmt: skip

    def nested(self) -> list[GivenRating]:
        """Everybody's takes by the own director, and the few that join the directors."""
        rows = [row for student, group in enumerate(self.ensemble) for task in range(TASKS)
                for row in self.rated(student, task, group)]  # fmt: skip
        random = np.random.default_rng((self.seed, 1))
        for rater in range(len(SIZES)):
            for _ in range(JOINED_BEFORE // 2):
                student = int(random.choice(np.flatnonzero(self.ensemble == rater)))
                rows += self.rated(student, int(random.integers(TASKS)), (rater + 1) % 4)
        return rows


def contrasts(school: School, rows: list[GivenRating]) -> np.ndarray:
    """Errors of the differences between directors (rating points)."""
    told = rating_information(rows)
    found = told.estimate.facet("rater")
    return told.points_per_logit * np.array([
        found[f"r{a}"] - found[f"r{b}"] - (school.severity[a] - school.severity[b])
        for a, b in combinations(range(len(SIZES)), 2)
    ])


def picked(
    school: School, rows: list[GivenRating], minutes: float
) -> tuple[list[GivenRating], float]:
    """Rows with the picks rated, and the error that the plan foretells."""
    plan = worth_hearing_twice(rows, minutes, MINUTES_A_TAKE)
    more = [row for pick in plan.picks
            for row in school.rated(int(pick.student[1:]), int(pick.task[1:]),
                                    int(pick.second_rater[1:]))]  # fmt: skip
    return rows + more, plan.error_after


def at_random(
    school: School, rows: list[GivenRating], minutes: float
) -> tuple[list[GivenRating], float]:
    """Rows with as many takes, each by another director, drawn without looking; error foretold."""
    random = np.random.default_rng((school.seed, 2))
    told = rating_information(rows)
    choice = DoubleChoice(told)
    more: list[GivenRating] = []
    for take in random.choice(len(told.takes), int(minutes / MINUTES_A_TAKE), replace=False):
        candidate = int(random.choice(np.flatnonzero(choice.takes == take)))
        choice.choose(candidate)
        student, task = (int(part) for part in told.takes[take].take.split("/"))
        rater = told.estimate.design.ratings.names[2][choice.raters[candidate]]
        more += school.rated(student, task, int(rater[1:]))
    return rows + more, choice.mean_variance() ** 0.5 * told.points_per_logit


def main() -> int:
    """Plant, choose, rate, fit, print."""
    n_schools = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    print(f"machine: {machine()}; {n_schools} schools of {sum(SIZES)} musicians, 4 directors")
    print("mean error of a difference between two directors, rating points")
    print(f"{'':17}found{'':21}foretold")
    print(" minutes   before   random   picked   random   picked  better in (found, foretold)")
    schools = [School(seed) for seed in range(n_schools)]
    tables = [school.nested() for school in schools]
    pairs = list(zip(schools, tables, strict=True))
    before = [np.abs(contrasts(*each)).mean() for each in pairs]
    for minutes in MINUTES:
        others = [at_random(*each, minutes) for each in pairs]
        plans = [picked(*each, minutes) for each in pairs]
        random, mine = (
            np.array([np.abs(contrasts(school, plan[0])).mean()
                      for school, plan in zip(schools, made, strict=True)])
            for made in (others, plans)
        )  # fmt: skip
        told = [MEAN_OF_NORMAL * np.array([plan[1] for plan in made]) for made in (others, plans)]
        print(f"{minutes:8}{np.mean(before):9.3f}{random.mean():9.3f}{mine.mean():9.3f}"
              f"{told[0].mean():9.3f}{told[1].mean():9.3f}{100 * np.mean(mine < random):9.0f} %"
              f"{100 * np.mean(told[1] < told[0]):6.0f} %", flush=True)  # fmt: skip
    rows = tables[0] + [replace(row, student=f"{row.student}x", take=f"{row.take}x")
                        for row in School(1).nested()]  # fmt: skip
    begun = time.process_time()
    worth_hearing_twice(rows, 60, 1)
    print(f"60 picks among {len(rows)} ratings: {time.process_time() - begun:.2f} s of processor")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
