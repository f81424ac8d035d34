"""From plain data to a `Kind`: every fault of a definition in a sentence, none of them a guess.

A definition is what a director edits in the browser and what ships with the tool, so its faults
are a person's: an unknown word, a choice that asks for itself, an empty prompt.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, fields

from standlight.kinds.field_types import FIELD_TYPES
from standlight.kinds.values import (
    ALWAYS_READ_BY,
    DIRECTOR_SIDES,
    LAID_BEFORE,
    LEVELS,
    MOMENTS,
    NEEDS,
    OCCASIONS,
    PROCESSES,
    READERS,
    Choice,
    Due,
    Field,
    Kind,
    Option,
    RubricRow,
    Step,
    UnreadableKind,
)

MOST_STEPS, MOST_FIELDS, MOST_OPTIONS, LONGEST_PROMPT = 12, 40, 40, 400
"""A form with more is no form that a musician fills in (our choice)."""

MOST_ROWS = 8
"""Rows of a rubric; who reads a stack gives no more than a few levels a sheet (our choice)."""

LONGEST_ROW_KEY = 40
"""Characters of a row's key: a level is stored under it."""

Data = Mapping[str, object]


def kind_of(data: Data) -> Kind:
    """The kind that ``data`` (as of JSON) defines.

    Raises UnreadableKind with all faults when there are any; the data are left as they are.
    """
    problems = tuple(problems_of(data))
    if problems:
        raise UnreadableKind(problems)
    return Kind(
        key=str(data["key"]),
        name=str(data["name"]),
        edition=data.get("edition", 1),
        aim=str(data["aim"]),
        process=tuple(_words(data["process"])),
        cadence=str(data.get("cadence", "")),
        seen_by=tuple(_words(data["seen_by"])),
        steps=tuple(_step(step) for step in _mappings(data, "steps")),
        rubric=tuple(_row(row) for row in _mappings(data, "rubric")),
        standards=tuple(_words(data.get("standards"))),
        director_side=data.get("director_side", ""),
        director_steps=tuple(_words(data.get("director_steps"))),
        needs=tuple(_words(data.get("needs"))),
        marked=data.get("marked", True),
        moment=data.get("moment", ""),
    )


def data_of(kind: Kind) -> dict:
    """The definition of ``kind`` as plain data; `kind_of` reads it back as the same kind."""
    return _lists(asdict(kind))


def problems_of(data: Data) -> Iterator[str]:
    """Everything that keeps ``data`` from being a definition, one sentence each."""
    if not isinstance(data, Mapping):
        yield "This is no definition: a set of names and values is expected."
        return
    for name in ("key", "name", "aim"):
        if not str(data.get(name, "")).strip():
            yield f"The kind has no {name}."
    if not _count(data.get("edition", 1)) or not data.get("edition", 1):
        yield f"The edition “{data['edition']}” is no number from 1 on."
    yield from _strangers(data, Kind, "The kind")
    lists = ("process", "seen_by", "standards", "needs", "director_steps")
    yield from _lists_of_words(data, lists, "The kind")
    if not _words(data.get("process")):
        yield f"The kind serves no process: choose from {', '.join(PROCESSES)}."
    yield from _unknown(data.get("process"), PROCESSES, "process")
    yield from _unknown(data.get("seen_by"), READERS, "reader")
    for reader in ALWAYS_READ_BY:
        if reader not in _words(data.get("seen_by")):
            yield f"“{READERS[reader]}” must be able to read every kind of work."
    yield from _unknown(data.get("needs"), NEEDS, "need")
    yield from _not_in(data.get("director_side", ""), DIRECTOR_SIDES, "director’s side")
    yield from _not_in(data.get("moment", ""), OCCASIONS, "moment of the year")
    if not isinstance(data.get("marked", True), bool):
        yield "Whether the kind may count in a mark is yes or no (true or false)."
    steps = _mappings(data, "steps")
    if not 1 <= len(steps) <= MOST_STEPS:
        yield f"A kind has 1 to {MOST_STEPS} steps (here {len(steps)})."
    yield from _twice([str(step.get("key", "")) for step in steps], "step", "the kind")
    for number, step in enumerate(steps, start=1):
        yield from _step_problems(step, f"step {number}")
    keys = [str(step.get("key", "")) for step in steps]
    yield from _director_problems(data, keys)
    yield from _rubric_problems(data, keys)


