"""What a scenario of the demo is made of: frozen values, no database, dates already set."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from standlight.demo.manner import Manner


@dataclass(frozen=True, slots=True)
class DirectorPlan:
    """A director: ``key`` in the scenario, the name that signs in, the name that is shown."""

    key: str
    sign_in: str
    shown_name: str
    is_lead: bool


@dataclass(frozen=True, slots=True)
class SectionPlan:
    """A section: its name, its instrument (a name of the instruments table), how many sit in it."""

    name: str
    instrument: str
    size: int


@dataclass(frozen=True, slots=True)
class GroupPlan:
    """A group and its sections in concert order; ``grades`` the school grades it draws from."""

    key: str
    name: str
    kind: str
    period: int
    minutes: int
    director: str
    grades: tuple[int, ...]
    sections: tuple[SectionPlan, ...]


@dataclass(frozen=True, slots=True)
class SeatPlan:
    """Where a musician sits; ``joined_on`` only for one who came late."""

    group: str
    section: str
    joined_on: date | None = None
    voice_changing: bool = False
    comfort_midi: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class MusicianPlan:
    """One invented musician; ``way`` is ``record``, ``live_only`` or ``neither``."""

    roster_id: str
    given_name: str
    family_name: str
    grade: int
    seats: tuple[SeatPlan, ...]
    way: str = "record"
    accommodation: str = ""
    changed_goal: str = ""


@dataclass(frozen=True, slots=True)
class PiecePlan:
    """A piece in a group's folder; ``file`` in demo/music, ``None`` when it exists on paper only.

    ``casting`` gives a section's part names, dealt out in seat order from ``turn`` on.
    """

    key: str
    group: str
    title: str
    composer: str
    credit: str
    file: str | None
    casting: tuple[tuple[str, tuple[str, ...]], ...] = ()
    turn: int = 0


@dataclass(frozen=True, slots=True)
class CheckPlan:
    """A playing check; ``measures`` (0-based, inclusive) for every part, or only ``printed``."""

    key: str
    group: str
    piece: str
    title: str
    criteria: tuple[str, ...]
    tempo_qpm: float
    due_on: date
    published_at: datetime
    measures: tuple[int, int] | None
    printed: str
    reason: str
    asks_self_rating: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class AnswerPlan:
    """What the director wrote back; ``measures`` are 0-based in the piece."""

    next_step: str
    strength: str = ""
    strategy: str = ""
    measures: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class TurnPlan:
    """What a musician sent for a check; times are local, without a zone.

    ``manner`` is ``None`` when there is no recording (live). ``levels`` maps a criterion
    to ``"1"`` to ``"4"`` or a word; empty while the turn waits. ``words`` came with it.
    """

    check: str
    roster_id: str
    attempt: int
    way: str
    sent_at: datetime | None
    manner: Manner | None = None
    self_levels: tuple[tuple[str, int], ...] = ()
    words: str = ""
    excused: bool = False
    levels: tuple[tuple[str, str], ...] = ()
    answer: AnswerPlan | None = None
    rated_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class RemarkPlan:
    """Words about measures (0-based) of a piece, by a musician's roster id or a director's key."""

    piece: str
    author: str
    first_measure: int
    last_measure: int
    words: str
    made_at: datetime


@dataclass(frozen=True, slots=True)
class PeriodPlan:
    """A marking period."""

    name: str
    starts_on: date
    ends_on: date


@dataclass(frozen=True, slots=True)
class CommentPlan:
    """A line of the comment bank: criterion, place, the level at which it is offered, words."""

    criterion: str
    place: str
    level: int
    text: str


@dataclass(frozen=True, slots=True)
class Scenario:
    """A whole invented year up to ``today``; the same day and seed give the same scenario.

    ``ability`` is where each musician stands (roster id, standard normal).
    """

    today: date
    school: str
    safety_contact: str
    year_name: str
    year_starts_on: date
    year_ends_on: date
    cycle_name: str
    cycle_starts_on: date
    concert_on: date
    directors: tuple[DirectorPlan, ...]
    groups: tuple[GroupPlan, ...]
    musicians: tuple[MusicianPlan, ...]
    pieces: tuple[PiecePlan, ...]
    checks: tuple[CheckPlan, ...]
    turns: tuple[TurnPlan, ...]
    remarks: tuple[RemarkPlan, ...]
    periods: tuple[PeriodPlan, ...]
    comments: tuple[CommentPlan, ...]
    ability: tuple[tuple[str, float], ...]

    def members(self, group: str) -> tuple[tuple[MusicianPlan, SeatPlan], ...]:
        """Musicians of a group with their seat there, in seating order."""
        return tuple((m, seat) for m in self.musicians for seat in m.seats if seat.group == group)
