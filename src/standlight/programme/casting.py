"""Who plays which part by default: by instrument, divisi split evenly, percussion in turn. Pure.

The rules are common practice, no source: a section gets the parts written for its
instrument; a section with a number ("Violin 2") gets the parts with that number; several
parts are shared out evenly in the order of names; percussionists move one part on with
every piece, so that nobody holds the triangle all year.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from standlight.score import INSTRUMENTS

_NUMBERS = {
    "1": 1, "2": 2, "3": 3, "4": 4,
    "1st": 1, "2nd": 2, "3rd": 3, "4th": 4,
    "first": 1, "second": 2, "third": 3, "fourth": 4,
    "i": 1, "ii": 2, "iii": 3, "iv": 4,
}  # fmt: skip
"""How scores and section lists write the number of a part."""

PERCUSSION = "percussion"


@dataclass(frozen=True, slots=True)
class PartFacts:
    """What casting needs to know of a part, in score order."""

    pk: int
    name: str
    instrument: str
    n_notes: int


@dataclass(frozen=True, slots=True)
class SectionFacts:
    """What casting needs to know of a section."""

    name: str
    instrument: str


def number_in_name(name: str) -> int | None:
    """The number a part or section carries in its name, ``None`` for none or for two.

    >>> number_in_name("Violin II"), number_in_name("2nd Bb Clarinet"), number_in_name("Flute")
    (2, 2, None)
    """
    words = re.findall(r"[a-z0-9]+", name.lower())
    found = {_NUMBERS[word] for word in words if word in _NUMBERS}
    return found.pop() if len(found) == 1 else None


def parts_for(section: SectionFacts, parts: Sequence[PartFacts]) -> tuple[PartFacts, ...]:
    """The parts that a section may be given by default, in score order; empty when none fits.

    >>> parts = [PartFacts(1, "Clarinet 1", "Clarinet in Bb", 90),
    ...          PartFacts(2, "Clarinet 2", "Clarinet in Bb", 80)]
    >>> [part.pk for part in parts_for(SectionFacts("Clarinet 2", "Clarinet in Bb"), parts)]
    [2]
    """
    if _family(section.instrument) == PERCUSSION:
        fitting = [part for part in parts if _family(part.instrument) == PERCUSSION]
    else:
        fitting = [part for part in parts if part.instrument == section.instrument]
        # A euphonium reads bass or treble clef, a tuba either octave: the same player.
        fitting = fitting or [
            part
            for part in parts
            if part.instrument and _stem(part.instrument) == _stem(section.instrument)
        ]
    number = number_in_name(section.name)
    numbered = [part for part in fitting if number and number_in_name(part.name) == number]
    fitting = numbered or fitting
    sounding = [part for part in fitting if part.n_notes]
    return tuple(sounding or fitting)


def default_parts(
    section: SectionFacts,
    seats: Sequence[int],
    parts: Sequence[PartFacts],
    *,
    given: Mapping[int, int] | None = None,
    turn: int = 0,
) -> dict[int, int]:
    """A part for every seat of ``seats`` (in order of names) that ``given`` does not hold.

    ``given`` maps seats to parts that stay as they are; ``turn`` counts the pieces before
    this one and moves percussion on. A section that no part fits gets nothing.

    >>> parts = [PartFacts(1, "Violin 1", "Violin", 9), PartFacts(2, "Violin 2", "Violin", 9)]
    >>> default_parts(SectionFacts("Violin", "Violin"), [11, 12, 13], parts)
    {11: 1, 12: 1, 13: 2}
    """
    given = given or {}
    fitting = [part.pk for part in parts_for(section, parts)]
    waiting = [seat for seat in seats if seat not in given]
    if not fitting or not waiting:
        return {}
    if _family(section.instrument) == PERCUSSION:
        order = {seat: place for place, seat in enumerate(seats)}
        return {seat: fitting[(order[seat] + turn) % len(fitting)] for seat in waiting}
    if len(waiting) == len(seats):
        shares = [
            len(seats) // len(fitting) + (place < len(seats) % len(fitting))
            for place in range(len(fitting))
        ]
        dealt = [part for part, share in zip(fitting, shares, strict=True) for _ in range(share)]
        return dict(zip(waiting, dealt, strict=True))
    counts = Counter(given[seat] for seat in seats if seat in given)
    chosen: dict[int, int] = {}
    for seat in waiting:
        chosen[seat] = min(fitting, key=lambda part: (counts[part], fitting.index(part)))
        counts[chosen[seat]] += 1
    return chosen


def _family(instrument: str) -> str:
    """The family of an instrument of the table; empty for a name of no table."""
    row = INSTRUMENTS.get(instrument)
    return row.family if row else ""


def _stem(instrument: str) -> str:
    """An instrument's name without what stands in brackets."""
    return instrument.split(" (")[0]
