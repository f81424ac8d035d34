"""The editor of a kind as page values: fields with their faults, tables to tick, the preview."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from standlight.kinds import (
    DIRECTOR_SIDES,
    FIELD_TYPES,
    LAID_BEFORE,
    LEVELS,
    MOMENTS,
    NEEDS,
    OCCASIONS,
    READERS,
    Step,
    UnreadableKind,
    kind_of,
    reading_grade,
)
from standlight.kinds.values import ALWAYS_READ_BY, PROCESSES
from standlight.programme.kind_reading import Fault
from standlight.programme.kind_typed import (
    TypedChoice,
    TypedKind,
    TypedQuestion,
    TypedRow,
    TypedStep,
)
from standlight.programme.queries.given_work import when_words
from standlight.programme.queries.sheet_forms import FormChoice, FormField, form_of
from standlight.programme.standards import NOTICE, STANDARDS

HIGHEST_GRADE = 6
"""Reading grade that shipped prompts keep to; above it the editor gives a soft hint."""

LONGEST_SHOWN = 70
"""Characters of a prompt that tell it apart where a choice lists it."""

WHEN_WORDS = {
    "any": "at any time",
    "start": "at the start",
    "again": "again and again",
    "end": "at the end",
}


@dataclass(frozen=True, slots=True)
class Tick:
    """One thing to choose in the editor; ``settings`` are those of a question's type."""

    value: str
    words: str
    ticked: bool
    settings: str = ""


@dataclass(frozen=True, slots=True)
class EditQuestion:
    """A question or column in the editor; ``path`` begins the names of its fields."""

    typed: TypedQuestion
    path: str
    number: int
    types: tuple[Tick, ...]
    were: str
    hint: str
    faults: tuple[str, ...]
    columns: tuple[EditQuestion, ...]
    is_last: bool

    @property
    def is_first(self) -> bool:
        """True when nothing comes before."""
        return self.number == 1


@dataclass(frozen=True, slots=True)
class EditChoice:
    """A choice in the editor."""

    typed: TypedChoice
    path: str
    letter: str
    members: tuple[Tick, ...]
    faults: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class EditLevel:
    """The sentence of one level of a rubric's row; ``name`` is that of its field."""

    name: str
    word: str
    text: str
    hint: str


@dataclass(frozen=True, slots=True)
class EditRow:
    """A row of the rubric in the editor."""

    typed: TypedRow
    path: str
    number: int
    levels: tuple[EditLevel, ...]
    steps: tuple[Tick, ...]
    hint: str
    faults: tuple[str, ...]
    is_last: bool

    @property
    def is_first(self) -> bool:
        """True when nothing comes before."""
        return self.number == 1


@dataclass(frozen=True, slots=True)
class EditStep:
    """A step in the editor."""

    typed: TypedStep
    path: str
    number: int
    moments: tuple[Tick, ...]
    laid_before: tuple[Tick, ...]
    questions: tuple[EditQuestion, ...]
    choices: tuple[EditChoice, ...]
    faults: tuple[str, ...]
    is_last: bool

    @property
    def is_first(self) -> bool:
        """True when nothing comes before."""
        return self.number == 1


@dataclass(frozen=True, slots=True)
class StandardGroup:
    """Codes of one process."""

    words: str
    codes: tuple[Tick, ...]


@dataclass(frozen=True, slots=True)
class DrawnStep:
    """One step of the preview; ``left_out`` questions cannot be drawn yet."""

    name: str
    when: str
    form: tuple[FormField | FormChoice, ...]
    left_out: int


@dataclass(frozen=True, slots=True)
class EditorPage:
    """The whole editor; ``fresh`` is the path of what was just added or moved."""

    typed: TypedKind
    is_new: bool
    n_faults: int
    faults: tuple[str, ...]
    moments: tuple[Tick, ...]
    processes: tuple[Tick, ...]
    always_read_by: tuple[Tick, ...]
    readers: tuple[Tick, ...]
    needs: tuple[Tick, ...]
    director_sides: tuple[Tick, ...]
    rubric: tuple[EditRow, ...]
    standards: tuple[StandardGroup, ...]
    n_standards: int
    notice: str
    steps: tuple[EditStep, ...]
    in_bin: str
    fresh: str
    drawn: tuple[DrawnStep, ...]


