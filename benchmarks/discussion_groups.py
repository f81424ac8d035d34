"""Groups of 100 musicians: processor time, and what is lost against a far longer search.

Each seed makes an ensemble of 100 in 12 sections with levels, answers, a listening map, three
earlier groupings, 40 pairs to keep apart and 8 to keep together. Figures: processor seconds of
one grouping; the cost of the groups, where 0 is the mean of groups by lot and 1 the best that a
search thirty times as long found; wishes broken. The peer is the best of as many groupings by
lot as fit into the same processor time.

Usage: python benchmarks/discussion_groups.py [ENSEMBLES]
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import numpy as np

from benchmarks.machine import machine
from standlight.planning import GroupRequest, Member, groups, make_groups
from standlight.planning.pair_costs import pair_costs

MUSICIANS, SECTIONS, SIZE, LONGER, LOTS = 100, 12, 5, 30, 200


def request(seed: int) -> GroupRequest:
    """One seeded ensemble with its wishes."""
    random = np.random.default_rng(seed)
    members = tuple(
        Member(f"m{n:03}", f"s{int(random.integers(SECTIONS))}", float(random.integers(1, 5)),
               str(random.choice(["a", "b", "c", "d"])), tuple(random.uniform(0, 90, 4).tolist()))
        for n in range(MUSICIANS)
    )  # fmt: skip
    keys = [member.key for member in members]
    earlier = tuple(
        tuple(tuple(group.tolist()) for group in np.array_split(random.permutation(keys), 20))
        for _ in range(3)
    )
    order = random.permutation(keys).tolist()
    together = tuple(zip(order[:8], order[8:16], strict=True))
    free = order[16:]
    apart = tuple(tuple(random.choice(free, 2, replace=False).tolist()) for _ in range(40))
    return GroupRequest(members, SIZE, "mixed", apart, together, earlier, seed=seed)


def by_lot(asked: GroupRequest, seconds: float) -> tuple[float, float]:
    """Mean cost of groups by lot, and the best that this much processor time draws."""
    costs, random, found = pair_costs(asked), np.random.default_rng(asked.seed), []
    start = time.process_time()
    while len(found) < LOTS or time.process_time() - start < seconds:
        label = random.permutation(np.arange(MUSICIANS) % len(asked.sizes))
        found.append(float(costs[label[:, None] == label[None, :]].sum() / 2))
    return float(np.mean(found[:LOTS])), min(found)


def main() -> int:
    """Group, search longer, print."""
    ensembles = int(sys.argv[1]) if len(sys.argv) > 1 else 6
    print(f"machine: {machine()}; {ensembles} ensembles of {MUSICIANS}, groups of {SIZE}")
    seconds, parts, lots, broken = [], [], [], 0
    for seed in range(ensembles):
        asked = request(seed)
        start = time.process_time()
        found = make_groups(asked)
        seconds.append(time.process_time() - start)
        broken += len(found.broken)
        usual, groups.SWEEPS = groups.SWEEPS, groups.SWEEPS * LONGER
        longer = make_groups(asked)
        groups.SWEEPS = usual
        mean, luckiest = by_lot(asked, seconds[-1])
        best = min(longer.cost, found.cost)
        parts.append((mean - found.cost) / (mean - best))
        lots.append((mean - luckiest) / (mean - best))
    print(f"one grouping: median {np.median(seconds):.2f} s, worst {max(seconds):.2f} s of "
          f"processor time (promised 2); wishes broken: {broken}")  # fmt: skip
    print("from chance (0) to the best of a search thirty times as long (1): "
          f"mean {np.mean(parts):.3f}, worst {min(parts):.3f}; "
          f"best by lot in the same time {np.mean(lots):.3f}")  # fmt: skip
    return 0


if __name__ == "__main__":
    sys.exit(main())
