"""What was typed in the editor of a kind, read as a definition: keys made, faults placed.

A director never types a key: each is made from the words once and stays. All faults are told at
once, each with the path (see ``kind_typed``) of what it is about.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from django.utils.text import slugify

from standlight.kinds import FIELD_TYPES, problems_of
from standlight.kinds.values import ALWAYS_READ_BY
from standlight.programme.kind_typed import (
    TypedChoice,
    TypedKind,
    TypedQuestion,
    TypedRow,
    TypedStep,
)

LONGEST_KEY, WORDS_OF_A_KEY = 40, 5
LONGEST_NAME = 80


@dataclass(frozen=True, slots=True)
class Fault:
    """One sentence, and the path of what it is about; "" is the kind as a whole."""

    place: str
    sentence: str


@dataclass(frozen=True, slots=True)
class ReadKind:
    """A definition and everything that keeps it from standing."""

    data: dict
    faults: tuple[Fault, ...]


def key_from(words: str, taken: Collection[str], fallback: str) -> str:
    """A key made of the first words, told apart from those that are taken.

    >>> key_from("What did you hear first?", {"what_did_you_hear_first"}, "question")
    'what_did_you_hear_first_2'
    >>> key_from("שיר", (), "question")
    'question'
    """
    stem = slugify(" ".join(words.split()[:WORDS_OF_A_KEY])).replace("-", "_")
    stem = stem[:LONGEST_KEY].strip("_") or fallback
    key, number = stem, 1
    while key in taken:
        number += 1
        key = f"{stem}_{number}"
    return key


def read_kind(typed: TypedKind, taken: Collection[str]) -> ReadKind:
    """The definition that was typed; ``taken`` are keys of other kinds.

    The data are whole even with faults, so that they can be drawn as far as they go.
    """
    faults = [*_own_faults(typed)]
    handled = _data(typed, "kind", _Handles())
    faults += [Fault(_place_of(said, typed), said) for said in problems_of(handled)]
    key = typed.key or key_from(typed.name, taken, "kind")
    return ReadKind(_data(typed, key, _Keys()), tuple(faults))


class _Keys:
    """Keys as they are kept: those that stand, and new ones made from words."""

    def of(self, items: Collection, words: str, fallback: str, taken: Collection[str] = ()) -> dict:
        """Id to key of the steps, questions, columns or choices of one list."""
        held = {one.id: one.key for one in items if one.key}
        used = set(taken) | set(held.values())
        for one in items:
            if not one.key:
                held[one.id] = key_from(getattr(one, words), used, fallback)
                used.add(held[one.id])
        return held

    def choices(self, step: TypedStep, fields: Mapping[str, str]) -> dict[str, str]:
        """Id to key of a step's choices."""
        return self.of(step.choices, "prompt", "choice", fields.values())