def editor_page(
    typed: TypedKind,
    data: Mapping[str, object],
    faults: Iterable[Fault] = (),
    *,
    is_new: bool,
    fresh: str = "",
) -> EditorPage:
    """What stands in the editor, with the ``faults`` that are to be told, and its preview."""
    told: dict[str, list[str]] = {}
    for fault in faults:
        told.setdefault(fault.place, []).append(fault.sentence)
    others = {key: words for key, words in READERS.items() if key not in ALWAYS_READ_BY}
    always = [one for one in typed.seen_by if one in ALWAYS_READ_BY] or ALWAYS_READ_BY
    return EditorPage(
        typed=typed,
        is_new=is_new,
        n_faults=sum(map(len, told.values())),
        faults=tuple(told.get("", ())),
        moments=one_of(OCCASIONS, typed.moment),
        processes=ticks({key: key.capitalize() for key in PROCESSES}, typed.process),
        always_read_by=ticks({key: READERS[key] for key in always}, always),
        readers=ticks(others, [one for one in typed.seen_by if one not in ALWAYS_READ_BY]),
        needs=ticks(NEEDS, typed.needs),
        director_sides=one_of(DIRECTOR_SIDES, typed.director_side),
        rubric=tuple(_row(typed, place, told) for place in range(len(typed.rubric))),
        standards=_standards(typed.standards),
        n_standards=len(typed.standards),
        notice=NOTICE,
        steps=tuple(
            _step(step, number, len(typed.steps), told)
            for number, step in enumerate(typed.steps, start=1)
        ),
        in_bin=_in_bin(typed.bin),
        fresh=fresh,
        drawn=drawn(data),
    )


def one_of(table: Mapping[str, str], chosen: str) -> tuple[Tick, ...]:
    """A table to choose one of; a word that it does not have is shown as it is."""
    known = table if chosen in table else {**table, chosen: chosen}
    return tuple(Tick(key, words, key == chosen) for key, words in known.items())


def ticks(table: Mapping[str, str], chosen: Iterable[str]) -> tuple[Tick, ...]:
    """A table to tick: what is ticked first, in its order, so that a form sent keeps the order."""
    chosen = list(dict.fromkeys(chosen))
    rest = [key for key in table if key not in chosen]
    return tuple(Tick(key, table.get(key, key), key in chosen) for key in (*chosen, *rest))


def _standards(chosen: tuple[str, ...]) -> tuple[StandardGroup, ...]:
    """What is ticked first, then the codes of each process."""
    words = {
        code: f"{code} {one.component}, {one.level}: {one.paraphrase}"
        for code, one in STANDARDS.items()
    }
    groups = []
    if chosen:
        mine = tuple(Tick(code, words.get(code, code), True) for code in dict.fromkeys(chosen))
        groups = [StandardGroup("Ticked", mine)]
    for process in dict.fromkeys(one.process for one in STANDARDS.values()):
        codes = [code for code, one in STANDARDS.items() if one.process == process]
        left = tuple(Tick(code, words[code], False) for code in codes if code not in chosen)
        groups.append(StandardGroup(process, left))
    return tuple(groups)


def _row(typed: TypedKind, place: int, told: Mapping[str, list[str]]) -> EditRow:
    """A row of the rubric, with the steps that it may be for."""
    row = typed.rubric[place]
    steps = {
        step.id: f"{number}. {step.name}" if step.name else f"Step {number}"
        for number, step in enumerate(typed.steps, start=1)
    }
    return EditRow(
        typed=row,
        path=row.id,
        number=place + 1,
        levels=tuple(
            EditLevel(f"{row.id}.level{number}", word, text, grade_hint(text))
            for number, (word, text) in enumerate(
                zip(LEVELS, row.descriptors, strict=True), start=1
            )
        ),
        steps=ticks(steps, [one for one in row.steps if one in steps]),
        hint=grade_hint(row.question),
        faults=tuple(told.get(row.id, ())),
        is_last=place + 1 == len(typed.rubric),
    )


def _step(
    step: TypedStep, number: int, there: int, told: Mapping[str, list[str]]
) -> EditStep:
    """A step with its questions and choices."""
    return EditStep(
        typed=step,
        path=step.id,
        number=number,
        moments=one_of({key: WHEN_WORDS.get(key, MOMENTS[key]) for key in MOMENTS}, step.moment),
        laid_before=ticks(LAID_BEFORE, step.laid_before),
        questions=tuple(
            _question(one, f"{step.id}.{one.id}", (place, len(step.questions)), told, FIELD_TYPES)
            for place, one in enumerate(step.questions, start=1)
        ),
        choices=tuple(_choice(step, place, told) for place in range(len(step.choices))),
        faults=tuple(told.get(step.id, ())),
        is_last=number == there,
    )


