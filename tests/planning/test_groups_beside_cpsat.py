"""Proofs and groupings of the room beside CP-SAT (OR-Tools), which searches in another way."""

from itertools import combinations

import numpy as np
import pytest
from ortools.sat.python import cp_model

from standlight.planning import GroupRequest, Member, make_groups, nearest_fixes, proofs_of

SEEDS = range(24)


def wished(seed):
    """24 musicians in groups of 4 with so many wishes that about half of the cases cannot hold."""
    random = np.random.default_rng(seed)
    keys = [f"m{n:02}" for n in range(24)]
    share = 0.3 + 0.4 * random.random()
    few = [str(key) for key in random.choice(keys, 11, replace=False)]
    apart = tuple(pair for pair in combinations(sorted(few), 2) if random.random() < share)
    order = [str(key) for key in random.permutation(keys)]
    together = tuple((order[2 * n], order[2 * n + 1]) for n in range(4))
    members = tuple(Member(key, "Flute") for key in keys)
    return GroupRequest(members, 4, "any", apart, together, seed=seed)


def can_hold(request):
    """Whether CP-SAT finds any grouping of the request's sizes that holds every wish."""
    model = cp_model.CpModel()
    sits = {
        (member.key, group): model.new_bool_var(f"{member.key} in {group}")
        for member in request.members
        for group in range(len(request.sizes))
    }
    for member in request.members:
        model.add_exactly_one(sits[member.key, group] for group in range(len(request.sizes)))
    for group, size in enumerate(request.sizes):
        model.add(sum(sits[member.key, group] for member in request.members) == size)
        for one, other in request.keep_apart:
            model.add(sits[one, group] + sits[other, group] <= 1)
        for wish in request.keep_together:
            for one, other in combinations(wish, 2):
                model.add(sits[one, group] == sits[other, group])
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    assert status in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.INFEASIBLE)
    return status != cp_model.INFEASIBLE


@pytest.mark.parametrize("seed", SEEDS)
def test_wishes_hold_when_cp_sat_finds_a_way_and_are_disproved_when_it_proves_none(seed):
    request = wished(seed)
    possible = can_hold(request)
    found = make_groups(request)
    assert (not found.broken) == possible
    assert bool(found.cannot_hold) == bool(proofs_of(request)) == (not possible)


def test_both_kinds_of_case_occur_and_every_fix_is_one_for_cp_sat_too():
    cases = [wished(seed) for seed in SEEDS]
    possible = [can_hold(request) for request in cases]
    assert 4 <= sum(possible) <= len(cases) - 4
    for request in [case for case, holds in zip(cases, possible, strict=True) if not holds][:4]:
        fixes = nearest_fixes(request)
        if fixes.size is not None:
            assert can_hold(GroupRequest(
                request.members, fixes.size, "any", request.keep_apart, request.keep_together
            ))  # fmt: skip
        for wish in request.keep_apart:
            left = tuple(one for one in request.keep_apart if one != wish)
            without = GroupRequest(request.members, 4, "any", left, request.keep_together)
            assert (wish in fixes.give_up) == can_hold(without)
