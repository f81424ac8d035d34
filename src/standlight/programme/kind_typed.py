"""A kind as it stands in the editor: whatever was typed, right or wrong, and moved about.

Fields are named by a path: ``s1.q4.prompt`` is the prompt of question ``q4`` of step ``s1``
(``c`` is a column of a list, ``g`` a choice), and ``r1.name`` names row ``r1`` of the rubric. A
path's numbers only tell things apart; their order is the order of the fields. Nothing typed is
judged here, so nothing is lost.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace

from standlight.kinds import LEVELS, Choice, Field, Kind, RubricRow, Step

Lists = Mapping[str, Sequence[str]]
"""The values of each field of a form by its name, as sent."""


@dataclass(frozen=True, slots=True)
class TypedQuestion:
    """A question or column as typed. ``key`` is "" for a new one; ``options`` one a line.

    ``were`` are the keys and labels that the options had, so that a label that stays keeps its
    key. ``open`` says that it stands unfolded in the editor.
    """

    id: str
    key: str = ""
    type: str = "short"
    prompt: str = ""
    help: str = ""
    required: bool = True
    least: str = ""
    most: str = ""
    options: str = ""
    were: tuple[tuple[str, str], ...] = ()
    columns: tuple[TypedQuestion, ...] = ()
    open: bool = False


@dataclass(frozen=True, slots=True)
class TypedChoice:
    """A choice as typed; ``of`` are ids of questions and choices of its step."""

    id: str
    key: str = ""
    prompt: str = ""
    of: tuple[str, ...] = ()
    least: str = "1"
    most: str = ""


@dataclass(frozen=True, slots=True)
class TypedRow:
    """A row of the rubric as typed; ``descriptors`` are one text a level, ``steps`` ids of steps.

    ``steps`` may name a step that was removed since: it is left out when the row is read.
    ``open`` says that it stands unfolded in the editor.
    """

    id: str
    key: str = ""
    name: str = ""
    question: str = ""
    descriptors: tuple[str, ...] = ("",) * len(LEVELS)
    steps: tuple[str, ...] = ()
    open: bool = False


@dataclass(frozen=True, slots=True)
class TypedStep:
    """A step as typed; ``director`` says that the director fills it too."""

    id: str
    key: str = ""
    name: str = ""
    moment: str = "any"
    weeks_least: str = ""
    weeks_most: str = ""
    least_times: str = "1"
    most_times: str = "1"
    laid_before: tuple[str, ...] = ()
    director: bool = False
    questions: tuple[TypedQuestion, ...] = ()
    choices: tuple[TypedChoice, ...] = ()


@dataclass(frozen=True, slots=True)
class TypedKind:
    """A kind as typed. ``edition`` is the one that was opened, ``bin`` what was removed last."""

    key: str = ""
    edition: str = ""
    name: str = ""
    aim: str = ""
    cadence: str = ""
    moment: str = ""
    process: tuple[str, ...] = ()
    seen_by: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    director_side: str = ""
    marked: bool = False
    rubric: tuple[TypedRow, ...] = ()
    standards: tuple[str, ...] = ()
    steps: tuple[TypedStep, ...] = ()
    bin: str = ""


NEW_STEP = TypedStep("s1", name="My answer", questions=(TypedQuestion("q1", open=True),))
NEW_KIND = TypedKind(steps=(NEW_STEP,), process=("respond",), marked=True)
"""What stands in the editor of a kind from nothing: one step with one empty question."""

_LISTED = ("process", "seen_by", "needs", "standards")
_PLAIN = ("key", "edition", "name", "aim", "cadence", "moment", "director_side", "bin")
_OF_STEP = (
    "key", "name", "moment", "weeks_least", "weeks_most", "least_times", "most_times",
)  # fmt: skip
_OF_QUESTION = ("key", "type", "prompt", "help", "least", "most", "options")


def typed_of(kind: Kind, edition: int) -> TypedKind:
    """The editor's fields of a kind that stands."""
    steps = {step.key: f"s{n}" for n, step in enumerate(kind.steps, start=1)}
    return TypedKind(
        key=kind.key,
        edition=str(edition),
        name=kind.name,
        aim=kind.aim,
        cadence=kind.cadence,
        moment=kind.moment,
        process=kind.process,
        seen_by=kind.seen_by,
        needs=kind.needs,
        director_side=kind.director_side,
        marked=kind.marked,
        rubric=tuple(_row_of(row, f"r{n}", steps) for n, row in enumerate(kind.rubric, start=1)),
        standards=kind.standards,
        steps=tuple(
            replace(_step_of(step, steps[step.key]), director=step.key in kind.director_steps)
            for step in kind.steps
        ),
    )


