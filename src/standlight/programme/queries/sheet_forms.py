"""A step as a form that a template can draw: questions with their answers, choices as groups.

The same values serve the musician's form, the preview of who edits a kind, and a director's own
sheet; nothing here asks the database.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from standlight.kinds import Choice, Field, Step, is_blank, standing_of
from standlight.kinds.field_types import FIELD_TYPES, columns_of

MOST_ROWS_SHOWN, SPARE_ROWS = 40, 1
"""Rows of a list that a page can hold, and empty ones after those that are filled."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What surrounds a form: titles of pieces, the last one first; what there is to listen to.

    ``assignment`` and ``step`` are 0 and "" for a form that keeps nothing (a preview); ``sound``
    is true when the assignment has a recording, ``drawn`` when measures of the musician's own
    part can be shown; ``may_speak`` lets text be spoken instead.
    """

    assignment: int = 0
    step: str = ""
    pieces: tuple[str, ...] = ()
    sound: bool = False
    drawn: bool = False
    may_speak: bool = False


@dataclass(frozen=True, slots=True)
class FormOption:
    """One thing to choose; ``chosen`` when the answer holds it."""

    key: str
    label: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class FormField:
    """One question of a form. ``name`` is its name in the posted form, ``template`` draws it.

    ``value`` is a text answer; ``parts`` holds the parts of a compound one as they are shown;
    ``sound`` the key of a kept recording; ``inner`` the questions inside a spot and ``rows`` those
    of each row of a list; ``problem`` is a sentence, "" while nothing is to be told; ``compact``
    is true inside a list, where space is short.
    """

    key: str
    name: str
    type: str
    template: str
    prompt: str
    help: str
    required: bool
    limits: str
    least: int | None
    most: int | None
    options: tuple[FormOption, ...]
    value: str
    parts: Mapping[str, str]
    sound: str
    inner: tuple[FormField, ...]
    rows: tuple[tuple[FormField, ...], ...]
    problem: str
    stamp: str
    setting: Setting
    folded: bool = False
    answered: bool = False
    compact: bool = False

    @property
    def is_group(self) -> bool:
        """False: this is one question."""
        return False


@dataclass(frozen=True, slots=True)
class FormChoice:
    """A group of questions of which some are answered; ``words`` says how many."""

    key: str
    prompt: str
    words: str
    state: str
    least: int
    most: int
    entries: tuple[FormField | FormChoice, ...]
    problem: str
    template: str = "fields/choice_group.html"

    @property
    def is_group(self) -> bool:
        """True: this is a group."""
        return True


@dataclass(frozen=True, slots=True)
class _Making:
    """What stays the same while one form is made."""

    answers: Mapping[str, object]
    setting: Setting
    stamps: Mapping[str, str]
    problems: Mapping[str, str]
    blank: frozenset[str] = field(default_factory=frozenset)


def form_of(
    step: Step,
    answers: Mapping[str, object],
    setting: Setting | None = None,
    *,
    stamps: Mapping[str, str] | None = None,
    tell: bool = False,
) -> tuple[FormField | FormChoice, ...]:
    """The questions of ``step`` in order, each choice as a group where its last member stands.

    With ``tell`` each question has the sentence of what is open or wrong in it.
    """
    problems: dict[str, str] = {}
    if tell:
        standing = standing_of(step, answers)
        for one in (*standing.open, *standing.wrong):
            problems.setdefault(one.key, one.words)
    making = _Making(
        answers,
        setting or Setting(),
        stamps or {},
        problems,
        frozenset(one.key for one in step.fields if is_blank(answers.get(one.key))),
    )
    fields = {one.key: one for one in step.fields}
    choices = {one.key: one for one in step.choices}
    inside = {member: choice.key for choice in reversed(step.choices) for member in choice.of}
    tops = [_top(one.key, inside) for one in step.fields]
    form: list[FormField | FormChoice] = []
    for place, (one, top) in enumerate(zip(step.fields, tops, strict=True)):
        if top not in choices:
            form.append(_field(one, making))
        elif top not in tops[place + 1 :]:
            form.append(_group(choices[top], fields, choices, making))
    return tuple(form)


def _top(key: str, inside: Mapping[str, str]) -> str:
    """The outermost choice that holds a question, or the question itself."""
    while key in inside:
        key = inside[key]
    return key


def _group(
    choice: Choice, fields: Mapping[str, Field], choices: Mapping[str, Choice], making: _Making
) -> FormChoice:
    """A choice and what it offers; choices inside it are groups of their own."""
    entries: list[FormField | FormChoice] = []
    done = 0
    for member in choice.of:
        if member in choices:
            inner = _group(choices[member], fields, choices, making)
            entries.append(inner)
            done += _is_done(choices[member], choices, making.blank)
        elif member in fields:
            entries.append(_field(fields[member], making, folded=True))
            done += member not in making.blank
    most = len(choice.of) if choice.most is None else choice.most
    return FormChoice(
        key=choice.key,
        prompt=choice.prompt,
        words=choice_words(choice.least, most, len(choice.of)),
        state=f"{done} answered so far.",
        least=choice.least,
        most=most,
        entries=tuple(entries),
        problem=making.problems.get(choice.key, ""),
    )


def _is_done(choice: Choice, choices: Mapping[str, Choice], blank: frozenset[str]) -> bool:
    """True when enough of a choice is answered."""
    done = sum(
        _is_done(choices[one], choices, blank) if one in choices else one not in blank
        for one in choice.of
    )
    return done >= choice.least


def choice_words(least: int, most: int, there: int) -> str:
    """How many of a group are asked for, in words.

    >>> choice_words(3, 3, 7)
    'Choose 3 of these 7.'
    >>> choice_words(1, 2, 3), choice_words(0, 4, 4), choice_words(2, 2, 2)
    ('Choose 1 or 2 of these 3.', 'Choose as many as you like.', 'Do both of these.')
    """
    if least == most == there:
        return "Do both of these." if there == 2 else f"Do all {there} of these."
    if least == 0:
        return "Choose as many as you like." if most == there else f"Choose up to {most} of these."
    if least == most:
        return f"Choose {least} of these {there}."
    if most == there:
        return f"Choose at least {least} of these {there}."
    joint = "or" if most == least + 1 else "to"
    return f"Choose {least} {joint} {most} of these {there}."


def _field(one: Field, making: _Making, *, folded: bool = False) -> FormField:
    """One question at the top of the form."""
    return _drawn(
        one,
        making.answers.get(one.key),
        f"q.{one.key}",
        making.setting,
        problem=making.problems.get(one.key, ""),
        stamp=making.stamps.get(one.key, ""),
        folded=folded,
    )


def _drawn(
    one: Field,
    answer: object,
    name: str,
    setting: Setting,
    *,
    problem: str = "",
    stamp: str = "",
    folded: bool = False,
    compact: bool = False,
) -> FormField:
    """A question with its answer as a template shows it, at any depth."""
    spoken = isinstance(answer, dict) and set(answer) == {"sound"}
    rows = _rows(one, answer, name, setting) if one.type == "rows" else ()
    inner = columns_of(one) if one.type != "rows" else ()
    parts = answer if isinstance(answer, dict) and not spoken else {}
    return FormField(
        key=one.key,
        name=name,
        type=one.type,
        template=f"fields/{one.type}.html",
        prompt=one.prompt,
        help=one.help,
        required=one.required,
        limits=limits_of(one),
        least=one.least,
        most=one.most,
        options=_OPTIONS.get(one.type, _listed)(one, answer),
        value=answer if isinstance(answer, str) else "",
        parts={key: _shown(key, part) for key, part in parts.items()},
        sound=str(answer["sound"]) if spoken else "",
        inner=tuple(
            _drawn(column, parts.get(column.key), f"{name}.{column.key}", setting, compact=compact)
            for column in inner
        ),
        rows=rows,
        problem=problem,
        stamp=stamp,
        setting=setting,
        folded=folded,
        answered=not is_blank(answer),
        compact=compact,
    )


def _rows(
    one: Field, answer: object, name: str, setting: Setting
) -> tuple[tuple[FormField, ...], ...]:
    """Each row of a list as questions, with an empty one at its end while there is room."""
    kept = [row for row in answer if isinstance(row, dict)] if isinstance(answer, list) else []
    most = min(one.most or MOST_ROWS_SHOWN, MOST_ROWS_SHOWN)
    wanted = max(len(kept), min(max(len(kept) + SPARE_ROWS, one.least or 1), most))
    filled = [*kept, *({} for _ in range(wanted - len(kept)))]
    return tuple(
        tuple(
            _drawn(
                column,
                row.get(column.key),
                f"{name}.{number}.{column.key}",
                setting,
                compact=True,
            )
            for column in columns_of(one)
        )
        for number, row in enumerate(filled)
    )


def limits_of(one: Field) -> str:
    """How much is asked for, as one says it; "" where there is no limit.

    >>> limits_of(Field("note", "long", "Write", least=80, most=150))
    '80 to 150 words'
    >>> limits_of(Field("ways", "several", "How?", most=3)), limits_of(Field("a", "scale", "?"))
    ('choose up to 3', '')
    """
    counts = FIELD_TYPES[one.type].counts
    if one.type == "several":
        how_many = _how_many(one, "")
        return f"choose {how_many}" if how_many else ""
    return _how_many(one, counts) if counts and one.type != "scale" else ""


def _how_many(one: Field, counts: str) -> str:
    """The numbers of a limit and what they count."""
    least, most = one.least or 0, one.most
    if not least and most is None:
        return ""
    words = counts.removesuffix("s") if (most or least) == 1 else counts
    if not least:
        numbers = f"up to {most}"
    elif most is None:
        numbers = f"at least {least}"
    elif least == most:
        numbers = f"{least}"
    else:
        numbers = f"{least} {'or' if most == least + 1 else 'to'} {most}"
    return f"{numbers} {words}".rstrip()


def _listed(one: Field, answer: object) -> tuple[FormOption, ...]:
    """The options as they stand, with what is chosen."""
    chosen = [str(one) for one in (answer if isinstance(answer, list) else [answer])]
    return tuple(
        FormOption(option.key, option.label, option.key in chosen)
        for option in one.options
    )


def _steps(one: Field, answer: object) -> tuple[FormOption, ...]:
    """The steps of a scale; the first and the last with the words that they have."""
    low, high = one.least or 0, one.most or 0
    words = {low: one.options[0].label, high: one.options[-1].label} if one.options else {}
    return tuple(
        FormOption(str(number), words.get(number, ""), answer == number)
        for number in range(low, high + 1)
    )


_OPTIONS: dict[str, Callable[[Field, object], tuple[FormOption, ...]]] = {"scale": _steps}
"""How a type's options are made, where not as they stand in its definition."""


def _shown(key: str, part: object) -> str:
    """One part of a compound answer as it stands in its field."""
    if part is None or isinstance(part, bool | dict | list):
        return ""
    if key == "at_s" and isinstance(part, int | float):
        return clock_words(part)
    return str(part)


def clock_words(seconds: float) -> str:
    """Minutes and seconds as a clock shows them.

    >>> clock_words(83.4), clock_words(0)
    ('1:23', '0:00')
    """
    minutes, rest = divmod(int(seconds), 60)
    return f"{minutes}:{rest:02d}"
