"""The frozen values of the Desk's pages."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field

from standlight.programme.queries.answer_values import Answering
from standlight.programme.queries.desk_questions import DeskPanel
from standlight.programme.queries.measure_times import MeasureTime
from standlight.programme.queries.reading_marks import Readings
from standlight.ratings import level_name


@dataclass(frozen=True, slots=True)
class LevelChoice:
    """One answer a rater may give: stored value, word, key on the keyboard, what it sounds like."""

    value: str
    word: str
    key: str
    descriptor: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class CriterionRow:
    """A criterion as a row of levels; ``fits`` is false when the instrument cannot show it."""

    key: str
    name: str
    question: str
    choices: tuple[LevelChoice, ...]
    given: str
    fits: bool
    own_word: str = ""
    by_ear: str = ""

    @property
    def given_word(self) -> str:
        """The level in words, empty before one is given."""
        return level_name(self.given) if self.given else ""


@dataclass(frozen=True, slots=True)
class DeskTake:
    """A take to hear: its key, where the sound starts, and what should be said about it."""

    key: str
    label: str
    start_s: float
    seconds: float | None
    made_by_machine: bool
    playable: bool
    state_words: str = ""
    measures: tuple[MeasureTime, ...] = ()


@dataclass(frozen=True, slots=True)
class LoopChoice:
    """A measure to loop: where it sounds in this take and, if that is known, in the earlier one."""

    index: int
    printed: str
    take_from_s: float
    take_to_s: float
    earlier_from_s: float | None = None
    earlier_to_s: float | None = None


@dataclass(frozen=True, slots=True)
class Offer:
    """A line of the comment bank, offered for one place; ``key`` accepts it.

    ``about`` names criterion and level; ``template`` is the text while measures can be chosen.
    """

    pk: int
    place: str
    text: str
    key: str = ""
    about: str = ""
    template: str = ""


@dataclass(frozen=True, slots=True)
class MeasureChoice:
    """A measure of the passage: 0-based index in the piece and the number printed on paper."""

    index: int
    printed: str


@dataclass(frozen=True, slots=True)
class SaidRemark:
    """A remark on measures: who, where in printed numbers, words."""

    author: str
    where: str
    words: str


@dataclass(frozen=True, slots=True)
class QueueFoot:
    """How much is left, who is next and in which check, in which order; when to rest.

    ``criterion`` is the one that takes are heard for, empty for all at once; ``check_pk`` the
    check of the sitting, which a take among the others need not be of.
    """

    left: int
    minutes: int
    next_pk: int | None
    next_check_pk: int
    next_take: DeskTake | None
    check_pk: int
    criterion: str = ""
    order: str = ""
    blind: bool = False
    minutes_without_rest: int | None = None


@dataclass(frozen=True, slots=True)
class OtherCheck:
    """Another check with takes waiting."""

    pk: int
    title: str
    ensemble: str
    waiting: int


@dataclass(frozen=True, slots=True)
class DeskPage:
    """Everything the Desk shows for one turn."""

    check_pk: int
    turn_pk: int
    title: str
    piece: str
    ensemble: str
    singing: bool
    musician: str
    section: str
    attempt: int
    way: str
    passage: str
    music: str
    music_narrow: str
    no_music: str
    take: DeskTake | None
    on_its_way: bool
    by_ear_only: bool
    together: bool
    tuned_to: str
    earlier: tuple[DeskTake, ...]
    rows: tuple[CriterionRow, ...]
    saved: bool
    answered: bool
    readings: Readings | None
    words: str
    own_rating: bool
    accommodation: str
    changed_goal: str
    other_raters: tuple[str, ...]
    offers: dict[str, tuple[Offer, ...]]
    offered_for: str
    answering: Answering | None
    measures: tuple[MeasureChoice, ...]
    remarks: tuple[SaidRemark, ...]
    foot: QueueFoot
    query: str = ""
    moves_on: bool = False
    compared: DeskTake | None = None
    panel: DeskPanel | None = None
    cautions: tuple[str, ...] = ()

    @property
    def loops(self) -> tuple[LoopChoice, ...]:
        """The measures that can be looped; none where nobody knows when they sound."""
        here = self.take.measures if self.take else ()
        there = {row.index: row for row in self.compared.measures} if self.compared else {}
        return tuple(
            LoopChoice(
                row.index,
                row.printed,
                row.from_s,
                row.to_s,
                there[row.index].from_s if row.index in there else None,
                there[row.index].to_s if row.index in there else None,
            )
            for row in here
        )


@dataclass(frozen=True, slots=True)
class ListedTurn:
    """One musician on the list of a check."""

    name: str
    state: str
    turn_pk: int | None
    live: bool
    note: str = ""


@dataclass(frozen=True, slots=True)
class ListedSection:
    """A section of that list."""

    name: str
    musicians: tuple[ListedTurn, ...]


@dataclass(frozen=True, slots=True)
class CheckList:
    """A check's musicians by section with their states."""

    check_pk: int
    title: str
    ensemble: str
    due_on: datetime.date
    waiting: int
    sections: tuple[ListedSection, ...] = field(default=())
