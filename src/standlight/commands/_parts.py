"""Finding the part that a person names on the command line."""

from __future__ import annotations

from standlight.errors import StandlightError
from standlight.score import Part, Score


def part_named(score: Score, words: str) -> Part:
    """The part with this index (from 0) or name, upper and lower case alike.

    Raises `StandlightError` when there is none, or several by that name.
    """
    if words.isdecimal():
        if int(words) < len(score.parts):
            return score.parts[int(words)]
        raise StandlightError(
            f"the score has parts 0 to {len(score.parts) - 1}, not {words}", slip="counted from 1?"
        )
    wanted = " ".join(words.lower().split())
    found = [part for part in score.parts if part.name.lower() == wanted]
    if len(found) == 1:
        return found[0]
    if found:
        indexes = ", ".join(str(part.index) for part in found)
        raise StandlightError(
            f"{len(found)} parts are called {words!r}", slip=f"use an index: {indexes}"
        )
    names = ", ".join(part.name for part in score.parts[:40])
    raise StandlightError(f"no part is called {words!r}", slip=f"there are: {names}")
