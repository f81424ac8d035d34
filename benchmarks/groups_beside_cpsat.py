"""Groups of 100 musicians beside CP-SAT's best in 20 seconds, from nothing and from our groups.

The ensembles are those of ``discussion_groups.py``. CP-SAT (OR-Tools, one worker) makes the same
sum of pair costs small under the same sizes and wishes. Figures: the cost of each, the seconds,
and what the room reaches of the gain over groups by lot, where 1 is CP-SAT's best (either start).

Usage: python benchmarks/groups_beside_cpsat.py [ENSEMBLES] [SECONDS]
"""

from __future__ import annotations

import sys
import time
from itertools import combinations
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import numpy as np
from ortools.sat.python import cp_model

from benchmarks.discussion_groups import by_lot, request
from benchmarks.machine import machine
from standlight.planning import Grouping, GroupRequest, make_groups
from standlight.planning.pair_costs import pair_costs

SCALE = 1000
"""CP-SAT takes whole numbers: costs are rounded to a thousandth."""


def solved(asked: GroupRequest, seconds: float, start: Grouping | None) -> float | None:
    """The cost of CP-SAT's best grouping within ``seconds``; ``None`` where it found none."""
    model, groups = cp_model.CpModel(), range(len(asked.sizes))
    place = {member.key: n for n, member in enumerate(asked.members)}
    sits = [[model.new_bool_var("") for _ in groups] for _ in asked.members]
    for row in sits:
        model.add_exactly_one(row)
    for group, size in enumerate(asked.sizes):
        model.add(sum(row[group] for row in sits) == size)
    apart = {frozenset((place[a], place[b])) for a, b in asked.keep_apart}
    for one, other in map(sorted, apart):
        for group in groups:
            model.add_at_most_one(sits[one][group], sits[other][group])
    for wish in asked.keep_together:
        for key in wish[1:]:
            for group in groups:
                model.add(sits[place[wish[0]]][group] == sits[place[key]][group])
    costs, terms = pair_costs(asked), []
    for one, other in combinations(range(len(sits)), 2):
        cost = round(SCALE * float(costs[one, other]))
        if not cost or frozenset((one, other)) in apart:
            continue
        both = model.new_bool_var("")
        for group in groups:
            if cost > 0:
                model.add_bool_or(~sits[one][group], ~sits[other][group], both)
            else:
                model.add_bool_or(~both, ~sits[one][group], sits[other][group])
        terms.append(cost * both)
    model.minimize(sum(terms))
    if start is not None:
        of = {key: n for n, group in enumerate(start.groups) for key in group.members}
        for key, row in place.items():
            for group in groups:
                model.add_hint(sits[row][group], of[key] == group)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = seconds
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    label = np.array([next(g for g in groups if solver.value(row[g])) for row in sits])
    return float(costs[label[:, None] == label[None, :]].sum() / 2)


def main() -> int:
    """Group, let CP-SAT group, print."""
    ensembles = int(sys.argv[1]) if len(sys.argv) > 1 else 4
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 20.0
    print(f"machine: {machine()}; {ensembles} ensembles, CP-SAT for {seconds:.0f} s, one worker")
    parts = []
    for seed in range(ensembles):
        asked = request(seed)
        begun = time.process_time()
        found = make_groups(asked)
        took = time.process_time() - begun
        mean, _ = by_lot(asked, 0.0)
        nothing, ours = solved(asked, seconds, None), solved(asked, seconds, found)
        best = min(cost for cost in (nothing, ours, found.cost) if cost is not None)
        parts.append((mean - found.cost) / (mean - best))
        print(
            f"ensemble {seed}: by lot {mean:.1f}; the room {found.cost:.2f} in {took:.2f} s; "
            f"CP-SAT from nothing {_words(nothing)}, from the room's groups {_words(ours)}"
        )
    print(f"of CP-SAT's best gain over lot the room reaches: mean {np.mean(parts):.3f}, worst "
          f"{min(parts):.3f} (promised 0.95)")  # fmt: skip
    return 0


def _words(cost: float | None) -> str:
    """A cost, or that none was found."""
    return "none found" if cost is None else f"{cost:.2f}"


if __name__ == "__main__":
    sys.exit(main())
