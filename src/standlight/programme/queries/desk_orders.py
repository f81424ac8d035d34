"""In which order takes come at the Desk, and the codes that stand for names.

An order is drawn from a seed and keys alone: what was heard in a take has no way in.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from standlight.programme.models import DeskSitting

LETTERS = "BCDFGHJKLMNPQRSTVWXZ"
"""Consonants alone, so that a code is never a word."""

COMMON_IN = 8
"""One take in eight is rated by every director: 12.5 percent, within the 10 to 15 asked for."""

FEWEST_FOR_AGAIN = 6
"""With fewer takes a repeat would be recognised; our choice."""

AGAIN_WITHIN = 40
"""Repeats come within this many takes, or a sitting that is cut short has none; our choice."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """A turn in the queue: its key, its musician's, the section's order and the place in it."""

    pk: int
    musician_pk: int
    section: int
    place: int


@dataclass(frozen=True, slots=True)
class Queue:
    """Turns in order; ``criterion`` is the one they are heard for, empty for all at once."""

    turns: tuple[int, ...]
    criterion: str = ""


def arranged(
    rows: Iterable[Waiting],
    sitting: DeskSitting | None,
    criteria: Sequence[str],
    held: Mapping[int, Collection[str]],
) -> Queue:
    """The queue of the ``rows``; ``held`` are the criteria each turn has this rater's level for.

    One criterion at a time: everyone who has none yet for the first criterion, then for the next,
    each time shuffled anew; when all have all, the takes come once more to be answered.
    """
    rows = list(rows)
    if sitting is None:
        return Queue(_by_roster(rows))
    if sitting.order == DeskSitting.CRITERION:
        for criterion in criteria:
            open_rows = [row for row in rows if criterion not in held.get(row.pk, ())]
            if open_rows:
                return Queue(_shuffled(open_rows, sitting.seed, criterion), criterion)
    if sitting.order != DeskSitting.SECTION:
        return Queue(_shuffled(rows, sitting.seed))
    if sitting.blind:
        # The roster's order inside a section would tell who it is.
        order = {pk: n for n, pk in enumerate(_shuffled(rows, sitting.seed))}
        return Queue(tuple(r.pk for r in sorted(rows, key=lambda r: (r.section, order[r.pk]))))
    return Queue(_by_roster(rows))


def _by_roster(rows: Iterable[Waiting]) -> tuple[int, ...]:
    """Section order, and inside a section the roster's."""
    return tuple(row.pk for row in sorted(rows, key=lambda row: (row.section, row.place, row.pk)))


def _shuffled(rows: Iterable[Waiting], seed: int, word: str = "") -> tuple[int, ...]:
    """An order that the seed and the keys alone decide; leaving one out moves no other."""
    return tuple(row.pk for row in sorted(rows, key=lambda row: drawn(seed, word, row.pk)))


def drawn(*words: object) -> int:
    """A number below 2**64 that the words alone decide.

    >>> drawn(7, "rhythm", 3) == drawn(7, "rhythm", 3) != drawn(8, "rhythm", 3)
    True
    """
    text = " ".join(str(word) for word in words)
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "big")


def code_of(seed: int, musician_pk: int) -> str:
    """What stands for a musician's name in one sitting: two letters and three digits.

    >>> code = code_of(7, 12)
    >>> len(code), code == code_of(7, 12), code == code_of(8, 12)
    (6, True, False)
    """
    number, digits = divmod(drawn("code", seed, musician_pk), 1000)
    number, first = divmod(number, len(LETTERS))
    return f"{LETTERS[first]}{LETTERS[number % len(LETTERS)]} {digits:03}"


def is_common(check_pk: int, turn_pk: int) -> bool:
    """True for the one take in ``COMMON_IN`` that every director of the check rates."""
    return drawn("common", check_pk, turn_pk) % COMMON_IN == 0


def places_again(n_again: int, n_waiting: int, seed: int) -> tuple[int, ...]:
    """After how many takes each of ``n_again`` repeats comes: spread, not to be guessed.

    >>> places_again(2, 5, 1)
    ()
    >>> one, two = places_again(2, 150, 1)
    >>> 0 < one < two < AGAIN_WITHIN
    True
    """
    span = min(n_waiting, AGAIN_WITHIN)
    if n_waiting < FEWEST_FOR_AGAIN:
        return ()
    step = span / (n_again + 1)
    return tuple(
        max(1, round(step * (n + 0.6) + step * 0.8 * (drawn("again", seed, n) / 2**64)))
        for n in range(n_again)
    )
