"""What a walk through a part yields: drafts of notes, measures, signs; its units of time."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache

from lxml import etree

from standlight.score.values import Remark

QUARTERS_OF_TYPE = {
    "maxima": Fraction(32),
    "long": Fraction(16),
    "breve": Fraction(8),
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    "16th": Fraction(1, 4),
    "32nd": Fraction(1, 8),
    "64th": Fraction(1, 16),
    "128th": Fraction(1, 32),
    "256th": Fraction(1, 64),
    "512th": Fraction(1, 128),
    "1024th": Fraction(1, 256),
}
"""Length in quarters of each MusicXML note type, without dots."""


@dataclass(slots=True, eq=False)
class Draft:
    """A note under way: ties still lengthen it. Times in ticks from its measure's start."""

    measure: int
    tick: int
    ticks: int
    midi: int | None
    written: int | None
    drum: str | None
    voice: str
    staff: int
    marks: set[str]
    element: etree._Element
    end_measure: int
    end_tick: int
    lyric: str | None = None


@dataclass(slots=True)
class SignDraft:
    """A `Sign` under way, in ticks from the starts of its measures."""

    kind: str
    measure: int
    tick: int
    end_measure: int
    end_tick: int
    staff: int = 1
    count: int = 0


@dataclass(slots=True)
class Signs:
    """The repeats, endings and jumps at one measure, whichever part shows them."""

    forward: bool = False
    backward_times: int | None = None
    ending: tuple[int, ...] = ()
    ending_stops: bool = False
    segno: bool = False
    coda: bool = False
    to_coda: bool = False
    fine: bool = False
    da_capo: bool = False
    dal_segno: bool = False
    final_bar: bool = False


@dataclass(slots=True)
class WalkedMeasure:
    """One measure as one part shows it; lengths in ticks, ``nominal`` None without a meter."""

    printed: str | None
    implicit: bool
    content: int = 0
    nominal: int | None = None
    beats: int = 4
    beat_unit: int = 4
    rehearsal: str | None = None
    heading: str = ""
    signs: Signs = field(default_factory=Signs)


@dataclass(slots=True)
class PartIdentity:
    """What the part list says of a part: its name, and the drums by instrument id."""

    name: str = ""
    drums: dict[str, str] = field(default_factory=dict)
    unpitched: bool = False


@dataclass(slots=True)
class PartWalk:
    """Everything one walk found; ``tempos`` and ``dynamics`` as (measure, tick, value).

    ``tempo_beats`` are (measure, tick, quarters of the printed beat unit); ``keys`` are
    (measure, fifths); ``rests`` are the printed ones as (measure, tick, ticks, staff, voice).
    """

    drafts: list[Draft] = field(default_factory=list)
    measures: list[WalkedMeasure] = field(default_factory=list)
    tempos: list[tuple[int, int, float]] = field(default_factory=list)
    dynamics: list[tuple[int, int, int, str]] = field(default_factory=list)
    tempo_beats: list[tuple[int, int, Fraction]] = field(default_factory=list)
    keys: list[tuple[int, int]] = field(default_factory=list)
    signs: list[SignDraft] = field(default_factory=list)
    rests: list[tuple[int, int, int, int, str]] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)
    transposition: int = 0
    staves: int = 1


LONGEST_NUMBER = 12
"""Digits before or after the point that a number may have: no score needs more, and one of
many thousand (or "1e999999999") would keep a machine busy for hours (our choice)."""

_PLAIN_NUMBER = re.compile(
    rf"[+-]?(?:\d{{1,{LONGEST_NUMBER}}}(?:\.\d{{0,{LONGEST_NUMBER}}})?|\.\d{{1,{LONGEST_NUMBER}}})",
    re.ASCII,
)
"""XML Schema, type ``decimal``, which MusicXML uses: without exponent."""


@lru_cache(maxsize=4096)  # a score says the same few numbers many thousand times
def number_in(text: str | None) -> Fraction | None:
    """The exact number a text holds, ``None`` when it holds none.

    >>> number_in(" 1.5 "), number_in("three"), number_in("1e999999999")
    (Fraction(3, 2), None, None)
    """
    plain = (text or "").strip()
    return Fraction(plain) if _PLAIN_NUMBER.fullmatch(plain) else None


def whole_in(text: str) -> int | None:
    """The whole number that ``text`` is, digits only; ``None`` for anything else.

    >>> whole_in("33"), whole_in("X1"), whole_in("\N{SUPERSCRIPT TWO}")
    (33, None, None)
    """
    return int(text) if text.isdecimal() and len(text) <= LONGEST_NUMBER else None
