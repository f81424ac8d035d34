"""Fill-ins of a comment line: the same words for everyone, with this musician's own places in them.

A line such as "Count aloud in {measures} at {tempo}" is kept once in the bank; what stands in its
braces is filled in when the line is taken or sent.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from standlight.errors import StandlightError

FILL_INS = {
    "name": "the musician's given name",
    "part": "their part",
    "measures": "the measures chosen beside the line, or else the passage",
    "tempo": "the tempo of the check",
}
"""What may stand in braces, and what takes its place."""

_BRACED = re.compile(r"\{([^{}]*)\}")


@dataclass(frozen=True, slots=True)
class Facts:
    """What fills the braces for one turn; ``None`` leaves them standing.

    ``measures`` is what stands there when no measures are chosen ("measures 33 to 40", "letter B",
    "your passage").
    """

    name: str | None
    part: str | None
    measures: str | None
    tempo: str | None

    def at(self, measures: str | None) -> Facts:
        """The same with other ``measures``; ``None`` or nothing keeps those of the passage."""
        return replace(self, measures=measures) if measures else self

    def without(self, *left: str) -> Facts:
        """The same with some left standing in their braces."""
        return replace(self, **dict.fromkeys(left))


def fill_in(text: str, facts: Facts) -> str:
    """``text`` with its braces filled; a sentence that begins with one begins with a capital.

    >>> mine = Facts("Mina", "Clarinet 2", "measures 33 to 40", "quarter note 96")
    >>> fill_in("{name}, count aloud in {measures}.", mine)
    'Mina, count aloud in measures 33 to 40.'
    >>> fill_in("{measures}: slowly, then at {tempo}.", mine.at("measure 35"))
    'Measure 35: slowly, then at quarter note 96.'
    >>> fill_in("{measures}: breathe {before}.", mine.without("measures"))
    '{measures}: breathe {before}.'
    """

    def filled(found: re.Match[str]) -> str:
        key = found[1].strip().lower()
        value = getattr(facts, key) if key in FILL_INS else None
        return found[0] if value is None else value

    done = _BRACED.sub(filled, text)
    return done[:1].upper() + done[1:] if text.startswith("{") else done


def open_fill_ins(text: str) -> tuple[str, ...]:
    """The fill-ins of ``text`` in their order, each once.

    >>> open_fill_ins("{measures} slowly, {Name}, then {measures} again")
    ('measures', 'name')
    """
    return tuple(dict.fromkeys(found.strip().lower() for found in _BRACED.findall(text)))


def checked_line(text: str) -> str:
    """``text`` of a bank line as it is; raises ``StandlightError`` for braces that nothing fills.

    >>> checked_line("Count in {mesures}")
    Traceback (most recent call last):
        ...
    standlight.errors.StandlightError: nothing fills {mesures} (did you mean {measures}?)
    """
    unknown = [key for key in open_fill_ins(text) if key not in FILL_INS]
    if unknown:
        raise StandlightError(f"nothing fills {{{unknown[0]}}}", slip=_slip(unknown[0]))
    if set("{}") & set(_BRACED.sub("", text)):
        raise StandlightError("a brace stands alone", slip="a fill-in is {name} with both braces")
    return text


def _slip(key: str) -> str:
    """The likely slip behind an unknown fill-in."""
    close = [name for name in FILL_INS if name[:2] == key[:2]]
    if close:
        return f"did you mean {{{close[0]}}}?"
    return "there are " + ", ".join(f"{{{name}}}" for name in FILL_INS)


def own_translation(
    text: str, lines: Sequence[tuple[str, str]], facts: Facts, bare: Facts
) -> str:
    """What a director's own translation says for ``text``, "" where the bank has none.

    ``lines`` are bank lines with their translations, fill-ins in both; ``bare`` fills the
    translation, with numbers alone. Only a line that stands unchanged is translated: edited
    words would not say the same.

    >>> mine = Facts("Mina", "Clarinet 2", "measures 33 to 40", "quarter note 96")
    >>> bare = Facts("Mina", "Clarinet 2", "33-40", "96")
    >>> bank = [("Sing {measures} first.", "Canta primero los compases {measures}.")]
    >>> own_translation("Sing measures 33 to 40 first.", bank, mine, bare)
    'Canta primero los compases 33-40.'
    >>> own_translation("Sing measures 33 to 40 last.", bank, mine, bare)
    ''
    """
    for line, translated in lines:
        if fill_in(line, facts) == text:
            return fill_in(translated, bare)
    return ""
