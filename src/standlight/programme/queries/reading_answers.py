"""Answers as a director reads them: one frozen value a question, with how it is drawn.

A type of question says here by which template it is drawn, in one table; what no line of the
table knows is drawn as words.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from standlight.kinds import Field, Step, columns_of, is_blank, problems_with, text_of
from standlight.programme.models import SheetSound

PATH = "director/reading_shown_{}.html"


@dataclass(frozen=True, slots=True)
class ShownSound:
    """A recording inside a sheet; ``key`` is empty when the sound is gone."""

    key: str
    seconds: float | None = None


@dataclass(frozen=True, slots=True)
class ShownStep:
    """One step of a scale or level row, chosen or not."""

    label: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class Shown:
    """One answer: ``template`` draws it from whichever of the other parts it has."""

    key: str
    prompt: str
    template: str
    words: str = ""
    where: str = ""
    sound: ShownSound | None = None
    steps: tuple[ShownStep, ...] = ()
    rows: tuple[tuple[Shown, ...], ...] = ()
    headings: tuple[str, ...] = ()


Sounds = Mapping[str, SheetSound]
Draw = Callable[[Field, object, Sounds], Shown]


def sounds_of(sheets: Iterable[object]) -> dict[str, SheetSound]:
    """The kept sounds of some sheets by their key as text. One query."""
    rows = SheetSound.objects.filter(sheet__in=list(sheets))
    return {str(row.key): row for row in rows}


def shown_answers(
    step: Step, answers: Mapping[str, object], sounds: Sounds
) -> tuple[Shown, ...]:
    """What was answered, in the order of the form; what was left empty is left out."""
    return tuple(
        shown
        for field in step.fields
        if (shown := shown_answer(field, answers.get(field.key), sounds)) is not None
    )


def shown_answer(field: Field, answer: object, sounds: Sounds) -> Shown | None:
    """One answer; ``None`` when it is blank."""
    # A permission that is refused is an answer too, though it counts as blank.
    if is_blank(answer) and answer is not False:
        return None
    if spoken(answer):
        return _sound(field, answer, sounds)
    # A list is drawn cell by cell, so that one wrong cell does not undo the table.
    if not is_list(field, answer) and not is_text(field, answer) and problems_with(field, answer):
        return _words(field, answer, sounds)
    return DRAWN.get(field.type, _words)(field, answer, sounds)


def is_text(field: Field, answer: object) -> bool:
    """True for words typed by somebody, however many."""
    return isinstance(answer, str) and not field.options


def is_list(field: Field, answer: object) -> bool:
    """True for a list of rows."""
    rows = answer if field.type == "rows" and isinstance(answer, list) else None
    return rows is not None and all(isinstance(row, dict) for row in rows)


def spoken(answer: object) -> bool:
    """True for an answer that is a sound, whatever its question asks for."""
    return isinstance(answer, dict) and set(answer) == {"sound"}


def words_of(field: Field, answer: object) -> str:
    """The answer as plain words, for a search, a list and a print; "" for blank and for sounds.

    An answer that its question no longer fits is given by the words in it.

    >>> words_of(Field("how", "short", "How?"), "  slowly ")
    'slowly'
    >>> words_of(Field("at", "measure", "Where?"), {"measure": "x", "words": "loud"})
    'x, loud'
    """
    if is_blank(answer) or spoken(answer):
        return ""
    if is_text(field, answer):
        return str(answer).strip()
    if is_list(field, answer):
        return "\n".join(filter(None, (_row_words(field, row) for row in answer)))
    if not problems_with(field, answer):
        return text_of(field, answer)
    return ", ".join(_plain(answer))


def _row_words(field: Field, row: Mapping[str, object]) -> str:
    """One row of a list on one line."""
    cells = (words_of(column, row.get(column.key)) for column in field.columns)
    return ", ".join(filter(None, cells))


def _plain(answer: object) -> list[str]:
    """All words in an answer of whatever shape."""
    if isinstance(answer, dict):
        return [word for part in answer.values() for word in _plain(part)]
    if isinstance(answer, list | tuple):
        return [word for part in answer for word in _plain(part)]
    return [] if is_blank(answer) else [str(answer).strip()]


def _shown(field: Field, template: str, **parts: object) -> Shown:
    return Shown(field.key, field.prompt, PATH.format(template), **parts)


def _words(field: Field, answer: object, sounds: Sounds) -> Shown:
    return _shown(field, "words", words=words_of(field, answer))


def _consent(field: Field, answer: object, sounds: Sounds) -> Shown:
    return _shown(field, "short", words="Yes" if answer is True else "No")


def _short(field: Field, answer: object, sounds: Sounds) -> Shown:
    return _shown(field, "short", words=words_of(field, answer))


def _sound(field: Field, answer: object, sounds: Sounds) -> Shown:
    kept = sounds.get(str(answer["sound"])) if isinstance(answer, dict) else None
    if kept is None or kept.removed_at is not None:
        return _shown(field, "sound", sound=ShownSound(""))
    return _shown(field, "sound", sound=ShownSound(str(kept.key), kept.seconds))


def _scale(field: Field, answer: object, sounds: Sounds) -> Shown:
    """A scale's numbers with the words of its ends."""
    low, high = field.least or 0, field.most or 0
    ends = {low: field.options[0].label, high: field.options[-1].label} if field.options else {}
    steps = tuple(
        ShownStep(" ".join(filter(None, (str(step), ends.get(step, "")))), step == answer)
        for step in range(low, high + 1)
    )
    return _shown(field, "steps", steps=steps, words=words_of(field, answer))


def _levels(field: Field, answer: object, sounds: Sounds) -> Shown:
    """A level row's words."""
    steps = tuple(ShownStep(option.label, option.key == answer) for option in field.options)
    return _shown(field, "steps", steps=steps, words=words_of(field, answer))


def _place(field: Field, answer: object, sounds: Sounds) -> Shown:
    """A measure or a moment, and what is said of it."""
    said = str(answer.get("words") or "").strip()
    where = text_of(field, {**answer, "words": ""})
    return _shown(field, "place", where=where, words=said)


def _spot(field: Field, answer: object, sounds: Sounds) -> Shown:
    """A spot: piece and measures in front, one line for each thing said of it."""
    said = {column.key: answer.get(column.key) for column in columns_of(field)}
    bare = {key: value for key, value in answer.items() if key not in said}
    rows = tuple(
        (shown,)
        for column in columns_of(field)
        if (shown := shown_answer(column, said[column.key], sounds)) is not None
    )
    return _shown(field, "spot", where=text_of(field, bare), rows=rows)


def _rows(field: Field, answer: object, sounds: Sounds) -> Shown:
    """A list as a table: a cell a column, an empty one where nothing was written."""
    rows = tuple(
        tuple(
            shown_answer(column, row.get(column.key), sounds) or _short(column, "", sounds)
            for column in field.columns
        )
        for row in answer
        if not is_blank(row)
    )
    headings = tuple(column.prompt for column in field.columns)
    return _shown(field, "rows", rows=rows, headings=headings)


DRAWN: dict[str, Draw] = {
    "short": _words,
    "long": _words,
    "choice": _short,
    "several": _short,
    "levels": _levels,
    "scale": _scale,
    "rows": _rows,
    "recording": _sound,
    "measure": _place,
    "clock": _place,
    "spot": _spot,
    "source": _short,
    "consent": _consent,
}
"""Type of question to how its answer is drawn."""
