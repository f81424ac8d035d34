"""What growth is told as: frozen values in rating points, and the codes they speak in. Pure.

A page words a code by its own table; no code here is ever shown as it stands.
"""

from __future__ import annotations

from dataclasses import dataclass

DAYS_A_YEAR = 365.0
"""A slope "a year" is a calendar year's; a school year of nine months holds three quarters."""

LEAST_OCCASIONS = 4
"""Sittings below which no line is drawn: our choice; three leave one degree of freedom."""

RISING, FALLING, AHEAD, BEHIND = "rising", "falling", "ahead", "behind"
COULD_BE_CHANCE, TOO_FEW = "could_be_chance", "too_few"
GROWTH_STATES = {
    RISING: "the own line surely rises (95 percent)",
    FALLING: "the own line surely falls",
    AHEAD: "surely grows more than the group; whether the group grows, nobody can say",
    BEHIND: "surely grows less than the group; whether the group grows, nobody can say",
    COULD_BE_CHANCE: "the own line could be chance",
    TOO_FEW: "too few occasions, or nobody to compare with",
}

NO_ANCHOR, FEW_OCCASIONS, ALONE = "no_anchor", "few_occasions", "alone"
POOLED_ONLY, ALL_HIGHEST, ALL_LOWEST = "pooled_only", "all_highest", "all_lowest"
GROWTH_REASONS = {
    "": "nothing to add",
    NO_ANCHOR: "no passage was asked again far enough apart: places are beside the group's",
    FEW_OCCASIONS: f"fewer than {LEAST_OCCASIONS} occasions, or all at one time",
    ALONE: "fewer than three musicians, and no passage asked again",
    POOLED_ONLY: "sure only when the group's growth is taken into account",
    ALL_HIGHEST: "every level was the highest: growth cannot be seen above it",
    ALL_LOWEST: "every level was the lowest: growth cannot be seen below it",
}

GROWTH_REMARKS = {
    "no_ratings": "no director's level is there",
    "one_level": "every level is the same, so nothing can be told apart",
    "one_rater": "one rater: a change of the rater's own standard looks like growth of the group",
    "no_scale": "the levels are too few to be put on one scale",
    "torn": "one rater gave one take two levels of a criterion; these are left out",
    "no_day": "a level without a day is left out",
    "instrument_changed": "somebody changed the instrument; the lines are not joined",
    "unsettled": "the scale did not settle; read the lines as rough",
}


@dataclass(frozen=True, slots=True)
class GrowthPoint:
    """One take on a line: ``level`` is the mean of what was given, ``fair`` (rating points) has
    task and rater taken out, ``low`` and ``high`` are its 95 percent interval from this take alone.
    """

    day: float
    task: str
    take: str
    level: float
    fair: float
    low: float
    high: float
    n_ratings: int


@dataclass(frozen=True, slots=True)
class Slope:
    """A line in rating points: at its first and last day, and a year with its 95 percent interval.

    ``points_a_year`` is the mean slope from the first day to the last, as a year's.
    """

    start_points: float
    end_points: float
    points_a_year: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class ReliableChange:
    """Last occasion minus first over its standard error (Jacobson & Truax 1991), with occasion
    noise in the error; ``sure`` beyond 1.96.
    """

    first_points: float
    last_points: float
    change_points: float
    low: float
    high: float
    index: float
    sure: bool


@dataclass(frozen=True, slots=True)
class GrowthLine:
    """One musician on one instrument in one ensemble; ``criterion`` is empty for all together.

    ``anchored`` says whether places and slopes stand by themselves; if not, they are beside the
    group's, held flat, and ``state`` says only ahead or behind. ``state`` is a key of
    ``GROWTH_STATES`` and follows the unpooled line; ``because`` is one of ``GROWTH_REASONS``.
    """

    student: str
    ensemble: str
    criterion: str
    instrument: str
    points: tuple[GrowthPoint, ...]
    pooled: Slope | None
    unpooled: Slope | None
    change: ReliableChange | None
    state: str
    because: str
    anchored: bool


@dataclass(frozen=True, slots=True)
class GroupGrowth:
    """The whole ensemble ``key``: growth a year with its interval, or ``None`` because.

    ``anchors`` are the tasks asked again that carry it, ``n_sittings`` how many sittings they had.
    """

    key: str
    criterion: str
    points_a_year: float | None
    low: float | None
    high: float | None
    because: str
    n_students: int
    anchors: tuple[str, ...]
    n_sittings: int


@dataclass(frozen=True, slots=True)
class LateGrowth:
    """A section's own growth a year since ``since_day``, in rating points with a 95 percent
    interval: from the later half of its group's takes alone.
    """

    since_day: float
    points_a_year: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class SectionGrowth:
    """A section's growth a year minus the rest's of its ``ensemble``, with a 95 percent interval.

    ``sure``: less than the rest beyond chance, corrected for all sections of the table. ``own``
    is its growth by itself, ``None`` without an anchor; ``late`` that of the later half, where it
    could be next to nothing and is much less than the rest's growth, else ``None``. ``stopped``:
    sure, and ``own``, where known, could be next to nothing or there is ``late``; without ``own``
    say "less than the rest", not "stopped".
    """

    section: str
    ensemble: str
    criterion: str
    points_a_year: float
    low: float
    high: float
    own: Slope | None
    late: LateGrowth | None
    stopped: bool
    sure: bool
    n_students: int
    n_rest: int


@dataclass(frozen=True, slots=True)
class Growth:
    """All lines, groups and sections of a table; ``remarks`` are keys of ``GROWTH_REMARKS``."""

    lines: tuple[GrowthLine, ...]
    groups: tuple[GroupGrowth, ...]
    sections: tuple[SectionGrowth, ...]
    remarks: tuple[str, ...]
