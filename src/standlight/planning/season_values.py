"""What a year plan is drawn up from and what it is: calendar, work to hold, placed items. Pure.

Days are ``datetime.date``; weeks begin on Monday and are indexed from 0 (``Week.number`` counts
from 1, as people do). Minutes of the director are for a whole group, minutes of a musician for
one. Reasons, faults and remarks are codes; the shell words them.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from math import ceil

from standlight.errors import StandlightError

CYCLE, PERIOD, YEAR = "cycle", "period", "year"
SPANS = {
    CYCLE: "once in every concert cycle of a group",
    PERIOD: "once in every marking period",
    YEAR: "once in the school year",
}
"""What a holding is held for each of."""

EARLY, BEFORE_CONCERT, SPREAD, MIDDLE, LATE, AFTER_CONCERT, ANCHOR, BEFORE_LAST = (
    "early", "before_concert", "spread", "middle", "late", "after_concert", "anchor", "before_last",
)  # fmt: skip
WHEN = {
    EARLY: "in the first weeks of its span",
    BEFORE_CONCERT: "about two weeks before the concert",
    SPREAD: "spread over its span",
    MIDDLE: "in the middle of its span",
    LATE: "in the second half of its span",
    AFTER_CONCERT: "within three days after the concert",
    ANCHOR: "the same passage early and again when sixty days have gone by",
    BEFORE_LAST: "in the last weeks, before the very last",
}
"""Reasons of a place in the year (common practice, no source)."""

ORDER, APART, NOT_TOO_FAR, AGAIN = "order", "apart", "not_too_far", "again"
GAPS = {
    ORDER: "comes after what prepares it",
    APART: "weeks lie between two of a kind",
    NOT_TOO_FAR: "the next comes before the first is forgotten",
    AGAIN: "at least sixty days lie between both times of an anchor",
}
"""Why two items keep a distance."""


@dataclass(frozen=True, slots=True)
class Span:
    """Days from ``first`` to ``last``, both within; ``name`` for people."""

    first: date
    last: date
    name: str = ""

    def __post_init__(self) -> None:
        """Refuse a span that ends before it begins."""
        if self.last < self.first:
            raise StandlightError(
                f"{self.name or 'a span'} ends before it begins", slip="the two days swapped?"
            )

    def __contains__(self, day: date) -> bool:
        """Whether ``day`` lies within.

        >>> date(2026, 12, 25) in Span(date(2026, 12, 21), date(2027, 1, 1))
        True
        """
        return self.first <= day <= self.last


@dataclass(frozen=True, slots=True)
class SeasonCalendar:
    """The school year: its days, closed days, dead weeks (no work is due) and marking periods."""

    first_day: date
    last_day: date
    closed: tuple[Span, ...] = ()
    dead: tuple[Span, ...] = ()
    periods: tuple[Span, ...] = ()


@dataclass(frozen=True, slots=True)
class SeasonCycle:
    """A concert cycle of a group; ``concert_on`` None is told as a fault, never guessed."""

    key: str
    group: str
    name: str
    starts_on: date
    concert_on: date | None


@dataclass(frozen=True, slots=True)
class SeasonGroup:
    """A group by opaque key, how many musicians it has, and the weekday work is due (0 Monday)."""

    key: str
    musicians: int
    due_weekday: int = 4

    def __post_init__(self) -> None:
        """Refuse what is no group of a school."""
        if self.musicians < 0 or not 0 <= self.due_weekday <= 4:
            raise StandlightError("a group has 0 or more musicians and a day from Monday to Friday")


@dataclass(frozen=True, slots=True)
class WorkKind:
    """What one kind costs: minutes of the director and of the musician for one musician's work.

    ``standards`` are codes; ``in_rehearsal`` kinds may fall into a concert's week.
    """

    key: str
    review_minutes: float
    musician_minutes: float
    standards: tuple[str, ...] = ()
    in_rehearsal: bool = False


@dataclass(frozen=True, slots=True)
class Holding:
    """What a span should hold: a kind, how often, when, how far apart, after what.

    ``every_weeks`` in place of ``times`` asks as often as the span is long; ``share`` (0 to 1) of
    the musicians is reviewed, drawn by lot, the rest is kept unread by design.
    """

    key: str
    kind: str
    span: str = CYCLE
    when: str = SPREAD
    times: int = 1
    every_weeks: int = 0
    least_gap: int = 0
    most_gap: int = 0
    after: str = ""
    share: float = 1.0

    def __post_init__(self) -> None:
        """Refuse what no plan can hold."""
        if self.span not in SPANS or self.when not in WHEN:
            raise StandlightError(f"{self.key}: {self.span}, {self.when} is no place in a year")
        if not 0 < self.share <= 1 or self.times < 0 or self.every_weeks < 0:
            raise StandlightError(f"{self.key}: a share is above 0 and up to 1, times 0 or more")


def heard_of(share: float, musicians: int) -> int:
    """How many musicians a share is: up, but for what only the writing of the share lost.

    >>> heard_of(0.34, 50), heard_of(0.333333, 30), heard_of(0.5, 25), heard_of(1, 40)
    (17, 10, 13, 40)
    """
    return ceil(share * musicians - 1e-3)


@dataclass(frozen=True, slots=True)
class Change:
    """What one item asks otherwise: the share that is reviewed, minutes of review a musician."""

    item: str
    share: float = 1.0
    review_minutes: float | None = None


@dataclass(frozen=True, slots=True)
class SeasonRequest:
    """All a year plan is made from.

    ``review_minutes`` are the director's minutes a week for reading and hearing, over all
    ``groups``; ``musician_minutes`` what a group's work may ask of one musician in a week; both
    are soft. ``festivals`` are (group, day): nothing new is due in such a week. ``pins`` are item
    keys with the Monday they must stay in; ``before`` the plan that stands: (item key, Monday),
    whose items move least. ``standards`` are to be served by every group. ``seed`` decides what is
    left to chance.
    ``not_before`` is today in a year that has begun: what lay in earlier weeks stays there, nothing
    is laid into them any more, and what was only for them is left out.
    """

    calendar: SeasonCalendar
    groups: tuple[SeasonGroup, ...]
    cycles: tuple[SeasonCycle, ...]
    kinds: tuple[WorkKind, ...]
    holdings: tuple[Holding, ...]
    review_minutes: int
    musician_minutes: int = 45
    festivals: tuple[tuple[str, date], ...] = ()
    standards: tuple[str, ...] = ()
    pins: tuple[tuple[str, date], ...] = ()
    before: tuple[tuple[str, date], ...] = ()
    changes: tuple[Change, ...] = ()
    not_before: date | None = None
    seed: int = 0


@dataclass(frozen=True, slots=True)
class Week:
    """One week: ``number`` from 1, its Monday, school days, and whether work may be due in it."""

    number: int
    monday: date
    open_days: tuple[date, ...]
    takes_work: bool
    review_minutes: int


@dataclass(frozen=True, slots=True)
class Item:
    """One piece of work to be placed: where it may go, where it would best go, what it costs.

    ``weeks`` are the indexes that are allowed, ascending; ``wished`` the first and last index that
    fit its ``when``; ``target`` the best. ``review_minutes`` are for all who are reviewed,
    ``review_each`` for one. ``due_on`` is fixed where the day is (a concert's
    reflection). ``number`` counts from 1 among ``of`` alike in the same span.
    """

    key: str
    group: str
    kind: str
    holding: str
    cycle: str
    number: int
    of: int
    when: str
    weeks: tuple[int, ...]
    wished: tuple[int, int]
    target: int
    review_minutes: int
    musician_minutes: int
    musicians: int
    review_each: float
    share: float = 1.0
    due_on: date | None = None


@dataclass(frozen=True, slots=True)
class Gap:
    """``second`` lies ``least`` to ``most`` weeks after ``first`` (``most`` None: any)."""

    first: str
    second: str
    least: int
    most: int | None
    code: str


MOVED, OUTSIDE, TOO_NEAR, TOO_LATE, PIN_CLOSED, UNPLACED, CLOSED_NOW, QUIET, WAITING, GONE = (
    "moved", "outside", "too_near", "too_late", "pin_closed", "unplaced", "closed_now", "quiet",
    "waiting", "gone",
)  # fmt: skip
NOTES = {
    MOVED: "it lay in another week before: `was` is its Monday",
    OUTSIDE: "`weeks` weeks outside of where it would best be",
    TOO_NEAR: "`weeks` weeks too near to `other`",
    TOO_LATE: "`weeks` weeks later after `other` than it should be",
    PIN_CLOSED: "it was pinned to a week in which no work can be due",
    UNPLACED: "no week of its span is left for it",
    CLOSED_NOW: "no work can be due in its week any more: plan again",
    QUIET: "it is new work in a week of a concert or festival",
    GONE: "its best weeks had gone by when the plan was drawn up",
    WAITING: "it came after the plan was drawn up, and has no week yet",
}
"""Remarks on a placed item."""


@dataclass(frozen=True, slots=True)
class Note:
    """A remark on an item: a key of ``NOTES`` with what belongs to it."""

    code: str
    weeks: int = 0
    other: str = ""
    was: date | None = None


@dataclass(frozen=True, slots=True)
class Placed:
    """An item in a week (index), due on a day, with notes; week and day None where none is left."""

    item: Item
    week: int | None
    due_on: date | None
    pinned: bool = False
    notes: tuple[Note, ...] = ()


MOVE, SHORTEN, DRAW = "move", "shorten", "draw"
OPTIONS = {
    MOVE: "move one item to another week, which then needs `minutes_there`",
    SHORTEN: "ask less: so many minutes of review for each musician instead of so many",
    DRAW: "review some, drawn by lot, instead of all",
}
"""Ways out of a week with too many hours."""


@dataclass(frozen=True, slots=True)
class Option:
    """One way out, computed. ``minutes`` is what the week needs afterwards.

    ``to_week`` and ``minutes_there`` belong to a move; ``each_from`` and ``each_to`` are minutes of
    review a musician; ``n`` of ``of`` musicians are reviewed by draw. ``enough`` says whether
    this alone brings the week under its minutes.
    """

    code: str
    item: str
    minutes: int
    enough: bool
    to_week: int | None = None
    minutes_there: int = 0
    each_from: float = 0.0
    each_to: float = 0.0
    n: int = 0
    of: int = 0


@dataclass(frozen=True, slots=True)
class Overload:
    """Weeks ``first`` to ``last`` (indexes) that need more minutes than the director has.

    ``unavoidable``: the items allowed nowhere else alone need so much, told by arithmetic before
    any search. ``options`` are ways out, what is enough alone first.
    """

    first: int
    last: int
    needed: int
    available: int
    unavoidable: bool
    items: tuple[str, ...]
    options: tuple[Option, ...] = ()


@dataclass(frozen=True, slots=True)
class Heavy:
    """A week (index) in which a group's work asks more of one musician than it should, minutes."""

    week: int
    group: str
    minutes: int
    most: int


@dataclass(frozen=True, slots=True)
class Coverage:
    """A standard, and the items of a group that serve it; ``kinds`` could, where none does."""

    group: str
    standard: str
    items: tuple[str, ...]
    kinds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class YearPlan:
    """A planned year.

    ``minutes`` are the director's minutes of review by week index; ``kept`` and ``compared`` count
    the items that stay where they were in the plan before. ``cost`` has no unit; ``bound`` is
    proved: no plan of this request costs less. ``proved`` says that none is better.
    """

    weeks: tuple[Week, ...]
    items: tuple[Placed, ...]
    gaps: tuple[Gap, ...]
    minutes: tuple[int, ...]
    overloads: tuple[Overload, ...]
    heavy: tuple[Heavy, ...]
    coverage: tuple[Coverage, ...]
    kept: int
    compared: int
    cost: int
    bound: int
    proved: bool
    n_variables: int
