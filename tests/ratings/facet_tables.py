"""Tables of ratings for the tests: the ones in the authorities, and planted ones."""

import csv
import json
from pathlib import Path

import numpy as np

from standlight.ratings.ratings_table import gather_ratings

AUTHORITIES = Path(__file__).parents[1] / "authorities/ratings"
TAM = json.loads((AUTHORITIES / "synthetic_mfrm_tam.json").read_text())
RASCH = json.loads((AUTHORITIES / "rasch_reference.json").read_text())
CRITERIA = ("tone", "rhythm", "dynamics")


def columns_of(rows):
    return [list(column) for column in zip(*rows, strict=True)]


def synthetic_rows():
    with open(AUTHORITIES / "synthetic_mfrm.csv", newline="") as file:
        return [
            (row["student"], f"t{row['task']}", name, f"r{row['rater']}", int(row[name]))
            for row in csv.DictReader(file)
            for name in CRITERIA
            if row[name]
        ]


def matrix_rows(name, left_out=()):
    """Rows of a students-by-items file of digits: items are tasks, one criterion, one rater.

    Items of ``left_out``, counted from 1, are not there; the others keep their numbers.
    """
    lines = (AUTHORITIES / name).read_text().split()
    return [
        (f"s{student:03}", f"I{item:02}", "level", "one", int(level))
        for student, line in enumerate(lines)
        for item, level in enumerate(line, start=1)
        if item not in left_out
    ]


TASKS = np.array([-0.8, -0.2, 0.3, 0.7])
CRITERIA_PLANTED = np.array([-0.4, 0.1, 0.3])
RATERS = np.array([-0.6, 0.0, 0.6])
THRESHOLDS = np.array([-1.5, 0.0, 1.5])


def planted_rows(seed, n_students=60, chance_rated=0.7, deviation=1.2, mean=0.4):
    """Ratings drawn from the model itself; also the students' true places."""
    random = np.random.default_rng(seed)
    places = random.normal(mean, deviation, n_students)
    cumulated = np.concatenate([[0.0], np.cumsum(THRESHOLDS)])
    rows = []
    for student, place in enumerate(places):
        for task, hard in enumerate(TASKS):
            for rater, strict in enumerate(RATERS):
                if random.random() > chance_rated:
                    continue
                for criterion, steep in enumerate(CRITERIA_PLANTED):
                    exponents = np.arange(4) * (place - hard - strict - steep) - cumulated
                    chances = np.exp(exponents - exponents.max())
                    level = random.choice(4, p=chances / chances.sum())
                    rows.append((f"s{student:04}", f"t{task}", f"c{criterion}", f"r{rater}",
                                 int(level) + 1))
    return rows, places


def table_of(rows, **more):
    return gather_ratings(*columns_of(rows), **more)
