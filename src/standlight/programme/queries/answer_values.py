"""The frozen values of an answer at the Desk: what stands in its form, and around it."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field

from standlight.programme.models import AnswerSound


@dataclass(frozen=True, slots=True)
class AnswerDraft:
    """What stands in the answer's fields; measures are 0-based indexes in the piece.

    ``first_measure`` and ``last_measure`` belong to the next step, ``places`` to the other lines;
    ``voice`` is the key of a kept recording, ``caption`` what it says in writing.
    """

    strength: str = ""
    next_step: str = ""
    strategy: str = ""
    first_measure: int | None = None
    last_measure: int | None = None
    places: Mapping[str, tuple[int | None, int | None]] = field(default_factory=dict)
    voice: str = ""
    caption: str = ""


@dataclass(frozen=True, slots=True)
class Said:
    """An answer that stands or stood: whose, when, its words in a row, and whether it was sent."""

    by: str
    at: datetime.datetime
    words: str
    was_sent: bool = True


@dataclass(frozen=True, slots=True)
class Spoken:
    """A kept recording: its key, how long it is, and its line in writing."""

    key: str
    seconds: int
    caption: str = ""


@dataclass(frozen=True, slots=True)
class Answering:
    """The answer's part of the Desk's page.

    ``stamp`` goes with the form, so that what another window wrote meanwhile is told.
    ``opened`` says whether the musician has read what was sent; ``plan`` is what they wrote about
    this answer or, on a further try, about the one before. ``measures_words`` fills a line where
    no measures are chosen; ``longest_s`` is how long a spoken answer may be.
    """

    draft: AnswerDraft
    stamp: str
    kept_by: str
    voice: Spoken | None
    needs_caption: bool
    language: str
    opened: str
    plan: tuple[str, ...]
    earlier: tuple[Said, ...]
    measures_words: str
    longest_s: int = AnswerSound.LONGEST_S
