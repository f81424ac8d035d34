"""Whose file is it? By card code, roster id or name in the file's name, else by order. Pure.

A proposal only: a director hears and settles every row. The rules are our own choice; the
order of the table is the order of trust.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

CODE, ROSTER_ID, NAME, ORDER = "code", "roster_id", "name", "order"
WORDS = {
    CODE: "by the card code in the file's name",
    ROSTER_ID: "by the roster id in the file's name",
    NAME: "by the name in the file's name",
    ORDER: "by order: listen before you keep it",
}
"""How a proposal was found, as the screen says it."""

SHORTEST_ID = 3
"""A roster id shorter than this stands in too many file names ("take 2")."""


@dataclass(frozen=True, slots=True)
class ArrivedFile:
    """A file by its key, its name, and its time as sortable text (empty when not known)."""

    key: int
    name: str
    time: str = ""


@dataclass(frozen=True, slots=True)
class Person:
    """A musician who may be matched."""

    key: int
    code: str
    roster_id: str
    given_name: str
    family_name: str


@dataclass(frozen=True, slots=True)
class Match:
    """Whose file it may be, and by which rule."""

    person: int
    by: str


def words_of(name: str) -> tuple[str, ...]:
    """The words and numbers in a file's name, folded to plain small letters.

    >>> words_of("02 Zoë_Vale-Ruiz (final).m4a")
    ('02', 'zoe', 'vale', 'ruiz', 'final')
    """
    stem = name.rsplit(".", 1)[0] if "." in name else name
    # "MinaOkafor" is two words, "c3d4" is one code.
    parted = re.sub(r"(?<=[a-zà-ÿ])(?=[A-ZÀ-Þ])", " ", stem)
    return tuple(re.findall(r"[a-z0-9]+", _folded(parted)))


def natural(name: str) -> tuple[tuple[int, str], ...]:
    """A key that sorts "take 2" before "take 10".

    >>> sorted(["take 10", "take 2"], key=natural)
    ['take 2', 'take 10']
    """
    return tuple(
        (int(part), "") if part.isdecimal() else (-1, part)
        for part in re.split(r"(\d+)", _folded(name))
        if part
    )


def in_order(files: Sequence[ArrivedFile]) -> list[ArrivedFile]:
    """Files as they were recorded: by time where all have one of their own, else by name.

    >>> [f.key for f in in_order([ArrivedFile(1, "take 10"), ArrivedFile(2, "take 2")])]
    [2, 1]
    """
    times = {file.time for file in files}
    if "" not in times and len(times) == len(files):
        return sorted(files, key=lambda file: file.time)
    return sorted(files, key=lambda file: (natural(file.name), file.key))


def matched(files: Sequence[ArrivedFile], people: Sequence[Person]) -> dict[int, Match]:
    """A proposal for each file whose name tells one of ``people`` and no other.

    ``people`` is the whole roster, those who have sent already included, or a name that two
    share would be given to the one still open. Whom two files name is proposed for neither.

    >>> people = [Person(7, "cdefghjkm", "1001", "Mina", "Okafor")]
    >>> matched([ArrivedFile(1, "okafor mina.mp3"), ArrivedFile(2, "take.mp3")], people)
    {1: Match(person=7, by='name')}
    """
    found: dict[int, Match] = {}
    for by, rule in ((CODE, _by_code), (ROSTER_ID, _by_roster_id), (NAME, _by_name)):
        taken = {match.person for match in found.values()}
        claims: dict[int, list[int]] = {}
        for file in files:
            named = rule(words_of(file.name), people) if file.key not in found else []
            if len(named) == 1 and named[0] not in taken:
                claims.setdefault(named[0], []).append(file.key)
        found |= {keys[0]: Match(who, by) for who, keys in claims.items() if len(keys) == 1}
    return found


def by_order(
    files: Sequence[int], people: Sequence[int], settled: dict[int, int | None]
) -> dict[int, Match]:
    """The people not settled yet beside the files not settled yet, both in their order.

    ``settled`` maps files to somebody, or to nobody for what is left out.

    >>> by_order([1, 2, 3], [7, 8, 9], {2: None, 3: 7})
    {1: Match(person=8, by='order')}
    """
    taken = set(settled.values())
    free = [person for person in people if person not in taken]
    open_files = [file for file in files if file not in settled]
    return {file: Match(who, ORDER) for file, who in zip(open_files, free, strict=False)}


def _folded(text: str) -> str:
    """Small letters without accents."""
    parts = unicodedata.normalize("NFKD", text.casefold())
    return "".join(letter for letter in parts if not unicodedata.combining(letter))


def _by_code(words: tuple[str, ...], people: Sequence[Person]) -> list[int]:
    """The code as one word, or in its printed groups one after the other."""
    joined = "".join(words)
    return [person.key for person in people if person.code and _folded(person.code) in joined]


def _by_roster_id(words: tuple[str, ...], people: Sequence[Person]) -> list[int]:
    return [
        person.key
        for person in people
        if len(person.roster_id) >= SHORTEST_ID
        and _holds(words, words_of(f"{person.roster_id}.x"))
    ]


def _holds(words: tuple[str, ...], wanted: tuple[str, ...]) -> bool:
    """True when ``wanted`` stands in ``words``, one after the other."""
    size = len(wanted)
    return bool(wanted) and any(
        words[at : at + size] == wanted for at in range(len(words) - size + 1)
    )


def _by_name(words: tuple[str, ...], people: Sequence[Person]) -> list[int]:
    """Both names; else the family name, else the given name, of one musician alone."""
    here = set(words)

    def named(*names: str) -> bool:
        wanted = {word for name in names for word in words_of(f"{name}.x")}
        return bool(wanted) and wanted <= here

    for names in (
        lambda person: (person.given_name, person.family_name),
        lambda person: (person.family_name,),
        lambda person: (person.given_name,),
    ):
        keys = [person.key for person in people if named(*names(person))]
        if keys:
            return keys
    return []