def _question(
    one: TypedQuestion,
    path: str,
    place: tuple[int, int],
    told: Mapping[str, list[str]],
    types: Iterable[str],
) -> EditQuestion:
    """A question or a column with its types to choose from."""
    kind = FIELD_TYPES.get(one.type)
    known = list(types) if one.type in list(types) else [*types, one.type]
    inside = sorted(kind.inside, key=list(FIELD_TYPES).index) if kind and kind.inside else _SIMPLE
    return EditQuestion(
        typed=one,
        path=path,
        number=place[0],
        types=tuple(
            Tick(
                key,
                FIELD_TYPES[key].name if key in FIELD_TYPES else key,
                key == one.type,
                " ".join(sorted(FIELD_TYPES[key].settings)) if key in FIELD_TYPES else "",
            )
            for key in known
        ),
        were=json.dumps([list(pair) for pair in one.were], ensure_ascii=False),
        hint=grade_hint(one.prompt),
        faults=tuple(told.get(path, ())),
        columns=tuple(
            _question(column, f"{path}.{column.id}", (n, len(one.columns)), told, inside)
            for n, column in enumerate(one.columns, start=1)
        ),
        is_last=place[0] == place[1],
    )


_SIMPLE = ("short", "long", "choice", "several", "scale")
"""Types that a column is offered while the question around it has no columns yet."""


def grade_hint(prompt: str) -> str:
    """A soft word on a prompt that is hard to read; "" for one that is not.

    >>> grade_hint("What did you hear?")
    ''
    """
    grade = round(reading_grade(prompt).grade)
    if grade <= HIGHEST_GRADE:
        return ""
    return f"Reads like grade {grade}. Shorter words or two short sentences read easier."


def _choice(step: TypedStep, place: int, told: Mapping[str, list[str]]) -> EditChoice:
    """A choice with everything of its step that it may offer."""
    one = step.choices[place]
    path = f"{step.id}.{one.id}"
    offered = {
        question.id: f"{number}. {_short(question.prompt) or 'a question without words'}"
        for number, question in enumerate(step.questions, start=1)
    }
    for number, other in enumerate(step.choices):
        if other.id != one.id or other.id in one.of:
            words = f"Choice {letter(number)}"
            offered[other.id] = f"{words}: {_short(other.prompt)}" if other.prompt else words
    return EditChoice(
        typed=one,
        path=path,
        letter=letter(place),
        members=ticks(offered, one.of),
        faults=tuple(told.get(path, ())),
    )


def letter(place: int) -> str:
    """A choice's letter by its place, as the faults' sentences name it."""
    return chr(65 + place % 26) + (str(place // 26) if place > 25 else "")


def _short(text: str) -> str:
    """The beginning of a text."""
    text = " ".join(text.split())
    return text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]} …"


def _in_bin(text: str) -> str:
    """What was removed last, in its own words; "" for nothing."""
    try:
        node = json.loads(text)["node"]
        return _short(str(node.get("prompt") or node.get("name") or "")) or "what was removed"
    except (ValueError, KeyError, TypeError, AttributeError):
        return ""


def drawn(data: Mapping[str, object]) -> tuple[DrawnStep, ...]:
    """Each step's form, without the questions that cannot be drawn yet."""
    found = []
    for number, one in enumerate(data["steps"], start=1):
        step, left_out = _drawable(one)
        name = "" if one["name"] == "–" else str(one["name"])
        if step is None:
            found.append(DrawnStep(name, "", (), left_out))
        else:
            found.append(replace(drawn_step(step, number), name=name, left_out=left_out))
    return tuple(found)


def drawn_step(step: Step, number: int) -> DrawnStep:
    """A step's form on a page with others: ``number`` keeps the names of their fields apart."""
    before = f"p{number}-"
    apart = replace(
        step,
        fields=tuple(replace(one, key=before + one.key) for one in step.fields),
        choices=tuple(
            replace(one, key=before + one.key, of=tuple(before + member for member in one.of))
            for one in step.choices
        ),
    )
    return DrawnStep(step.name, when_words(step), form_of(apart, {}), 0)


def _drawable(step: Mapping) -> tuple[Step | None, int]:
    """The step, or as much of it as stands; how many questions are left out."""
    whole = _alone(step)
    if whole is not None:
        return whole, 0
    bare = {**step, "choices": [], "due": {"moment": "any"}, "laid_before": []}
    bare |= {"least_times": 1, "most_times": 1}
    good = [one for one in step["fields"] if _alone({**bare, "fields": [one]}) is not None]
    return _alone({**bare, "fields": good}), len(step["fields"]) - len(good)


def _alone(step: Mapping) -> Step | None:
    """The step by itself, None when it has a fault."""
    try:
        kind = kind_of(
            {
                "key": "preview", "name": "Preview", "aim": "Preview", "process": PROCESSES[:1],
                "seen_by": ALWAYS_READ_BY, "steps": [step],
            }
        )  # fmt: skip
    except UnreadableKind:
        return None
    return kind.steps[0]
