"""Finding the part that a person names on the command line."""

from __future__ import annotations

import re
import unicodedata

from standlight.errors import StandlightError
from standlight.score import Part, Score

_MOST_LISTED = 40
"""A sentence names so many parts at most."""

_SIGNS = str.maketrans({"♭": "b", "♯": "#"})

_SPELLED = (
    (re.compile(r"\b([a-g])[ -]flat\b"), r"\1b"),
    (re.compile(r"\b([a-g])[ -]sharp\b"), r"\1#"),
)
"""A flat or sharp in words, and as it is typed."""


def part_named(score: Score, words: str) -> Part:
    """The part with this index (from 0) or name.

    Upper and lower case, accents and ways to write a flat or a sharp are alike, but a name that
    is the same to the letter goes first. Raises `StandlightError` when there is none, or several
    by that name.
    """
    if words.isdecimal():
        if int(words) < len(score.parts):
            return score.parts[int(words)]
        raise StandlightError(
            f"the score has parts 0 to {len(score.parts) - 1}, not {words}", slip="counted from 1?"
        )
    found = [part for part in score.parts if part.name == words]
    found = found or [part for part in score.parts if folded(part.name) == folded(words)]
    if len(found) == 1:
        return found[0]
    if found:
        indexes = ", ".join(str(part.index) for part in found)
        raise StandlightError(
            f"{len(found)} parts are called {words!r}", slip=f"use an index: {indexes}"
        )
    names = ", ".join(part.name for part in score.parts[:_MOST_LISTED])
    raise StandlightError(f"no part is called {words!r}", slip=f"there are: {names}")


def folded(name: str) -> str:
    """A printed name without what people type differently: case, accents, flats, sharps, spaces.

    >>> folded("Clarinet in B♭"), folded("E-flat  Clarinet"), folded("Flûte")
    ('clarinet in bb', 'eb clarinet', 'flute')
    """
    apart = unicodedata.normalize("NFKD", name.translate(_SIGNS))
    plain = "".join(letter for letter in apart if not unicodedata.combining(letter)).casefold()
    for pattern, typed in _SPELLED:
        plain = pattern.sub(typed, plain)
    return " ".join(plain.split())
