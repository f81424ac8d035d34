"""How one musician of the demo writes: lines dealt without repeating, in that musician's hand."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from standlight.kinds import words_in

Lines = Sequence[str]

SMALL_SHARE = {6: 0.45, 7: 0.35, 8: 0.35}
"""Share of a grade that writes without capitals; older ones seldom do."""

SMALL_SHARE_OLDER = 0.15
BARE_SHARE = 0.5
"""Share that leaves the last stop out."""


class Decks:
    """Lines of many tables; each line of a table is dealt once before any comes again.

    >>> decks = Decks(np.random.default_rng(1))
    >>> sorted(decks.deal(("a", "b")) for _ in range(2))
    ['a', 'b']
    """

    def __init__(self, rng: np.random.Generator) -> None:
        """Nothing dealt yet; ``rng`` says in which order."""
        self._rng = rng
        self._left: dict[tuple, list] = {}

    def deal(self, lines: Sequence, avoid: str = "") -> object:
        """The next of ``lines``, one without the word ``avoid`` where there is any."""
        key = tuple(lines)
        left = self._left.setdefault(key, [])
        if not any(_fits(line, avoid) for line in left):
            left[:0] = [key[int(place)] for place in self._rng.permutation(len(key))]
        fitting = [place for place, line in enumerate(left) if _fits(line, avoid)]
        return left.pop(fitting[-1] if fitting else -1)


@dataclass(slots=True)
class Pen:
    """One musician writing: ``section`` and school ``grade``, and what all have been dealt."""

    rng: np.random.Generator
    decks: Decks
    grade: int
    section: str
    small: bool = field(init=False)
    bare: bool = field(init=False)

    def __post_init__(self) -> None:
        """Draw the hand that this musician writes."""
        share = SMALL_SHARE.get(self.grade, SMALL_SHARE_OLDER)
        self.small = bool(self.rng.random() < share)
        self.bare = bool(self.rng.random() < BARE_SHARE)

    def deal(self, lines: Sequence) -> object:
        """The next of ``lines`` as it stands; nobody speaks of the own section as of others."""
        return self.decks.deal(lines, self.section.lower().removeprefix("double "))

    def say(self, lines: Lines) -> str:
        """One line in this musician's hand."""
        return self.hand(str(self.deal(lines)))

    def both(self, lines: Lines) -> str:
        """One line, or two of them as one, so that a short table goes a long way."""
        first = str(self.deal(lines))
        if self.maybe(0.5):
            return self.hand(first)
        return self.hand(f"{first.rstrip('.')}, {self._another(lines, [first])}")

    def tell(self, tables: Sequence[Lines], least: int = 0, most: int = 150) -> str:
        """One line of each table in order, then more, the last tables first, to ``least`` words."""
        said = [str(self.deal(lines)) for lines in tables]
        more = 0
        while words_in(" ".join(said)) < least:
            said.append(self._another(tables[-1 - more % len(tables)], said))
            more += 1
        while words_in(" ".join(said)) > most:
            said.pop()
        return self.hand(" ".join(said))

    def pick(self, options: Sequence, least: int, most: int) -> list:
        """From ``least`` to ``most`` of ``options``, in their order."""
        count = int(self.rng.integers(least, most + 1))
        places = self.rng.choice(len(options), size=count, replace=False)
        return [options[int(place)] for place in sorted(places)]

    def one(self, options: Sequence) -> object:
        """Any of ``options``."""
        return options[int(self.rng.integers(len(options)))]

    def between(self, least: int, most: int) -> int:
        """A whole number from ``least`` to ``most``."""
        return int(self.rng.integers(least, most + 1))

    def maybe(self, share: float) -> bool:
        """True with a chance of ``share``."""
        return bool(self.rng.random() < share)

    def hand(self, text: str) -> str:
        """``text`` as this musician would type it."""
        if self.small:
            text = re.sub(r"\bI\b", "i", text)
            text = re.sub(r"(^|[.!?] )([A-Z])(?=[a-z ])", lambda m: m[1] + m[2].lower(), text)
        return text.rstrip(".") if self.bare else text

    def _another(self, lines: Lines, said: Lines) -> str:
        """A line of the table that is not said yet."""
        for _ in lines:
            line = str(self.deal(lines))
            if line not in said:
                return line
        raise ValueError(f"a table of {len(lines)} lines is too short: {lines[0]!r}")


def _fits(line: object, avoid: str) -> bool:
    """True when the word is not in the line."""
    return not avoid or avoid not in str(line).lower()
