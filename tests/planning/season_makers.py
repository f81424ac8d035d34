"""Years for the tests of the year plan: small, seeded, all invented."""

from datetime import date, timedelta

from standlight.planning.season_defaults import HOLDINGS, IN_REHEARSAL, MINUTES
from standlight.planning.season_values import (
    SeasonCalendar,
    SeasonCycle,
    SeasonGroup,
    SeasonRequest,
    Span,
    WorkKind,
)

MONDAY = date(2026, 8, 31)


def day(week, weekday=0):
    """A day by the index of its week and its weekday (0 Monday)."""
    return MONDAY + timedelta(weeks=week, days=weekday)


def kinds():
    return tuple(
        WorkKind(key, *minutes, standards=(f"S-{key}",), in_rehearsal=key in IN_REHEARSAL)
        for key, minutes in MINUTES.items()
    )


def year(weeks=36, groups=2, musicians=50, hours=6.0, concerts=(8, 17, 26, 33), **more):
    """A year of 36 weeks with four concerts a group, one week closed and one dead."""
    named = tuple(f"g{n}" for n in range(groups))
    cycles = []
    for group in named:
        starts = 0
        for number, ends in enumerate(concerts):
            key = f"{group}c{number}"
            cycles.append(SeasonCycle(key, group, key, day(starts), day(ends, 3)))
            starts = ends + 1
    calendar = SeasonCalendar(
        MONDAY,
        day(weeks - 1, 4),
        (Span(day(12), day(12, 6), "closed"),),
        (Span(day(19), day(19, 4), "dead"),),
        (Span(MONDAY, day(17, 4)), Span(day(18), day(weeks - 1, 4))),
    )
    values = {
        "calendar": calendar,
        "groups": tuple(SeasonGroup(group, musicians) for group in named),
        "cycles": tuple(cycles),
        "kinds": kinds(),
        "holdings": HOLDINGS,
        "review_minutes": round(hours * 60),
    }
    return SeasonRequest(**(values | more))
