"""What the pages of Season show, as frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class ItemLine:
    """One piece of work in a week. ``weeks`` are the weeks it may be dragged to, as indexes."""

    pk: int
    name: str
    due_on: date | None
    minutes: int
    weeks: str
    pinned: bool
    marked: bool
    made: bool


@dataclass(frozen=True, slots=True)
class Cell:
    """One group in one week: its work, and why nothing new is due there."""

    group: str
    why: str
    items: tuple[ItemLine, ...]


@dataclass(frozen=True, slots=True)
class WeekRow:
    """One week of every group; minutes as they are, and in words."""

    index: int
    number: int
    monday: date
    why: str
    takes_work: bool
    is_now: bool
    is_past: bool
    minutes: int
    room: int
    hours: str
    is_over: bool
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class WayOut:
    """A way out of an overloaded week that one press takes."""

    words: str
    item_pk: int
    code: str
    monday: date | None
    percent: str
    each: float


@dataclass(frozen=True, slots=True)
class OverloadLine:
    """A week with too many hours, and its ways out."""

    words: str
    ways: tuple[WayOut, ...]


@dataclass(frozen=True, slots=True)
class GaveWay:
    """What gave way at one piece of work."""

    item_pk: int
    name: str
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StandardLine:
    """A standard that no work of a group serves, and what would."""

    groups: str
    code: str
    paraphrase: str
    kinds: str


@dataclass(frozen=True, slots=True)
class SeasonPage:
    """The planned year."""

    plan_pk: int
    starts_on: date
    ends_on: date
    is_drawn: bool
    drawn_at: object
    review_hours: str
    usual_hours: str
    n_items: int
    n_waiting: int
    n_gone: int
    stops: tuple[str, ...]
    looks: tuple[str, ...]
    groups: tuple[str, ...]
    gone: tuple[WeekRow, ...]
    weeks: tuple[WeekRow, ...]
    overloads: tuple[OverloadLine, ...]
    gave_way: tuple[GaveWay, ...]
    heavy: tuple[str, ...]
    n_gave: int
    n_standards: int
    missing: tuple[StandardLine, ...]
    losable: tuple[tuple[str, str], ...]
    lost: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True)
class WeekChoice:
    """A week that an item could be in, with the hours it would then need."""

    monday: date
    words: str
    is_here: bool


@dataclass(frozen=True, slots=True)
class Made:
    """What an item has become: its title and page."""

    title: str
    url_name: str
    pk: int


@dataclass(frozen=True, slots=True)
class ItemPage:
    """One piece of work of the year, with everything that can be done to it."""

    pk: int
    name: str
    group: str
    ensemble_pk: int
    kind: str
    kind_key: str
    week: str
    due_on: date | None
    why: tuple[str, ...]
    notes: tuple[str, ...]
    minutes: str
    pinned: bool
    share: int
    each: str
    is_changed: bool
    is_past: bool
    earlier: date | None
    later: date | None
    choices: tuple[WeekChoice, ...]
    made: Made | None
    again_of: Made | None
    is_check: bool
    pieces: tuple[tuple[int, str], ...]
    checks: tuple[tuple[int, str], ...]
    wants_piece: bool
    wants_sound: bool


@dataclass(frozen=True, slots=True)
class DaysLine:
    """Days that are not like others."""

    pk: int
    sort: str
    words: str
    name: str


@dataclass(frozen=True, slots=True)
class CycleLine:
    """A cycle on the form; ``slip`` and ``fix`` where what was typed cannot stand."""

    pk: int
    ensemble_pk: int
    name: str
    starts_on: str
    concert_on: str
    slip: str = ""


@dataclass(frozen=True, slots=True)
class GroupCycles:
    """One group's cycles."""

    pk: int
    name: str
    cycles: tuple[CycleLine, ...]


@dataclass(frozen=True, slots=True)
class HeldLine:
    """How often something is held."""

    key: str
    name: str
    words: str
    often: int
    is_weeks: bool


@dataclass(frozen=True, slots=True)
class MinutesLine:
    """How long a kind of work takes."""

    key: str
    name: str
    review: str
    asked: int


@dataclass(frozen=True, slots=True)
class CalendarPage:
    """Everything the year is planned from."""

    plan_pk: int
    starts_on: date
    ends_on: date
    review_hours: str
    musician_minutes: int
    stops: tuple[str, ...]
    looks: tuple[str, ...]
    days: tuple[DaysLine, ...]
    sorts: tuple[tuple[str, str], ...]
    groups: tuple[GroupCycles, ...]
    periods: tuple[str, ...]
    held: tuple[HeldLine, ...]
    minutes: tuple[MinutesLine, ...]
