"""What the pages of talks show: frozen values."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from standlight.programme.queries.talks_rules import TalkReason
from standlight.programme.queries.talks_views import ActRow


@dataclass(frozen=True, slots=True)
class TalkRow:
    """A musician in the list, and what each rule says of them."""

    musician_pk: int
    name: str
    reasons: tuple[TalkReason, ...]


@dataclass(frozen=True, slots=True)
class StepLine:
    """One agreed step; ``overdue`` when its day has come and nobody said that it is done."""

    pk: int
    words: str
    due_on: datetime.date
    done_at: datetime.datetime | None
    overdue: bool
    musician_pk: int = 0
    name: str = ""


Sections = tuple[tuple[str, tuple[TalkRow, ...]], ...]
"""Rows of musicians by section."""


@dataclass(frozen=True, slots=True)
class CommonRule:
    """A rule that names ``n`` of the ``n_here`` of a group: more than talks could be held with."""

    name: str
    n: int
    n_here: int


@dataclass(frozen=True, slots=True)
class TalkGroup:
    """An ensemble: who may need a talk, by section, then by name; steps whose day has come.

    ``folded`` are those of whom nothing is said but what is ``common`` here.
    """

    pk: int
    name: str
    sections: Sections
    steps: tuple[StepLine, ...]
    people: tuple[tuple[str, tuple[tuple[int, str], ...]], ...]
    common: tuple[CommonRule, ...] = ()
    folded: Sections = ()

    @property
    def n_folded(self) -> int:
        """How many are folded away."""
        return sum(len(rows) for _, rows in self.folded)


@dataclass(frozen=True, slots=True)
class ShownRule:
    """A rule to look at alone, and how many musicians it names; ``chosen`` is what is shown."""

    name: str
    address: str
    n: int
    chosen: bool


@dataclass(frozen=True, slots=True)
class TalksPage:
    """The place: an entry for each ensemble, and which rules are switched off."""

    groups: tuple[TalkGroup, ...]
    rules: tuple[ShownRule, ...]
    off: tuple[str, ...]
    reads_all: bool


@dataclass(frozen=True, slots=True)
class RuleLine:
    """One rule on the page of rules."""

    code: str
    name: str
    sentence: str
    on: bool


@dataclass(frozen=True, slots=True)
class Block:
    """A few lines under a heading, on one side of the page."""

    heading: str
    lines: tuple[str, ...]
    is_goal: bool = False


@dataclass(frozen=True, slots=True)
class LevelRow:
    """A criterion: the musician's own level and the one given, in words; "" where there is none."""

    criterion: str
    own: str
    given: str


@dataclass(frozen=True, slots=True)
class LevelsTable:
    """The newest answered check and its levels from both sides."""

    title: str
    answered_on: datetime.datetime
    rows: tuple[LevelRow, ...]

    @property
    def has_own(self) -> bool:
        """True when the musician gave a level of their own."""
        return any(row.own for row in self.rows)


@dataclass(frozen=True, slots=True)
class ActsTable:
    """The newest pair of sheets on ensemble acts; rows that part ways are marked."""

    title: str
    said_on: datetime.datetime
    seen_on: datetime.datetime
    rows: tuple[tuple[ActRow, bool], ...]
    n_left_out: int = 0


@dataclass(frozen=True, slots=True)
class AskedLine:
    """That a musician asked for a talk; ``pk`` while it is open.

    ``read`` when a director has read all of it, ``may_take_back`` when none has read any of it;
    ``stamp`` goes with a form, so that words which came later are not closed with it.
    """

    pk: int
    asked_at: datetime.datetime
    words: str
    read: bool
    may_take_back: bool
    stamp: str


@dataclass(frozen=True, slots=True)
class TalkLine:
    """One talk that was held."""

    pk: int
    held_on: datetime.date
    held_by: str
    words: str
    steps: tuple[StepLine, ...]
    musician: str = ""
    ensemble: str = ""


@dataclass(frozen=True, slots=True)
class RestLine:
    """A rule that does not speak of the musician before a day."""

    code: str
    name: str
    until: datetime.date


@dataclass(frozen=True, slots=True)
class BothSides:
    """What a musician says and what was seen: the evidence of one conversation."""

    said: tuple[Block, ...]
    seen: tuple[Block, ...]
    levels: LevelsTable | None
    acts: ActsTable | None


@dataclass(frozen=True, slots=True)
class TalkPage:
    """Everything for one conversation with one musician of one ensemble.

    ``readers`` are the adults who read what is noted here, by name.
    """

    ensemble_pk: int
    ensemble_name: str
    musician_pk: int
    name: str
    section: str
    agreed: str
    today: datetime.date
    reasons: tuple[TalkReason, ...]
    asked: AskedLine | None
    sides: BothSides
    talks: tuple[TalkLine, ...]
    rests: tuple[RestLine, ...]
    safety_contact: str
    readers: tuple[str, ...]

    @property
    def can_rest(self) -> tuple[TalkReason, ...]:
        """The reasons whose rules may be silent about this musician for a time."""
        return tuple(reason for reason in self.reasons if reason.may_rest)


@dataclass(frozen=True, slots=True)
class NotesPage:
    """What a second adult reads: requests with words and notes of talks, the newest first."""

    talks: tuple[TalkLine, ...]
    asked: tuple[tuple[str, str, AskedLine], ...]
    more: int


@dataclass(frozen=True, slots=True)
class MyTalkGroup:
    """One of my groups: who reads what I write there, and whether I have asked already."""

    pk: int
    name: str
    readers: tuple[str, ...]
    asked: AskedLine | None


@dataclass(frozen=True, slots=True)
class MyTalks:
    """A musician's own page of talks; ``may_ask`` is false where the school has switched it off."""

    groups: tuple[MyTalkGroup, ...]
    talks: tuple[TalkLine, ...]
    safety_contact: str
    may_ask: bool
