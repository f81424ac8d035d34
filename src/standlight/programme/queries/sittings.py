"""Sheets of a step that comes again, told apart, so that only the same thing is laid together.

Judging several takes is one step done several times; a director's levels of the first take are
laid over the group's of the first take. What tells takes apart is the step's first question when
it is a choice, else how often the step was done.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from standlight.kinds import Field, Kind, Step
from standlight.programme.models import Sheet

NOT_TOLD = "Not told which"


@dataclass(frozen=True, slots=True)
class Sitting:
    """Sheets about the same thing; ``name`` is "" where all sheets of a step are.

    ``own`` are directors' own, laid over those of the ``group``.
    """

    name: str
    group: tuple[Sheet, ...]
    own: tuple[Sheet, ...]


def told_apart_by(step: Step) -> Field | None:
    """The question that says what a sheet is about, where a step comes again and asks it first."""
    first = step.fields[0]
    return first if step.most_times != 1 and first.type == "choice" else None


def told_as(kind: Kind, step: Step, sheet: Sheet) -> str:
    """The name of a sheet's sitting by what the sheet itself says; "" where nothing asks."""
    field = told_apart_by(step)
    return _name(field, sheet) if field and kind.side_at(step.key) == "own" else ""


def sittings_of(
    kind: Kind, step: Step, group: Sequence[Sheet], own: Sequence[Sheet]
) -> tuple[Sitting, ...]:
    """The sheets of a step laid together; one sitting where no director lays a sheet over many.

    Sittings come in the order of the question's answers, or by number.
    """
    if step.most_times == 1 or kind.side_at(step.key) != "own":
        return (Sitting("", tuple(group), tuple(own)),)
    field = told_apart_by(step)
    names = [option.label for option in field.options] if field else _numbers([*group, *own])
    found = [
        Sitting(name, _named(name, field, group), _named(name, field, own))
        for name in [*names, NOT_TOLD]
    ]
    return tuple(one for one in found if one.group or one.own)


def _named(name: str, field: Field | None, sheets: Sequence[Sheet]) -> tuple[Sheet, ...]:
    """The sheets of one sitting."""
    return tuple(sheet for sheet in sheets if _name(field, sheet) == name)


def _name(field: Field | None, sheet: Sheet) -> str:
    """Which sitting a sheet belongs to."""
    if field is None:
        return _number(sheet.number)
    labels = {option.key: option.label for option in field.options}
    given = sheet.answers.get(field.key)
    return labels.get(given, NOT_TOLD) if isinstance(given, str) else NOT_TOLD


def _numbers(sheets: Iterable[Sheet]) -> list[str]:
    """The numbers that sheets have, in order."""
    return [_number(number) for number in sorted({sheet.number for sheet in sheets})]


def _number(number: int) -> str:
    """What a sitting is called that nothing but its number tells apart."""
    return f"No. {number}"
