"""How long the many-facet model takes, and how much memory: a school's year and a large state's.

Usage: python benchmarks/fit_speed.py. Seeded tables of 3 criteria: 6,480 ratings (180 students,
12 tasks, 3 raters), then 20,000 students on 25 tasks with 50 raters (1,500,000 ratings) and two
smaller shares of it, to see that time is linear. Each table has a process of its own, one thread;
printed is the time of the whole ``measure_facets`` after the columns are gathered, by the clock and
of the processor, the gathering beside it, and the peak memory. Required: 1 s; 30 s and 1.5 GB.
The peer in the same run, on the smallest table: a general minimiser (scipy's L-BFGS-B) on the same
likelihood and exact gradient, in place of the Newton steps.
"""

from __future__ import annotations

import os
import sys
import time
from multiprocessing import get_context
from pathlib import Path

for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[threads] = "1"
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import numpy as np  # noqa: E402
from scipy.optimize import minimize  # noqa: E402

from benchmarks.machine import machine  # noqa: E402
from standlight.ratings.facet_design import RATING_SCALE, facet_design  # noqa: E402
from standlight.ratings.facets import _grid, _start, estimate_facets  # noqa: E402
from standlight.ratings.marginal import marginal_point  # noqa: E402
from standlight.ratings.measures import measure_facets  # noqa: E402
from standlight.ratings.ratings_table import Ratings, gather_ratings  # noqa: E402

CRITERIA, THRESHOLDS = 3, (-1.5, 0.0, 1.5)
TABLES = ((180, 12, 3), (2_000, 25, 50), (8_000, 25, 50), (20_000, 25, 50))
"""Students, tasks, raters."""


def table(students: int, tasks: int, raters: int) -> tuple[Ratings, float]:
    """A planted table, and the seconds of the processor that gathering it took."""
    random = np.random.default_rng(7)
    student, task, criterion = (
        each.ravel() for each in np.indices((students, tasks, CRITERIA))
    )
    rater = random.integers(0, raters, (students, tasks))[student, task]
    logit = (
        random.normal(0, 1.2, students)[student]
        - random.normal(0, 0.6, tasks)[task]
        - np.array([-0.4, 0.0, 0.4])[criterion]
        - random.normal(0, 0.5, raters)[rater]
    )
    steps = np.arange(4) * logit[:, None] - np.concatenate([[0.0], np.cumsum(THRESHOLDS)])
    shares = np.exp(steps - steps.max(axis=1, keepdims=True)).cumsum(axis=1)
    level = (shares[:, :-1] < random.random(len(logit))[:, None] * shares[:, -1:]).sum(axis=1)
    columns = (("s", students, student), ("t", tasks, task), ("c", CRITERIA, criterion),
               ("r", raters, rater))  # fmt: skip
    names = [np.array([f"{letter}{n}" for n in range(most)])[places].tolist()
             for letter, most, places in columns]  # fmt: skip
    start = time.process_time()
    found = gather_ratings(*names, level.tolist())
    return found, time.process_time() - start


def measured(shape: tuple[int, int, int]) -> str:
    """One line: ratings, seconds, memory."""
    ratings, gathering_s = table(*shape)
    clock, busy = time.perf_counter(), time.process_time()
    measure_facets(ratings)
    clock, busy = time.perf_counter() - clock, time.process_time() - busy
    peak = Path("/proc/self/status").read_text(encoding="ascii").split("VmHWM:")[1].split()[0]
    return (
        f"{ratings.n_ratings:>9,} ratings: {clock:6.2f} s by the clock, {busy:6.2f} s of the"
        f" processor ({1e6 * busy / ratings.n_ratings:.1f} us a rating), gathering"
        f" {gathering_s:.2f} s, {int(peak) / 1024:.0f} MB"
    )


def peer(shape: tuple[int, int, int]) -> str:
    """The same likelihood climbed by a general minimiser, on the grid that the model ends with."""
    ratings, _ = table(*shape)
    ours = estimate_facets(ratings, RATING_SCALE, errors=False)
    design = facet_design(ratings, RATING_SCALE)
    busy = time.process_time()
    start = _start(design)
    nodes = _grid(design, ours.parameters)

    def down(free: np.ndarray) -> tuple[float, np.ndarray]:
        point = marginal_point(design, start + design.basis @ free, nodes)
        return -point.log_likelihood, -(design.basis.T @ point.gradient)

    found = minimize(
        down, np.zeros(design.basis.shape[1]), jac=True, method="L-BFGS-B",
        options={"maxiter": 500, "gtol": 1e-5, "ftol": 1e-14},
    )  # fmt: skip
    far = np.abs(start + design.basis @ found.x - ours.parameters).max()
    return (
        f"   peer, L-BFGS-B: {time.process_time() - busy:6.2f} s of the processor,"
        f" {found.nit} steps, farthest parameter {far:.1e} logits from ours"
    )


def main() -> None:
    """Measure each table in a process of its own, print."""
    print(f"machine: {machine()}; one thread")
    for number, shape in enumerate(TABLES):
        with get_context("spawn").Pool(1) as pool:
            print(pool.apply(measured, (shape,)), flush=True)
        if number == 0:
            with get_context("spawn").Pool(1) as pool:
                print(pool.apply(peer, (shape,)), flush=True)


if __name__ == "__main__":
    main()
