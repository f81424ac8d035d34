"""The frozen values of the Desk's pages."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field

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


@dataclass(frozen=True, slots=True)
class Offer:
    """A line of the comment bank, offered for one place; ``key`` accepts it."""

    pk: int
    place: str
    text: str
    key: str = ""


@dataclass(frozen=True, slots=True)
class AnswerDraft:
    """What stands in the answer's fields; measures are 0-based indexes in the piece."""

    strength: str = ""
    next_step: str = ""
    strategy: str = ""
    first_measure: int | None = None
    last_measure: int | None = None


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
    """How much is left, and who is next."""

    left: int
    minutes: int
    next_pk: int | None
    next_take: DeskTake | None


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
    draft: AnswerDraft
    measures: tuple[MeasureChoice, ...]
    remarks: tuple[SaidRemark, ...]
    foot: QueueFoot


@dataclass(frozen=True, slots=True)
class ListedTurn:
    """One musician on the list of a check."""

    name: str
    state: str
    turn_pk: int | None
    live: bool


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