def _director_problems(data: Data, steps: list[str]) -> Iterator[str]:
    """The faults of the steps that a director fills."""
    named = _words(data.get("director_steps"))
    if named and not data.get("director_side"):
        yield "The kind names steps for the director, who fills none: say “own” or “each” too."
    for key in named:
        if key not in steps:
            yield f"The kind names the director’s step “{key}”, which is not there."


def _rubric_problems(data: Data, steps: list[str]) -> Iterator[str]:
    """The faults of a rubric."""
    rows, found = _mappings(data, "rubric"), data.get("rubric")
    if found is not None and not (isinstance(found, list | tuple) and len(rows) == len(found)):
        yield "The kind has a rubric that is no list of rows (key, name, question, descriptors)."
    if len(rows) > MOST_ROWS:
        yield f"The rubric has {len(rows)} rows: up to {MOST_ROWS} can be read with care."
    if rows and data.get("marked", True) is False:
        yield (
            "What never counts in a mark is given no levels: take the rows of the rubric away, "
            "or let levels of it count."
        )
    yield from _twice([str(row.get("key", "")) for row in rows], "row", "the rubric")
    for row in rows:
        yield from _row_problems(row, steps)


def _row_problems(row: Data, steps: list[str]) -> Iterator[str]:
    """The faults of one row of a rubric."""
    key = str(row.get("key", ""))
    here = f"row “{key}” of the rubric"
    if not key.strip() or len(key) > LONGEST_ROW_KEY:
        yield f"A row of the rubric has no key, or one of more than {LONGEST_ROW_KEY} characters."
    for name in ("name", "question"):
        if not _can_be_read(row.get(name)):
            yield f"The {here} has no {name}, or one of more than {LONGEST_PROMPT} characters."
    yield from _strangers(row, RubricRow, f"The {here}")
    yield from _lists_of_words(row, ("steps",), f"The {here}")
    for step in _words(row.get("steps")):
        if step not in steps:
            yield f"The {here} is for the step “{step}”, which is not there."
    said = row.get("descriptors")
    if not isinstance(said, list | tuple) or len(said) != len(LEVELS):
        yield f"The {here} needs {len(LEVELS)} sentences: {', '.join(LEVELS)}."
        return
    for level, sentence in zip(LEVELS, said, strict=True):
        if not _can_be_read(sentence):
            yield (
                f"The {here} has no sentence for {level}, or one of more than "
                f"{LONGEST_PROMPT} characters."
            )
    told = [" ".join(one.lower().split()) for one in said if _can_be_read(one)]
    if len(set(told)) < len(told):
        yield f"The {here} says the same of two levels, so nobody could tell them apart."


def _can_be_read(text: object) -> bool:
    """True for some words, not too many."""
    return isinstance(text, str) and bool(text.strip()) and len(text) <= LONGEST_PROMPT


def _step_problems(step: Data, where: str) -> Iterator[str]:
    """The faults of one step."""
    if not str(step.get("key", "")).strip() or not str(step.get("name", "")).strip():
        yield f"The {where} has no key or no name."
    due = step.get("due", {})
    moment = due.get("moment") if isinstance(due, Mapping) else None
    if moment not in list(MOMENTS):
        yield f"The {where} is due “{moment}”: known are {', '.join(MOMENTS)}."
    elif moment == "again":
        yield from _weeks(due, where)
    yield from _times(step, where)
    yield from _strangers(step, Step, f"The {where}")
    yield from _lists_of_words(step, ("laid_before",), f"The {where}")
    yield from _unknown(step.get("laid_before"), LAID_BEFORE, "thing to lay before")
    asked = _mappings(step, "fields")
    if not 1 <= len(asked) <= MOST_FIELDS:
        yield f"The {where} has {len(asked)} questions: 1 to {MOST_FIELDS} make a form."
    keys = [str(field.get("key", "")) for field in asked]
    choices = _mappings(step, "choices")
    yield from _twice(keys + [str(choice.get("key", "")) for choice in choices], "question", where)
    for field in asked:
        yield from _field_problems(field, where)
    yield from _choice_problems(choices, keys, where)


def _weeks(due: Data, where: str) -> Iterator[str]:
    """A step that comes again says after how many weeks."""
    least, most = due.get("weeks_least"), due.get("weeks_most")
    if not (_count(least) and _count(most) and 1 <= least <= most):
        yield f"The {where} comes again, but does not say after how many weeks (say, 2 to 4)."


