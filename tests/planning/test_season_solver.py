"""The door to CP-SAT against outside optima: scipy's assignment, Graham's machines, every way."""

from itertools import product

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from standlight.errors import StandlightError
from standlight.planning.season_search import part_of, settle
from standlight.planning.season_solver import Distance, Load, Problem, cost_of, solve
from standlight.planning.season_start import first_guess

FORBIDDING = 10_000


def assignment(costs):
    """One item a worker, one slot a task, room for one in each."""
    n = len(costs)
    return Problem(
        tuple(tuple(range(n)) for _ in range(n)),
        tuple(tuple(int(cost) for cost in row) for row in costs),
        (Load((1,) * n, (1,) * n, FORBIDDING),),
    )


@pytest.mark.parametrize("seed", range(4))
def test_assignments_cost_what_scipy_says_is_least(seed):
    costs = np.random.default_rng(seed).integers(1, 100, (14, 14))
    rows, columns = linear_sum_assignment(costs)
    answer = solve(assignment(costs))
    assert answer.proved
    assert answer.cost == answer.bound == costs[rows, columns].sum()
    assert sorted(answer.slots) == list(range(14))


def machines(m):
    """Graham's jobs for m machines: 2m-1, 2m-1, 2m-2, 2m-2, ..., m+1, m+1, m, m, m.

    R. L. Graham 1969, "Bounds on multiprocessing timing anomalies", SIAM J. Appl. Math. 17:416-429:
    they fit m machines in 3m exactly, where longest-first needs 4m - 1. Written from memory of the
    paper; that 3m is the least follows from the sum, which is 3m times m.
    """
    jobs = [length for length in range(2 * m - 1, m, -1) for _ in range(2)] + [m] * 3
    assert sum(jobs) == 3 * m * m
    return jobs


def on_machines(jobs, m, room):
    return Problem(
        tuple(tuple(range(m)) for _ in jobs),
        tuple((0,) * m for _ in jobs),
        (Load(tuple(jobs), (room,) * m, 1),),
    )


@pytest.mark.parametrize("m", [3, 5, 7])
def test_grahams_machines_are_filled_without_a_rest(m):
    jobs = machines(m)
    longest_first = [0] * m
    for job in jobs:
        longest_first[longest_first.index(min(longest_first))] += job
    assert max(longest_first) == 4 * m - 1
    assert solve(on_machines(jobs, m, 3 * m)).cost == 0
    # One unit less of room on each machine: exactly m units cannot fit.
    tight = solve(on_machines(jobs, m, 3 * m - 1))
    assert tight.proved
    assert tight.cost == m


def random_problem(seed, items=6, slots=4):
    random = np.random.default_rng(seed)
    options = tuple(
        tuple(sorted(random.choice(slots, int(random.integers(1, slots + 1)), replace=False)))
        for _ in range(items)
    )
    options = tuple(tuple(int(slot) for slot in one) for one in options)
    pairs = [random.choice(items, 2, replace=False) for _ in range(4)]
    return Problem(
        options,
        tuple(tuple(int(cost) for cost in random.integers(0, 9, len(one))) for one in options),
        tuple(
            Load(tuple(int(one) for one in random.integers(0, 6, items)),
                 tuple(int(one) for one in random.integers(0, 8, slots)),
                 int(random.integers(1, 9)))
            for _ in range(2)
        ),
        tuple(
            Distance(int(a), int(b), int(random.integers(0, 3)),
                     None if random.random() < 0.5 else 3, int(random.integers(1, 20)))
            for a, b in pairs
        ),
        seed=seed,
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(12))
def test_no_way_at_all_costs_less_than_what_is_found(seed):
    problem = random_problem(seed)
    least = min(cost_of(problem, slots) for slots in product(*problem.options))
    answer = solve(first_guess(problem, (-1,) * 6))
    assert answer.proved
    assert answer.cost == answer.bound == least
    assert cost_of(problem, answer.slots) == least


@pytest.mark.parametrize("seed", range(8))
def test_a_part_tells_the_same_difference_as_the_whole(seed):
    problem = first_guess(random_problem(seed), (-1,) * 6)
    keep, part = part_of(problem, problem.start, frozenset({0, 3, 4}))
    base = [problem.start[item] for item in keep]
    for slots in product(*part.options):
        whole = list(problem.start)
        for item, slot in zip(keep, slots, strict=True):
            whole[item] = slot
        assert cost_of(problem, tuple(whole)) - cost_of(problem, problem.start) == (
            cost_of(part, slots) - cost_of(part, tuple(base))
        )


def test_a_large_problem_in_parts_is_never_dearer_than_its_start_and_always_the_same():
    random = np.random.default_rng(5)
    n, slots = 80, 30
    problem = first_guess(
        Problem(
            (tuple(range(slots)),) * n,
            tuple(tuple(int(cost) for cost in random.integers(0, 50, slots)) for _ in range(n)),
            (Load(tuple(int(one) for one in random.integers(1, 9, n)), (12,) * slots, 20),),
        ),
        (-1,) * n,
    )
    teams = [frozenset(range(40)), frozenset(range(40, 80))]
    one, other = settle(problem, teams), settle(problem, teams)
    assert one == other
    assert one.cost == cost_of(problem, one.slots) < cost_of(problem, problem.start)


def test_an_item_without_a_slot_is_refused_by_name():
    with pytest.raises(StandlightError, match="item 1 has no slot"):
        Problem(((0,), ()), ((1,), ()))
