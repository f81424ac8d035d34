"""How true the many-facet model's measures are: planted ratings, many seeded runs.

150 students x 12 tasks x 3 criteria x 3 raters, one rater a recording, a fifth rated by a
second one. Asked: slope of found on true .99 to 1.01, 95 percent intervals covering .93 to
.97. Nested: each rater an own ensemble (means 0, .5, 1), 5 percent rated twice; asked .92 or
more for raters. Halo: a day effect of SD .7 on each recording; asked scale within 3 percent
with the recording as object. The peer is the same table with the plain choice (one
population; the student as object).

Usage: python benchmarks/ratings_recovery.py [RUNS [A PART OF THE SETTING'S NAME]]
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import numpy as np

from benchmarks.machine import machine
from standlight.ratings.facet_design import RATING_SCALE
from standlight.ratings.facets import FacetEstimate, estimate_facets
from standlight.ratings.given import GivenRating
from standlight.ratings.ratings_table import Ratings, gather_ratings
from standlight.ratings.students import student_measures
from standlight.ratings.take_effects import hearings_of
from standlight.ratings.take_students import student_places

STUDENTS, TASKS, CRITERIA, RATERS = 150, 12, 3, 3
THRESHOLDS = np.array([-1.5, 0.0, 1.5])
LEVELS = len(THRESHOLDS) + 1


def planted(seed: int, twice: float, halo: float, nested: bool) -> tuple[list, dict]:
    """Columns of one table, and the true places (facets centred)."""
    random = np.random.default_rng(seed)
    truth = {"task": random.normal(0, 0.6, TASKS), "criterion": np.array([-0.4, 0.0, 0.4]),
             "rater": random.normal(0, 0.5, RATERS)}  # fmt: skip
    truth = {name: places - places.mean() for name, places in truth.items()}
    ensemble = np.arange(STUDENTS) % RATERS
    place = random.normal(0, 1.2, STUDENTS) + (0.5 * ensemble if nested else 0.0)
    student, task = (each.ravel() for each in np.indices((STUDENTS, TASKS)))
    day = random.normal(0, halo, len(student)) if halo else np.zeros(len(student))
    rater = ensemble[student] if nested else random.integers(0, RATERS, len(student))
    again = np.flatnonzero(random.random(len(student)) < twice)
    rows = np.concatenate([np.arange(len(student)), again])
    other = (rater[again] + random.integers(1, RATERS, len(again))) % RATERS
    rater = np.concatenate([rater, other])
    rows, rater = np.repeat(rows, CRITERIA), np.repeat(rater, CRITERIA)
    criterion = np.tile(np.arange(CRITERIA), len(rows) // CRITERIA)
    logit = (place[student[rows]] + day[rows] - truth["task"][task[rows]]
             - truth["criterion"][criterion] - truth["rater"][rater])  # fmt: skip
    cumulated = np.concatenate([[0.0], np.cumsum(THRESHOLDS)])
    weights = np.exp(np.arange(LEVELS) * logit[:, None] - cumulated)
    shares = (weights / weights.sum(axis=1, keepdims=True)).cumsum(axis=1)
    level = (shares[:, :-1] < random.random(len(logit))[:, None]).sum(axis=1)
    names = [f"s{n:03}" for n in range(STUDENTS)]
    columns = [
        [names[n] for n in student[rows]], [f"t{n:02}" for n in task[rows]],
        [f"c{n}" for n in criterion], [f"r{n}" for n in rater], level.tolist(),
        [f"e{n}" for n in ensemble[student[rows]]],
        [f"{names[student[n]]}/{task[n]:02}" for n in rows],
    ]  # fmt: skip
    return columns, {**truth, "student": place}


def tables(columns: list) -> dict[str, Ratings]:
    """The table with one population, with ensembles, and with recordings as objects."""
    student, task, criterion, rater, level, ensemble, recording = columns
    rest = (task, criterion, rater, level)
    return {
        "one": gather_ratings(student, *rest),
        "ensembles": gather_ratings(student, *rest, ensemble),
        "recordings": gather_ratings(recording, *rest),
        "nested recordings": gather_ratings(recording, *rest, ensemble),
    }


def compare(found: FacetEstimate, truth: dict) -> dict[str, tuple[np.ndarray, ...]]:
    """(true, found, error) of each facet, and of the students where they are the objects."""
    errors = np.sqrt(np.diag(found.covariance))
    pairs, start = {"threshold": thresholds(found)}, 0
    for name in ("task", "criterion", "rater"):
        stop = start + len(truth[name])
        pairs[name] = (truth[name], found.parameters[start:stop], errors[start:stop])
        start = stop
    if len(found.design.ratings.students) == STUDENTS:
        students = student_measures(found)
        wle = np.array([each.wle for each in students])
        pairs["student"] = (truth["student"], wle, np.array([each.wle_se for each in students]))
    return pairs


def thresholds(found: FacetEstimate) -> tuple[np.ndarray, ...]:
    """(true, found, error) of the thresholds; all levels are always used here."""
    own = slice(found.design.n_elements, found.design.n_structural)
    steps = np.diff(np.eye(LEVELS)[:, 1:-1], axis=0)
    errors = np.sqrt(np.diag(steps @ found.covariance[own, own] @ steps.T))
    return THRESHOLDS, steps @ found.parameters[own], errors


def widened(columns: list, truth: dict) -> dict[str, tuple[np.ndarray, ...]]:
    """(true, found, error) of students whose errors the pooled design effect widens."""
    student, task, criterion, rater, level, ensemble, recording = columns
    given = [
        GivenRating(who, "", "", "", what, take, 0.0, 0.0, which, by, score)
        for who, what, which, by, score, take in zip(
            student, task, criterion, rater, level, recording, strict=True)
    ]  # fmt: skip
    found = student_places(hearings_of(given))
    return {"student": (truth["student"], found.logits, found.errors)}


SETTINGS = (
    ("crossed, 20 % twice", 0.20, 0.0, False, "one", ("student", "task", "rater", "threshold")),
    ("nested, 5 % twice, ensembles", 0.05, 0.0, True, "ensembles", ("rater",)),
    ("   peer: one population", 0.05, 0.0, True, "one", ("rater",)),
    ("halo .7, recordings", 0.20, 0.7, False, "recordings",
     ("task", "criterion", "rater", "threshold")),
    ("   peer: students", 0.20, 0.7, False, "one", ("criterion", "rater", "threshold")),
    ("halo .7, design effect", 0.20, 0.7, False, "widened", ("student",)),
    ("   peer: students in halo", 0.20, 0.7, False, "one", ("student",)),
    ("no halo, design effect", 0.20, 0.0, False, "widened", ("student",)),
    ("nested halo .7, recordings", 0.05, 0.7, True, "nested recordings", ("rater",)),
)  # fmt: skip


def main() -> int:
    """Plant, fit, compare, print."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    print(f"machine: {machine()}; {runs} runs")
    print(f"{'setting':32}{'facet':12}slope  cover")
    wanted = sys.argv[2] if len(sys.argv) > 2 else ""
    for title, twice, halo, nested, kind, facets in SETTINGS:
        if wanted not in title:
            continue
        gathered: dict[str, list] = {name: [] for name in facets}
        for seed in range(runs):
            columns, truth = planted(seed, twice, halo, nested)
            if kind == "widened":
                found = widened(columns, truth)
            else:
                found = compare(estimate_facets(tables(columns)[kind], RATING_SCALE), truth)
            for name in facets:
                gathered[name].append(np.array(found[name]))
        for name, each in gathered.items():
            true, got, error = np.concatenate(each, axis=1)
            slope = np.polyfit(true, got, 1)[0]
            cover = np.mean(np.abs(got - true) < 1.96 * error)
            print(f"{title:32}{name:12}{slope:.3f}  {cover:.3f}", flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
