"""Reading the answers of a posted form back to plain data: one reader a type of question.

Names in a form are ``q.<question>``, with ``.<part>`` behind for what is inside. A number that is
none stays the text that was typed, so that nothing is lost and the kind can say what is wrong.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Protocol

from standlight.kinds import Field, Step, columns_of
from standlight.kinds.field_types import SOURCE_PARTS

PREFIX = "q."
MOST_ROWS = 200
"""Rows that are read from a form; the page never shows as many."""

Answer = object


class Posted(Protocol):
    """What a form sent: Django's own, or `Pairs`."""

    def get(self, name: str, /) -> object:
        """The last value under ``name``, ``None`` for none."""

    def getlist(self, name: str, /) -> Sequence[object]:
        """Every value under ``name``."""


class Pairs:
    """Names and values as a script sends them, read like a posted form.

    >>> Pairs([["q.a", "x"], ["q.a", "y"]]).getlist("q.a")
    ['x', 'y']
    """

    def __init__(self, pairs: object) -> None:
        """Keep what is a pair of two texts; the rest is no form's."""
        self._values: dict[str, list[str]] = {}
        for pair in pairs if isinstance(pairs, list) else ():
            if isinstance(pair, list) and len(pair) == 2 and all(isinstance(x, str) for x in pair):
                self._values.setdefault(pair[0], []).append(pair[1])

    def get(self, name: str) -> str | None:
        """The last value under ``name``, ``None`` for none."""
        return self._values.get(name, [None])[-1]

    def getlist(self, name: str) -> list[str]:
        """Every value under ``name``."""
        return self._values.get(name, [])


def answers_in(step: Step, posted: Posted) -> dict[str, Answer]:
    """Question key to plain data, for every question of ``step``."""
    return {field.key: answer_in(field, posted) for field in step.fields}


def answer_in(field: Field, posted: Posted, name: str = "") -> Answer:
    """The answer to one question; ``None`` or an empty value when nothing was given."""
    return FORM_READERS[field.type](field, posted, name or f"{PREFIX}{field.key}")


def _text(posted: Posted, name: str) -> str:
    """A text as it was typed, with one kind of line end."""
    return str(posted.get(name) or "").replace("\r\n", "\n")


def _number(posted: Posted, name: str) -> int | str | None:
    """A whole number, else the text that was typed."""
    text = _text(posted, name).strip()
    if text.isascii() and text.isdigit() and len(text) < 9:
        return int(text)
    return text or None


def _spoken(posted: Posted, name: str) -> dict[str, str] | None:
    """A kept recording, unless it was let go in this form."""
    key = _text(posted, f"{name}.sound").strip()
    return {"sound": key} if key and not posted.get(f"{name}.without") else None


def _short(field: Field, posted: Posted, name: str) -> Answer:
    """Text; a spoken answer while no text is typed."""
    text = _text(posted, name)
    return text if text.strip() else (_spoken(posted, name) or text)


def _choice(field: Field, posted: Posted, name: str) -> Answer:
    """The key of one option."""
    return _text(posted, name) or None


def _several(field: Field, posted: Posted, name: str) -> Answer:
    """The keys of those ticked, each once."""
    return list(dict.fromkeys(str(one) for one in posted.getlist(name) if one))


def _scale(field: Field, posted: Posted, name: str) -> Answer:
    """A step."""
    return _number(posted, name)


def _rows(field: Field, posted: Posted, name: str) -> Answer:
    """The rows with something in them, in their order; empty ones between are left out."""
    count = _number(posted, f"{name}.rows")
    rows = []
    for number in range(min(count, MOST_ROWS) if isinstance(count, int) else 0):
        row = {
            column.key: answer
            for column in columns_of(field)
            if _is_given(answer := answer_in(column, posted, f"{name}.{number}.{column.key}"))
        }
        if row:
            rows.append(row)
    return rows


def _recording(field: Field, posted: Posted, name: str) -> Answer:
    """A kept recording."""
    return _spoken(posted, name)


def _measure(field: Field, posted: Posted, name: str) -> Answer:
    """A printed measure and words about it."""
    return _given({"measure": _number(posted, f"{name}.measure")}, _words(posted, name))


def _clock(field: Field, posted: Posted, name: str) -> Answer:
    """A moment and words about it."""
    return _given({"at_s": seconds_in(_text(posted, f"{name}.at_s"))}, _words(posted, name))


def _words(posted: Posted, name: str) -> dict[str, Answer]:
    """The words beside a pin."""
    return {"words": _text(posted, f"{name}.words")}


def _spot(field: Field, posted: Posted, name: str) -> Answer:
    """Piece, measures and what is asked there; a piece alone, set by the page, is no answer."""
    place = {part: _number(posted, f"{name}.{part}") for part in ("from_measure", "to_measure")}
    inner = {
        column.key: answer_in(column, posted, f"{name}.{column.key}")
        for column in columns_of(field)
    }
    found = _given(place, inner)
    piece = _text(posted, f"{name}.piece")
    return {"piece": piece, **found} if found and piece else found


def _source(field: Field, posted: Posted, name: str) -> Answer:
    """The parts of a source; where only one kind of source will do, it needs no saying."""
    found = _given({part: _text(posted, f"{name}.{part}").strip() for part in SOURCE_PARTS})
    if found and len(field.options) == 1:
        found["kind"] = field.options[0].key
    return found


def _consent(field: Field, posted: Posted, name: str) -> Answer:
    """Ticked or not."""
    return bool(posted.get(name))


def _given(*parts: Mapping[str, Answer]) -> dict[str, Answer]:
    """The parts that were given, together."""
    return {key: value for part in parts for key, value in part.items() if _is_given(value)}


def _is_given(answer: Answer) -> bool:
    """False for nothing: no text, no list, no dict; zero is something."""
    return answer is not None and answer is not False and answer not in ("", [], {})


def seconds_in(typed: str) -> float | int | str | None:
    """Seconds of a clock typed as minutes:seconds or as seconds; else the text itself.

    >>> seconds_in("1:23"), seconds_in("45"), seconds_in(" "), seconds_in("1:75"), seconds_in("x")
    (83, 45, None, '1:75', 'x')
    """
    text = typed.strip()
    parts = text.split(":")
    if not text or len(parts) > 3 or not all(p.isascii() and p.isdigit() for p in parts):
        return text or None
    numbers = [int(part[:6]) for part in parts]
    if any(number > 59 for number in numbers[1:]):
        return text
    seconds = 0
    for number in numbers:
        seconds = seconds * 60 + number
    return seconds


FORM_READERS: dict[str, Callable[[Field, Posted, str], Answer]] = {
    "short": _short,
    "long": _short,
    "choice": _choice,
    "several": _several,
    "levels": _choice,
    "scale": _scale,
    "rows": _rows,
    "recording": _recording,
    "measure": _measure,
    "clock": _clock,
    "spot": _spot,
    "source": _source,
    "consent": _consent,
}
"""Type of question to how its answer is read; a test holds it beside ``FIELD_TYPES``."""