def _row_of(row: RubricRow, id_: str, steps: Mapping[str, str]) -> TypedRow:
    """A rubric's row."""
    told = tuple(steps[key] for key in row.steps)
    return TypedRow(id_, row.key, row.name, row.question, row.descriptors, told)


def _step_of(step: Step, id_: str) -> TypedStep:
    """A step's fields."""
    ids = {one.key: f"q{n}" for n, one in enumerate(step.fields, start=1)}
    ids |= {one.key: f"g{n}" for n, one in enumerate(step.choices, start=1)}
    return TypedStep(
        id=id_,
        key=step.key,
        name=step.name,
        moment=step.due.moment,
        weeks_least=_said(step.due.weeks_least),
        weeks_most=_said(step.due.weeks_most),
        least_times=_said(step.least_times),
        most_times=_said(step.most_times),
        laid_before=step.laid_before,
        questions=tuple(_question_of(one, ids[one.key]) for one in step.fields),
        choices=tuple(_choice_of(one, ids) for one in step.choices),
    )


def _question_of(field: Field, id_: str) -> TypedQuestion:
    """A question's fields."""
    return TypedQuestion(
        id=id_,
        key=field.key,
        type=field.type,
        prompt=field.prompt,
        help=field.help,
        required=field.required,
        least=_said(field.least),
        most=_said(field.most),
        options="\n".join(option.label for option in field.options),
        were=tuple((option.key, option.label) for option in field.options),
        columns=tuple(
            _question_of(one, f"c{n}") for n, one in enumerate(field.columns, start=1)
        ),
    )


def _choice_of(choice: Choice, ids: Mapping[str, str]) -> TypedChoice:
    """A choice's fields."""
    return TypedChoice(
        id=ids[choice.key],
        key=choice.key,
        prompt=choice.prompt,
        of=tuple(ids[member] for member in choice.of),
        least=_said(choice.least),
        most=_said(choice.most),
    )


def _said(number: int | None) -> str:
    """A number as it stands in its field; None is an empty one."""
    return "" if number is None else str(number)


def read_typed(lists: Lists) -> TypedKind:
    """What a sent form says; fields that no editor has are passed over."""
    plain = {name: _one(lists, name) for name in _PLAIN}
    return TypedKind(
        **plain,
        **{name: tuple(lists.get(name, ())) for name in _LISTED},
        marked=bool(_one(lists, "marked")),
        rubric=tuple(_read_row(lists, id_) for id_ in _ids(lists, "", "r")),
        steps=tuple(_read_step(lists, id_) for id_ in _ids(lists, "", "s")),
    )


def _read_row(lists: Lists, id_: str) -> TypedRow:
    """One row of the rubric."""
    levels = range(1, len(LEVELS) + 1)
    return TypedRow(
        id_,
        **{name: _one(lists, f"{id_}.{name}") for name in ("key", "name", "question")},
        descriptors=tuple(_one(lists, f"{id_}.level{level}") for level in levels),
        steps=tuple(lists.get(f"{id_}.steps", ())),
        open=bool(_one(lists, f"{id_}.open")),
    )


def _read_step(lists: Lists, id_: str) -> TypedStep:
    """One step of the form."""
    return TypedStep(
        id=id_,
        **{name: _one(lists, f"{id_}.{name}") for name in _OF_STEP},
        laid_before=tuple(lists.get(f"{id_}.laid_before", ())),
        director=bool(_one(lists, f"{id_}.director")),
        questions=tuple(
            _read_question(lists, f"{id_}.", one) for one in _ids(lists, f"{id_}.", "q")
        ),
        choices=tuple(_read_choice(lists, f"{id_}.", one) for one in _ids(lists, f"{id_}.", "g")),
    )