class _Handles(_Keys):
    """Numbers and letters in place of keys, so that a fault's sentence can name its place."""

    def of(self, items: Collection, words: str, fallback: str, taken: Collection[str] = ()) -> dict:
        """Id to the number of its place, from 1."""
        mark = "column " if fallback == "column" else ""
        return {one.id: f"{mark}{number}" for number, one in enumerate(items, start=1)}

    def choices(self, step: TypedStep, fields: Mapping[str, str]) -> dict[str, str]:
        """Id to a letter from A, or to a letter with a number."""
        return {
            one.id: chr(65 + number % 26) + (str(number // 26) if number > 25 else "")
            for number, one in enumerate(step.choices)
        }


def _data(typed: TypedKind, key: str, keys: _Keys) -> dict:
    """The definition as plain data under the given way of keys."""
    steps = keys.of(typed.steps, "name", "step")
    rows = keys.of(typed.rubric, "name", "row")
    readers = [*typed.seen_by, *(one for one in ALWAYS_READ_BY if one not in typed.seen_by)]
    return {
        "key": key,
        "name": " ".join(typed.name.split()),
        "aim": " ".join(typed.aim.split()),
        "cadence": " ".join(typed.cadence.split()),
        "moment": typed.moment,
        "process": list(typed.process),
        "seen_by": readers,
        "needs": list(typed.needs),
        "director_side": typed.director_side,
        # Like a setting that its type cannot use: without a side the ticks stay in the editor.
        "director_steps": [
            steps[step.id] for step in typed.steps if step.director and typed.director_side
        ],
        "marked": typed.marked,
        "rubric": [_row(row, rows[row.id], steps) for row in typed.rubric],
        "standards": list(typed.standards),
        "steps": [_step(step, steps[step.id], keys) for step in typed.steps],
    }


def _row(row: TypedRow, key: str, steps: Mapping[str, str]) -> dict:
    """One row of the rubric."""
    return {
        "key": key,
        "name": " ".join(row.name.split()),
        "question": row.question.strip(),
        "descriptors": [" ".join(text.split()) for text in row.descriptors],
        "steps": [steps[one] for one in row.steps if one in steps],
    }


def _step(step: TypedStep, key: str, keys: _Keys) -> dict:
    """One step."""
    fields = keys.of(step.questions, "prompt", "question", [one.key for one in step.choices])
    choices = keys.choices(step, fields)
    due: dict[str, object] = {"moment": step.moment}
    if step.moment == "again":
        due |= {end: _number(getattr(step, end)) for end in ("weeks_least", "weeks_most")}
    return {
        "key": key,
        # The empty name has its own sentence below.
        "name": " ".join(step.name.split()) or "–",
        "due": due,
        "least_times": _number(step.least_times, 1),
        "most_times": _number(step.most_times),
        "laid_before": list(step.laid_before),
        "fields": [_question(one, fields[one.id], keys) for one in step.questions],
        "choices": [_choice(one, choices[one.id], fields | choices) for one in step.choices],
    }


def _question(one: TypedQuestion, key: str, keys: _Keys) -> dict:
    """One question or column; settings that its type cannot use stay behind in the editor."""
    kind = FIELD_TYPES.get(one.type)
    settings = kind.settings if kind else frozenset()
    data: dict[str, object] = {
        "key": key,
        "type": one.type,
        "prompt": one.prompt.strip(),
        "help": one.help.strip(),
        "required": one.required,
    }
    if "least" in settings:
        data |= {"least": _number(one.least), "most": _number(one.most)}
    if "options" in settings:
        data["options"] = _options(one)
    if kind and "columns" in settings:
        inner = keys.of(one.columns, "prompt", "column", kind.parts)
        data["columns"] = [_question(column, inner[column.id], keys) for column in one.columns]
    return data


def _options(one: TypedQuestion) -> list[dict[str, str]]:
    """One option a line; a label that stays keeps its key, else the line's place does."""
    lines = _lines(one.options)
    by_label = {label: key for key, label in reversed(one.were)}
    kept = {label: by_label[label] for label in lines if label in by_label}
    used, found = set(kept.values()), []
    for number, label in enumerate(lines):
        key = kept.pop(label, "")
        if not key and len(lines) == len(one.were) and one.were[number][0] not in used:
            key = one.were[number][0]
        key = key or key_from(label, used, "answer")
        used.add(key)
        found.append({"key": key, "label": label})
    return found


def _lines(text: str) -> list[str]:
    """Lines with words, without the spaces around them."""
    return [" ".join(line.split()) for line in text.split("\n") if line.strip()]


def _choice(one: TypedChoice, key: str, keys: Mapping[str, str]) -> dict:
    """One choice."""
    return {
        "key": key,
        "prompt": one.prompt.strip(),
        "of": [keys[member] for member in one.of if member in keys],
        "least": _number(one.least, 1),
        "most": _number(one.most),
    }


def _number(text: str, empty: int | None = None) -> int | None:
    """A whole number; ``empty`` for nothing, and for what `_own_faults` tells."""
    text = text.strip()
    return int(text) if _is_number(text) else empty


def _is_number(text: str) -> bool:
    """True for the digits of a number that a form can mean."""
    return text.isascii() and text.isdigit() and len(text) <= 5


def _own_faults(typed: TypedKind) -> Iterator[Fault]:
    """Faults of what was typed that the definition no longer shows."""
    if len(typed.name) > LONGEST_NAME:
        yield Fault("", f"The name has {len(typed.name):,} characters; {LONGEST_NAME} fit.")
    for number, step in enumerate(typed.steps, start=1):
        where = f"step {number}"
        if not step.name.strip():
            yield Fault(step.id, f"Step {number} has no name.")
        ends = ("weeks_least", "weeks_most", "least_times", "most_times")
        yield from _number_faults(step, ends, step.id, where)
        for place, one in enumerate(step.questions, start=1):
            path, here = f"{step.id}.{one.id}", f"question “{place}” of {where}"
            yield from _question_faults(one, path, here)
        for one in step.choices:
            yield from _number_faults(one, ("least", "most"), f"{step.id}.{one.id}", where)


def _question_faults(one: TypedQuestion, path: str, here: str) -> Iterator[Fault]:
    """Numbers that are none, and answers that are the same, at any depth."""
    settings = FIELD_TYPES[one.type].settings if one.type in FIELD_TYPES else frozenset()
    if "least" in settings:
        yield from _number_faults(one, ("least", "most"), path, here)
    lines = _lines(one.options) if "options" in settings else []
    for label in sorted({line for line in lines if lines.count(line) > 1}):
        yield Fault(path, f"Two answers of {here} say “{label[:60]}”.")
    for number, column in enumerate(one.columns if "columns" in settings else (), start=1):
        yield from _question_faults(column, path, f"column {number} of {here}")


def _number_faults(
    one: object, names: tuple[str, ...], place: str, where: str
) -> Iterator[Fault]:
    """What stands in fields of numbers and is no number."""
    for name in names:
        text = getattr(one, name).strip()
        if text and not _is_number(text):
            yield Fault(place, f"“{text[:40]}” in {where} is no whole number.")


_QUESTION = re.compile(r"question “(\d+)” of step (\d+)")
_CHOICE = re.compile(r"choice “([A-Z]\d*)” of step (\d+)")
_STEP = re.compile(r"step (\d+)")
_ROW = re.compile(r"row “(\d+)” of the rubric")


def _place_of(said: str, typed: TypedKind) -> str:
    """The path that a sentence with handles is about; "" for none that is there."""
    for pattern, items in ((_QUESTION, "questions"), (_CHOICE, "choices")):
        for handle, number in pattern.findall(said)[:1]:
            step = _item(typed.steps, int(number) - 1)
            place = int(handle) - 1 if handle.isdigit() else _letter(handle)
            found = step and _item(getattr(step, items), place)
            return f"{step.id}.{found.id}" if found else ""
    # A row's sentence may name a step, never the other way round.
    for pattern, items in ((_ROW, typed.rubric), (_STEP, typed.steps)):
        found = pattern.search(said)
        one = _item(items, int(found[1]) - 1) if found else None
        if one is not None:
            return one.id
    return ""


def _item(items: tuple, place: int) -> TypedStep | TypedQuestion | TypedChoice | TypedRow | None:
    """What stands at a place counted from 0, None where nothing does."""
    return items[place] if 0 <= place < len(items) else None


def _letter(handle: str) -> int:
    """The place of a letter from A, with its number."""
    return ord(handle[0]) - 65 + 26 * int(handle[1:] or 0)
