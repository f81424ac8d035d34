"""A musician's levels over time as geometry: where each mark and line of a small picture stands.

Numbers go in, coordinates come out; the template draws them. The four levels are the axis; open
marks are what was given, the thin line is the musician's own, the thick one leans on the group.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot, sqrt

from standlight.programme.dates import date_words
from standlight.ratings import LEVEL_NAMES

WIDTH, HEIGHT = 360.0, 196.0
"""The picture in its own units: one unit is one pixel on a phone, so that words stay readable."""

LEFT, RIGHT, TOP, BOTTOM = 82.0, 350.0, 30.0, 164.0
"""Where the levels' words end, the last day stands, level 4 and level 1 (our choice)."""

NAME_FITS = 225.0
"""From here on the longest name of an instrument would run out at the right."""

BAND_STEPS = 8
"""Places along a line where its band is drawn; more cannot be seen at this size."""

DAYS_A_YEAR = 365.25

MARK_WIDTH, MARK_HEIGHT = 30.0, 16.0
STEEPEST_POINTS = 1.5
"""Growth a year, in levels, at which the small mark is as steep as it gets (our choice: more
than a level and a half a year is rare; the mark is for telling apart, not for reading off)."""

NARROW, MIDDLING = 0.5, 1.0
"""Widths of the interval of growth a year, in levels, below which the mark is thick or middling
(our choice: half a level tells rising from falling; over one level tells next to nothing)."""


@dataclass(frozen=True, slots=True)
class GivenMark:
    """One given level (a mean where several were), the day it was played, and words."""

    day: datetime.date
    level: float
    words: str = ""


@dataclass(frozen=True, slots=True)
class LineEnds:
    """A line in levels from its first to its last day, and the growth a year it may have."""

    start: float
    end: float
    low_a_year: float
    high_a_year: float


@dataclass(frozen=True, slots=True)
class PlayedSpan:
    """All that was given on one instrument; a line never runs on into the next span."""

    instrument: str
    given: tuple[GivenMark, ...]
    own: LineEnds | None = None
    leaning: LineEnds | None = None
    middle_slack: float = 0.0


@dataclass(frozen=True, slots=True)
class Dot:
    """An open mark."""

    x: float
    y: float
    words: str


@dataclass(frozen=True, slots=True)
class Stroke:
    """A straight line."""

    x1: float
    y1: float
    x2: float
    y2: float


@dataclass(frozen=True, slots=True)
class AxisWord:
    """A level's word and the height where it stands."""

    word: str
    y: float


@dataclass(frozen=True, slots=True)
class DrawnSpan:
    """One span: its marks, lines and band (the points of a polygon), and where its name stands.

    ``name_ends`` is true where the name must end at ``x``, or it would run out of the picture.
    """

    instrument: str
    x: float
    name_ends: bool
    dots: tuple[Dot, ...]
    own: Stroke | None
    leaning: Stroke | None
    band: str


@dataclass(frozen=True, slots=True)
class GrowthPicture:
    """The whole picture: ``breaks`` are where the instrument changed, ``said`` is it in words."""

    spans: tuple[DrawnSpan, ...]
    breaks: tuple[float, ...]
    axis: tuple[AxisWord, ...]
    first_day: str
    last_day: str
    said: str
    width: float = WIDTH
    height: float = HEIGHT
    left: float = LEFT
    right: float = RIGHT

    @property
    def has_lines(self) -> bool:
        """True when a line is drawn besides the marks."""
        return any(span.own or span.leaning for span in self.spans)

    @property
    def names_shown(self) -> bool:
        """True when more than one instrument was played, so that each part needs its name."""
        return len(self.spans) > 1


@dataclass(frozen=True, slots=True)
class SlopeMark:
    """The small mark beside a name: a line, and how thick it is (1 hardly sure, 3 sure)."""

    line: Stroke
    thickness: int
    words: str
    width: float = MARK_WIDTH
    height: float = MARK_HEIGHT


def height_of(level: float) -> float:
    """Where a level from 1 to 4 stands; what lies outside stands at the edge.

    >>> height_of(4), height_of(1), height_of(0.2)
    (30.0, 164.0, 164.0)
    """
    lowest, highest = min(LEVEL_NAMES), max(LEVEL_NAMES)
    kept = min(max(level, lowest), highest)
    return round(BOTTOM - (BOTTOM - TOP) * (kept - lowest) / (highest - lowest), 1)


def growth_picture(spans: Sequence[PlayedSpan], said: str) -> GrowthPicture | None:
    """The picture of ``spans`` in the order played; ``None`` when nothing was given."""
    spans = [span for span in spans if span.given]
    if not spans:
        return None
    days = [mark.day for span in spans for mark in span.given]
    first, last = min(days), max(days)
    across = _Across(first, max((last - first).days, 1))
    return GrowthPicture(
        spans=tuple(_drawn(span, across) for span in spans),
        breaks=tuple(
            round((across.x(before.given[-1].day) + across.x(after.given[0].day)) / 2, 1)
            for before, after in pairwise(spans)
        ),
        axis=tuple(AxisWord(name, height_of(level)) for level, name in LEVEL_NAMES.items()),
        first_day=date_words(first, seen_from=last),
        last_day=date_words(last, seen_from=last) if last != first else "",
        said=said,
    )


