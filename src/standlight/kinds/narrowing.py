"""An assignment's own rules laid over a step: how many of which questions, which are required.

A kind offers a bank of questions; an assignment says "three of these, and the first for all".
The narrowed step is a step like any other, so forms, pages and `standing_of` need no second rule.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from standlight.errors import StandlightError
from standlight.kinds.values import Choice, Step

Numbers = tuple[int, int | None]


class UnreadableRules(StandlightError):
    """An assignment's rules do not fit their step; ``problems`` are all faults, in sentences."""

    def __init__(self, problems: tuple[str, ...]) -> None:
        """Keep all ``problems``; the error's own sentence is the first."""
        super().__init__(problems[0])
        self.problems = problems


@dataclass(frozen=True, slots=True)
class Rules:
    """``required`` are keys of questions, ``choices`` maps a choice's key to least and most."""

    required: tuple[str, ...] = ()
    choices: Mapping[str, Numbers] = field(default_factory=dict)


def rules_of(data: object, step: Step) -> Rules:
    """Rules for ``step`` from plain data: ``{"required": [...], "choices": {key: [2, 4]}}``.

    Both parts may be left out; None as a second number is no limit. Raises UnreadableRules.
    """
    problems = tuple(rule_problems(data, step))
    if problems:
        raise UnreadableRules(problems)
    choices = data.get("choices") or {}
    return Rules(
        tuple(dict.fromkeys(data.get("required") or ())),
        {key: (least, most) for key, (least, most) in choices.items()},
    )


def rule_problems(data: object, step: Step) -> Iterator[str]:
    """Everything that keeps ``data`` from being rules for ``step``, one sentence each."""
    if not isinstance(data, Mapping) or not set(data) <= {"required", "choices"}:
        yield "The rules of an assignment say what is “required” and how many of its “choices”."
        return
    required, choices = data.get("required") or [], data.get("choices") or {}
    if not isinstance(required, list | tuple) or not isinstance(choices, Mapping):
        yield "The rules need a list of required questions, and two numbers for each choice."
        return
    known = [one.key for one in step.fields]
    for key in required:
        if key not in known:
            yield f"“{step.name}” has no question “{key}” that could be required."
    offered = {choice.key: choice for choice in step.choices}
    for key, numbers in choices.items():
        if key not in offered:
            yield f"“{step.name}” has no choice “{key}”."
        elif not _are_numbers(numbers):
            yield f"The choice “{key}” needs two numbers, least and most (say, 2 and 4)."
    for choice in offered.values():
        numbers = choices.get(choice.key, (choice.least, choice.most))
        if _are_numbers(numbers):
            yield from _number_problems(choice, numbers, required)


def narrowed(step: Step, rules: Rules) -> Step:
    """``step`` under an assignment's ``rules``.

    A required question leaves its choice and counts towards it: "three of these, one of them
    for all" asks that one and two of the others. Questions that nobody may then answer are gone.
    """
    choices = [_with_numbers(choice, rules) for choice in step.choices]
    taken, closed = _settled(choices, rules.required)
    return replace(
        step,
        fields=tuple(
            replace(one, required=one.required or one.key in rules.required)
            for one in step.fields
            if one.key not in closed
        ),
        choices=tuple(
            _without(choice, taken, closed)
            for choice in choices
            if choice.key not in taken | closed
        ),
    )


def _settled(choices: list[Choice], required: tuple[str, ...]) -> tuple[set[str], set[str]]:
    """What is answered whenever the required questions are, and what may then not be answered."""
    taken, closed, before = set(required), set[str](), -1
    while len(taken) + len(closed) > before:
        before = len(taken) + len(closed)
        for choice in choices:
            others = set(choice.of) - taken
            if choice.key in closed:
                closed |= others
            elif choice.key not in taken and (not others - closed or _left(choice, taken) == 0):
                taken.add(choice.key)
                closed |= others
    return taken, closed


def _with_numbers(choice: Choice, rules: Rules) -> Choice:
    """The choice with an assignment's numbers, its own where the rules say none."""
    least, most = rules.choices.get(choice.key, (choice.least, choice.most))
    return replace(choice, least=least, most=most)


def _left(choice: Choice, taken: set[str]) -> int | None:
    """How many more may be answered beside what is required anyway; None for no limit."""
    return None if choice.most is None else max(choice.most - len(taken & set(choice.of)), 0)


def _without(choice: Choice, taken: set[str], closed: set[str]) -> Choice:
    """The choice among what is not settled anyway."""
    done = len(taken & set(choice.of))
    return replace(
        choice,
        of=tuple(member for member in choice.of if member not in taken | closed),
        least=max(choice.least - done, 0),
        most=_left(choice, taken),
    )


def _number_problems(choice: Choice, numbers: Numbers, required: list[str]) -> Iterator[str]:
    """Numbers that the choice cannot give."""
    least, most = numbers
    there = len(choice.of)
    asked = len(set(choice.of) & {key for key in required if isinstance(key, str)})
    if least > there or (most is not None and most > there):
        yield f"The choice “{choice.key}” asks for more than the {there} that there are."
    elif most is not None and (most < 1 or least > most):
        yield f"The choice “{choice.key}” asks for at least {least} and at most {most}."
    elif most is not None and asked > most:
        yield f"The choice “{choice.key}” allows {most}, but {asked} of it are required."


def _are_numbers(value: object) -> bool:
    """True for a pair of a count and a count or None."""
    if not isinstance(value, list | tuple) or len(value) != 2:
        return False
    least, most = value
    return _is_count(least) and (most is None or _is_count(most))


def _is_count(value: object) -> bool:
    """True for a whole number that is none less than nothing."""
    return isinstance(value, int) and not isinstance(value, bool) and value >= 0
