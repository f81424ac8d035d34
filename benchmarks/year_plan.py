"""A year of six ensembles: seconds of the first plan and of the next after a lost week; what stays.

Six ensembles of 40 to 60 musicians, 36 school weeks, twelve kinds of work, four concerts each,
one dead week, three closed ones. Figures: seconds on the clock with the solver's loading; choices
in the model; hours over the director's own, weeks outside of the wished ones, distances not held;
the share of items that stay in their week after the fullest is lost. The peer, from the
same run: every item in the earliest week that its span and the calendar allow, as a list is filled
by hand.

Usage: python benchmarks/year_plan.py [SEEDS]
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import numpy as np

from benchmarks.machine import machine
from standlight.planning.season import plan_season, problem_of, standing_cost
from standlight.planning.season_defaults import HOLDINGS, IN_REHEARSAL, MINUTES
from standlight.planning.season_items import items_of
from standlight.planning.season_solver import cost_of, solve
from standlight.planning.season_values import (
    SeasonCalendar,
    SeasonCycle,
    SeasonGroup,
    SeasonRequest,
    Span,
    WorkKind,
    YearPlan,
)

MONDAY, WEEKS, HOURS = date(2026, 8, 31), 39, 7


def request(seed: int, ensembles: int = 6) -> SeasonRequest:
    """One seeded year: 39 weeks on the calendar, three of them closed, so 36 school weeks."""
    random = np.random.default_rng(seed)

    def week(number: int) -> date:
        return MONDAY + timedelta(weeks=number)

    closed = tuple(Span(week(n), week(n) + timedelta(days=6), "closed") for n in (16, 17, 30))
    groups, cycles = [], []
    for n in range(ensembles):
        groups.append(SeasonGroup(f"g{n}", int(random.integers(40, 61)), int(random.integers(5))))
        starts = 0
        for m, ends in enumerate((9, 15, 26, 36)):
            concert = week(ends) + timedelta(days=int(random.integers(1, 5)))
            cycles.append(SeasonCycle(f"g{n}c{m}", f"g{n}", f"concert {m}", week(starts), concert))
            starts = ends + 1
    return SeasonRequest(
        calendar=SeasonCalendar(
            MONDAY,
            week(WEEKS) - timedelta(days=3),
            closed,
            (Span(week(20), week(20) + timedelta(days=4)),),
            tuple(Span(week(a), week(b) + timedelta(days=4))
                  for a, b in ((0, 9), (10, 19), (20, 28), (29, 38))),
        ),
        groups=tuple(groups),
        cycles=tuple(cycles),
        kinds=tuple(WorkKind(key, *minutes, in_rehearsal=key in IN_REHEARSAL)
                    for key, minutes in MINUTES.items()),
        holdings=HOLDINGS,
        review_minutes=HOURS * 60,
        festivals=tuple((group.key, week(24) + timedelta(days=3)) for group in groups),
        seed=seed,
    )  # fmt: skip


def dense(seed: int) -> SeasonRequest:
    """A year with more in it."""
    asked = request(seed)
    often = {"remark": 1, "check_in": 2}
    return replace(asked, holdings=tuple(
        replace(one, every_weeks=often.get(one.key, one.every_weeks)) for one in asked.holdings
    ))  # fmt: skip


def bound(asked: SeasonRequest) -> int:
    """A cost that no plan can be under, by the whole model and a long search."""
    return solve(problem_of(asked)[1], effort=8.0).bound


def earliest(asked: SeasonRequest) -> YearPlan:
    """The peer: every item pinned to the earliest week that may hold it."""
    first = MONDAY - timedelta(days=MONDAY.weekday())
    pins = tuple((item.key, first + timedelta(weeks=item.weeks[0]))
                 for item in items_of(asked)[0] if item.weeks)  # fmt: skip
    return plan_season(replace(asked, pins=pins))


def told(plan: YearPlan) -> str:
    """What had to give, in a line."""
    hours = sum(max(0, need - week.review_minutes)
                for need, week in zip(plan.minutes, plan.weeks, strict=True)) / 60  # fmt: skip
    notes = [note for one in plan.items for note in one.notes]
    outside = sum(note.weeks for note in notes if note.code == "outside")
    apart = sum(note.code in ("too_near", "too_late") for note in notes)
    heavy = sum(one.minutes - one.most for one in plan.heavy)
    return (f"hours over {hours:5.1f}, weeks outside the wished ones {outside:4}, "
            f"distances broken {apart:3}, musician minutes over {heavy:5}")  # fmt: skip


def main() -> int:
    """Plan, lose a week, plan again, print."""
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    print(f"machine: {machine()}; {seeds} years of 6 ensembles, {HOURS} h of review a week, and "
          "one with a remark every week and a check-in every second")
    firsts, useds, agains, kepts = [], [], [], []
    for seed in range(seeds + 1):
        asked = request(seed) if seed < seeds else dense(seed)
        start, used = time.perf_counter(), time.process_time()
        plan = plan_season(asked)
        firsts.append(time.perf_counter() - start)
        used = time.process_time() - used
        useds.append(used)
        loading = " with the solver's loading" if seed == 0 else ""
        print(f"year {seed}: {len(plan.items)} items, {plan.n_variables} choices; first plan "
              f"{firsts[-1]:.2f} s{loading} (processor {used:.2f} s), cost {plan.cost}; "
              f"half a minute of search alone proves none under {bound(asked)}")
        print(f"  planned:       {told(plan)}")
        guess = problem_of(asked)[1]
        print(f"  each item where it adds least, then moved while that helps, no solver: cost "
              f"{cost_of(guess, guess.start)}")
        peer = earliest(asked)
        print(f"  earliest week: {told(peer)}")
        stands = tuple((one.item.key, plan.weeks[one.week].monday)
                       for one in plan.items if one.week is not None)
        lost = max(range(6, 34), key=lambda n: sum(one.week == n for one in plan.items))
        monday = plan.weeks[lost].monday
        closed = (*asked.calendar.closed, Span(monday, monday + timedelta(days=4), "lost"))
        changed = replace(asked, calendar=replace(asked.calendar, closed=closed), before=stands)
        start = time.perf_counter()
        again = plan_season(changed)
        agains.append(time.perf_counter() - start)
        kepts.append(again.kept / again.compared)
        afresh = plan_season(replace(changed, before=()))
        same = sum(one.week is not None and (one.item.key, afresh.weeks[one.week].monday)
                   in set(stands) for one in afresh.items) / len(stands)
        in_it = sum(one.week == lost for one in plan.items)
        print(f"  week {lost + 1} lost ({in_it} items in it): planned again in {agains[-1]:.2f} s, "
              f"{100 * kepts[-1]:.1f} percent stay (from scratch: {100 * same:.1f})")
        print(f"  after it:      {told(again)}")
        days = {one.item.key: afresh.weeks[one.week].monday
                for one in afresh.items if one.week is not None}
        print(f"  by the same prices (a move has one): planned again {again.cost}, from scratch "
              f"{standing_cost(changed, days)}")
    print(f"first plan: worst {max(firsts):.2f} s, of a processor {max(useds):.2f} s (promised 5 "
          f"on a free core); again after a lost week: worst "
          f"{max(agains):.2f} s (promised 15); least kept {100 * min(kepts):.1f} percent "
          "(promised 85)")
    return 0


if __name__ == "__main__":
    sys.exit(main())