@dataclass(frozen=True, slots=True)
class _Across:
    """Days to places from left to right."""

    first: datetime.date
    n_days: int

    def x(self, day: datetime.date) -> float:
        """Where a day stands; a few units are kept free so that no mark touches the edge."""
        return round(LEFT + 8 + (RIGHT - LEFT - 16) * (day - self.first).days / self.n_days, 1)


def _drawn(span: PlayedSpan, across: _Across) -> DrawnSpan:
    """One span in place."""
    first, last = span.given[0].day, span.given[-1].day
    late = across.x(first) > NAME_FITS
    return DrawnSpan(
        instrument=span.instrument,
        x=RIGHT if late else across.x(first),
        name_ends=late,
        dots=tuple(
            Dot(across.x(mark.day), height_of(mark.level), mark.words) for mark in span.given
        ),
        own=_stroke(span.own, first, last, across),
        leaning=_stroke(span.leaning, first, last, across),
        band=_band(span, first, last, across),
    )


def _stroke(
    ends: LineEnds | None, first: datetime.date, last: datetime.date, across: _Across
) -> Stroke | None:
    """A line between two days; none for a line of one day."""
    if ends is None or first == last:
        return None
    return Stroke(across.x(first), height_of(ends.start), across.x(last), height_of(ends.end))


def _band(span: PlayedSpan, first: datetime.date, last: datetime.date, across: _Across) -> str:
    """The leaning line's band as polygon points.

    Half its height is that of a regression line: the error in the middle and the error of the
    slope, which grows away from the middle, squared and added.
    """
    ends, days = span.leaning, (last - first).days
    if ends is None or not days:
        return ""
    slope_slack = (ends.high_a_year - ends.low_a_year) / 2 * days / DAYS_A_YEAR
    upper, lower = [], []
    for step in range(BAND_STEPS + 1):
        share = step / BAND_STEPS
        level = ends.start + (ends.end - ends.start) * share
        slack = hypot(span.middle_slack, slope_slack * (share - 0.5))
        x = across.x(first) + (across.x(last) - across.x(first)) * share
        upper.append(f"{x:.1f},{height_of(level + slack)}")
        lower.append(f"{x:.1f},{height_of(level - slack)}")
    return " ".join([*upper, *reversed(lower)])


def middle_slack(halves: Sequence[float]) -> float:
    """Half the interval of a mean of points whose own half intervals are ``halves``.

    >>> middle_slack([0.5, 0.5, 0.5, 0.5])
    0.25
    """
    return sqrt(sum(half * half for half in halves)) / len(halves) if halves else 0.0


def slope_mark(points_a_year: float, low: float, high: float, words: str) -> SlopeMark:
    """The small mark of a growth a year with its interval; up is growth.

    >>> slope_mark(0.0, -0.1, 0.1, "steady").line
    Stroke(x1=3.0, y1=8.0, x2=27.0, y2=8.0)
    """
    rise = min(max(points_a_year / STEEPEST_POINTS, -1.0), 1.0) * (MARK_HEIGHT / 2 - 3)
    middle = MARK_HEIGHT / 2
    line = Stroke(3.0, round(middle + rise, 1), MARK_WIDTH - 3, round(middle - rise, 1))
    return SlopeMark(line, _thickness(low, high), words)


INTERVAL_WIDTH, INTERVAL_HEIGHT, WIDEST_LEVELS = 300.0, 22.0, 1.5
"""The picture of a difference in its own units, and the levels its ends stand for."""


@dataclass(frozen=True, slots=True)
class IntervalPicture:
    """A difference on a line whose middle is alike: a mark and how far it may be off."""

    at: float
    low: float
    high: float
    sure: bool
    said: str
    middle: float = INTERVAL_WIDTH / 2
    width: float = INTERVAL_WIDTH
    height: float = INTERVAL_HEIGHT


def interval_picture(
    levels: float, low: float, high: float, sure: bool, said: str
) -> IntervalPicture:
    """Stricter stands to the right; what lies further out stands at the edge.

    >>> interval_picture(0.0, -9, 9, False, "").at, interval_picture(0.0, -9, 9, False, "").low
    (150.0, 4.0)
    """
    places = [
        round(
            INTERVAL_WIDTH / 2
            + (INTERVAL_WIDTH / 2 - 4) * min(max(one / WIDEST_LEVELS, -1.0), 1.0),
            1,
        )
        for one in (levels, low, high)
    ]
    return IntervalPicture(*places, sure, said)


def _thickness(low: float, high: float) -> int:
    """How sure a growth is: 3 when its direction is sure or its interval narrow, 1 when neither
    is near.

    >>> _thickness(0.1, 2.0), _thickness(-0.2, 0.2), _thickness(-0.2, 1.5), _thickness(-1, 1.5)
    (3, 3, 2, 1)
    """
    width = high - low
    if low > 0 or high < 0 or width <= NARROW:
        return 3
    # Off zero but for a quarter of the interval: more likely than not a direction.
    leans = min(-low, high) <= width / 4
    return 2 if leans or width <= MIDDLING else 1