def _read_question(lists: Lists, before: str, id_: str) -> TypedQuestion:
    """One question, or one column, of the form."""
    path = f"{before}{id_}."
    return TypedQuestion(
        id=id_,
        **{name: _one(lists, f"{path}{name}") for name in _OF_QUESTION},
        required=bool(_one(lists, f"{path}required")),
        open=bool(_one(lists, f"{path}open")),
        were=_pairs(_one(lists, f"{path}were")),
        columns=tuple(_read_question(lists, path, one) for one in _ids(lists, path, "c")),
    )


def _read_choice(lists: Lists, before: str, id_: str) -> TypedChoice:
    """One choice of the form."""
    path = f"{before}{id_}."
    plain = {name: _one(lists, f"{path}{name}") for name in ("key", "prompt", "least", "most")}
    return TypedChoice(id=id_, of=tuple(lists.get(f"{path}of", ())), **plain)


def _one(lists: Lists, name: str) -> str:
    """The value of a field, "" where there is none; line ends as one sign."""
    values = lists.get(name) or ("",)
    return values[-1].replace("\r\n", "\n")


def _ids(lists: Lists, before: str, letter: str) -> list[str]:
    """Ids of the things directly under a path, in the order of the form."""
    found = []
    for name in lists:
        rest = name.removeprefix(before) if name.startswith(before) else ""
        id_, dot, last = rest.partition(".")
        if dot and last == "key" and id_[:1] == letter and id_[1:].isdigit() and len(id_) < 8:
            found.append(id_)
    return found


def _pairs(text: str) -> tuple[tuple[str, str], ...]:
    """Pairs of words from JSON; none when it is anything else."""
    try:
        found = json.loads(text or "[]")
    except ValueError:
        return ()
    listed = found if isinstance(found, list) else []
    return tuple(
        (str(one[0]), str(one[1])) for one in listed if isinstance(one, list) and len(one) == 2
    )


@dataclass(frozen=True, slots=True)
class Pressed:
    """The kind after a press, and the path of what is new or was moved ("" for nothing)."""

    kind: TypedKind
    place: str


def pressed(kind: TypedKind, press: str) -> Pressed:
    """``kind`` after a button ``ACT:PATH``; an unknown one changes nothing.

    >>> found = pressed(NEW_KIND, "add:s1.q")
    >>> [one.id for one in found.kind.steps[0].questions], found.place
    (['q1', 'q2'], 's1.q2')
    """
    act, _, path = press.partition(":")
    if act == "put-back":
        return _put_back(kind)
    if act not in _ACTS or not path:
        return Pressed(kind, "")
    return _at(kind, path.split("."), act, path)


def _at(kind: TypedKind, path: list[str], act: str, whole: str) -> Pressed:
    """Do ``act`` on the list that the last part of ``path`` is in."""
    *parents, last = path
    place = [whole.rpartition(".")[0]]
    out: dict[str, str] = {}

    def down(node: object, rest: list[str]) -> object:
        name = _CHILDREN.get((rest[0] if rest else last)[:1], "")
        if not hasattr(node, name):
            return node
        items = getattr(node, name)
        if rest:
            return replace(
                node,
                **{name: tuple(down(one, rest[1:]) if one.id == rest[0] else one for one in items)},
            )
        changed, at = _ACTS[act](items, last)
        place[0] = ".".join([*parents, at]) if at else ".".join(parents)
        gone = [one for one in items if one.id not in {left.id for left in changed}]
        if gone:
            where = {"parent": ".".join(parents), "at": items.index(gone[0])}
            out["bin"] = json.dumps({**where, "letter": last[:1], "node": asdict(gone[0])})
        node = replace(node, **{name: changed})
        return _without_strangers(node) if isinstance(node, TypedStep) else node

    changed = down(kind, parents)
    if "bin" in out:
        changed = replace(changed, bin=out["bin"])
    return Pressed(changed, place[0])


