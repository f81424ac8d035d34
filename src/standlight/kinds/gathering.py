"""All answers to one question laid together: counts, spreads, pins on the measure or the clock.

Every function takes a question and its answers, one an owner, in one order; an owner is told by
the index there. Blank and wrong answers are left out, so that a draft never counts.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from standlight.kinds.field_types import (
    FIELD_TYPES,
    Answer,
    columns_of,
    is_blank,
    problems_with,
    spot_words,
    text_of,
)
from standlight.kinds.values import Field


@dataclass(frozen=True, slots=True)
class Count:
    """How many gave one answer: ``n``, and its ``share`` (0 to 1) of all who answered.

    ``share`` is None when nobody did. Of several answers a person gives more than one, and the
    shares then add up to more than 1.
    """

    key: str
    label: str
    n: int
    share: float | None


@dataclass(frozen=True, slots=True)
class Spread:
    """Where ``n`` answers lie on a scale or level row, in steps (a row's first level is 1)."""

    median: float
    lowest: int
    highest: int
    n: int


@dataclass(frozen=True, slots=True)
class Pin:
    """One place that an owner (index of the answer) points to, with what is said of it.

    ``at`` is a measure or seconds, ``until`` the last measure of a longer spot; ``piece`` is ""
    where the question names none.
    """

    owner: int
    at: float
    words: str
    until: int | None = None
    piece: str = ""


def gather_of(field: Field) -> str:
    """A key of ``GATHERS``: how the answers are laid together; a list goes by its first column."""
    gather = FIELD_TYPES[field.type].gather
    return gather_of(field.columns[0]) if gather == "rows" and field.columns else gather


def counted(field: Field, answers: Sequence[Answer]) -> tuple[Count, ...]:
    """How many gave each answer to a choice, several, level row or scale, in the form's order.

    An answer that nobody gave is there with 0; () for a question that cannot be counted.

    >>> from standlight.kinds import Option
    >>> row = Field("how", "choice", "How?", options=(Option("s", "slow"), Option("f", "fast")))
    >>> [(one.label, one.n, one.share) for one in counted(row, ["s", "s", None, "f", "s"])]
    [('slow', 3, 0.75), ('fast', 1, 0.25)]
    """
    right = [answer for _, answer in _right(field, answers)]
    given = [key for answer in right for key in _keys_of(answer)]
    return tuple(
        Count(key, label, given.count(key), given.count(key) / len(right) if right else None)
        for key, label in _steps_of(field)
    )


def spread(field: Field, answers: Sequence[Answer]) -> Spread | None:
    """Median and ends of the answers to a level row or scale.

    None where there is no right answer, and for questions whose answers stand in no order.
    """
    if field.type not in _ORDERED:
        return None
    place = {key: number for number, (key, _) in enumerate(_steps_of(field), _first_step(field))}
    steps = sorted(place[key] for _, answer in _right(field, answers) for key in _keys_of(answer))
    if not steps:
        return None
    half = len(steps) // 2
    median = (steps[half] + steps[~half]) / 2
    return Spread(median, steps[0], steps[-1], len(steps))


_ORDERED = ("levels", "scale")
"""Types whose answers stand in an order, from little to much."""


def _first_step(field: Field) -> int:
    """The number of a scale's first step; a row of levels counts from 1."""
    return field.least if field.type == "scale" and field.least is not None else 1


def cells(field: Field, column: str, answers: Sequence[Answer]) -> tuple[tuple[int, Answer], ...]:
    """What stands in one column of a list (or of a spot), row by row: owner and cell.

    Blank and wrong cells are left out, so that `counted` and `spread` take the rest as answers.
    """
    asked = next(one for one in columns_of(field) if one.key == column)
    return tuple(
        (owner, cell)
        for owner, answer in enumerate(answers)
        for row in (answer if isinstance(answer, list) else [answer])
        if isinstance(row, dict)
        for _, cell in _right(asked, [row.get(column)])
    )


def pinned(field: Field, answers: Sequence[Answer]) -> tuple[Pin, ...]:
    """Every place that the answers point to, by piece and place; those in a list's columns too.

    A pin of a list carries the words of the rest of its row.
    """
    found = [
        pin
        for owner, answer in enumerate(answers)
        for pin in (*_pins(field, owner, answer), *_row_pins(field, owner, answer))
    ]
    return tuple(sorted(found, key=lambda pin: (pin.piece, pin.at, pin.owner)))


def _pins(field: Field, owner: int, answer: Answer) -> Iterator[Pin]:
    """The place of one answer, where its type has one."""
    if field.type in _PINS and list(_right(field, [answer])):
        yield _PINS[field.type](field, owner, answer)


def _row_pins(field: Field, owner: int, answer: Answer) -> Iterator[Pin]:
    """The places in the rows of one answer, with what else the row says."""
    if field.type != "rows" or not isinstance(answer, list):
        return
    for row in answer:
        for column in field.columns if isinstance(row, dict) else ():
            for pin in _pins(column, owner, row.get(column.key)):
                rest = ", ".join(
                    text_of(other, row.get(other.key))
                    for other in field.columns
                    if other.type not in _PINS and list(_right(other, [row.get(other.key)]))
                )
                words = ": ".join(filter(None, (pin.words, rest)))
                yield Pin(owner, pin.at, words, pin.until, pin.piece)


def _measure_pin(field: Field, owner: int, answer: dict) -> Pin:
    """A place in the part."""
    return Pin(owner, answer["measure"], str(answer.get("words") or "").strip())


def _clock_pin(field: Field, owner: int, answer: dict) -> Pin:
    """A moment of a recording."""
    return Pin(owner, answer["at_s"], str(answer.get("words") or "").strip())


def _spot_pin(field: Field, owner: int, answer: dict) -> Pin:
    """A spot and all that is said of it."""
    until, piece = answer.get("to_measure") or None, str(answer.get("piece") or "").strip()
    return Pin(owner, answer["from_measure"], spot_words(field, answer), until, piece)


_PINS = {"measure": _measure_pin, "clock": _clock_pin, "spot": _spot_pin}


def _right(field: Field, answers: Sequence[Answer]) -> Iterator[tuple[int, Answer]]:
    """Owner and answer of what is neither blank nor wrong."""
    for owner, answer in enumerate(answers):
        if not is_blank(answer) and not problems_with(field, answer):
            yield owner, answer


def _keys_of(answer: Answer) -> list[str]:
    """The keys that one answer gives: of a list each, of a scale its step."""
    return [str(one) for one in (answer if isinstance(answer, list) else [answer])]


def _steps_of(field: Field) -> list[tuple[str, str]]:
    """Key and label of everything that can be answered; a scale's ends carry their words."""
    if FIELD_TYPES[field.type].gather != "counts":
        return []
    if field.type != "scale":
        return [(option.key, option.label) for option in field.options]
    steps = list(range(field.least or 0, (field.most or 0) + 1))
    words = {}
    if field.options:
        words = {steps[0]: field.options[0].label, steps[-1]: field.options[-1].label}
    return [
        (str(step), f"{step} {words[step]}" if step in words else str(step)) for step in steps
    ]
