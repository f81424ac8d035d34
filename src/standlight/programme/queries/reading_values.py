"""The frozen values of one sheet on the Desk's reading side."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from standlight.programme.queries.desk_values import LevelChoice, Offer
from standlight.programme.queries.reading_answers import Shown
from standlight.ratings import level_name


@dataclass(frozen=True, slots=True)
class RubricRow:
    """A row of levels to give; ``given`` is this rater's own."""

    key: str
    name: str
    question: str
    choices: tuple[LevelChoice, ...]
    given: str

    @property
    def given_word(self) -> str:
        """The level in words, empty before one is given."""
        return level_name(self.given) if self.given else ""


@dataclass(frozen=True, slots=True)
class ReplyDraft:
    """What stands in the two lines of a reply."""

    words: str = ""
    next_step: str = ""


@dataclass(frozen=True, slots=True)
class OtherSheet:
    """Another sheet of the same musician for the same work."""

    key: UUID
    what: str


@dataclass(frozen=True, slots=True)
class ReadingFoot:
    """Where this sheet stands in its stack, and what lies beside it."""

    place: int
    sent: int
    unread: int
    previous: UUID | None
    following: UUID | None


@dataclass(frozen=True, slots=True)
class WallState:
    """Whether the owner shares the sheet with the group, and whether it is on the wall."""

    ensemble_pk: int
    agreed: bool
    on_wall: bool


@dataclass(frozen=True, slots=True)
class ReadingPage:
    """One sheet with everything a director needs to read and answer it."""

    assignment_pk: int
    key: UUID
    title: str
    ensemble: str
    kind: str
    what: str
    step: str
    piece: str
    piece_pk: int | None
    musician: str
    section: str
    sent: str
    opened: str
    accommodation: str
    changed_goal: str
    read_by: str
    answers: tuple[Shown, ...]
    rows: tuple[RubricRow, ...]
    other_raters: tuple[str, ...]
    offers: dict[str, tuple[Offer, ...]]
    draft: ReplyDraft
    replied: str
    seen: str
    others: tuple[OtherSheet, ...]
    wall: WallState | None
    has_sound: bool
    foot: ReadingFoot