_CHILDREN = {"s": "steps", "q": "questions", "c": "columns", "g": "choices", "r": "rubric"}
_NEW: dict[str, Callable[[str], object]] = {
    "s": lambda id_: replace(NEW_STEP, id=id_, name=""),
    "q": lambda id_: TypedQuestion(id_, open=True),
    "c": lambda id_: TypedQuestion(id_, open=True),
    "g": TypedChoice,
    "r": lambda id_: TypedRow(id_, open=True),
}


def _without_strangers(step: TypedStep) -> TypedStep:
    """Choices name only what is still in their step."""
    there = {one.id for one in (*step.questions, *step.choices)}
    return replace(
        step,
        choices=tuple(
            replace(one, of=tuple(member for member in one.of if member in there))
            for one in step.choices
        ),
    )


def _add(items: tuple, last: str) -> tuple[tuple, str]:
    """A new thing at the end."""
    id_ = f"{last[:1]}{max((int(one.id[1:]) for one in items), default=0) + 1}"
    return (*items, _NEW[last[:1]](id_)), id_


def _remove(items: tuple, last: str) -> tuple[tuple, str]:
    """All but one."""
    return tuple(one for one in items if one.id != last), ""


def _shift(by: int) -> Callable[[tuple, str], tuple[tuple, str]]:
    """An act that moves one thing ``by`` places, as far as there are places."""

    def shift(items: tuple, last: str) -> tuple[tuple, str]:
        found = list(items)
        here = next((n for n, one in enumerate(found) if one.id == last), None)
        if here is not None and 0 <= here + by < len(found):
            found.insert(here + by, found.pop(here))
        return tuple(found), last

    return shift


_ACTS: dict[str, Callable[[tuple, str], tuple[tuple, str]]] = {
    "add": _add,
    "remove": _remove,
    "up": _shift(-1),
    "down": _shift(1),
}
"""What a button does to a list: the new list, and the id of what to look at."""


def _put_back(kind: TypedKind) -> Pressed:
    """What was removed last stands again where it was; a bin that is none changes nothing."""
    try:
        held = json.loads(kind.bin)
        node = _FROM[held["letter"]](held["node"])
        parents, at = [one for one in held["parent"].split(".") if one], int(held["at"])
    except (ValueError, KeyError, TypeError, AttributeError):
        return Pressed(kind, "")
    name = _CHILDREN[held["letter"]]

    def down(inside: object, rest: list[str]) -> object:
        if not rest:
            items = list(getattr(inside, name, ()))
            if any(one.id == node.id for one in items):
                return inside
            return replace(inside, **{name: (*items[:at], node, *items[at:])})
        under = _CHILDREN[rest[0][:1]]
        items = getattr(inside, under, ())
        return replace(
            inside,
            **{under: tuple(down(one, rest[1:]) if one.id == rest[0] else one for one in items)},
        )

    return Pressed(replace(down(kind, parents), bin=""), ".".join([*parents, node.id]))


def _question_from(data: Mapping) -> TypedQuestion:
    """A question from the bin."""
    columns = tuple(_question_from(one) for one in data["columns"])
    return TypedQuestion(
        **{**data, "columns": columns, "were": tuple(tuple(pair) for pair in data["were"])}
    )


def _choice_from(data: Mapping) -> TypedChoice:
    """A choice from the bin."""
    return TypedChoice(**{**data, "of": tuple(data["of"])})


def _row_from(data: Mapping) -> TypedRow:
    """A rubric's row from the bin."""
    listed = {name: tuple(data[name]) for name in ("descriptors", "steps")}
    return TypedRow(**{**data, **listed})


def _step_from(data: Mapping) -> TypedStep:
    """A step from the bin."""
    return TypedStep(
        **{
            **data,
            "laid_before": tuple(data["laid_before"]),
            "questions": tuple(_question_from(one) for one in data["questions"]),
            "choices": tuple(_choice_from(one) for one in data["choices"]),
        }
    )


_FROM = {
    "s": _step_from,
    "q": _question_from,
    "c": _question_from,
    "g": _choice_from,
    "r": _row_from,
}