def _times(step: Data, where: str) -> Iterator[str]:
    """How often a step is done: whole numbers in order."""
    least, most = step.get("least_times", 1), step.get("most_times", 1)
    if not _count(least) or not (most is None or (_count(most) and most >= max(least, 1))):
        yield f"The {where} is done {least} to {most} times, which cannot be."


def _field_problems(field: Data, where: str) -> Iterator[str]:
    """The faults of one question."""
    key, word = str(field.get("key", "")), field.get("type")
    here = f"question “{key}” of {where}"
    if not key.strip():
        yield f"A question of {where} has no key."
    prompt = str(field.get("prompt", ""))
    if not prompt.strip() or len(prompt) > LONGEST_PROMPT:
        yield f"The {here} asks nothing, or more than {LONGEST_PROMPT} characters."
    if word not in list(FIELD_TYPES):
        yield f"The {here} is of type “{word}”: known are {', '.join(FIELD_TYPES)}."
        return
    yield from _strangers(field, Field, f"The {here}")
    settings = FIELD_TYPES[str(word)].settings
    for name in ("options", "columns", "least", "most"):
        if field.get(name) not in (None, (), []) and name not in settings:
            yield f"The {here} has {name}, which a {FIELD_TYPES[str(word)].name} cannot use."
    least, most = field.get("least"), field.get("most")
    if _count(least) and _count(most) and least > most:
        yield f"The {here} asks for at least {least} and at most {most}."
    yield from _parts_problems(field, settings, here)


def _parts_problems(field: Data, settings: frozenset[str], here: str) -> Iterator[str]:
    """The faults of a question's options or columns."""
    options = _mappings(field, "options")
    fewest = FIELD_TYPES[str(field["type"])].fewest
    if "options" in settings and not fewest <= len(options) <= MOST_OPTIONS:
        yield f"The {here} has {len(options)} answers to choose from: {fewest} to {MOST_OPTIONS}."
    if field.get("type") == "scale" and not (_count(field.get("least")) and field.get("most")):
        yield f"The {here} has no first and last step."
    for option in options:
        if not str(option.get("key", "")).strip() or not str(option.get("label", "")).strip():
            yield f"An answer of the {here} has no key or no words."
        yield from _strangers(option, Option, f"An answer of the {here}")
    yield from _twice([str(option.get("key", "")) for option in options], "answer", here)
    known = FIELD_TYPES[str(field["type"])].known
    for key in (str(option.get("key", "")) for option in options) if known else ():
        if key not in known:
            yield f"The {here} offers “{key}”: known are {', '.join(known)}."
    if "columns" in settings:
        yield from _column_problems(field, here)


def _column_problems(field: Data, here: str) -> Iterator[str]:
    """The faults of the questions inside a question."""
    kind, columns = FIELD_TYPES[str(field["type"])], _mappings(field, "columns")
    if not columns and not kind.columns:
        yield f"The {here} is a list without columns."
    yield from _twice([str(column.get("key", "")) for column in columns], "column", here)
    for column in columns:
        word = column.get("type")
        if word in list(FIELD_TYPES) and (word not in kind.inside or column.get("columns")):
            name = FIELD_TYPES[str(word)].name
            yield f"The {here} has a {name} inside a {kind.name}, which no page can show."
        else:
            yield from _field_problems(column, here)
        if str(column.get("key", "")) in kind.parts:
            yield f"A column of the {here} cannot have the key “{column['key']}”: it is taken."


def _choice_problems(choices: list[Data], keys: list[str], where: str) -> Iterator[str]:
    """The faults of a step's choices: unknown members, impossible numbers, circles."""
    of = {str(choice.get("key", "")): _words(choice.get("of")) for choice in choices}
    for choice in choices:
        yield from _strangers(choice, Choice, f"A choice of {where}")
        key = str(choice.get("key", ""))
        members, least, most = of[key], choice.get("least"), choice.get("most")
        for member in members:
            if member not in keys and member not in of:
                yield f"The choice “{key}” of {where} names “{member}”, which is not there."
        top = len(members) if most is None else most
        if not (_count(least) and _count(top) and least <= top <= len(members)):
            yield (
                f"The choice “{key}” of {where} asks for {least} to {most} of {len(members)}, "
                "which cannot be."
            )
    for key in of:
        circle = _circle(key, of)
        if circle:
            yield f"The choice “{key}” of {where} asks for itself ({' → '.join(circle)})."


def _circle(start: str, of: Mapping[str, list[str]]) -> list[str]:
    """The way from choice ``start`` back to itself, [] where there is none."""
    waiting = [[start]]
    seen = set()
    while waiting:
        way = waiting.pop()
        for member in of.get(way[-1], []):
            if member == start:
                return [*way, start]
            if member not in seen:
                seen.add(member)
                waiting.append([*way, member])
    return []


def _unknown(words: object, table: Mapping[str, str] | tuple[str, ...], what: str) -> Iterator[str]:
    """Words that a table does not have."""
    for word in _words(words):
        if word not in table:
            yield f"The kind names the {what} “{word}”: known are {', '.join(table)}."


def _not_in(word: object, table: Mapping[str, str], what: str) -> Iterator[str]:
    """One word that a table does not have."""
    if word not in list(table):
        known = ", ".join(key for key in table if key)
        yield f"The kind names the {what} “{word}”: known are {known}."


def _lists_of_words(data: Data, names: tuple[str, ...], where: str) -> Iterator[str]:
    """What should be a list of words and is none."""
    for name in names:
        value = data.get(name)
        listed = isinstance(value, list | tuple) and all(isinstance(one, str) for one in value)
        if value is not None and not listed:
            yield f"{where} has {name} that are no list of words."


def _strangers(data: Data, form: type, where: str) -> Iterator[str]:
    """Names that ``form`` does not have: nothing that a person wrote is dropped in silence."""
    known = {one.name for one in fields(form)}
    for name in data:
        if name not in known:
            yield f"{where} has “{name}”, which has no meaning there (a typing slip?)."


def _twice(keys: list[str], what: str, where: str) -> Iterator[str]:
    """Keys that stand twice."""
    for key in sorted({key for key in keys if keys.count(key) > 1}):
        yield f"Two {what}s of {where} have the key “{key}”."


def _row(data: Data) -> RubricRow:
    """A rubric's row of right data."""
    return RubricRow(
        key=str(data["key"]),
        name=data["name"],
        question=data["question"],
        descriptors=tuple(data["descriptors"]),
        steps=tuple(_words(data.get("steps"))),
    )


def _step(data: Data) -> Step:
    """A step of right data."""
    due = data["due"]
    return Step(
        key=str(data["key"]),
        name=str(data["name"]),
        due=Due(due["moment"], due.get("weeks_least"), due.get("weeks_most")),
        fields=tuple(_field(field) for field in _mappings(data, "fields")),
        choices=tuple(_choice(choice) for choice in _mappings(data, "choices")),
        least_times=data.get("least_times", 1),
        most_times=data.get("most_times", 1),
        laid_before=tuple(_words(data.get("laid_before"))),
    )


def _field(data: Data) -> Field:
    """A question of right data."""
    return Field(
        key=str(data["key"]),
        type=str(data["type"]),
        prompt=str(data["prompt"]),
        help=str(data.get("help", "")),
        required=bool(data.get("required", True)),
        least=data.get("least"),
        most=data.get("most"),
        options=tuple(
            Option(str(one["key"]), str(one["label"])) for one in _mappings(data, "options")
        ),
        columns=tuple(_field(column) for column in _mappings(data, "columns")),
    )


def _choice(data: Data) -> Choice:
    """A choice of right data."""
    return Choice(
        key=str(data["key"]),
        prompt=str(data.get("prompt", "")),
        of=tuple(_words(data["of"])),
        least=data["least"],
        most=data.get("most"),
    )


def _mappings(data: Data, name: str) -> list[Data]:
    """The list of mappings under ``name``; anything else in it is left out."""
    found = data.get(name)
    listed = found if isinstance(found, list | tuple) else ()
    return [one for one in listed if isinstance(one, Mapping)]


def _words(value: object) -> list[str]:
    """A list of words, whatever it was."""
    return [str(word) for word in value] if isinstance(value, list | tuple) else []


def _count(value: object) -> bool:
    """True for a whole number that is none less than nothing."""
    return isinstance(value, int) and not isinstance(value, bool) and value >= 0


def _lists(value: object) -> object:
    """Tuples as lists, all the way down, as JSON has them."""
    if isinstance(value, dict):
        return {key: _lists(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_lists(inner) for inner in value]
    return value
